"""Cell parsers: hand-read values, each limit, and that nothing at all crashes them."""

import math
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.importing.cells import (
    CellError,
    Day,
    Share,
    parse_day,
    parse_factor,
    parse_money,
    parse_quantity,
    parse_serial,
    parse_share,
    writes_day_first,
)


def _outcome(parser, cell):
    """Return a cell's value, or (what is wrong, how to mend it)."""
    try:
        return parser(cell)
    except CellError as error:
        return (error.problem, error.mend)


ANY_CELL = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=30),
    st.datetimes(),
    st.dates(),
    st.from_regex(r"[-+$]?[\d.,/' -]{0,14}( ?[a-zA-Z%.]{0,6})?", fullmatch=True),
)


@pytest.mark.parametrize("parser", [parse_day, parse_money, parse_quantity, parse_share, parse_factor])
@given(cell=ANY_CELL)
def test_no_cell_crashes_a_parser(parser, cell):
    outcome = _outcome(parser, cell)
    assert outcome is None or isinstance(outcome, Day | Share | Decimal | int | float) or all(outcome)


@given(cell=ANY_CELL)
def test_no_cell_crashes_the_reading_of_a_serial(cell):
    serial, instead = parse_serial(cell)
    assert not (serial and instead)
    assert len(serial) <= 80


@given(st.dates(min_value=date(1950, 1, 1), max_value=date(2099, 12, 31)))
def test_a_day_survives_every_way_of_writing_it(day):
    serial_number = (day - date(1899, 12, 30)).days
    written = [
        f"{day:%m/%d/%Y}",
        f"{day:%Y-%m-%d}",
        f"{day.day}-{day:%b-%Y}",
        f"{day:%B} {day.day}, {day.year}",
        f"{day:%d.%m.%Y}",
        datetime(day.year, day.month, day.day, tzinfo=UTC),
        day,
    ]
    if serial_number >= 18_264 and not 1950 <= serial_number <= 2099:
        written.append(serial_number)
    assert {parse_day(w) for w in written} == {Day(day)}


@given(st.integers(min_value=0, max_value=10_000))
def test_a_quantity_survives_units_and_thousands_marks(many):
    for written in (many, float(many), f"{many}", f"{many} ea", f"{many:,}", f"x{many}", f"{many} pcs.", f"({many})"):
        assert parse_quantity(written) == many


@given(st.decimals(min_value=0, max_value=999_999, places=2))
def test_an_amount_survives_signs_and_thousands_marks(amount):
    for written in (f"${amount:,.2f}", f"{amount:.2f}", f"USD {amount:,.2f} ea"):
        assert parse_money(written) == amount


@pytest.mark.parametrize(
    ("cell", "many"),
    [("2 ea", 2), ("two", 2), ("2 doz", 24), ("one dozen", 12), ("4 of 6", 4), ("6 (six)", 6), ("n/a", None), (0, 0)],
)
def test_quantities_as_registers_write_them(cell, many):
    assert parse_quantity(cell) == many


@pytest.mark.parametrize("cell", ["several", "a few", "2-3", "-1", 2.5, True, math.nan, math.inf, "lots", "1e9"])
def test_what_is_no_quantity_is_refused(cell):
    with pytest.raises(CellError):
        parse_quantity(cell)


@pytest.mark.parametrize(
    ("cell", "amount"),
    [("$1,200.00", "1200"), (24000, "24000"), ("1.200,00 €", "1200"), ("1.2k", "1200"), ("$.60", "0.6"), (0.6, "0.6")],
)
def test_amounts_as_registers_write_them(cell, amount):
    assert parse_money(cell) == Decimal(amount)


@pytest.mark.parametrize(
    ("cell", "share"),
    [
        (0.75, Share(Decimal("0.75"))),
        ("75%", Share(Decimal("0.75"))),
        ("75 %", Share(Decimal("0.75"))),
        (75, Share(Decimal("0.75"))),
        ("local", Share(Decimal(0), "local")),
        (0, Share(Decimal(0), "local")),
        ("0%", Share(Decimal(0), "local")),
        (None, None),
    ],
)
def test_federal_shares_as_registers_write_them(cell, share):
    assert parse_share(cell) == share


@pytest.mark.parametrize("cell", ["120%", "-5%", "grant", "3/4"])
def test_what_is_no_share_is_refused(cell):
    with pytest.raises(CellError):
        parse_share(cell)


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("3/14/19", Day(date(2019, 3, 14))),
        ("14-Mar-2019", Day(date(2019, 3, 14))),
        ("Mar 2019", Day(date(2019, 3, 1), "month")),
        ("Sept '19", Day(date(2019, 9, 1), "month")),
        ("03-2019", Day(date(2019, 3, 1), "month")),
        (2019, Day(date(2019, 1, 1), "year")),
        (43538, Day(date(2019, 3, 14))),
        ("14/3/2019", Day(date(2019, 3, 14))),
        ("2019-03-14 00:00:00", Day(date(2019, 3, 14))),
        ("tbd", None),
    ],
)
def test_dates_as_registers_write_them(cell, day):
    assert parse_day(cell) == day


@pytest.mark.parametrize("cell", ["31/31/2020", "2/30/2020", "soon", "FY19", "1/1/1850", 7, True, "13/2019"])
def test_what_is_no_date_is_refused(cell):
    with pytest.raises(CellError):
        parse_day(cell)


def test_a_column_that_can_only_be_day_first_is_read_day_first():
    assert writes_day_first(["01/02/2021", "25/12/2020", None])
    assert not writes_day_first(["01/02/2021", "12/25/2020"])
    assert parse_day("01/02/2021", day_first=True) == Day(date(2021, 2, 1))


@pytest.mark.parametrize("cell", ["n/a", "N/A", "unreadable", "worn off", "none", "?"])
def test_a_serial_that_cannot_be_read_is_no_serial(cell):
    assert parse_serial(cell) == ("", cell)


def test_a_serial_loses_its_label():
    assert parse_serial("S/N: TH-1234") == ("TH-1234", "")
