"""Lives against dateutil, RFC 5545, and worked dates of the trade."""

import math
from datetime import date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import MONTHLY, rrule
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.core.wall_time import MarkedDate, Precision
from fleetbench.calc.parts.life import (
    LastGoodDay,
    LifeFacts,
    LifeLimit,
    LifeState,
    LimitBasis,
    LimitUnit,
    Pace,
    StampRule,
    anniversary,
    governing,
    last_good_days,
    not_passed,
    project_pace,
)

TODAY = date(2025, 6, 1)
SOURCE = "invented for this test"
DATES = st.dates(date(1950, 1, 1), date(2100, 12, 31))


def months(basis: str, amount: float, **more: object) -> LifeLimit:
    return LifeLimit(LimitBasis(basis), amount, LimitUnit.MONTHS, SOURCE, **more)


def only(limit: LifeLimit, facts: LifeFacts, on: date = TODAY, **more: object) -> LastGoodDay:
    (found,) = last_good_days([limit], facts, on, **more)
    return found


def test_twelve_months_from_15_january_2025_end_on_14_january_2026():
    # The day before the anniversary: common practice, no published source.
    assert only(months("opened", 12), LifeFacts(opened=MarkedDate(date(2025, 1, 15)))).day == date(2026, 1, 14)


@pytest.mark.parametrize(
    ("anchor", "amount", "expected"),
    [
        # python-dateutil relativedelta, "2005-01-31 + 1 month = 2005-02-28" in its documentation; the rest computed.
        (date(2005, 1, 31), 1, date(2005, 2, 28)),
        (date(2023, 1, 31), 1, date(2023, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2023, 8, 31), 30, date(2026, 2, 28)),
        (date(2021, 8, 31), 30, date(2024, 2, 29)),
        (date(2024, 5, 31), 18, date(2025, 11, 30)),
        (date(2022, 12, 31), 2, date(2023, 2, 28)),
        (date(2019, 8, 31), 60, date(2024, 8, 31)),
        (date(2023, 1, 31), 13, date(2024, 2, 29)),
        (date(2023, 1, 31), 2, date(2023, 3, 31)),
    ],
)
def test_months_are_added_in_one_step_and_clamp_to_the_months_end(anchor, amount, expected):
    assert anniversary(anchor, amount, LimitUnit.MONTHS) == expected
    assert anchor + relativedelta(months=amount) == expected


def test_month_ends_agree_with_the_last_day_rule_of_rfc_5545():
    # RFC 5545 section 3.3.10, BYMONTHDAY=-1; dates by dateutil.rrule.
    rule = rrule(MONTHLY, dtstart=datetime(2023, 1, 31), bymonthday=-1, count=30)
    ours = [anniversary(date(2023, 1, 31), step, LimitUnit.MONTHS) for step in range(30)]
    assert ours == [each.date() for each in rule]


def test_days_that_every_month_has_agree_with_rfc_5545():
    # RFC 5545 section 3.8.5.3 example MONTHLY;COUNT=10;BYMONTHDAY=2,15 from 1997-09-02 (rule from memory).
    printed = [date(1997, 9, 2), date(1997, 10, 2), date(1997, 11, 2), date(1997, 12, 2), date(1998, 1, 2)]
    assert [anniversary(date(1997, 9, 2), step, LimitUnit.MONTHS) for step in range(5)] == printed


def test_a_short_month_is_clamped_where_rfc_5545_would_skip_it():
    # RFC 5545 section 3.3.10: invalid dates are ignored. A life must still end, so this program clamps.
    skipping = [each.date() for each in rrule(MONTHLY, dtstart=datetime(2023, 1, 31), count=2)]
    assert skipping[1] == date(2023, 3, 31)
    assert anniversary(date(2023, 1, 31), 1, LimitUnit.MONTHS) == date(2023, 2, 28)


def test_a_year_from_a_leap_day_is_last_good_on_27_february():
    assert only(months("opened", 12), LifeFacts(opened=MarkedDate(date(2024, 2, 29)))).day == date(2025, 2, 27)


@pytest.mark.parametrize(
    ("text", "first", "last", "precision"),
    [
        ("2025-03-14", date(2025, 3, 14), date(2025, 3, 14), Precision.DAY),
        ("2025-02", date(2025, 2, 1), date(2025, 2, 28), Precision.MONTH),
        ("2011-Q2", date(2011, 4, 1), date(2011, 6, 30), Precision.QUARTER),
        ("2Q2011", date(2011, 4, 1), date(2011, 6, 30), Precision.QUARTER),
        ("4q2024", date(2024, 10, 1), date(2024, 12, 31), Precision.QUARTER),
    ],
)
def test_a_marked_date_keeps_its_precision(text, first, last, precision):
    mark = MarkedDate.parse(text)
    assert (mark.first_day, mark.last_day, mark.precision) == (first, last, precision)
    assert MarkedDate.parse(str(mark)) == mark


@pytest.mark.parametrize("text", ["", "14.03.2025", "2025-13", "2025-02-30", "5Q2011", "2025-Q5", "soon"])
def test_a_date_that_is_none_is_refused_with_the_forms_that_are_read(text):
    with pytest.raises(ValueError, match=r"^date: .*2025-03-14"):
        MarkedDate.parse(text)


def test_a_mark_of_a_year_out_of_reason_is_refused():
    with pytest.raises(ValueError, match=r"^date: the year 202"):
        MarkedDate(date(202, 5, 1))


def test_a_month_mark_counts_from_its_first_day_and_a_quarter_mark_too():
    assert only(months("made", 18), LifeFacts(made=MarkedDate.parse("2024-03"))).day == date(2025, 8, 31)
    assert only(months("made", 18), LifeFacts(made=MarkedDate.parse("2024-Q1"))).day == date(2025, 6, 30)


def test_elastomer_storage_counts_from_the_quarters_last_day():
    # SAE ARP5316 (second-hand): cure date second quarter 2011, 15 years, reach 30 June 2026.
    assert anniversary(MarkedDate.parse("2Q2011").quarter_end, 180, LimitUnit.MONTHS) == date(2026, 6, 30)
    assert only(months("storage", 180), LifeFacts(made=MarkedDate.parse("2Q2011"))).day == date(2026, 6, 29)


def test_storage_says_nothing_of_a_fitted_part():
    facts = LifeFacts(made=MarkedDate.parse("2Q2001"), fitted=date(2024, 1, 1))
    assert last_good_days([months("storage", 60)], facts, TODAY) == ()


def test_a_fixed_date_is_itself_good_and_a_month_mark_is_taken_at_its_first_day():
    limit = LifeLimit(LimitBasis.FIXED_DATE, 0, LimitUnit.DAYS, SOURCE)
    assert only(limit, LifeFacts(fixed_date=MarkedDate(date(2026, 3, 31)))).day == date(2026, 3, 31)
    assert only(limit, LifeFacts(fixed_date=MarkedDate.parse("2026-03"))).day == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("basis", "more"),
    [
        ("made", {}),
        ("opened", {}),
        ("received", {}),
        ("fitted", {}),
        ("storage", {}),
        ("test_interval", {"test_kind": "x"}),
    ],
)
def test_a_date_not_known_leaves_the_limit_unknown(basis, more):
    found = only(months(basis, 12, **more), LifeFacts())
    assert (found.day, found.state) == (None, LifeState.UNKNOWN)
    assert "not known" in found.why or "no x test" in found.why


def test_an_unknown_limit_is_told_beside_the_one_that_governs_and_covers_nothing():
    facts = LifeFacts(opened=MarkedDate(date(2025, 1, 15)))
    result = governing(last_good_days([months("opened", 12), months("made", 18)], facts, TODAY))
    assert result.day == date(2026, 1, 14)
    assert [each.basis for each in result.unknown] == [LimitBasis.MADE]
    assert result.covers(TODAY) is None
    assert result.covers(date(2026, 1, 15)) is False


def test_the_earliest_limit_governs_and_covers_its_last_good_day():
    facts = LifeFacts(opened=MarkedDate(date(2025, 1, 15)), made=MarkedDate(date(2024, 6, 1)))
    result = governing(last_good_days([months("opened", 12), months("made", 18)], facts, TODAY))
    assert result.first.basis is LimitBasis.MADE
    assert result.day == date(2025, 11, 30)
    assert result.covers(date(2025, 11, 30)) is True
    assert result.covers(date(2025, 12, 1)) is False


def test_a_life_that_has_not_begun_is_open_ended_not_unknown():
    stored = LifeFacts(in_store=True, sealed=True)
    found = last_good_days([months("fitted", 12), months("opened", 12)], stored, TODAY)
    assert [each.state for each in found] == [LifeState.OPEN_ENDED, LifeState.OPEN_ENDED]


def test_facts_that_contradict_each_other_are_refused():
    with pytest.raises(ValueError, match=r"^fitted"):
        LifeFacts(in_store=True, fitted=TODAY)
    with pytest.raises(ValueError, match=r"^opened"):
        LifeFacts(sealed=True, opened=MarkedDate(TODAY))


def test_a_late_visual_does_not_move_the_hydrostatic_date():
    # UK sport cycle: visual 2.5 years, hydraulic 5 years; a visual 4 years after the test leaves 1 year.
    hydrostatic = months("test_interval", 60, test_kind="hydrostatic")
    visual = months("test_interval", 30, test_kind="internal visual", also_counts=("hydrostatic",))
    facts = LifeFacts(
        last_tests={"hydrostatic": MarkedDate(date(2020, 3, 10)), "internal visual": MarkedDate(date(2024, 3, 10))}
    )
    result = governing(last_good_days([visual, hydrostatic], facts, TODAY))
    assert result.first.limit is hydrostatic
    assert result.day == date(2025, 3, 9)


def test_a_hydrostatic_test_counts_as_a_visual_but_not_the_other_way_round():
    hydrostatic = months("test_interval", 60, test_kind="hydrostatic")
    visual = months("test_interval", 30, test_kind="internal visual", also_counts=("hydrostatic",))
    tested = LifeFacts(last_tests={"hydrostatic": MarkedDate(date(2024, 3, 10))})
    assert only(visual, tested).day == date(2026, 9, 9)
    looked_at = LifeFacts(last_tests={"internal visual": MarkedDate(date(2024, 3, 10))})
    assert only(hydrostatic, looked_at).state is LifeState.UNKNOWN


def test_a_stamped_month_counts_by_the_sites_rule():
    limit = months("test_interval", 60, test_kind="hydrostatic")
    facts = LifeFacts(last_tests={"hydrostatic": MarkedDate.parse("2021-05")})
    assert only(limit, facts).day == date(2026, 4, 30)
    assert only(limit, facts, stamp_rule=StampRule.LAST_DAY).day == date(2026, 5, 30)


def hours(amount: float) -> LifeLimit:
    return LifeLimit(LimitBasis.HOURS, amount, LimitUnit.HOURS, SOURCE)


def test_use_is_projected_at_its_pace_and_marked_as_projected():
    facts = LifeFacts(hours_used=90.0, pace={LimitUnit.HOURS: Pace(1.0, "one a day")})
    found = only(hours(100.0), facts)
    # Ten days' use is left, today among them: the tenth day is the last one good.
    assert (found.day, found.projected) == (date(2025, 6, 10), True)
    assert "one a day" in found.why


def test_use_that_lasts_a_whole_number_of_days_does_not_lose_one_to_floating_point():
    assert (100.0 - 99.7) / 0.1 < 3
    facts = LifeFacts(hours_used=99.7, pace={LimitUnit.HOURS: Pace(0.1, "a tenth a day")})
    assert only(hours(100.0), facts).day == date(2025, 6, 3)


@pytest.mark.parametrize("used", [100.0, 130.0])
def test_use_that_is_used_up_was_last_good_yesterday(used):
    facts = LifeFacts(hours_used=used, pace={LimitUnit.HOURS: Pace(1.0, "one a day")})
    found = only(hours(100.0), facts)
    assert (found.day, found.projected) == (date(2025, 5, 31), False)


def test_use_without_a_pace_or_a_count_is_unknown():
    assert only(hours(100.0), LifeFacts(hours_used=10.0)).state is LifeState.UNKNOWN
    assert only(hours(100.0), LifeFacts(pace={LimitUnit.HOURS: Pace(1.0, "x")})).state is LifeState.UNKNOWN


def test_no_expected_use_is_open_ended():
    found = only(hours(100.0), LifeFacts(hours_used=10.0, pace={LimitUnit.HOURS: Pace(0.0, "none expected")}))
    assert (found.day, found.state) == (None, LifeState.OPEN_ENDED)
    assert governing([found]).covers(TODAY) is True


def test_the_highest_of_three_paces_is_taken_and_said():
    pace = project_pace(booked=0.4, trailing_90=0.9, same_days_last_year=None, unit=LimitUnit.HOURS)
    assert pace.per_day == 0.9
    assert "the trailing 90 days" in pace.assumption
    assert "what is booked 0.40" in pace.assumption
    assert "a year ago not known" in pace.assumption


def test_no_pace_known_is_none_and_a_bad_pace_is_refused():
    assert project_pace(booked=None, trailing_90=None, same_days_last_year=None, unit=LimitUnit.DIVES) is None
    with pytest.raises(ValueError, match=r"^pace from what is booked"):
        project_pace(booked=math.nan, trailing_90=1.0, same_days_last_year=None, unit=LimitUnit.DIVES)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (("made", 0, "months"), "amount"),
        (("made", -1, "months"), "amount"),
        (("made", math.nan, "months"), "amount"),
        (("made", math.inf, "months"), "amount"),
        (("made", 12.5, "months"), "amount"),
        (("made", 12, "hours"), "unit"),
        (("hours", 12, "months"), "unit"),
        (("test_interval", 12, "months"), "test_kind"),
    ],
)
def test_a_limit_that_means_nothing_is_refused_with_its_field(arguments, field):
    with pytest.raises(ValueError, match=rf"^{field}:"):
        LifeLimit(*arguments, SOURCE)


def test_a_time_is_no_date():
    with pytest.raises(ValueError, match=r"^on:"):
        last_good_days([], LifeFacts(), datetime(2025, 1, 1))


@given(anchor=DATES, amount=st.integers(1, 600))
def test_the_last_good_day_is_the_day_before_relativedeltas_anniversary(anchor, amount):
    found = only(months("made", amount), LifeFacts(made=MarkedDate(anchor)))
    assert found.day == anchor + relativedelta(months=amount) - timedelta(days=1)


@given(anchor=DATES, amount=st.integers(1, 400), precision=st.sampled_from(Precision))
def test_a_coarser_mark_never_lengthens_a_life_from_manufacture(anchor, amount, precision):
    exact = only(months("made", amount), LifeFacts(made=MarkedDate(anchor))).day
    assert only(months("made", amount), LifeFacts(made=MarkedDate(anchor, precision))).day <= exact


@given(left=st.floats(0.01, 1000), pace=st.floats(0.01, 100), more=st.floats(0, 10))
def test_a_higher_pace_never_lengthens_a_projection(left, pace, more):
    def projected(per_day: float) -> date:
        facts = LifeFacts(hours_used=0.0, pace={LimitUnit.HOURS: Pace(per_day, "x")})
        found = only(hours(left), facts)
        return found.day or date.max

    assert projected(pace + more) <= projected(pace)


@given(limits=st.lists(st.tuples(st.sampled_from(["made", "opened", "received"]), st.integers(1, 99)), min_size=1))
def test_the_governing_day_is_the_least_of_all(limits):
    mark = MarkedDate(date(2024, 2, 29))
    facts = LifeFacts(made=mark, opened=mark, received=mark)
    days = last_good_days([months(*each) for each in limits], facts, TODAY)
    assert governing(days).day == min(each.day for each in days)


@pytest.mark.parametrize(
    ("passed", "good"), [("2024-02", False), ("2024-01", False), ("2024-03", True), ("2024-02-10", False)]
)
def test_a_pass_marked_no_later_than_a_failed_test_does_not_make_it_good(passed, good):
    # Both may be of the same month: nothing shows which came last, and what is unclear never passes.
    limit = months("test_interval", 30, test_kind="visual", also_counts=("hydrostatic",))
    tests = {"hydrostatic": MarkedDate.parse(passed), not_passed("visual"): MarkedDate.parse("2024-02")}
    found = only(limit, LifeFacts(last_tests=tests))
    assert (found.day is not None) == good
    assert good or "not passed 2024-02" in found.why


@pytest.mark.parametrize("mark", ["2011-Q2", "2011-04", "2011-06-30", "2011-04-01"])
def test_a_storage_limit_counts_from_the_end_of_the_marks_quarter(mark):
    # SAE ARP5316 (second-hand): cured in the second quarter of 2011, 15 years: good through 29 June 2026 by this
    # program's day before the anniversary, whichever day of the quarter is marked.
    found = only(months("storage", 180), LifeFacts(made=MarkedDate.parse(mark)))
    assert found.day == date(2026, 6, 29)


def test_a_year_counts_from_its_first_day_and_its_first_quarter() -> None:
    """Common practice, no published source: what is not known shortens a life, never lengthens it."""
    made = MarkedDate.parse("2024")
    assert (str(made), made.first_day, made.last_day) == ("2024", date(2024, 1, 1), date(2024, 12, 31))
    assert made.quarter_end == date(2024, 3, 31)
