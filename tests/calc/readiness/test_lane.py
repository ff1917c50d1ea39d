"""The order of the next steps on a unit: common practice of the bench, no published source."""

import pytest

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import CHECKS, Check, Moment
from fleetbench.calc.readiness.lane import BENCH_ORDER, CellToReplace, NextStep, Work, lane


def check(name: str, result: Result = Result.STOP, minutes: int | None = None, *records: str) -> Check:
    return Check(
        name, Moment.RELEASE, result, f"{name}: found", f"clear {name}", records=records, to_do_minutes=minutes
    )


def words(steps: tuple[NextStep, ...]) -> list[str]:
    return [each.words for each in steps]


def test_every_check_has_its_place_in_the_order() -> None:
    assert sorted(BENCH_ORDER) == sorted(row.check for row in CHECKS)


def test_a_rejected_cell_is_replaced_before_the_head_is_calibrated_and_absorbent_comes_last() -> None:
    checks = [check(each) for each in ("absorbent", "workshop calibration", "cell outcome", "one-way valves and loop")]
    cell = CellToReplace("cell 2", "CELL-2 is rejected: low output", "CELL-9", "shelf B2")
    assert words(lane(checks, card=None, cells=[cell], tickets=())) == [
        "Fit CELL-9 into cell 2, from shelf B2",
        "Clear one-way valves and loop",
        "Clear workshop calibration",
        "Clear absorbent",
    ]


def test_without_a_cell_in_stock_one_is_to_be_ordered() -> None:
    steps = lane([], card=None, cells=[CellToReplace("cell 2", "it is empty")], tickets=())
    assert words(steps) == ["Order a cell for cell 2: none in stock fits"]


@pytest.mark.parametrize(("card", "first"), [((3, 17), "Go on with its turn-round"), ((17, 17), "Sign the turn-round")])
def test_an_open_turn_round_stands_first_and_covers_what_its_lines_settle(card: tuple[int, int], first: str) -> None:
    checks = [check("disinfected and dry"), check("return"), check("batteries")]
    assert words(lane(checks, card=card, cells=(), tickets=())) == [first, "Clear batteries"]


def test_a_cell_from_stock_goes_in_before_the_card_goes_on_with_its_calibration() -> None:
    cells = [CellToReplace("cell 3", "rejected", "CELL-9"), CellToReplace("cell 1", "rejected")]
    order = "Order a cell for cell 1: none in stock fits"
    found = words(lane([], card=(13, 17), cells=cells, tickets=(), waits_for_cells=True))
    assert found == ["Fit CELL-9 into cell 3", "Go on with its turn-round", order]
    assert words(lane([], card=(9, 17), cells=cells, tickets=()))[0] == "Go on with its turn-round"


def test_only_work_is_a_step_not_what_is_well_or_advised_alone() -> None:
    checks = [
        check("gas", Result.OK),
        check("cell age", Result.ADVISE),
        check("batteries", Result.ADVISE, 5),
        check("idle", Result.ADVISE),
    ]
    assert words(lane(checks, card=None, cells=(), tickets=())) == ["Clear batteries"]


def test_a_ticket_is_told_once() -> None:
    checks = [check("open tickets", Result.STOP, None, "ticket 2026-004")]
    steps = lane(checks, card=None, cells=(), tickets=("2026-004", "2026-009"))
    assert [(each.work, each.words) for each in steps] == [
        (Work.CHECK, "Clear open tickets"),
        (Work.TICKET, "Go on with ticket 2026-009"),
    ]


def test_nothing_left_to_do_is_no_step() -> None:
    assert lane([check("gas", Result.OK)], card=None, cells=(), tickets=()) == ()
