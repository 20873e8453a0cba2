"""What real weather files give for ice growth and for the days on which a 30-day mean is crossed,
beside the check values from outside (tests/reference/weather.json). Prints a table:

    .venv/bin/python -m tests.benchmarks.bench_weather
"""

import sys
from dataclasses import dataclass

from servicedesk.planning.calculations import calculated
from tests.checks import agrees, rows

CROSSINGS = "first date the trailing 30-day mean"
FREEZING = ("freezing degree-days", "largest net accumulated")
LAKE_WITH_SNOW_IN = 0.6


@dataclass(frozen=True)
class Line:
    id: str
    what: str
    ours: object
    expected: object
    agrees: bool


def compared() -> list[Line]:
    """Each crossing and each sum of cold beside its check row; and the ice that notes foresee."""
    lines = []
    for row in rows("weather", CROSSINGS, *FREEZING):
        ours = calculated(row["quantity"], row["inputs"])
        said = agrees(row["expected"], ours, row["tolerance"])
        lines.append(Line(row["id"], _what(row), ours, row["expected"], said))
        if grown := _noted_ice_in(row):
            grows = calculated(
                "ice_thickness_in", {"afdd_F": 1.8 * ours, "alpha_in": LAKE_WITH_SNOW_IN}
            )
            same = agrees(grown, grows, {"abs": 0.05})
            lines.append(Line(row["id"], "  ice from it, upper bound, in", grows, grown, same))
    return lines


def _noted_ice_in(row):
    """The inches that the row's own note computes from its sum of cold."""
    after = row.get("note", "").partition("alpha 0.6 in: ")[2]
    return float(after.split(" in")[0]) if after else None


def _what(row):
    inputs = row["inputs"]
    year = inputs.get("year") or inputs.get("season") or "typical"
    short = row["quantity"].replace("first date the trailing 30-day mean", "30-day mean")
    return f"{inputs['dataset']} {year}: {short.replace('air temperature ', '').split(',')[0]}"


def main():
    lines = compared()
    sys.stdout.write(f"{'row':<12} {'what':<88} {'ours':>12} {'check':>12}\n")
    for line in lines:
        ours, expected = (
            f"{value:.4f}" if isinstance(value, float) else str(value)
            for value in (line.ours, line.expected)
        )
        mark = "" if line.agrees else "  DIFFERS"
        sys.stdout.write(f"{line.id:<12} {line.what:<88} {ours:>12} {expected:>12}{mark}\n")
    sys.stdout.write(f"{sum(line.agrees for line in lines)} of {len(lines)} agree\n")


if __name__ == "__main__":
    main()
