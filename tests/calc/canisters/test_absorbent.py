"""The absorbent ledger: worked fills, and properties that no entry may break."""

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.canisters.fill import (
    AbsorbentRule,
    CanisterLimits,
    FillFacts,
    PlannedUse,
    RatedMinutes,
    RatingTable,
    Remaining,
    RunFacts,
    remaining,
    share_a_minute,
    used_share,
)
from fleetbench.calc.canisters.packing import co2_capacity_l

PACKED = datetime(2026, 5, 1, 7, 0, tzinfo=UTC)


def row(water_c: float, depth_m: float, minutes: float, co2: float = 1.6, grade: str = "fine") -> RatedMinutes:
    return RatedMinutes(water_c, depth_m, co2, minutes, grade, "invented for this test")


# Invented: a manual's table of two temperatures and two depths.
TABLE = RatingTable((row(4, 40, 150), row(15, 40, 200), row(4, 100, 100), row(15, 100, 130), row(4, 40, 1, grade="x")))
LIMITS = CanisterLimits(min_mass_g=2000.0)
FILL = FillFacts(PACKED, "fine", date(2027, 1, 1), mass_g=2500.0, diver="A", hire="H1")


def run(minutes: float, **more: object) -> RunFacts:
    return RunFacts(minutes, **({"coldest_c": 15, "deepest_m": 30, "co2_l_min": 1.6, "started_at": PACKED} | more))


def plan(minutes: float = 60, **more: object) -> PlannedUse:
    fields = {"at": PACKED + timedelta(hours=2), "on": date(2026, 5, 1), "water_c": 15, "depth_m": 30, "co2_l_min": 1.6}
    return PlannedUse(minutes, **(fields | more))


def left(
    runs: tuple[RunFacts, ...] = (), *, fill: FillFacts = FILL, limits: CanisterLimits = LIMITS, **more: object
) -> Remaining:
    return remaining(fill, runs, TABLE, limits, plan(**more))


@pytest.mark.parametrize(
    ("water", "depth", "rate", "minutes"),
    [
        (15, 40, 1.6, 200), (20, 10, 1.6, 200), (14.9, 40, 1.6, 150), (15, 40.1, 1.6, 130), (4, 100, 1.6, 100),
        (15, 40, 0.5, 200), (15, 40, 3.2, 100), (None, 40, 1.6, 150), (15, None, 1.6, 130), (None, None, None, 100),
    ],
)  # fmt: skip
def test_the_worse_row_counts_and_light_work_never_lengthens(water, depth, rate, minutes):
    share, _ = share_a_minute(TABLE, "fine", water_c=water, depth_m=depth, co2_l_min=rate)
    assert 1.0 / share == pytest.approx(minutes)


@pytest.mark.parametrize(("water", "depth"), [(3.9, 40), (15, 101)])
def test_beyond_the_table_there_is_no_rating_and_the_fill_is_spent(water, depth):
    assert share_a_minute(TABLE, "fine", water_c=water, depth_m=depth, co2_l_min=1.6) is None
    found = left((run(1, coldest_c=water, deepest_m=depth),))
    assert (found.minutes, found.rule, found.enough) == (0.0, AbsorbentRule.NO_RATING, False)
    assert left(water_c=water, depth_m=depth).rule is AbsorbentRule.NO_RATING


def test_a_fill_run_for_its_rated_minutes_is_spent_and_not_a_minute_before():
    assert left((run(199.9),)).minutes == pytest.approx(0.1)
    assert left((run(200),)).rule is AbsorbentRule.RATING
    assert left((run(200),)).minutes == 0.0


def test_twice_the_rate_of_a_published_canister_test_takes_half_its_minutes():
    # Harvey et al., Diving Hyperb Med 46(2) 2016 92-97 is the source of 202 min at 2 L/min alone; that twice the rate
    # takes half the minutes is the program's own rule: common practice, no published source.
    table = RatingTable((RatedMinutes(20, 0, 2.0, 202.0, "fine", "Harvey et al. 2016"),))
    share, _ = share_a_minute(table, "fine", water_c=20, depth_m=0, co2_l_min=4.0)
    assert 1.0 / share == pytest.approx(101.0)


def test_cold_water_at_three_quarters_of_the_warm_duration_uses_the_fill_faster():
    # US Navy Diving Manual Rev 4 Change A, Table 17-3, is the source of 300 min at 40 F and 400 min at 70 F alone; that
    # shares of two runs add up is the program's own rule: common practice, no published source.
    table = RatingTable((row(4.4, 90, 300), row(21.1, 90, 400)))
    used = used_share((run(100, coldest_c=21.1, deepest_m=10), run(100, coldest_c=10, deepest_m=10)), table, "fine")
    assert used.share == pytest.approx(100 / 400 + 100 / 300)


def test_a_row_of_lighter_work_with_fewer_minutes_counts_for_harder_work_too():
    table = RatingTable((row(15, 40, 100, co2=1.0), row(15, 40, 200, co2=2.0)))
    share, decides = share_a_minute(table, "fine", water_c=15, depth_m=40, co2_l_min=2.0)
    assert (1.0 / share, decides.co2_l_min) == (pytest.approx(100.0), 1.0)


def test_a_lot_must_be_good_on_the_last_day_and_not_only_on_the_first():
    lot = replace(FILL, lot_last_good_day=date(2026, 5, 3))
    assert left(fill=lot, on=date(2026, 5, 3)).enough
    assert left(fill=lot, on=date(2026, 5, 4)).rule is AbsorbentRule.LOT_DATE


def test_where_the_work_is_not_known_the_ceiling_is_that_of_the_hardest_rated_work():
    table = RatingTable((row(15, 40, 3000, co2=1.0), row(15, 40, 3000, co2=2.0)))
    found = remaining(replace(FILL, mass_g=2500.0), (), table, replace(LIMITS, hours_since_first_use=None),
                      plan(co2_l_min=None))  # fmt: skip
    assert found.rule is AbsorbentRule.CEILING
    hardest = remaining(replace(FILL, mass_g=2500.0), (), table, replace(LIMITS, hours_since_first_use=None),
                        plan(co2_l_min=2.0))  # fmt: skip
    lightest = remaining(replace(FILL, mass_g=2500.0), (), table, replace(LIMITS, hours_since_first_use=None),
                         plan(co2_l_min=1.0))  # fmt: skip
    assert found.minutes == pytest.approx(hardest.minutes)
    assert found.minutes == pytest.approx(lightest.minutes / 2.0)


def test_ten_minutes_a_dive_are_added_and_said_where_only_dive_time_is_known():
    used = used_share((run(80, loop=False, dives=2),), TABLE, "fine")
    assert used.loop_minutes == 100.0
    assert used.share == pytest.approx(0.5)
    assert any("10 minutes a dive added" in note for note in used.notes)


def test_a_grade_that_the_table_does_not_know_spends_the_fill():
    assert left(fill=replace(FILL, grade="coarse")).rule is AbsorbentRule.GRADE


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"wetted": True}, AbsorbentRule.WETTED),
        ({"discarded": True}, AbsorbentRule.DISCARDED),
        ({"lot_last_good_day": None}, AbsorbentRule.LOT_DATE),
        ({"lot_last_good_day": date(2026, 4, 30)}, AbsorbentRule.LOT_DATE),
        ({"mass_g": 1999.0}, AbsorbentRule.MASS),
        ({"first_use": PACKED - timedelta(hours=1)}, AbsorbentRule.RECORD),
    ],
)
def test_each_state_of_the_fill_spends_it_alone(changes, rule):
    found = left(fill=replace(FILL, **changes))
    assert (found.minutes, found.rule) == (0.0, rule)


def test_a_lot_is_good_on_its_last_good_day():
    assert left(fill=replace(FILL, lot_last_good_day=date(2026, 5, 1))).enough


def test_a_fill_serves_one_diver_and_one_hire():
    assert left(diver="B").rule is AbsorbentRule.DIVER
    assert left(diver="A", hire="H2").rule is AbsorbentRule.DIVER
    assert left(diver="A", hire="H1").enough
    assert left((run(10),), fill=replace(FILL, diver=None)).rule is AbsorbentRule.DIVER


def test_a_run_by_another_diver_or_on_another_hire_spends_the_fill_for_everybody():
    assert left((run(10, diver="A", hire="H1"),), diver="A", hire="H1").enough
    for stray in (run(10, diver="B"), run(10, diver="A", hire="H2")):
        found = left((run(10, diver="A", hire="H1"), stray), diver="A", hire="H1")
        assert (found.minutes, found.rule) == (0.0, AbsorbentRule.DIVER)


SHARING = replace(LIMITS, shared_on_try_days=True)
TRY_FILL = replace(FILL, session="I7")


def tried(minutes: float, diver: str, **more: object) -> RunFacts:
    return replace(run(minutes, diver=diver, hire="H1"), session="I7", started_at=PACKED, **more)


def test_try_sessions_of_one_day_under_one_instructor_share_a_fill_and_their_minutes_sum():
    runs = (tried(20, "A"), tried(25, "B"))
    asked = {"fill": TRY_FILL, "limits": SHARING, "hire": "H1", "session": "I7"}
    found = left(runs, **asked)
    assert found.enough
    assert found.minutes == left((tried(45, "A"),), **asked).minutes
    assert any("try sessions" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("fill", "runs", "asked", "said"),
    [
        (TRY_FILL, (tried(20, "A"), tried(20, "B")), {"limits": LIMITS}, "another diver's"),
        (FILL, (tried(20, "A"), tried(20, "B")), {}, "another diver's"),
        (TRY_FILL, (tried(20, "A"), replace(tried(20, "B"), session="I8")), {}, "same instructor"),
        (TRY_FILL, (tried(20, "A"), replace(tried(20, "B"), session=None)), {}, "same instructor"),
        (TRY_FILL, (tried(20, "A"), replace(tried(20, "B"), started_at=None)), {}, "its day is not known"),
        (TRY_FILL, (tried(20, "A"),), {"at": PACKED + timedelta(days=1), "on": PACKED.date() + timedelta(days=1)},
         "serves that day alone"),
        (TRY_FILL, (tried(20, "A"),), {"hire": "H9", "session": None}, "this is none of them"),
    ],
)  # fmt: skip
def test_any_other_sharing_spends_the_fill(
    fill: FillFacts, runs: tuple[RunFacts, ...], asked: dict[str, object], said: str
) -> None:
    # One day, one instructor, and only where the centre allows it: common practice, no published source.
    found = left(runs, **{"fill": fill, "limits": SHARING, "hire": "H1", "session": "I7"} | asked)
    assert found.minutes == 0.0
    assert any(said in each.reason for each in found.spent if each.rule is AbsorbentRule.DIVER)


def test_a_day_after_first_use_the_fill_is_spent_and_before_it_the_clock_may_govern():
    first = (run(10),)
    assert left(first, at=PACKED + timedelta(hours=24)).rule is AbsorbentRule.FIRST_USE
    late = left(first, at=PACKED + timedelta(hours=23, minutes=30), minutes=20)
    assert (late.rule, late.minutes, late.enough) == (AbsorbentRule.FIRST_USE, pytest.approx(30.0), True)


def test_a_run_without_a_starting_time_leaves_first_use_unknown_and_the_fill_spent():
    assert left((run(10, started_at=None),)).rule is AbsorbentRule.FIRST_USE


def test_a_container_opened_too_long_ago_or_nobody_knows_when_spends_the_fill():
    limits = replace(LIMITS, hours_since_opened=48.0)
    assert left(limits=limits).rule is AbsorbentRule.OPENED
    opened = replace(FILL, container_opened=PACKED - timedelta(hours=47))
    assert left(limits=limits, fill=opened).rule is AbsorbentRule.OPENED
    assert left(limits=limits, fill=replace(FILL, container_opened=PACKED)).enough


def test_more_carbon_dioxide_than_the_mass_can_bind_is_flagged_as_a_wrong_entry():
    light = replace(FILL, mass_g=300.0)
    found = remaining(light, (run(60, co2_l_min=1.6),), TABLE, replace(LIMITS, min_mass_g=None), plan())
    assert found.used.co2_l > co2_capacity_l(300.0)
    assert found.rule is AbsorbentRule.CEILING
    assert "an entry is wrong" in found.reason


def test_a_mass_that_its_scale_cannot_show_to_be_enough_spends_the_fill():
    # JCGM 106:2012, 8.3.2: accepted only with the whole interval inside.
    assert LIMITS.min_mass_g is not None
    near = replace(FILL, mass_g=LIMITS.min_mass_g + 10.0, mass_u_g=10.0)
    assert left(fill=near).enough
    found = left(fill=replace(near, mass_u_g=10.5))
    assert (found.rule, found.minutes) == (AbsorbentRule.MASS, 0.0)
    assert "does not show" in found.reason
    unnamed = left(fill=replace(near, mass_u_g=None))
    assert unnamed.enough
    assert any("scale was not named" in caution for caution in unnamed.cautions)


def test_not_weighed_and_packed_long_ago_are_cautions_and_not_more():
    found = left(fill=replace(FILL, mass_g=None), at=PACKED + timedelta(days=8), on=date(2026, 5, 9))
    assert found.enough
    assert {"not weighed", "packed 8 days ago and not used"} <= set(found.cautions)


def test_the_day_of_a_clock_change_has_the_hours_it_really_has():
    # The night of 29 March 2026 is an hour short in central Europe: 24 h from 12:00+01:00 end at 13:00+02:00.
    winter, summer = timezone(timedelta(hours=1)), timezone(timedelta(hours=2))
    packed = datetime(2026, 3, 28, 11, 0, tzinfo=winter)
    fill = replace(FILL, packed_at=packed)
    first = (run(10, started_at=datetime(2026, 3, 28, 12, 0, tzinfo=winter)),)
    asked = plan(30, at=datetime(2026, 3, 29, 12, 30, tzinfo=summer), on=date(2026, 3, 29))
    assert remaining(fill, first, TABLE, LIMITS, asked).minutes == pytest.approx(30.0)


def test_hours_are_hours_whatever_zone_the_moments_are_given_in():
    # In the night to 25 October 2026 central Europe has an hour more (EU directive 2000/84/EC): a day is 25 h long.
    zone = ZoneInfo("Europe/Berlin")
    first = datetime(2026, 10, 24, 12, 0, tzinfo=zone)
    fill = replace(FILL, packed_at=first - timedelta(hours=1))
    for known in (zone, UTC):
        asked = plan(10, at=datetime(2026, 10, 25, 10, 30, tzinfo=zone).astimezone(known), on=date(2026, 10, 25))
        found = remaining(fill, (run(10, started_at=first.astimezone(known)),), TABLE, LIMITS, asked)
        assert (found.rule, found.minutes) == (AbsorbentRule.FIRST_USE, pytest.approx(30.0))


def test_a_plan_before_the_packing_is_unclear_and_never_passes():
    assert left(at=PACKED - timedelta(minutes=1)).rule is AbsorbentRule.RECORD


def test_a_table_with_more_minutes_for_colder_water_is_not_believed():
    odd = RatingTable((row(4, 40, 200), row(15, 40, 150)))
    share, _ = share_a_minute(odd, "fine", water_c=4, depth_m=40, co2_l_min=1.6)
    assert 1.0 / share == pytest.approx(150)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: RatingTable(()), "rows"),
        (lambda: RatingTable((row(4, 40, 100), row(4, 40, 120))), "rows"),
        (lambda: row(math.nan, 40, 100), "water_c"),
        (lambda: row(4, -1, 100), "depth_m"),
        (lambda: row(4, 40, 0), "minutes"),
        (lambda: row(4, 40, 100, co2=0), "co2_l_min"),
        (lambda: row(4, 40, 100, grade=" "), "grade"),
        (lambda: run(-1), "minutes"),
        (lambda: run(math.inf), "minutes"),
        (lambda: run(10, dives=0), "dives"),
        (lambda: run(10, coldest_c=-40), "coldest_c"),
        (lambda: run(10, deepest_m=math.nan), "deepest_m"),
        (lambda: run(10, started_at=datetime(2026, 5, 1)), "started_at"),
        (lambda: replace(FILL, packed_at=datetime(2026, 5, 1)), "packed_at"),
        (lambda: replace(FILL, mass_g=-5), "mass_g"),
        (lambda: replace(LIMITS, hours_since_first_use=math.nan), "hours_since_first_use"),
        (lambda: plan(60, at=datetime(2026, 5, 1)), "at"),
    ],
)
def test_absurd_input_is_refused_with_its_field(make, field):
    with pytest.raises(ValueError, match=rf"^{field}:"):
        make()


CONDITIONS = {
    "coldest_c": st.none() | st.floats(-2, 30),
    "deepest_m": st.none() | st.floats(0, 120),
    "co2_l_min": st.none() | st.floats(0.2, 5),
}
RUNS = st.builds(
    RunFacts, st.floats(0, 120), st.booleans(), st.integers(1, 3), started_at=st.just(PACKED), **CONDITIONS
)
TABLES = st.lists(
    st.builds(
        row,
        st.sampled_from([0.0, 4.0, 10.0, 15.0]),
        st.sampled_from([20.0, 40.0, 100.0]),
        st.floats(30, 300),
        st.sampled_from([1.0, 1.6, 2.0]),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda each: (each.water_c, each.depth_m, each.co2_l_min),
).map(lambda rows: RatingTable(tuple(rows)))


@given(runs=st.lists(RUNS, max_size=4), more=RUNS)
def test_adding_a_run_never_raises_what_is_left(runs, more):
    assert left((*runs, more)).minutes <= left(tuple(runs)).minutes


@given(runs=st.lists(RUNS, min_size=1, max_size=5), data=st.data())
def test_the_order_of_runs_does_not_matter(runs, data):
    shuffled = data.draw(st.permutations(runs))
    assert used_share(shuffled, TABLE, "fine") == used_share(runs, TABLE, "fine")


@given(whole=RUNS, part=st.floats(0, 1), table=TABLES)
def test_splitting_a_run_in_two_changes_nothing(whole, part, table):
    whole = replace(whole, loop=True)
    pieces = (replace(whole, minutes=whole.minutes * part), replace(whole, minutes=whole.minutes * (1 - part)))
    together, apart = used_share((whole,), table, "fine"), used_share(pieces, table, "fine")
    assert apart.share == pytest.approx(together.share, abs=1e-9)
    assert apart.rated == together.rated


@given(
    table=TABLES,
    water=st.floats(-2, 30),
    depth=st.floats(0, 120),
    rate=st.floats(0.2, 5),
    colder=st.floats(0, 15),
    deeper=st.floats(0, 60),
    harder=st.floats(0, 3),
)
def test_colder_deeper_or_harder_never_gives_more(table, water, depth, rate, colder, deeper, harder):
    easy = share_a_minute(table, "fine", water_c=water, depth_m=depth, co2_l_min=rate)
    hard = share_a_minute(table, "fine", water_c=water - colder, depth_m=depth + deeper, co2_l_min=rate + harder)
    if hard is not None:
        assert easy is not None
        assert hard[0] >= easy[0]


@given(table=TABLES, water=st.floats(-2, 30), depth=st.floats(0, 120), rate=st.floats(0.2, 5))
def test_what_is_not_known_never_gives_more_than_what_is(table, water, depth, rate):
    known = share_a_minute(table, "fine", water_c=water, depth_m=depth, co2_l_min=rate)
    cold = share_a_minute(table, "fine", water_c=None, depth_m=depth, co2_l_min=rate)
    if known is not None and cold is not None:
        assert cold[0] >= known[0]


@given(runs=st.lists(RUNS, max_size=4), minutes=st.floats(0, 300))
def test_a_spent_fill_is_never_enough_and_minutes_are_never_below_nought(runs, minutes):
    found = left(tuple(runs), minutes=minutes)
    assert found.minutes >= 0.0
    assert not (found.spent and found.enough)
    assert found.enough == (not found.spent and found.margin >= 0)
