"""Guard-banded standing and the ladder of visits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells.uncertainty import (
    Standing,
    by_ladder,
    can_never_decide,
    floor_severity,
    margin,
    standing,
    verdict_of,
)
from fleetbench.calc.core.verdict import Verdict


def verdict(where: Standing, undecided: int = 0, above: int = 0) -> Verdict:
    """The verdict of one standing after so many visits before."""
    return verdict_of(int(by_ladder(where, undecided, above)))


@pytest.mark.parametrize(
    ("value", "expanded", "where"),
    # JCGM 106:2012, 8.3.2: guarded acceptance, the whole interval inside the tolerance interval 95 to 105.
    [
        (98.0, 1.5, Standing.INSIDE),
        (96.5, 1.5, Standing.INSIDE),
        (96.4, 1.5, Standing.ACROSS),
        (95.0, 1.5, Standing.ACROSS),
        (94.9, 1.5, Standing.BELOW),
        (103.6, 1.5, Standing.ACROSS),
        (105.1, 1.5, Standing.ABOVE),
        (float("nan"), 1.5, Standing.UNKNOWN),
        (98.0, float("nan"), Standing.UNKNOWN),
    ],
)
def test_only_a_whole_interval_inside_the_limits_is_inside(value: float, expanded: float, where: Standing) -> None:
    assert int(standing(value, expanded, 95.0, 105.0)) == where


def test_undecided_repeats_then_watches_then_rejects() -> None:
    steps = [verdict(Standing.ACROSS, undecided=visits) for visits in range(5)]
    assert steps == [Verdict.REPEAT, Verdict.WATCH, Verdict.REJECT, Verdict.REJECT, Verdict.REJECT]


def test_above_the_upper_limit_repeats_once_and_then_rejects() -> None:
    assert [verdict(Standing.ABOVE, above=visits) for visits in range(3)] == [
        Verdict.REPEAT,
        Verdict.REJECT,
        Verdict.REJECT,
    ]


def test_below_the_lower_limit_rejects_at_once_and_inside_passes_whatever_came_before() -> None:
    assert verdict(Standing.BELOW) is Verdict.REJECT
    assert verdict(Standing.INSIDE, undecided=5, above=5) is Verdict.PASS


def test_unknown_never_climbs_the_ladder_to_watch() -> None:
    assert {verdict(Standing.UNKNOWN, undecided=visits) for visits in range(4)} == {Verdict.REPEAT}


def test_a_makers_floor_rejects_and_a_common_practice_floor_watches() -> None:
    assert verdict_of(int(floor_severity(Standing.BELOW, True))) is Verdict.REJECT
    assert verdict_of(int(floor_severity(Standing.BELOW, False))) is Verdict.WATCH
    assert verdict_of(int(floor_severity(Standing.ACROSS, True))) is Verdict.REPEAT
    assert verdict_of(int(floor_severity(Standing.ACROSS, False))) is Verdict.WATCH


def test_a_whole_mv_display_on_a_ten_mv_cell_can_never_decide() -> None:
    # u = 1 / sqrt(12) = 0.29 mV of 10 mV, U = 5.8 % against a band of 10 %.
    assert can_never_decide(2 * 100 * (1 / 12**0.5) / 10, 95.0, 105.0)
    assert not can_never_decide(1.4, 95.0, 105.0)


@settings(max_examples=100)
@given(st.floats(80, 120), st.floats(0, 8), st.floats(0, 8), st.integers(0, 3))
def test_a_wider_interval_never_turns_a_verdict_into_pass(value: float, u: float, more: float, before: int) -> None:
    narrow = int(by_ladder(standing(value, u, 95, 105), before, before))
    wide = int(by_ladder(standing(value, u + more, 95, 105), before, before))
    assert wide >= narrow


@settings(max_examples=100)
@given(st.floats(80, 100), st.floats(0, 3), st.floats(0, 4))
def test_under_the_middle_a_lower_value_never_has_a_better_verdict(value: float, u: float, less: float) -> None:
    assert int(by_ladder(standing(value - less, u, 95, 105))) >= int(by_ladder(standing(value, u, 95, 105)))


def test_margin_is_negative_exactly_where_the_interval_is_not_inside() -> None:
    assert margin(97.0, 1.5, 95.0, 105.0) == pytest.approx(0.5)
    assert margin(96.0, 1.5, 95.0, 105.0) == pytest.approx(-0.5)
    assert margin(104.0, 1.5, 95.0, 105.0) == pytest.approx(-0.5)


def test_arrays_are_judged_elementwise() -> None:
    found = standing(np.array([94.0, 96.0, 99.0, 106.0]), 1.5, 95.0, 105.0)
    assert list(found) == [Standing.BELOW, Standing.ACROSS, Standing.INSIDE, Standing.ABOVE]
