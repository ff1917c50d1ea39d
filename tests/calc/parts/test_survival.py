"""Kaplan-Meier curves against the leukaemia remission table of Freireich et al. and against lifelines."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter

from fleetbench.calc.parts.demand import Life, kaplan_meier, life_by_group

# Freireich et al., Blood 21 (1963) 699: weeks of remission, 6-MP arm; + is censored (data seen in lifelines.datasets).
REMISSION = [
    *("6", "6", "6", "6+", "7", "9+", "10", "10+", "11+", "13", "16", "17+", "19+", "20+", "22", "23"),
    *("25+", "32+", "32+", "34+", "35+"),
]
# Published table: time, at risk, failures, S(t), Greenwood's standard error (tolerance 5e-5).
TABLE = [
    (6, 21, 3, 0.8571, 0.0764),
    (7, 17, 1, 0.8067, 0.0869),
    (10, 15, 1, 0.7529, 0.0963),
    (13, 12, 1, 0.6902, 0.1068),
    (16, 11, 1, 0.6275, 0.1141),
    (22, 7, 1, 0.5378, 0.1282),
    (23, 6, 1, 0.4482, 0.1346),
]


def remission() -> list[Life]:
    """The published data as lives."""
    return [Life(float(item.rstrip("+")), not item.endswith("+")) for item in REMISSION]


def test_curve_is_the_published_table() -> None:
    curve = kaplan_meier(remission())
    found = [(s.days, s.at_risk, s.failures, s.survival, s.standard_error) for s in curve.steps]
    assert len(found) == len(TABLE)
    for ours, published in zip(found, TABLE, strict=True):
        assert ours == pytest.approx(published, abs=5.1e-5)
    assert curve.median_days == 23
    assert (curve.parts, curve.failures) == (21, 9)


def test_interval_is_the_log_log_one_of_lifelines() -> None:
    lives = remission()
    reference = KaplanMeierFitter().fit([x.days for x in lives], [x.failed for x in lives])
    interval = reference.confidence_interval_survival_function_
    for step in kaplan_meier(lives).steps:
        low, high = interval.loc[step.days]
        assert (step.low, step.high) == pytest.approx((low, high), abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=1, max_size=25))
def test_any_curve_is_that_of_lifelines(rows: list[tuple[int, bool]]) -> None:
    curve = kaplan_meier([Life(float(days), failed) for days, failed in rows])
    reference = KaplanMeierFitter().fit([days for days, _ in rows], [failed for _, failed in rows])
    for day in range(1, max(days for days, _ in rows) + 1):
        assert curve.at(day) == pytest.approx(float(reference.predict(day)), abs=1e-12)


def test_late_entry_counts_only_from_entry_as_in_lifelines() -> None:
    rows = [(10.0, True, 0.0), (12.0, True, 11.0), (15.0, False, 3.0), (20.0, True, 0.0), (22.0, True, 14.0)]
    curve = kaplan_meier([Life(*row) for row in rows])
    reference = KaplanMeierFitter().fit(*zip(*[(d, f) for d, f, _ in rows], strict=True), entry=[e for *_, e in rows])
    for step in curve.steps:
        assert step.survival == pytest.approx(float(reference.predict(step.days)))


def test_nothing_is_said_beyond_the_longest_life_seen() -> None:
    assert kaplan_meier([Life(10.0, True), Life(20.0, False)]).at(21.0) is None


def test_lots_with_too_few_failures_are_left_out() -> None:
    many, few = [Life(float(x), True) for x in (5, 6, 7)], [Life(5.0, True), Life(9.0, False)]
    assert set(life_by_group({"lot A": many, "lot B": few})) == {"lot A"}


@pytest.mark.parametrize("life", [Life(-1.0, True), Life(float("nan"), True), Life(5.0, True, 6.0)])
def test_impossible_lives_are_refused_by_name(life: Life) -> None:
    with pytest.raises(ValueError, match="days"):
        kaplan_meier([life])


def test_no_lives_are_refused() -> None:
    with pytest.raises(ValueError, match="lives"):
        kaplan_meier([])


def test_a_curve_never_rises() -> None:
    rng = np.random.default_rng(5)
    lives = [Life(float(d), bool(f)) for d, f in zip(rng.integers(1, 300, 80), rng.random(80) < 0.6, strict=True)]
    shares = [step.survival for step in kaplan_meier(lives).steps]
    assert shares == sorted(shares, reverse=True)
