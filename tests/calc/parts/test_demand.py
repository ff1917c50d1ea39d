"""Expected need, its chances, and orders, against closed forms and scipy's distributions."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, nbinom, poisson

from fleetbench.calc.parts.demand import (
    FailureModel,
    Life,
    Need,
    OrderRules,
    Position,
    bunching,
    expected_need,
    failure_model,
    lost_by_day,
    plan_order,
    renewals,
    steady_need,
    stock_for,
)
from tests.independent import spares

# Freireich et al., Blood 21 (1963) 699: the 6-MP group, 9 failures and 12 censored in 359 weeks; survivors' share at
# 6, 10 and 22 as published in the textbooks (0.8571, 0.7529, 0.5378), here by their own table of references.
TREATED = (
    [Life(t, True) for t in (6, 6, 6, 7, 10, 13, 16, 22, 23)]
    + [Life(t, False) for t in (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)]
)  # fmt: skip


def constant(rate: float) -> FailureModel:
    return FailureModel(rate, None, "constant")


def test_a_new_part_outlasts_ages_as_the_published_curve_says() -> None:
    alive = failure_model(TREATED).outlasts(0.0, 24)
    assert alive[[6, 10, 22]] == pytest.approx([0.8571, 0.7529, 0.5378], abs=5e-5)


def test_a_part_of_some_age_outlasts_by_the_ratio_of_the_published_shares() -> None:
    assert failure_model(TREATED).outlasts(10.0, 12)[12] == pytest.approx(0.5378 / 0.7529, abs=1e-4)


def test_beyond_the_longest_life_seen_the_constant_rate_goes_on() -> None:
    model = failure_model(TREATED)
    alive = model.outlasts(35.0, 10)
    # 9 failures and a third of one in 359 weeks.
    assert alive[10] == pytest.approx(math.exp(-10 * (9 + 1 / 3) / 359))


def test_nothing_failed_yet_is_not_calculated_as_nothing_ever_fails() -> None:
    model = failure_model([Life(1000.0, False)] * 4)
    need = expected_need([Position(100.0)] * 4, model, 90)
    assert need.expected > 0
    # A third of a failure in 4,000 part days: four parts over 90 days, each day's chance by the exponential.
    assert need.expected == pytest.approx(4 * 90 * (1 - math.exp(-1 / 3 / 4000)), rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(rate=st.floats(1e-4, 0.2), days=st.integers(1, 120))
def test_a_memoryless_part_is_replaced_as_often_as_its_chance_a_day(rate: float, days: int) -> None:
    """Constant hazard: the discrete renewal function is days times the daily chance (Cox, Renewal Theory, 1962)."""
    daily = 1.0 - math.exp(-rate)
    assert renewals(constant(rate), days)[days] == pytest.approx(days * daily, rel=1e-9)


def test_parts_that_never_fail_are_replaced_at_the_end_of_each_life() -> None:
    need = expected_need([Position(0.0, ends_in=9)], constant(0.0), 100, life_days=30)
    # Out on day 10, then on days 40, 70 and 100.
    assert [need.by_day[day] for day in (9, 10, 39, 40, 70, 99, 100)] == [0, 1, 1, 2, 3, 3, 4]


def test_a_part_past_its_last_good_day_is_needed_today_and_only_once() -> None:
    need = expected_need([Position(400.0, ends_in=-12)], constant(0.001), 0)
    assert (need.expected, need.due, need.failures) == (1.0, 1.0, 0.0)


@given(ends_in=st.lists(st.one_of(st.none(), st.integers(-30, 120)), max_size=12), days=st.integers(0, 90))
@settings(max_examples=100, deadline=None)
def test_need_never_falls_and_counts_each_end_once(ends_in: list[int | None], days: int) -> None:
    need = expected_need([Position(50.0, end) for end in ends_in], constant(0.0), days)
    within = sum(end is not None and max(0, end + 1) <= days for end in ends_in)
    assert need.expected == pytest.approx(within)
    assert np.all(np.diff(need.by_day) >= 0)


def test_alike_positions_need_pieces_as_the_binomial_distribution_says() -> None:
    need = expected_need([Position(0.0)] * 12, constant(0.01), 30)
    chance = 1 - math.exp(-0.3)
    first_only = replace(need, more=np.zeros(31)).chances_through(30)
    assert first_only == pytest.approx(binom.pmf(range(13), 12, chance), abs=1e-12)


def test_a_consumable_needs_pieces_as_the_poisson_distribution_says() -> None:
    chances = expected_need([], constant(0.0), 30, steady=0.14).chances_through(30)
    assert chances[:15] == pytest.approx(poisson.pmf(range(15), 4.2), abs=1e-9)
    assert stock_for(chances, 0.95) == poisson.ppf(0.95, 4.2)


@given(mean=st.floats(0.01, 40.0), level=st.floats(0.5, 0.999))
@settings(max_examples=100, deadline=None)
def test_stock_for_a_level_is_the_distributions_quantile(mean: float, level: float) -> None:
    chances = expected_need([], constant(0.0), 1, steady=mean).chances_through(1)
    ours = stock_for(chances, level)
    assert poisson.cdf(ours, mean) >= level - 1e-9
    assert ours == 0 or poisson.cdf(ours - 1, mean) < level + 1e-9


def test_the_lots_own_curve_is_used_where_it_has_enough_failures() -> None:
    bad, good = [Life(50.0, True)] * 4, [Life(400.0, False)] * 20
    model = failure_model(bad + good, by_lot={"L1": bad, "L2": good})
    worse = expected_need([Position(10.0, lot="L1")], model, 60).expected
    better = expected_need([Position(10.0, lot="L2")], model, 60).expected
    assert worse > 0.9
    assert better < 0.3


def test_a_part_that_failed_on_the_day_it_was_first_watched_says_nothing() -> None:
    watched = [Life(50.0, True), Life(60.0, True), Life(70.0, True), Life(80.0, False)]
    unwatched = [Life(40.0, True, 40.0)] * 3
    assert failure_model(watched + unwatched, by_lot={"L1": unwatched}) == failure_model(watched)


def test_many_positions_need_as_few_choose_by_a_normal_distribution_of_the_same_spread() -> None:
    need = expected_need([Position(0.0)] * 400, constant(0.01), 30)
    first_only = replace(need, more=np.zeros(31))
    # Common practice: the normal distribution meets the binomial's quantile within a piece at such numbers.
    assert abs(first_only.covered_by(30, 0.95) - binom.ppf(0.95, 400, 1 - math.exp(-0.3))) <= 1


@pytest.mark.parametrize("failures", [0, 1, 3, 15, 60])
def test_a_rate_told_by_few_failures_gives_the_negative_binomial_distribution(failures: int) -> None:
    # Posterior predictive of a Poisson count under the gamma posterior: Gelman et al., Bayesian Data Analysis, 2.6,
    # from memory; the distribution itself by scipy.stats.nbinom.
    watched, ahead, shape = 9000.0, 1400.0, failures + 1 / 3
    model = failure_model([Life(watched / 60, n < failures) for n in range(60)])
    need = replace(expected_need([], model, 10), more=np.full(11, shape * ahead / watched))
    expected = nbinom.pmf(range(40), shape, watched / (watched + ahead))
    found = need.chances_through(10)[:20]
    assert found == pytest.approx(expected[: len(found)], abs=2e-4)
    assert expected[len(found) :].sum() < 5e-3


SEATS = (spares.Seat(0.0), spares.Seat(300.0, 12), spares.Seat(150.0), spares.Seat(40.0, -3), spares.Seat(0.0, 30))


@pytest.mark.parametrize("failures", [0, 1, 2, 3, 15])
@pytest.mark.parametrize("life_days", [None, 14])
def test_spares_are_those_of_an_independent_count_of_each_position(failures: int, life_days: int | None) -> None:
    # tests/independent/spares.py: Kaplan-Meier 1958, renewal sums by Cox 1962, gamma-Poisson by Gelman et al.
    lives = [(60.0 + 31.0 * n, n < failures) for n in range(20)]
    need = expected_need(
        [Position(seat.age, seat.ends_in) for seat in SEATS * 2],
        failure_model([Life(*life) for life in lives]), 40, life_days=life_days,
    )  # fmt: skip
    apart = spares.counts(lives, SEATS * 2, 40, life_days)
    assert need.expected == pytest.approx(sum(pieces * chance for pieces, chance in enumerate(apart)), rel=1e-3)
    found = need.chances_through(40)
    assert found == pytest.approx(np.pad(apart, (0, 99))[: len(found)], abs=2e-3)
    for level in (0.5, 0.9, 0.95, 0.99):
        assert need.covered_by(40, level) == spares.stock(apart, level)


def test_parts_that_end_by_their_dates_alone_are_stocked_one_for_one() -> None:
    need = expected_need([Position(0.0, 9)] * 6, constant(0.0), 90, life_days=30)
    # Out on days 10, 40 and 70: three pieces at each of six places, and nothing is left to chance.
    assert [need.covered_by(90, level) for level in (0.5, 0.95, 0.9999)] == [18] * 3


def forecast_coverage(level: float, *, known: bool) -> float:
    """Share of invented fleets whose stock for a level met the need: 15 parts watched, 30 fitted, 180 days ahead."""
    dice, met, runs = np.random.default_rng(41), 0, 600
    for _ in range(runs):
        seen = dice.exponential(700.0, 15)
        model = failure_model([Life(float(min(each, 1400.0)), bool(each < 1400.0)) for each in seen])
        model = replace(model, curve=None, shape=math.inf if known else model.shape)
        stock = expected_need([Position(0.0)] * 30, model, 180).covered_by(180, level)
        met += dice.poisson(30 * 180 / 700.0) <= stock
    return met / runs


@pytest.mark.parametrize(("level", "least"), [(0.95, 0.935), (0.99, 0.98)])
def test_stock_for_a_level_meets_the_need_that_often_where_fifteen_parts_tell_the_rate(
    level: float, least: float
) -> None:
    # A share of 0.95 in 600 runs lies over 0.932 in 97 of 100 cases (binomial), one of 0.99 over 0.981.
    assert forecast_coverage(level, known=False) >= least
    assert forecast_coverage(level, known=True) < level - 0.015, "an estimate taken for the truth falls short"


def test_what_ends_by_its_date_is_needed_whatever_the_rate() -> None:
    model = failure_model([Life(500.0, n < 1) for n in range(4)])
    need = expected_need([Position(0.0, 5)] * 3, model, 10)
    assert need.chances_through(10)[:3] == pytest.approx(0.0, abs=1e-12)
    assert "known to ± 87 %" in model.words


def test_what_ends_first_on_the_shelf_is_used_first_and_what_is_left_of_it_is_lost() -> None:
    need = np.cumsum([0.0] + [0.5] * 20)
    # Two and a half of the four are used through day 5, one and a half end there; the others serve from then.
    assert lost_by_day(need, [(3.0, None), (4.0, 5)])[[5, 6, 20]] == pytest.approx([0.0, 1.5, 1.5])


def ends(*days: int) -> Need:
    """Parts that never fail and end on these days."""
    return expected_need([Position(0.0, day - 1) for day in days], constant(0.0), 90)


def test_an_order_waits_until_lead_time_asks_for_it_and_comes_in_whole_packs() -> None:
    plan = plan_order(ends(10, 20, 31, 40, 50), [(2.0, None)], OrderRules(lead_days=14, pack_size=2))
    assert (plan.short_in, plan.order_in, plan.late_by) == (31, 17, 0)
    assert (plan.quantity, plan.packs, plan.capped) == (4.0, 2, False)


def test_what_falls_short_within_the_lead_time_is_ordered_today_and_said_to_be_late() -> None:
    plan = plan_order(ends(1, 4), [(1.0, None)], OrderRules(lead_days=10))
    assert (plan.short_in, plan.order_in, plan.late_by, plan.quantity) == (4, 0, 6, 1.0)


def test_a_piece_that_ends_on_the_shelf_before_it_is_needed_does_not_count() -> None:
    assert plan_order(ends(40), [(1.0, 39)], OrderRules(lead_days=5)).order_in == 35
    assert plan_order(ends(40), [(1.0, 40)], OrderRules(lead_days=5)).order_in is None


def test_no_more_is_ordered_than_is_wanted_before_it_ends_on_the_shelf_but_never_under_a_pack() -> None:
    need = ends(10, 20, 30, 40, 50)
    plan = plan_order(need, [], OrderRules(lead_days=0, shelf_days=25))
    # Arrives on day 10 and lies until day 35: three ends until then.
    assert (plan.order_in, plan.quantity, plan.capped) == (10, 3.0, True)
    assert plan_order(need, [], OrderRules(0, 6, 25)).quantity == 6.0


def test_a_part_that_hardly_ever_fails_is_not_stocked_for_a_chance_within_the_service_level() -> None:
    need = expected_need([Position(500.0)] * 5, constant(0.0001), 90)
    assert plan_order(need, [], OrderRules(lead_days=60)).order_in is None
    assert plan_order(need, [], OrderRules(lead_days=60, service_level=0.99)).order_in == 0


def test_what_kits_must_hold_is_kept_besides_the_need() -> None:
    assert plan_order(ends(), [(1.0, None)], OrderRules(lead_days=5, least=2)).quantity == 1.0


@given(
    ends_in=st.lists(st.integers(0, 120), max_size=8), shelf=st.lists(st.integers(0, 120), max_size=8),
    lead=st.integers(0, 60), pack=st.integers(1, 5),
)  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_stock_with_the_order_meets_every_end_of_the_horizon(
    ends_in: list[int], shelf: list[int], lead: int, pack: int
) -> None:
    """Ends are certain here, so that whoever walks the days piece by piece must never stand before an empty shelf,
    unless the order could not come in time."""
    need = expected_need([Position(0.0, end) for end in ends_in], constant(0.0), 90)
    plan = plan_order(need, [(1.0, end) for end in shelf], OrderRules(lead, pack))
    arrives = None if plan.order_in is None else plan.order_in + lead
    left, short = sorted(shelf), []
    for day in sorted(end + 1 for end in ends_in if end + 1 <= 90):
        if arrives is not None and day >= arrives:
            left, arrives = sorted([*left, *[999] * int(plan.quantity)]), None
        left = [end for end in left if end >= day]
        if left:
            left.pop(0)
        else:
            short.append(day)
    assert all(plan.order_in == 0 and plan.late_by > 0 and day < lead for day in short)


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: expected_need([], constant(0.0), -1), "days: -1 is no horizon"),
        (lambda: stock_for(np.ones(1), 1.0), "service level: 1 is out of range"),
        (lambda: plan_order(ends(), [], OrderRules(-1)), "give days from 0"),
        (lambda: plan_order(ends(), [], OrderRules(1, 0)), "a size over 0"),
    ],
)
def test_figures_out_of_reason_are_refused_by_name(ask: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        ask()  # type: ignore[operator]


def test_use_in_batches_is_told_from_use_by_chance_and_a_season_from_both() -> None:
    # A compound Poisson process of batches of b has variance b times its mean: drawn with numpy as the reference.
    chance = np.random.default_rng(7)
    single = chance.poisson(8.0, 4000)
    assert bunching(single.tolist()) == pytest.approx(1.0, abs=0.06)
    assert bunching((5 * chance.poisson(4.0, 4000)).tolist()) == pytest.approx(5.0, rel=0.08)
    season = chance.poisson(8.0 + 7.0 * np.sin(np.arange(4000) / 8.0))
    assert bunching(season.tolist()) < 1.15 < float(season.var() / season.mean())
    assert bunching([3.0, 9.0]) == bunching([0.0] * 20) == 1.0


def test_a_steady_need_is_a_poisson_count() -> None:
    need = steady_need(0.4, 50)
    assert need.expected == pytest.approx(20.0)
    assert need.covered_by(50, 0.95) == int(poisson.ppf(0.95, 20.0))
