"""The columns of a register: the one description that page, command and template file show."""

from dataclasses import dataclass

from customers import kinds as parties
from equipment import kinds as equipment
from equipment.physics import units


@dataclass(frozen=True)
class Column:
    """One column: `about` names the record that the cell belongs to."""

    name: str
    about: str
    says: str
    example: str = ""
    wanted: bool = False
    words: tuple[str, ...] = ()

    @property
    def help(self):
        """The description with the words that may stand in the cell."""
        return f"{self.says} One of: {', '.join(self.words)}." if self.words else self.says


STATES = tuple(
    state.value
    for state in equipment.SystemState
    if state not in {equipment.SystemState.TRANSFERRED, equipment.SystemState.COMMISSIONING}
)
LENGTHS = ("ft", "m")
AREAS = tuple(units.offered("area"))
PRESSURES = ("psi", "kPa", "bar")

OVERHAUL_OF = {  # the task that is the overhaul of each kind of compressor
    equipment.CompressorKind.PISTON: "piston_service",
    equipment.CompressorKind.VANE: "vane_replacement",
    equipment.CompressorKind.LINEAR: "diaphragm_service",
}

COLUMNS = [
    Column("customer_key", "customer", "Your own number for who pays.", "C-014", True),
    Column("customer", "customer", "Name of who pays.", "Quillbrook Lane Owners", True),
    Column(
        "customer_kind",
        "customer",
        "What kind of customer.",
        "association",
        words=tuple(parties.CustomerKind),
    ),
    Column("contact", "contact", "Whom you write to or phone.", "Marit Oakes"),
    Column("contact_email", "contact", "Where reminders go.", "marit.oakes@example.com"),
    Column("contact_phone", "contact", "Phone number of the contact.", "+1 202 555 0134"),
    Column(
        "contact_role",
        "contact",
        "What the contact is to you; empty means owner.",
        "board",
        words=tuple(parties.ContactRoleKind),
    ),
    Column("site_key", "site", "Your own number for the address.", "S-021", True),
    Column("site", "site", "What you call the place.", "Quillbrook Lane", True),
    Column("street", "site", "Street and number.", "118 Quillbrook Lane"),
    Column("town", "site", "Town.", "Tansy Ford"),
    Column("postcode", "site", "Postcode.", "00118"),
    Column("region", "site", "Your name for a group of places with one weather.", "River valley"),
    Column("latitude", "site", "Degrees north of the gate, with a point.", "44.6132", True),
    Column("longitude", "site", "Degrees east; west of Greenwich is negative.", "-94.0275", True),
    Column("elevation", "site", "Height above the sea.", "985"),
    Column("elevation_unit", "site", "Unit of the height.", "ft", words=LENGTHS),
    Column("time_zone", "site", "Empty means that of the firm.", "America/Chicago"),
    Column("way_in", "site", "How to get in. No codes here.", "Second gate, keep left of the barn"),
    Column("gate_code", "site", "Kept encrypted; shown on the day of the visit.", "2580#"),
    Column(
        "hazards",
        "site",
        "What may hurt who comes: words apart by semicolons, a note after a colon. Words: "
        + ", ".join(parties.HazardKind)
        + ".",
        "dog: tied at the barn; soft_ground",
    ),
    Column("open_days", "site", "Days you may come; empty means any day.", "Mon-Fri"),
    Column("open_from", "site", "From this time of day.", "08:00"),
    Column("open_until", "site", "Until this time of day.", "17:00"),
    Column("pond_key", "pond", "Your own number for the water.", "P-033", True),
    Column("pond", "pond", "Name of the pond.", "Quillbrook Upper", True),
    Column("pond_area", "pond", "Surface.", "1.4"),
    Column("area_unit", "pond", "Unit of the surface.", "ac", words=AREAS),
    Column("pond_depth", "pond", "Greatest depth.", "14"),
    Column("fish", "pond", "Which fish live in it.", "bass, bluegill"),
    Column("system_key", "system", "Your own number for the cabinet.", "A-101", True),
    Column("system", "system", "Name on the cabinet's label.", "Quillbrook Upper A", True),
    Column("installed_on", "system", "Day of installation.", "2023-05-16", True),
    Column("diffuser_depths", "diffusers", "Depth of every plate, by semicolons.", "12; 12; 9"),
    Column("depth_unit", "diffusers", "Unit of all depths in the row.", "ft", words=LENGTHS),
    Column("compressor_maker", "model", "Who made the compressor.", "Brookmade"),
    Column("compressor_model", "model", "Model, as on the nameplate.", "P-40"),
    Column(
        "compressor_kind",
        "model",
        "How it pumps; wanted with the model.",
        "piston",
        words=tuple(equipment.CompressorKind),
    ),
    Column("pressure_max", "model", "Highest working pressure on the nameplate.", "30"),
    Column("pressure_unit", "model", "Unit of that pressure.", "psi", words=PRESSURES),
    Column("filter_part", "model", "Number of the filter element that fits the model.", "FE-40"),
    Column("compressor_serial", "compressor", "Serial number; empty: cannot be read.", "4471"),
    Column("compressor_hours", "compressor", "Hours it had run when it came to you.", "0"),
    Column("hours_per_day", "system", "Hours a day by its timer; empty means 24.", "24"),
    Column("filter_changed_on", "system", "Day of the last filter change.", "2026-08-04"),
    Column(
        "last_service",
        "system",
        "Day of the last full service: clocks count from it where nothing later is told. Empty: "
        "from the last filter change, else from the day of loading.",
        "2026-08-04",
    ),
    Column("last_membranes", "system", "Day all membranes were last replaced.", "2025-05-12"),
    Column(
        "last_overhaul",
        "system",
        "Day the compressor was last overhauled: pistons, vanes or diaphragms.",
        "2025-10-02",
    ),
    Column("state", "system", "What it does now; empty means running.", "running", words=STATES),
    Column("state_since", "system", "Since which day; empty: since installation.", "2024-04-09"),
    Column(
        "winter_mode",
        "system",
        "How it spends the winter.",
        "run_shallow",
        words=tuple(equipment.WinterMode),
    ),
]
BY_NAME = {column.name: column for column in COLUMNS}
NAMES = list(BY_NAME)
WANTED = [column.name for column in COLUMNS if column.wanted]

NOTES = [
    "One row is one system. Repeat customer, site and pond on each row that belongs to them, with "
    "the same numbers: the numbers tell what is the same thing.",
    "A cabinet that feeds two ponds has two rows with the same system_key, one for each pond.",
    "An empty cell says nothing: it never erases what is known.",
    "Write days as 2026-03-14. 14 Mar 2026 is understood too; 03/04/2026 is refused, because it "
    "can be read in two ways.",
    "CSV files are UTF-8, with commas, semicolons or tabs between the cells. In a workbook the "
    "first sheet is read; formulas are refused.",
    "Thousands of rows take a minute or more: load them with manage.py import_register FILE.",
]


def described():
    """The description as plain text, for a terminal."""
    width = max(len(name) for name in NAMES)
    lines = [
        f"{column.name:{width}}  {'wanted. ' if column.wanted else ''}{column.help}"
        for column in COLUMNS
    ]
    return "\n".join([*lines, "", *NOTES])
