"""Dates and figures are read as they are written, in every usual form, and never guessed in silence."""

from datetime import date

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleetbench.calc.import_export.cells import (
    DateOrder,
    decimal_sign,
    is_unknown,
    likely_date,
    order_of,
    read_date,
    read_figure,
)

DAYS = st.dates(date(1980, 1, 1), date(2079, 12, 31))
DAY_FIRST = ("{d:02}.{m:02}.{y}", "{d}/{m}/{y}", "{d:02}-{m:02}-{y}", "{d}. {m}. {y}", "{d:02}.{m:02}.{s:02}")
MONTH_FIRST = ("{m:02}/{d:02}/{y}", "{m}-{d}-{y}", "{m}/{d}/{s:02}")
ANY_ORDER = ("{y}-{m:02}-{d:02}",
             "{y}/{m}/{d}", "{y}{m:02}{d:02}", "{d} {name} {y}", "{name} {d}, {y}", "{d}-{name}-{s:02}",
             "{y}-{m:02}-{d:02} 00:00:00")  # fmt: skip
NAMES = ("Jan", "February", "Mrz", "Apr.", "mai", "June", "juillet", "Aug", "Sept", "Okt", "nov", "déc")


def written(form: str, day: date) -> str:
    """The day in one of the forms."""
    return form.format(y=day.year, s=day.year % 100, m=day.month, d=day.day, name=NAMES[day.month - 1])


@given(DAYS, st.sampled_from(ANY_ORDER))
def test_a_day_that_can_be_one_only_is_read_without_being_asked(day: date, form: str) -> None:
    assert read_date(written(form, day)).date == day


@given(DAYS, st.sampled_from(DAY_FIRST))
def test_a_day_is_read_in_the_order_that_is_said(day: date, form: str) -> None:
    assert read_date(written(form, day), DateOrder.DAY_FIRST).date == day


@given(DAYS, st.sampled_from(MONTH_FIRST))
def test_a_month_first_is_read_in_the_order_that_is_said(day: date, form: str) -> None:
    assert read_date(written(form, day), DateOrder.MONTH_FIRST).date == day


@given(DAYS, st.sampled_from((*DAY_FIRST, *MONTH_FIRST)))
def test_an_order_that_nobody_said_is_never_guessed(day: date, form: str) -> None:
    assume(day.day <= 12 and day.day != day.month)
    with pytest.raises(ValueError, match="two days"):
        read_date(written(form, day))


@given(st.lists(DAYS, min_size=1, max_size=30), st.sampled_from(DAY_FIRST))
def test_the_order_of_a_column_is_what_its_days_over_twelve_prove(days: list[date], form: str) -> None:
    proven = order_of(written(form, day) for day in days)
    assert proven is (DateOrder.DAY_FIRST if any(day.day > 12 for day in days) else None)


@given(st.integers(1980, 2199), st.integers(1, 12))
def test_what_is_marked_less_finely_keeps_its_precision(year: int, month: int) -> None:
    for text in (f"{year}-{month:02}", f"{month}/{year}", f"{NAMES[month - 1]} {year}"):
        assert str(read_date(text)) == f"{year}-{month:02}"
    assert str(read_date(str(year))) == str(year)
    assert str(read_date(f"Q{(month + 2) // 3} {year}")) == f"{year}-Q{(month + 2) // 3}"


@given(st.text(max_size=30))
def test_no_text_is_read_as_a_date_out_of_range_or_crashes(text: str) -> None:
    for read in (lambda: read_date(text), lambda: likely_date(text)):
        try:
            found = read()
        except ValueError:
            continue
        assert found is None or 1980 <= found.date.year <= 2199


@pytest.mark.parametrize(
    ("text", "likely"),
    [("2O25-03-14", "2025-03-14"), ("31.02.2025", "2025-02"), ("ca. 2024", "2024"), ("Mar 25?", "2025-03"),
     ("45321", "2024-01-30"), ("soon", None), ("03/25", "2025-03")],
)  # fmt: skip
def test_what_cannot_be_read_is_offered_as_what_it_most_likely_is(text: str, likely: str | None) -> None:
    """Day 45321 counted from 1899-12-30 is 2024-01-30: ECMA-376 part 1, 18.17.4.1, date system 1900."""
    with pytest.raises(ValueError, match=r"."):
        read_date(text)
    found = likely_date(text)
    assert (None if found is None else str(found)) == likely


@given(st.decimals(0, 10**6, places=2), st.sampled_from((",", ".")))
def test_a_figure_is_read_with_either_decimal_sign(value: object, sign: str) -> None:
    text = f"{value:.2f}".replace(".", sign)
    assert decimal_sign([text]) == sign
    assert read_figure(text) == read_figure(text, sign) == pytest.approx(float(value))  # type: ignore[arg-type]


def test_figures_with_thousands_and_units_are_converted() -> None:
    """Factors of NIST Special Publication 811 (2008), appendix B.8: 1 psi is 6.894757 kPa."""
    assert read_figure("1.234,5", ",") == read_figure("1,234.5", ".") == read_figure("1 234,5") == 1234.5
    assert read_figure("3000 psi") == read_figure("3000", None, "psi") == pytest.approx(206.84271, abs=1e-4)
    assert read_figure("232 bar") == 232.0
    with pytest.raises(ValueError, match="two numbers"):
        read_figure("12,200")


def test_words_for_nothing_are_not_known() -> None:
    assert all(map(is_unknown, ("", " ? ", "N/A", "unknown", "-", "tbc")))
    assert not any(map(is_unknown, ("0", "no", "x")))
