"""Sites with their way in, and ponds, of the demo firm: some told by name, the rest drawn."""

from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from random import Random

from customers.kinds import HazardKind, SecretKind
from customers.models import (
    Hazard,
    OpeningHours,
    Ownership,
    Pond,
    Region,
    Site,
    SiteSecret,
)
from equipment.kinds import WinterMode
from servicedesk.actions.demo import people, words
from servicedesk.actions.demo.words import Town

FOOT_M = 0.3048
ACRE_M2 = 4046.8564224
CLIMATES = {
    "Hollin plain": ("12-03", "11-22", "04-06", "05-20", "09-28"),
    "Tansy valley": ("12-05", "11-25", "04-02", "05-16", "10-02"),
    "Lake country": ("12-02", "11-20", "04-09", "05-24", "09-25"),
}
AILING = {"Oxlip 2": "fouled", "Oxlip 4": "leaking", "Oxlip 11": "worn"}
HAZARDS = [
    (HazardKind.DOG, "Barks, is tied at the barn."),
    (HazardKind.SOFT_GROUND, "Leave the van on the gravel."),
    (HazardKind.NO_SIGNAL, ""),
    (HazardKind.STEEP_BANK, "North bank."),
    (HazardKind.BEES, "Hives behind the cabinet."),
]


@dataclass
class Cabinet:
    """One system to be: its pond and how it is told apart."""

    pond: Pond
    name: str
    story: str = ""  # one of the special systems, see systems.py
    winter: WinterMode | None = None
    ails: str = ""  # a lasting fault that its readings show, see plumbing.py


@dataclass
class Place:
    """A site to be, with what stands there."""

    site: Site
    town: Town
    owner: int
    ponds: list[Pond] = field(default_factory=list)
    cabinets: list[Cabinet] = field(default_factory=list)


def draw_places(draw: Random, systems: int) -> list[Place]:
    """The told places, then drawn ones until there are as many systems as wanted."""
    places = _told(draw)
    names = _Names(draw, {pond.name for place in places for pond in place.ponds})
    count = sum(len(place.cabinets) for place in places)
    owner = max(place.owner for place in places) + 1
    while count < systems:
        place = _place(draw, len(places), draw.choice(words.TOWNS), owner, names.site())
        two = draw.random() < 0.12
        for _ in range(2 if two else 1):
            pond = _pond(draw, place, names.pond())
            doubled = draw.random() < 0.1 and count < systems - 1
            for letter in ["A", "B"] if doubled else [""]:
                place.cabinets.append(Cabinet(pond, f"{pond.name} {letter}".strip()))
                count += 1
            if count >= systems:
                break
        places.append(place)
        owner += 1
    return places


class _Names:
    """Names of sites and ponds that do not come twice."""

    def __init__(self, draw, taken):
        self.draw, self.count = draw, 0
        names = (f"{a} {b}" for a in words.POND_FIRST for b in words.POND_LAST)
        self.ponds = [name for name in dict.fromkeys(names) if name not in taken]
        draw.shuffle(self.ponds)

    def site(self):
        road = f"{self.draw.choice(words.ROADS)} {self.draw.choice(words.ROAD_KINDS)}"
        return f"{self.draw.randrange(10, 990)} {road}"

    def pond(self):
        self.count += 1
        turn, index = divmod(self.count - 1, len(self.ponds))
        return self.ponds[index] + (f" {turn + 1}" if turn else "")


def _told(draw):
    """The places of the firm's stories: each with the one thing that it shows."""
    towns = {town.name: town for town in words.TOWNS}
    mill = _place(draw, 0, towns["Tansy Ford"], people.HALVORSEN, "Mill Lane")
    mill.cabinets = [
        Cabinet(_pond(draw, mill, "Mill Pond"), "Mill Pond", "in_window", WinterMode.RUN_DEEP)
    ]
    heron = _place(draw, 1, towns["Brackmere"], people.RENN, "Heron Point")
    heron.cabinets = [
        Cabinet(_pond(draw, heron, "Heron Pond"), "Heron Pond", "shut", WinterMode.SHUT_DOWN)
    ]
    lane = _place(draw, 2, towns["Tansy Ford"], people.QUILLBROOK, "Quillbrook Lane")
    upper = _pond(draw, lane, "Quillbrook Upper")
    lower = _pond(draw, lane, "Quillbrook Lower")
    deep = WinterMode.RUN_DEEP
    lane.cabinets = [
        Cabinet(upper, "Quillbrook Upper A", "due_tuesday", deep),
        Cabinet(upper, "Quillbrook Upper B", "outlet_soon", deep),
        Cabinet(lower, "Quillbrook Lower", "", deep),
    ]
    courses = []
    for number, (name, holes) in enumerate([("front nine", 7), ("back nine", 5)], start=3):
        course = _place(draw, number, towns["Oxlip"], people.OXLIP, f"Oxlip Green, {name}")
        for hole in range(1, holes + 1):
            pond = _pond(draw, course, f"Oxlip {hole if number == 3 else 9 + hole}")
            ails = AILING.get(pond.name, "")
            winter = WinterMode.RUN_DEEP if ails else None
            course.cabinets.append(Cabinet(pond, pond.name, winter=winter, ails=ails))
        courses.append(course)
    told = [mill, heron, lane, *courses]
    for name, story in [("Kingfisher Pond", "failed"), ("Withy Pool", "overdue")]:
        owner = told[-1].owner + 1
        place = _place(draw, len(told), towns["Sorrel Mills"], owner, f"{name.split()[0]} Farm")
        place.cabinets = [Cabinet(_pond(draw, place, name), name, story, deep)]
        told.append(place)
    return told


def _place(draw, number, town, owner, name):
    site = Site(
        key=f"S-{number + 1:04}",
        name=name,
        street=name if name[0].isdigit() else "",
        town=town.name,
        lat=round(town.lat + draw.uniform(-0.085, 0.085), 5),
        lon=round(town.lon + draw.uniform(-0.115, 0.115), 5),
        elevation_m=round(town.elevation_m + draw.uniform(-15, 25)),
        time_zone=words.ZONE,
        way_in=draw.choice(words.WAYS_IN),
        notice_h=draw.choice([0, 0, 0, 24, 48]),
        public_access=draw.random() < 0.05,
    )
    return Place(site, town, owner)


def _pond(draw, place, name):
    depth_m = round(draw.uniform(8, 16)) * FOOT_M
    pond = Pond(
        key=f"P-{place.site.key[2:]}-{len(place.ponds) + 1}",
        name=name,
        lat=round(place.site.lat + draw.uniform(-0.0012, 0.0012), 6),
        lon=round(place.site.lon + draw.uniform(-0.0016, 0.0016), 6),
        area_m2=round(draw.uniform(0.4, 4.5) * ACRE_M2),
        depth_max_m=depth_m,
        depth_mean_m=round(depth_m * draw.uniform(0.42, 0.6), 2),
        fish=draw.choice(words.FISH),
        level_mark="Bolt in the outlet's concrete",
    )
    place.ponds.append(pond)
    return pond


def save_places(draw: Random, places: list[Place], owners: list, *, now: datetime) -> None:
    """Write regions, sites with their way in, ponds and who owns them."""
    regions = {name: _region(name, days) for name, days in CLIMATES.items()}
    Region.objects.bulk_create(regions.values())
    for place in places:
        place.site.region = regions[place.town.region]
    Site.objects.bulk_create([place.site for place in places], batch_size=500)
    for place in places:
        for pond in place.ponds:
            pond.site = place.site
    Pond.objects.bulk_create([p for place in places for p in place.ponds], batch_size=500)
    _save_owners(places, owners, now.date())
    _save_ways_in(draw, places, now)


def _region(name, days):
    names = ["ice_on_typical", "ice_on_earliest", "ice_out_typical"]
    names += ["layering_typical", "mixing_typical"]
    note = "Invented, as the region is."
    return Region(name=name, dates_note=note, **dict(zip(names, days, strict=True)))


def _save_owners(places, owners, today):
    Ownership.objects.bulk_create(
        (
            Ownership(
                customer=owners[place.owner].customer,
                site=place.site,
                from_on=today - timedelta(days=3000),
            )
            for place in places
        ),
        batch_size=500,
    )


def _save_ways_in(draw, places, now):
    hazards, hours, secrets = [], [], []
    for place in places:
        for kind, note in draw.sample(HAZARDS, draw.choice([0, 0, 1, 1, 2])):
            hazards.append(Hazard(site=place.site, kind=kind, note=note))
        if draw.random() < 0.15:
            opens, closes = draw.choice([(8, 17), (9, 16), (7, 15)])
            hours += [
                OpeningHours(site=place.site, weekday=day, opens=time(opens), closes=time(closes))
                for day in range(1, 6)
            ]
        if draw.random() < 0.25 or place.site.name == "Mill Lane":
            code = f"{draw.randrange(1000, 9999)}#"
            kind = SecretKind.GATE_CODE
            secrets.append(SiteSecret(site=place.site, kind=kind, text=code, entered_at=now))
    Hazard.objects.bulk_create(hazards, batch_size=500)
    OpeningHours.objects.bulk_create(hours, batch_size=500)
    SiteSecret.objects.bulk_create(secrets, batch_size=500)
