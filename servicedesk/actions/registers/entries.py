"""The rows of a register, gathered by what they are about, and checked against each other."""

from collections import defaultdict
from dataclasses import dataclass, field

from servicedesk.registers.columns import COLUMNS, NAMES, WANTED
from servicedesk.registers.files import Fault
from servicedesk.registers.rows import RowForm

KEYS = {  # the cells that say which record a row is about
    "customer": ("customer_key",),
    "contact": ("customer_key", "contact"),
    "site": ("site_key",),
    "pond": ("pond_key",),
    "system": ("system_key",),
    "model": ("compressor_maker", "compressor_model"),
    "compressor": ("system_key",),
    "diffusers": ("system_key", "pond_key"),
}
LINKS = {  # further cells that must agree, because they tie the record to another one
    "site": ("customer_key",),
    "pond": ("site_key",),
    "system": ("site_key",),
    "compressor": ("compressor_maker", "compressor_model"),
    "diffusers": ("depth_unit",),
}
EMPTY = (None, "", [])


@dataclass
class Entry:
    """One record as the register describes it: first row, and every cell that says something."""

    row: int
    cells: dict = field(default_factory=dict)
    sites: set = field(default_factory=set)  # the sites in whose rows it stands

    def __getitem__(self, name):
        return self.cells.get(name)


def gather(rows, *, header, today):
    """(entries by kind and key, faults). Each faulty cell is one fault."""
    entries = {about: {} for about in KEYS}
    faults = []
    for row in rows:
        form = RowForm(row.cells, today=today)
        if form.is_valid():
            for about in KEYS:
                faults += _take(entries[about], about, row.number, form.cleaned_data)
        else:
            faults += [
                Fault(row.number, name, says)
                for name in NAMES
                for says in form.errors.get(name, ())
                if name in header or name not in WANTED
            ]
    faults += _serials_twice(entries) + _addresses_twice(entries)
    return entries, faults


def _take(known, about, row, said):
    key = tuple(said[name] for name in KEYS[about])
    if key[-1] == "" or (about == "compressor" and not said["compressor_model"]):
        return []
    names = [column.name for column in COLUMNS if column.about == about]
    cells = {
        name: said[name]
        for name in [*KEYS[about], *names, *LINKS.get(about, ())]
        if said.get(name) not in EMPTY
    }
    entry = known.setdefault(key, Entry(row))
    entry.sites.add(said["site_key"])
    if about == "diffusers" and entry.row != row:
        says = f"Row {entry.row} has the same system and pond. Take one of the two rows out."
        return [Fault(row, "system_key", says)]
    faults = [
        Fault(
            row,
            name,
            f"Row {entry.row} says {entry[name]} for the same {about} {key[-1]}; this row says "
            f"{value}. Write the same in both, or give this one a number of its own.",
        )
        for name, value in cells.items()
        if entry.cells.setdefault(name, value) != value
    ]
    return faults


def _serials_twice(entries):
    """One unit stands at one place: a serial number on two systems is a slip."""
    first, faults = {}, []
    for (system,), entry in entries["compressor"].items():
        unit = (entry["compressor_maker"], entry["compressor_model"], entry["compressor_serial"])
        if not unit[-1]:
            continue
        before = first.setdefault(unit, entry)
        if before is not entry:
            says = (
                f"Row {before.row} has the same compressor {unit[-1]}. One unit stands in one "
                f"cabinet: correct the serial number of {system}, or leave it empty."
            )
            faults.append(Fault(entry.row, "compressor_serial", says))
    return faults


def _addresses_twice(entries):
    first, faults = {}, []
    for (customer, name), entry in entries["contact"].items():
        address = (customer, (entry["contact_email"] or "").lower())
        before = first.setdefault(address, name) if address[1] else name
        if before != name:
            says = f"{before} of the same customer has this address. Give both rows one name."
            faults.append(Fault(entry.row, "contact_email", says))
    return faults


def warnings(entries):
    """What may be the same thing under two numbers; people decide, nothing is refused."""
    yield from _alike(entries["customer"], ("customer",), "customers with the same name")
    yield from _alike(entries["contact"], ("contact_email",), "contacts with the same address")
    towns = {key: entry["town"] for (key,), entry in entries["site"].items()}
    named = {
        key: Entry(entry.row, {"pond": entry["pond"], "town": towns.get(entry["site_key"])})
        for key, entry in entries["pond"].items()
    }
    yield from _alike(named, ("pond", "town"), "ponds with the same name in one town")


def _alike(known, names, what):
    groups = defaultdict(list)
    for entry_key, entry in known.items():
        values = tuple(" ".join(str(entry[name] or "").lower().split()) for name in names)
        if values[0]:
            groups[values].append((entry_key[0], entry[names[0]]))
    for found in groups.values():
        if len(found) > 1:
            numbers = ", ".join(key for key, _ in found)
            yield f"{numbers}: {what} ({found[0][1]}). If they are one, give them one number."
