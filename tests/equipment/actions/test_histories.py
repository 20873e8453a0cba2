"""What a verdict rests on is taken from the register: volts by the nameplate, swing by the pond."""

from datetime import UTC, date, datetime

import pytest

from equipment.actions.histories import histories_of
from equipment.kinds import PositionKind, PositionUse
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


def known(system):
    return histories_of([system.pk], until=NOW)[system.pk]


def compressor(system, **nameplate):
    unit = make.component(type=make.compressor_type(nameplate=nameplate))
    return make.fit(unit, make.position(system=system))


def plate(system, swing_m, **fields):
    water = make.pond(site=system.site, level_swing_m=swing_m)
    return make.position(PositionKind.DIFFUSER, system=system, pond=water, **fields)


@pytest.mark.parametrize(
    ("plates", "volts"),
    [
        ([{"voltage_v": 115}], 115),
        ([{"voltage_v": "230"}], 230),
        ([{}], None),
        ([], None),
        ([{"voltage_v": 115}, {"voltage_v": 115.0}], 115),
        ([{"voltage_v": 115}, {"voltage_v": 230}], None),
        ([{"voltage_v": 115}, {}], None),
    ],
)
def test_nominal_volts_are_those_on_which_all_compressors_agree(plates, volts):
    system = make.system()
    for nameplate in plates:
        compressor(system, **nameplate)

    assert known(system).nominal_v == volts


def test_unit_that_was_taken_out_says_nothing_of_the_volts():
    system = make.system()
    compressor(system, voltage_v=115)
    row = compressor(system, voltage_v=230)
    row.to_on = date(2026, 1, 5)
    row.save()

    assert known(system).nominal_v == 115


@pytest.mark.parametrize(
    ("swings", "wider"),
    [
        ([0.4], 0.4),
        ([0.4, 0.9], 0.9),
        ([0.4, None], None),
        ([None], None),
        ([0.0], 0.0),
        ([], None),
    ],
)
def test_swing_is_the_wider_of_its_ponds_and_open_where_one_is_not_known(swings, wider):
    system = make.system()
    for swing_m in swings:
        plate(system, swing_m)

    assert known(system).swing_m == wider


def test_pond_that_a_plate_was_taken_out_of_swings_for_nobody():
    system = make.system()
    plate(system, 0.2)
    plate(system, 2.0, use=PositionUse.REMOVED)

    assert known(system).swing_m == 0.2
