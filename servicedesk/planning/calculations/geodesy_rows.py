"""Distances and directions between places, by name."""

from equipment.physics import geodesy
from servicedesk.planning.calculations.engine import Calculation


def _dms(degrees, minutes, seconds):
    return degrees + minutes / 60 + seconds / 3600


# Lines that others test with. Lists round the ends, which moves a length by centimetres.
PUBLISHED = {
    "flinders peak to buninyong": (
        -_dms(37, 57, 3.72030),
        _dms(144, 25, 29.52440),
        -_dms(37, 39, 10.15610),
        _dms(143, 55, 35.38390),
        "GRS80",
    ),
    "land's end to john o' groats": (
        _dms(50, 3, 58.752),
        -_dms(5, 42, 53.1),
        _dms(58, 38, 38.472),
        -_dms(3, 4, 12.324),
        "WGS84",
    ),
}
ROUNDED_DEG = 1e-6


def distance_km(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """The straight distance between two places, on a sphere.

    lat1, lat2: latitudes [degrees], -90 to 90, negative in the south.
    lon1, lon2: longitudes [degrees], -180 to 180, negative in the west.
    Returns kilometres, within 0.6 % of the ellipsoid's.
    Raises ValueError outside those ranges.
    Source: haversine formula; radius 6371.0088 km, mean radius of the IUGG (1980 values).
    """
    return float(geodesy.great_circle_km(lat1, lon1, lat2, lon2))


def geodesic_m(
    lat1: float, lon1: float, lat2: float, lon2: float, ellipsoid: str = "WGS84"
) -> float:
    """The shortest distance between two places over the earth's ellipsoid.

    lat1, lat2: latitudes [degrees], -90 to 90, negative in the south.
    lon1, lon2: longitudes [degrees], -180 to 180, negative in the west.
    ellipsoid: WGS84 or GRS80.
    Returns metres, along the ground and never by road.
    Raises ValueError outside those ranges.
    Source: Karney, Algorithms for geodesics, J. Geod. 87 (2013) 43.
    """
    return geodesy.geodesic(lat1, lon1, lat2, lon2, ellipsoid.upper()).distance_m


def geodesic_km(
    lat1: float, lon1: float, lat2: float, lon2: float, frm: str = "", to: str = ""
) -> float:
    """The shortest distance between two places over the earth's ellipsoid, in kilometres.

    lat1, lat2: latitudes [degrees], -90 to 90, negative in the south.
    lon1, lon2: longitudes [degrees], -180 to 180, negative in the west.
    frm, to: names of the places; they change nothing.
    Returns kilometres, along the ground and never by road.
    Raises ValueError outside those ranges.
    Source: Karney, Algorithms for geodesics, J. Geod. 87 (2013) 43; WGS84.
    """
    return geodesic_m(lat1, lon1, lat2, lon2) / 1000


def published_line_m(
    line: str,
    lat1: float | None = None,
    lon1: float | None = None,
    lat2: float | None = None,
    lon2: float | None = None,
    ellipsoid: str = "",
) -> float:
    """The length of a published test line, from its published ends.

    line: such as Flinders Peak to Buninyong.
    lat1, lon1, lat2, lon2: the ends as rounded in a list [degrees]; used themselves where they
        are not the published ones.
    ellipsoid: WGS84 or GRS80; that of the publication where none is given.
    Returns metres.
    Raises ValueError for a line that is not known here and has no ends.
    Source: Geoscience Australia, GDA technical manual; Karney, J. Geod. 87 (2013) 43.
    """
    ends = (lat1, lon1, lat2, lon2)
    *published, its_own = _published(line, ends if None not in ends else None)
    return geodesic_m(*published, ellipsoid or its_own)


def azimuths_deg(
    line: str = "",
    lat1: float | None = None,
    lon1: float | None = None,
    lat2: float | None = None,
    lon2: float | None = None,
    ellipsoid: str = "",
) -> tuple[float, float]:
    """The directions of the shortest line between two places, from each end to the other.

    line: a published test line, such as Flinders Peak to Buninyong; or the ends.
    lat1, lat2: latitudes [degrees], -90 to 90, negative in the south.
    lon1, lon2: longitudes [degrees], -180 to 180, negative in the west.
    ellipsoid: WGS84 or GRS80; that of the publication, else WGS84, where none is given.
    Returns degrees clockwise from north: there, and back from the second place.
    Raises ValueError for a line that is not known here and has no ends.
    Source: Karney, Algorithms for geodesics, J. Geod. 87 (2013) 43.
    """
    ends = (lat1, lon1, lat2, lon2)
    *places, its_own = _published(line, ends if None not in ends else None)
    found = geodesy.geodesic(*places, (ellipsoid or its_own).upper())
    return found.azimuth_deg, found.back_azimuth_deg


def quarter_meridian_m(ellipsoid: str = "WGS84") -> float:
    """The way from the equator to a pole.

    ellipsoid: WGS84 or GRS80.
    Returns metres.
    Raises ValueError for another ellipsoid.
    Source: Karney, Algorithms for geodesics, J. Geod. 87 (2013) 43.
    """
    return geodesic_m(0, 0, 90, 0, ellipsoid)


def degree_of_latitude_km() -> float:
    """One degree of latitude on the mean sphere.

    Returns kilometres.
    Source: haversine formula; mean radius of the IUGG.
    """
    return distance_km(0, 0, 1, 0)


def mean_radius_km() -> float:
    """The earth's mean radius.

    Returns kilometres.
    Source: IUGG (1980 values), (2 a + b) / 3.
    """
    return geodesy.EARTH_RADIUS_KM


def _published(line, ends):
    """Ends and ellipsoid: the published ones, unless others are given."""
    known = PUBLISHED.get(_plain(line))
    if known and (ends is None or _same(ends, known[:4])):
        return known
    if ends is None:
        names = "; ".join(PUBLISHED)
        raise ValueError(f"give lat1, lon1, lat2 and lon2, or a line that is known here: {names}")
    return (*ends, known[4] if known else "WGS84")


def _same(ends, published):
    return all(abs(a - b) <= ROUNDED_DEG for a, b in zip(ends, published, strict=True))


def _plain(line):
    words = line.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    bare = {name.replace("'", " ").replace("  ", " "): name for name in PUBLISHED}
    return bare.get(" ".join(words.replace("'", " ").split()), words)


_OLD = {"latitude": "lat1", "longitude": "lon1", "to_latitude": "lat2", "to_longitude": "lon2"}

CALCULATIONS = (
    Calculation("distance_km", distance_km, (), _OLD),
    Calculation(
        "azimuths_deg",
        azimuths_deg,
        (r"azimuths of .*",),
    ),
    Calculation(
        "published_line_m",
        published_line_m,
        (
            r"vincenty test line (?P<line>.*?)(?:,? (?P<ellipsoid>wgs84|grs80))?",
            r"geodesic (?P<line>land.?s end to john o.? ?groats)(?:,? (?P<ellipsoid>wgs84|grs80))?",
        ),
    ),
    Calculation(
        "quarter_meridian_m",
        quarter_meridian_m,
        (r"quarter meridian,? equator to pole(?:,? (?P<ellipsoid>wgs84|grs80))?",),
    ),
    Calculation(
        "degree_of_latitude_km", degree_of_latitude_km, (r"one degree of latitude on the.*",)
    ),
    Calculation("mean_radius_km", mean_radius_km, (r"iugg mean radius",)),
    Calculation("geodesic_km", geodesic_km, (r"distance between two (?:airports|places).*",)),
    Calculation(
        "geodesic_m",
        geodesic_m,
        (
            r"geodesic .*?(?:,? (?P<ellipsoid>wgs84|grs80))?",
            r"near.antipodal line.*",
            r"short,? zero and date.line distances",
        ),
    ),
)
