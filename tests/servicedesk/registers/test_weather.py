"""Weather files: every bad line is named with what to do, and good ones are read whole."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.registers.weather import DayRow, NotWeather, read_weather

NAMES = ["Lake country", "Tansy valley"]


def faults(text, region="Lake country"):
    return {fault.line: fault.says for fault in read_weather(text, NAMES, region)[1]}


@pytest.mark.parametrize(
    ("text", "mean", "low"),
    [
        ("date,mean_c\n2026-11-25,-3.5\n", -3.5, None),
        ("date,mean_f\n2026-11-25,23\n", -5, None),
        ("date,min_c,max_c\n2026-11-25,-8,2\n", -3, -8),
        ("date;min_f;max_f\n2026-11-25;14;32\n", -5, -10),
        ("date;mean_c\n2026-11-25;-3,5\n", -3.5, None),
        ("\ufeff# a remark\ndate\tregion\tmean_c\tnote\n2026-11-25\tlake COUNTRY\t1\tx\n", 1, None),
    ],
)
def test_days_are_read_in_either_unit_and_from_lowest_and_highest(text, mean, low):
    ((row,), wrong) = read_weather(text, NAMES, "Lake country")

    assert wrong == []
    assert (row.region, row.on) == ("Lake country", date(2026, 11, 25))
    assert row.mean_c == pytest.approx(mean)
    assert row.low_c == (low if low is None else pytest.approx(low))


def test_every_bad_line_is_named_by_its_own_number():
    found = faults(
        "# from the airport\ndate,region,mean_c,min_c,max_c\n"
        "2026-11-25,Moon,1,,\n"
        "25.11.2026,,1,,\n"
        "2026-02-30,,1,,\n"
        "2026-11-26,,cold,,\n"
        "\n"
        "2026-11-27,,99,,\n"
        "2026-11-28,,,3,1\n"
        "2026-11-29,,,,\n"
        "2026-11-30,,1,,\n"
        "2026-11-30,,2,,\n"
        "2026-12-01,,1,,,7\n"
    )

    assert {line: says.split(".")[0] for line, says in found.items()} == {
        3: "There is no region 'Moon'",
        4: "'25",
        5: "There is no day 2026-02-30",
        6: "'cold' is no temperature",
        8: "99 in mean_c is no temperature of the air: it lies between -70 and 50 degC, -94 and 122"
        " degF",
        9: "The lowest is above the highest",
        10: "The temperature is missing",
        12: "2026-11-30 stands in line 11 already",
        13: "There are 6 cells under 5 names",
    }


@pytest.mark.parametrize(
    ("text", "region", "says"),
    [
        ("", "Lake country", "no line"),
        ("# remarks\n,,\n", "Lake country", "no line"),
        ("day,warmth\n", "Lake country", "does not name the columns"),
        ("date,min_c\n2026-11-25,1\n", "Lake country", "no column mean_c"),
        ("date,mean_c\n2026-11-25,1\n", "", "Choose the region"),
        ("date,mean_c\n", "Lake country", "stands no day"),
        ("date,mean_c,mean_c\n2026-11-25,1,2\n", "Lake country", "twice"),
        ("date,mean_c\n" + "2026-11-25,1\n" * 60_001, "Lake country", "more than"),
    ],
)
def test_what_is_no_table_of_weather_is_refused_with_what_to_do(text, region, says):
    with pytest.raises(NotWeather, match=says):
        read_weather(text, NAMES, region)


@given(st.text())
def test_any_text_is_read_or_refused_and_never_breaks(text):
    try:
        rows, wrong = read_weather("date,mean_c\n" + text, NAMES, "Lake country")
    except NotWeather:
        return
    assert all(isinstance(row, DayRow) for row in rows)
    assert all(fault.line > 1 and fault.says for fault in wrong)
