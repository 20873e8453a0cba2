"""Which serial numbers a recall is about; the rule is our own, so the cases are told in words."""

import pytest

from servicedesk.planning.recalls import Standing, refuse_range, serial_standing

IN, OUT, LOOK = Standing.IN, Standing.OUT, Standing.LOOK


@pytest.mark.parametrize(
    ("serial", "standing"),
    [
        ("4400", IN),
        ("4499", IN),
        (" 44-71 ", OUT),  # two numbers, written in another form; neither lies in the range
        ("4399", OUT),
        ("4500", OUT),
        ("04471", IN),
        ("", LOOK),
        ("44?1", LOOK),
        ("worn off", LOOK),
        ("B4471", LOOK),  # another form, but the digits lie in the range
        ("B9000", OUT),
    ],
)
def test_number_in_the_range_is_meant_and_one_in_doubt_is_looked_at(serial, standing):
    assert serial_standing(serial, "4400", "4499") == standing


def test_letters_and_years_count_from_left_to_right():
    assert serial_standing("ab 4450", "AB4400", "AB-4499") == IN
    assert serial_standing("AC4450", "AB4400", "AB4499") == OUT
    assert serial_standing("2021-0990", "2021-0440", "2022-0120") == IN
    assert serial_standing("2022-0121", "2021-0440", "2022-0120") == OUT
    assert serial_standing("4450", "AB4400", "AB4499") == LOOK


def test_open_end_has_no_limit_and_a_recall_without_range_is_about_every_unit():
    assert serial_standing("99999", "4400", "") == IN
    assert serial_standing("4399", "4400", "") == OUT
    assert serial_standing("12", "", "4499") == IN
    assert serial_standing("", "", "") == IN


@pytest.mark.parametrize(("first", "last"), [("4499", "4400"), ("AB44", "4499"), ("--", "5")])
def test_range_whose_ends_do_not_fit_is_refused(first, last):
    with pytest.raises(ValueError, match="range"):
        refuse_range(first, last)
