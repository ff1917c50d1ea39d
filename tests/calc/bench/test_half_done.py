"""Clocks of half-done work: what runs, what has run out and says so, and what calls first."""

from datetime import UTC, datetime, timedelta

import pytest

from fleetbench.calc.bench.half_done import BegunKind, HalfDone, clock_of, in_turn
from tests.benchmarks.heads import HANDLING_S, bench_minutes

NOW = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def flush(tag: str, gone: timedelta, wait: timedelta | None, *, settled: bool | None = None) -> HalfDone:
    since = NOW - gone
    return HalfDone(tag, BegunKind.FLUSH, since, None if wait is None else since + wait, settled)


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (flush("U-1", MINUTE, 3 * MINUTE), "2:00 left"),
        (flush("U-1", 4 * MINUTE, 3 * MINUTE), "over 1:00 ago, read"),
        (flush("U-1", 4 * MINUTE, 3 * MINUTE, settled=False), "over 1:00 ago, not settled"),
        (flush("U-1", 4 * MINUTE, 3 * MINUTE, settled=True), "settled"),
        (flush("U-1", MINUTE, None), "1:00 gone, wait not known"),
        (flush("U-1", timedelta(hours=3), 3 * MINUTE, settled=True), "begun 3 h ago, read again"),
        (HalfDone("U-1", BegunKind.WATCH, NOW - 5 * MINUTE, NOW - 2 * MINUTE), "over 2:00 ago, read"),
        (HalfDone("U-1", BegunKind.WATCH, NOW - MINUTE, NOW + 2 * MINUTE), "2:00 left"),
        (HalfDone("U-1", BegunKind.BATH, NOW - 5 * MINUTE, NOW + 10 * MINUTE), "10:00 left"),
        (HalfDone("U-1", BegunKind.BATH, NOW - 500 * MINUTE, NOW - 485 * MINUTE), "over 8 h ago, lift out"),
        (HalfDone("U-1", BegunKind.DRYING, NOW - 60 * MINUTE, NOW + 660 * MINUTE), "dry in 11 h"),
        (HalfDone("U-1", BegunKind.DRYING, NOW - 600 * MINUTE, NOW), "should be dry, look"),
        (HalfDone("U-1", BegunKind.CARD, NOW - timedelta(days=3), detail="5 of 12 lines done"), "5 of 12 lines done"),
        (HalfDone("U-1", BegunKind.TEST, NOW - 5 * MINUTE), "since 5:00"),
    ],
)
def test_every_clock_tells_what_is_left_or_that_it_has_run_out(work: HalfDone, words: str) -> None:
    assert clock_of(work, NOW) == words


def test_what_outlived_its_conditions_never_calls_as_settled() -> None:
    assert flush("U-1", timedelta(minutes=119), 3 * MINUTE, settled=True).calls(NOW)
    assert not flush("U-1", timedelta(minutes=120), 3 * MINUTE, settled=True).calls(NOW)


def test_what_calls_stands_first_then_the_nearest_end_then_what_has_no_clock() -> None:
    work = [
        HalfDone("card", BegunKind.CARD, NOW),
        HalfDone("dry", BegunKind.DRYING, NOW - 60 * MINUTE, NOW - MINUTE),
        HalfDone("begun", BegunKind.CALIBRATION, NOW - MINUTE),
        flush("late", MINUTE, 3 * MINUTE),
        flush("soon", 2 * MINUTE, 3 * MINUTE),
        flush("old", timedelta(hours=5), 3 * MINUTE),
        flush("settled", 2 * MINUTE, 4 * MINUTE, settled=True),
        HalfDone("out", BegunKind.WATCH, NOW - 4 * MINUTE, NOW - MINUTE),
    ]
    assert [each.tag for each in in_turn(work, NOW)][:4] == ["out", "settled", "soon", "late"]
    assert {each.tag for each in in_turn(work, NOW)[4:6]} == {"begun", "old"}


def test_six_heads_side_by_side_take_at_most_six_tenths_of_the_time_one_after_another() -> None:
    alone, beside = (bench_minutes(6, side_by_side=each) for each in (False, True))
    assert beside <= 0.6 * alone and beside >= 6 * HANDLING_S / 60.0
