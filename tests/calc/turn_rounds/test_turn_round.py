"""The turn-round: its steps, the bath against its agent, drying as time, and when a card may be finished."""

from datetime import UTC, date, datetime, timedelta

import pytest

from fleetbench.calc.turn_rounds.card import (
    BY_RECORD,
    MAY_BE_LEFT_OUT,
    WORDS,
    BathFacts,
    LineFact,
    Step,
    is_dry,
    steps,
    why_no_disinfection,
    why_not_finished,
)

NOW = datetime(2026, 6, 1, 18, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def bath(**changed: object) -> tuple[str, ...]:
    """Why a bath of 50 ppm hypochlorite for two minutes, changed as asked, is no disinfection.

    Two minutes of immersion in hypochlorite, 50 ppm of chlorine: 29 CFR 1910.134 Appendix B-2.
    """
    facts = {"agent": "hypochlorite 50 ppm", "agent_minutes": 2.0, "source": "29 CFR 1910.134 App. B-2",
             "contact_minutes": 2.0, "mixed_at": NOW - HOUR, "use_by": NOW + HOUR, "in_at": NOW,
             "loops": 1}  # fmt: skip
    return why_no_disinfection(BathFacts(**{**facts, **changed}))  # type: ignore[arg-type]


def test_two_minutes_in_fifty_ppm_of_hypochlorite_is_a_disinfection_and_less_is_none() -> None:
    """29 CFR 1910.134 Appendix B-2."""
    assert bath() == ()
    assert "asks for 2 min" in bath(contact_minutes=1.9)[0]
    assert bath(contact_minutes=float("nan")), "a figure that is no number passes nothing"


@pytest.mark.parametrize(
    ("changed", "said"),
    [({"in_at": NOW + 2 * HOUR}, "last valid time"), ({"mixed_at": NOW + timedelta(minutes=1)}, "mixed at"),
     ({"use_by": NOW - HOUR}, "last valid time"), ({"loops": 9}, "1 to 8"), ({"loops": 0}, "1 to 8")],
)  # fmt: skip
def test_a_bath_past_its_use_by_or_overfull_is_named(changed: dict[str, object], said: str) -> None:
    assert any(said in reason for reason in bath(**changed))


def test_the_card_holds_the_bench_order_without_what_the_unit_lacks() -> None:
    """The order of the bench: common practice, no published source."""
    plain = steps(flooded=False, batteries=True, handsets=True, cells=True, oxygen_side=True)
    order = [Step.ABSORBENT, Step.HEAD, Step.STRIP, Step.RINSE, Step.DISINFECT, Step.RINSE_AGAIN, Step.DRY, Step.VALVES]
    assert [step for step in plain if step in order] == order
    assert plain[-3:] == (Step.CALIBRATE, Step.SETTINGS, Step.PREVIOUS_DATA)
    flood = steps(flooded=True, batteries=True, handsets=True, cells=True, oxygen_side=True)
    assert set(flood) - set(plain) == {Step.CELLS_OUT, Step.OPENED_UP, Step.OXYGEN_CLEAN, Step.CALIBRATE_AGAIN}
    bare = steps(flooded=True, batteries=False, handsets=False, cells=False, oxygen_side=False)
    assert not {Step.BATTERIES, Step.SETTINGS, Step.CALIBRATE, Step.CALIBRATE_AGAIN, Step.OXYGEN_CLEAN} & set(bare)
    assert set(WORDS) == set(Step)


def test_no_line_that_guards_the_next_diver_may_be_left_out() -> None:
    for step in (Step.ABSORBENT, Step.HEAD, Step.STRIP, Step.DISINFECT, Step.RINSE_AGAIN, Step.DRY, Step.VALVES,
                 Step.TESTS, Step.CELLS_OUT, Step.OPENED_UP, Step.OXYGEN_CLEAN, Step.CALIBRATE_AGAIN):  # fmt: skip
        assert step not in MAY_BE_LEFT_OUT
    assert Step.DISINFECT in BY_RECORD


@pytest.mark.parametrize(
    ("hours", "looked", "found", "dry"),
    [(1, None, None, False), (11.9, None, None, False), (12.1, None, None, None), (13, 12.5, True, True),
     (13, 12.5, False, False), (30, 12.5, False, None), (13, -2, True, None)],
)  # fmt: skip
def test_a_loop_is_damp_while_it_must_hang_and_not_known_until_somebody_looks(
    hours: float, looked: float | None, found: bool | None, dry: bool | None
) -> None:
    """12 to 24 hours: common practice, no published source. A look from before the disinfection tells nothing."""
    at = NOW + looked * HOUR if looked is not None else None
    assert is_dry(NOW, at, found, NOW + hours * HOUR) is dry


def reasons(state: str = "done", *, flooded: bool = False, untested: tuple[str, ...] = (), days: int = 0) -> str:
    lines = [LineFact("Cells calibrated", Step.CALIBRATE, state)]
    on = [date(2026, 6, 1 + number) for number in range(days)]
    return "; ".join(why_not_finished(lines, untested=untested, calibrated_on=on, flooded=flooded))


def test_a_card_is_finished_once_every_line_is_settled_and_the_release_tests_passed() -> None:
    assert reasons() == ""
    assert reasons("left out") == ""
    assert reasons("to do") == "Cells calibrated: still to do"
    assert "loop negative: no passed test" in reasons(untested=("loop negative",))
    assert "holds no line" in "; ".join(why_not_finished([], untested=(), calibrated_on=(), flooded=False))


def test_after_a_flood_one_day_of_calibrations_is_not_enough() -> None:
    """Common practice, no published source."""
    assert "two different days" in reasons(flooded=True, days=1)
    assert reasons(flooded=True, days=2) == ""
    assert reasons(flooded=False, days=0) == ""
