"""What lies in the demo firm's shop: units to lend, and units to fit for good."""

from datetime import date, timedelta

from equipment.kinds import PositionKind
from equipment.models import ComponentType
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.systems import at
from servicedesk.actions.units import enter_unit

ENTERED_DAYS_AGO = 40
UNITS = [  # model, serial number, hours before it came here, whether it is lent out
    ("P-40", "P4381", 6_240, True),
    ("V-6", "V4377", 3_815, True),
    ("P-72", "P4392", 0, False),
    ("H-1", "H4396", 0, False),  # an hour meter
]


def fill_shelf(crew: Crew, *, today: date) -> None:
    """Two loaners and two spares, so that a unit which failed can be exchanged."""
    kinds = ComponentType.objects.filter(kind__in=[PositionKind.COMPRESSOR, PositionKind.METER])
    models = {kind.model: kind for kind in kinds}
    entered_at = at(today - timedelta(days=ENTERED_DAYS_AGO), 10)
    for model, serial, hours, lent in UNITS:
        enter_unit(
            type=models[model],
            serial=serial,
            hours_before=hours,
            lent=lent,
            by=crew.office,
            now=entered_at,
        )
