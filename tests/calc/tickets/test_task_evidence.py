"""What settles a task, as a decision: which evidence a task of a kind needs, and whether this evidence settles it."""

from datetime import UTC, datetime, timedelta

import pytest

from fleetbench.calc.tickets.signing import (
    CellVerdict,
    Evidence,
    Needs,
    PartNeed,
    TicketTest,
    lacking,
    left_out_tests,
    needs_of,
    state_now,
)

BEGAN = datetime(2026, 5, 4, 8, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return BEGAN + timedelta(minutes=minutes)


def tried(
    kind: str, minutes: float, passed: bool = True, way: str | None = None, part: int | None = None
) -> TicketTest:
    return TicketTest(kind, way, at(minutes), passed, part)


def made(*tests: TicketTest, opened: float = 0, cells: tuple[CellVerdict, ...] = ()) -> Evidence:
    return Evidence(since=BEGAN, opened=at(opened), tests=tests, cells=cells)


@pytest.mark.parametrize(
    ("text", "tests"),
    [
        ("Test injector flow", ("injector flow",)),
        ("Injector flow", ("injector flow",)),
        ("Look at the one-way valves and test both ways", ("one-way valve",)),
        ("Loop negative and positive", ("loop negative", "loop positive")),
        ("Test valves and loop", ("one-way valve", "loop negative", "loop positive")),
        ("Check the loop", ("loop negative", "loop positive")),
        ("Replace the inhale one-way valve", ()),
        ("Clamps of the loop hoses looked at and tightened", ()),
        ("Strip, rinse and disinfect the loop", ()),
    ],
)
def test_a_task_needs_the_tests_that_its_words_name(text: str, tests: tuple[str, ...]) -> None:
    assert needs_of(text).tests == tests


def test_a_replacement_needs_a_fitting_in_the_slot_that_it_names_most_fully() -> None:
    slots = ("cell 1", "cell 2", "handset 1", "handset 1 battery")
    assert needs_of("Replace cell 2 and look at it", slots=slots).slots == ("cell 2",)
    assert needs_of("Change handset 1 battery", slots=slots).slots == ("handset 1 battery",)
    assert needs_of("Look at cell 2", slots=slots) == Needs()


def test_the_last_test_of_each_part_settles_and_one_that_failed_does_not() -> None:
    needs = needs_of("Test intermediate pressure")
    assert lacking(needs, made(tried("intermediate pressure", 5, part=1))) == ()
    # The creep of one first stage is not undone by the other's good reading.
    failed = (tried("intermediate pressure", 5, False, part=1), tried("intermediate pressure", 9, part=2))
    assert "did not pass" in lacking(needs, made(*failed))[0]
    assert lacking(needs, made(*failed, tried("intermediate pressure", 12, part=1))) == ()


def test_a_release_test_counts_from_the_last_opening_and_others_from_the_beginning() -> None:
    loop, valve = needs_of("Test loop negative"), needs_of("Test bailout valve")
    tests = (tried("loop negative", 5), tried("bailout valve", 5))
    assert lacking(loop, made(*tests)) == lacking(valve, made(*tests, opened=7)) == ()
    assert "since the loop was opened" in lacking(loop, made(*tests, opened=7))[0]


def test_one_direction_of_a_one_way_valve_is_half_a_test() -> None:
    needs = needs_of("Test one-way valve")
    assert "in each direction" in lacking(needs, made(tried("one-way valve", 5, way="inhale")))[0]
    assert lacking(needs, made(tried("one-way valve", 5, way="both"))) == ()


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ((), "no calibration in limits"),
        ((CellVerdict("cell 1", "pass"), CellVerdict("cell 2", "reject")), "cell 2: last calibrated to reject"),
        ((CellVerdict("cell 1", "repeat"),), "cell 1: last calibrated to repeat"),
        ((CellVerdict("cell 1", None),), "cell 1: no calibration since"),
        ((CellVerdict("cell 1", None, fitted=False),), "cell 1: no cell sits there"),
    ],
)
def test_cells_are_calibrated_once_every_one_of_them_is_in_limits(cells: tuple[CellVerdict, ...], said: str) -> None:
    needs = needs_of("Calibrate the cells")
    assert said in "; ".join(lacking(needs, made(cells=cells)))
    assert lacking(needs, made(cells=(CellVerdict("cell 1", "pass"), CellVerdict("cell 2", "watch")))) == ()


def test_a_part_of_the_plan_is_fitted_or_its_use_written_down() -> None:
    fits, used = PartNeed(7, "Solenoid S", 2), PartNeed(8, "Seal kit K", fittable=False)
    needs = needs_of("Yearly service", parts=(fits, used))
    assert not needs.by_record
    assert [each.split(":")[0] for each in lacking(needs, made())] == ["Solenoid S", "Seal kit K"]
    there = Evidence(since=BEGAN, opened=BEGAN, fitted=(("a", 7), ("b", 7)), used=("seal kit K, green",))
    assert lacking(needs, there) == ()


def test_what_was_done_is_to_do_again_without_its_evidence_and_what_was_left_out_stays() -> None:
    assert state_now("done", ("gone",)) == "to do"
    assert (state_now("done", ()), state_now("put off", ("gone",))) == ("done", "put off")


def test_a_service_does_not_count_with_a_test_of_it_left_out() -> None:
    lines = (("Test injector flow", "put off"), ("Test loop negative", "done"), ("Polish", "put off"))
    assert left_out_tests(("injector flow", "loop negative"), lines) == ("Test injector flow",)
    assert left_out_tests(("loop negative",), lines) == ()
