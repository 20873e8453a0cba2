"""Customers and their contacts, from a register."""

from collections import Counter
from datetime import date

from customers import kinds
from customers.models import Contact, ContactRole, Customer, Firm
from servicedesk.actions.registers.merging import by_key, filter_in, merge
from servicedesk.actions.registers.report import Report


def save_customers(entries: dict, report: Report) -> dict:
    """Customers by their own number."""
    wanted = {
        key: (
            entry.row,
            {"key": key, "name": entry["customer"], "kind": entry["customer_kind"]},
        )
        for (key,), entry in entries["customer"].items()
    }
    return merge("customer", Customer, wanted, report, known=by_key(Customer, wanted))


def save_contacts(
    entries: dict, customers: dict, sites: dict, report: Report, *, firm: Firm, today: date
) -> None:
    """Contacts, known by customer and name, and what each of them is to us."""
    known = _known_contacts(entries, customers)
    wanted, zones = {}, _zones(entries)
    for (customer_key, name), entry in entries["contact"].items():
        key = (customer_key, name)
        fields = {"customer_id": customers[customer_key].pk, "name": name}
        fields |= {"email": entry["contact_email"], "phone": entry["contact_phone"]}
        if key not in known:
            fields |= {"language": firm.language, "units": firm.units}
            fields |= {"time_zone": zones.get(customer_key) or firm.time_zone}
        wanted[key] = (entry.row, fields)
    contacts = merge("contact", Contact, wanted, report, known=known)
    _save_roles(entries, contacts, sites, today)


def _known_contacts(entries, customers):
    """The contact that a row means: the one with its address, else the one with its name."""
    by_address, by_name = {}, {}
    keys = [customer.pk for customer in customers.values()]
    for contact in filter_in(Contact.objects.order_by("pk"), "customer_id", keys):
        by_address[contact.customer_id, contact.email] = contact
        by_name.setdefault((contact.customer_id, contact.name), contact)
    known, taken = {}, set()
    for look, cell in [(by_address, "contact_email"), (by_name, "contact")]:
        for key, entry in entries["contact"].items():
            found = look.get((customers[key[0]].pk, entry[cell])) if entry[cell] else None
            if found and key not in known and found.pk not in taken:
                known[key] = found
                taken.add(found.pk)
    return known


def _zones(entries):
    """The time zone of a customer's site stands for that of its people until they say otherwise."""
    return {
        entry["customer_key"]: entry["time_zone"]
        for entry in entries["site"].values()
        if entry["time_zone"]
    }


def _save_roles(entries, contacts, sites, today):
    """A customer's only contact has its role for everything, one of several for its own sites."""
    people = Counter(customer_key for customer_key, _ in entries["contact"])
    roles = ContactRole.objects.filter(to_on=None)
    held = {
        (role.contact_id, role.role, role.site_id)
        for role in filter_in(roles, "contact_id", [contact.pk for contact in contacts.values()])
    }
    new = {}
    for (customer_key, name), entry in entries["contact"].items():
        contact = contacts[customer_key, name]
        role = entry["contact_role"] or kinds.ContactRoleKind.OWNER
        own = {None} if people[customer_key] == 1 else {sites[key].pk for key in entry.sites}
        for site_id in own:
            key = (contact.pk, str(role), site_id)
            if key not in held and (contact.pk, str(role), None) not in held:
                new[key] = ContactRole(contact=contact, role=role, site_id=site_id, from_on=today)
    ContactRole.objects.bulk_create(new.values())
