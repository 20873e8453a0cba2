"""Invented people, towns, ponds, makers and models of the demo firm. None of them exists."""

from dataclasses import dataclass

from equipment.kinds import CompressorKind

ZONE = "America/Chicago"
SHOP = ("Shop, Hollin Crossing", 44.5120, -94.2410)


@dataclass(frozen=True)
class Town:
    name: str
    region: str
    lat: float
    lon: float
    elevation_m: float


TOWNS = [
    Town("Hollin Crossing", "Hollin plain", 44.515, -94.245, 311),
    Town("Tansy Ford", "Tansy valley", 44.690, -94.020, 262),
    Town("Brackmere", "Lake country", 44.275, -94.480, 329),
    Town("Sorrel Mills", "Tansy valley", 44.625, -93.845, 255),
    Town("Oxlip", "Lake country", 44.330, -94.105, 322),
]
ROADS = [
    "Alder",
    "Cartway",
    "Dovecote",
    "Ferry",
    "Fold",
    "Gorse",
    "Hayloft",
    "Kiln",
    "Ladder",
    "Mill",
    "Orchard",
    "Quarry",
    "Reed",
    "Saltlick",
    "Sheepwash",
    "Tannery",
    "Teasel",
    "Thornfield",
    "Towpath",
    "Withy",
    "Whistler",
    "Yarrow",
    "Millrace",
    "Larkspur",
]
ROAD_KINDS = ["Lane", "Road", "Trail", "Drive"]
FIRST = [
    "Ada",
    "Anselm",
    "Bram",
    "Brida",
    "Corin",
    "Delphine",
    "Edda",
    "Elric",
    "Fenna",
    "Gideon",
    "Greta",
    "Halden",
    "Ilse",
    "Ivo",
    "Joren",
    "Juna",
    "Kester",
    "Linnea",
    "Lorcan",
    "Maeve",
    "Marit",
    "Nils",
    "Oona",
    "Orrin",
    "Petra",
    "Quill",
    "Rhoda",
    "Roald",
    "Selma",
    "Soren",
    "Thea",
    "Tilda",
    "Ulla",
    "Viggo",
    "Wilma",
    "Yorick",
    "Zelda",
]
LAST = [
    "Abernall",
    "Birkholt",
    "Cawdrey",
    "Dunnick",
    "Ellerby",
    "Fallowell",
    "Garrick",
    "Hexley",
    "Ivarson",
    "Jessup",
    "Kettlewood",
    "Larkin",
    "Marrable",
    "Nettleford",
    "Oakes",
    "Pellwood",
    "Quennell",
    "Rushworth",
    "Sallow",
    "Thackery",
    "Umberton",
    "Vance",
    "Wexcombe",
    "Yelland",
    "Ashgrove",
    "Brandreth",
    "Colquill",
    "Dorrance",
    "Eastlake",
    "Fenwright",
]
POND_FIRST = [
    "Bittern",
    "Cattail",
    "Coot",
    "Cress",
    "Damsel",
    "Dipper",
    "Frogbit",
    "Grebe",
    "Heronry",
    "Kingfisher",
    "Lily",
    "Mallard",
    "Minnow",
    "Moorhen",
    "Otter",
    "Osier",
    "Perch",
    "Pike",
    "Plover",
    "Rushy",
    "Sedge",
    "Snipe",
    "Spring",
    "Teal",
    "Tench",
    "Wader",
    "Willow",
    "Muskrat",
    "Newt",
    "Lantern",
    "Lower",
    "Upper",
    "Long",
    "Round",
    "Quarry",
    "Orchard",
    "Chapel",
    "Barn",
]
POND_LAST = ["Pond", "Water", "Pool", "Basin"]
FISH = ["bass, bluegill", "bluegill", "perch, pike", "koi", "catfish", "bass, perch", ""]
WAYS_IN = [
    "Drive to the barn, cabinet behind the woodpile.",
    "Second gate on the left; close it behind you.",
    "Park at the road, 150 m on foot along the hedge.",
    "Ring at the house first. Cabinet beside the boathouse.",
    "Field road on the east side; not after rain.",
    "Cabinet by the pump house, key hook inside.",
]


@dataclass(frozen=True)
class Model:
    """A compressor model as its nameplate would say it, with the parts that fit it."""

    maker: str
    model: str
    kind: CompressorKind
    free_air_l_min: float
    pressure_max_psi: float
    current_a: float
    power_w: float
    filter_part: str
    depth_max_m: float
    voltage_v: float = 115


MODELS = [
    Model("Brookmade", "P-40", CompressorKind.PISTON, 65, 30, 3.4, 250, "FE-40", 15),
    Model("Brookmade", "P-72", CompressorKind.PISTON, 125, 30, 5.2, 430, "FE-72", 15),
    Model("Larkworks", "V-6", CompressorKind.VANE, 170, 10, 4.4, 370, "LF-06", 5),
    Model("Stillwell", "L-80", CompressorKind.LINEAR, 80, 5, 0.9, 86, "SW-08", 2.1),
]
