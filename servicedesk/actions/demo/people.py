"""The demo firm, its five people, and the customers with whom it writes."""

from dataclasses import dataclass
from datetime import date, time, timedelta
from random import Random

from django.contrib.auth.hashers import make_password

from customers.kinds import ContactRoleKind, CustomerKind, Role
from customers.models import Contact, ContactRole, Customer, Firm, User
from servicedesk.actions.demo import words
from servicedesk.kinds import Skill
from servicedesk.models import Shift, Technician

PASSWORD = "herons-at-first-light"  # of the demo alone; the demo serves this machine alone
MANAGER, OFFICE = "priya", "odile"
TECHNICIANS = ["dario", "wen", "juna"]


@dataclass(frozen=True)
class Colleague:
    username: str
    first: str
    last: str
    role: Role
    skill: Skill = Skill.TECHNICIAN
    boat: bool = False


COLLEAGUES = [
    Colleague("priya", "Priya", "Nand", Role.MANAGER),
    Colleague("odile", "Odile", "Brask", Role.OFFICE),
    Colleague("dario", "Dario", "Lund", Role.TECHNICIAN, Skill.TECHNICIAN, boat=True),
    Colleague("wen", "Wen", "Achterberg", Role.TECHNICIAN, Skill.REBUILD, boat=True),
    Colleague("juna", "Juna", "Ellerby", Role.TECHNICIAN, Skill.REBUILD),
]


@dataclass(frozen=True)
class Crew:
    """The firm's people by what the demo needs of them."""

    manager: User
    office: User
    technicians: list[User]


def make_firm() -> Firm:
    return Firm.objects.create(
        name="Alder & Rill Pond Air",
        phone="+1 202 555 0100",
        emergency_phone="911",
        reply_to="office@example.com",
        postal_address="4 Millrace Lane, Hollin Crossing",
        time_zone=words.ZONE,
        shop_name=words.SHOP[0],
        shop_lat=words.SHOP[1],
        shop_lon=words.SHOP[2],
    )


def make_crew(*, today: date) -> Crew:
    """Manager, office and three technicians, all with the one password of the demo."""
    hashed = make_password(PASSWORD, salt="alder-and-rill-demo")
    users = [
        User(
            username=one.username,
            first_name=one.first,
            last_name=one.last,
            email=f"{one.username}@example.com",
            phone=f"+1 202 555 018{number}",
            role=one.role,
            password=hashed,
            is_staff=one.role == Role.MANAGER,
            is_superuser=one.role == Role.MANAGER,
        )
        for number, one in enumerate(COLLEAGUES)
    ]
    User.objects.bulk_create(users)
    by_name = {user.username: user for user in users}
    technicians = [
        Technician(user=by_name[one.username], skill=one.skill, boat=one.boat)
        for one in COLLEAGUES
        if one.role == Role.TECHNICIAN
    ]
    Technician.objects.bulk_create(technicians)
    Shift.objects.bulk_create(
        Shift(
            technician=technician,
            weekday=weekday,
            starts=time(7, 30),
            ends=time(16),
            from_on=today - timedelta(days=900),
        )
        for technician in technicians
        for weekday in range(1, 6)
    )
    return Crew(by_name[MANAGER], by_name[OFFICE], [by_name[name] for name in TECHNICIANS])


@dataclass
class Owner:
    """A customer and the person who reads its mail."""

    customer: Customer
    contact: Contact


NAMED = [  # name, contact, mail address, kind
    ("Ines Halvorsen", "Ines Halvorsen", "ines@example.com", CustomerKind.RESIDENT),
    ("Tobias Renn", "Tobias Renn", "tobias@example.com", CustomerKind.ABSENT),
    ("Quillbrook Lane Owners", "Marit Oakes", "board@example.com", CustomerKind.ASSOCIATION),
    ("Oxlip Green Golf", "Bram Dunnick", "grounds@example.com", CustomerKind.GOLF),
]
HALVORSEN, RENN, QUILLBROOK, OXLIP = range(4)
KINDS = [CustomerKind.RESIDENT] * 5 + [
    CustomerKind.FARM,
    CustomerKind.ABSENT,
    CustomerKind.ASSOCIATION,
    CustomerKind.CAMP,
]


def make_owners(draw: Random, number: int, *, today: date) -> list[Owner]:
    """The named owners first, then invented ones; each with one contact at example.com."""
    told = [*NAMED]
    while len(told) < number:
        name = f"{draw.choice(words.FIRST)} {draw.choice(words.LAST)}"
        address = f"{name.replace(' ', '.').lower()}.{len(told)}@example.com"
        told.append((name, name, address, draw.choice(KINDS)))
    customers = [
        Customer(key=f"C-{n:04}", name=name, kind=kind)
        for n, (name, _, _, kind) in enumerate(told, start=1)
    ]
    Customer.objects.bulk_create(customers, batch_size=500)
    contacts = [
        Contact(
            customer=customer,
            name=contact,
            email=email,
            phone=f"+1 202 555 01{n % 100:02}",
            time_zone=words.ZONE,
        )
        for n, (customer, (_, contact, email, _)) in enumerate(zip(customers, told, strict=True))
    ]
    Contact.objects.bulk_create(contacts, batch_size=500)
    ContactRole.objects.bulk_create(
        (
            ContactRole(
                contact=contact,
                role=ContactRoleKind.BOARD
                if contact.customer.kind == CustomerKind.ASSOCIATION
                else ContactRoleKind.OWNER,
                from_on=today - timedelta(days=3000),
            )
            for contact in contacts
        ),
        batch_size=500,
    )
    return [Owner(*pair) for pair in zip(customers, contacts, strict=True)]
