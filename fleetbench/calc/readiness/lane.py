"""What is to be done next on one unit, in the order in which a bench does it.

The order is common practice, no published source: what stops work of any kind first, then the unit clean and dry, then
parts in, then tests of what was opened, calibration after every change of a cell, gas and batteries, absorbent last
since it ages, and what concerns the hire at the end. The maker's procedure stands above it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleetbench.calc.core.languages import capital, say
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Check

BENCH_ORDER = (
    "return",
    "holds",
    "notices",
    "flood",
    "disinfected and dry",
    "periodic service",
    "part life",
    "cell age",
    "cell outcome",
    "firmware and settings",
    "intermediate pressure and gas addition",
    "bailout or mouthpiece valve",
    "one-way valves and loop",
    "workshop calibration",
    "handset calibration",
    "handset agreement",
    "point above 1 bar",
    "alarms, displays and set-point",
    "batteries",
    "test equipment",
    "cylinder test and oxygen-clean",
    "gas",
    "diluent at planned depth",
    "bailout",
    "absorbent",
    "absorbent in the canister",
    "absorbent sent along",
    "idle",
    "open tickets",
    "signer",
    "diver",
    "accessories",
)
"""Every check, in the order in which what it asks for is done."""

ON_THE_CARD = frozenset(("return", "flood", "disinfected and dry"))
"""Checks that an open turn-round card settles by its own lines."""

BY_ITS_CELLS = frozenset(("cell outcome",))
"""Checks that a cell to be replaced stands behind: calibrated again once it is in."""


class Work(StrEnum):
    """What a step is done on."""

    CARD = "turn-round"
    CELL = "cell"
    CHECK = "check"
    TICKET = "ticket"


@dataclass(frozen=True, slots=True)
class CellToReplace:
    """A cell position that asks for another cell: why, which cell in stock is proposed and where it lies.

    part None: none in stock fits.
    """

    position: str
    why: str
    part: str | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True)
class NextStep:
    """One step: what it is done on and that thing's key (position, check, number), what to do and why."""

    work: Work
    key: str
    words: str
    why: str
    cell: CellToReplace | None = None
    check: Check | None = None


def lane(
    checks: Sequence[Check],
    *,
    card: tuple[int, int] | None,
    cells: Sequence[CellToReplace],
    tickets: Sequence[str],
    waits_for_cells: bool = False,
    holds: Sequence[str] = (),
) -> tuple[NextStep, ...]:
    """The steps that are open on a unit, next one first; empty where nothing is left to do.

    card: lines settled and lines in all of its open turn-round, None where it has none. waits_for_cells: its next line
    is a calibration, before which the cells in stock go in. holds: kinds of the open holds; signing the card lifts that
    of the return. A check that advises is a step only where it says that work is to do.
    """
    steps = []
    if card is not None:
        done, lines = card
        words = say("Sign the turn-round") if done == lines else say("Go on with its turn-round")
        steps.append(NextStep(Work.CARD, "", words, say("{done} of {lines} lines settled", done=done, lines=lines)))
    covered = ON_THE_CARD if card is not None else frozenset()
    if card is not None and all(kind == "received" for kind in holds):
        covered |= {"holds"}
    asked = [each for each in in_bench_order(checks) if _is_work(each) and each.check not in covered]
    before = BENCH_ORDER.index("cell outcome")
    first = [each for each in asked if BENCH_ORDER.index(each.check) < before]
    after = [each for each in asked if BENCH_ORDER.index(each.check) >= before]
    if cells:
        after = [each for each in after if each.check not in BY_ITS_CELLS]
    fitted = [each for each in cells if waits_for_cells and each.part is not None]
    named = {record for each in asked for record in each.records}
    return (
        *(_of_cell(each) for each in fitted),
        *steps,
        *(_of_check(each) for each in first),
        *(_of_cell(each) for each in cells if each not in fitted),
        *(_of_check(each) for each in after),
        *(_of_ticket(each) for each in tickets if f"ticket {each}" not in named),
    )


def in_bench_order(checks: Sequence[Check]) -> list[Check]:
    """Checks in the order of the bench."""
    return sorted(checks, key=lambda each: BENCH_ORDER.index(each.check))


def _is_work(check: Check) -> bool:
    return check.result is Result.STOP or (check.result is Result.ADVISE and check.to_do_minutes is not None)


def _of_check(check: Check) -> NextStep:
    words = check.remedy or say("clear {check}", check=check.check)
    return NextStep(Work.CHECK, check.check, capital(words), check.evidence, check=check)


def _of_ticket(number: str) -> NextStep:
    return NextStep(Work.TICKET, number, say("Go on with ticket {number}", number=number), say("it is open"))


def _of_cell(cell: CellToReplace) -> NextStep:
    if cell.part is None:
        words = say("Order a cell for {position}: none in stock fits", position=cell.position)
    else:
        words = say("Fit {part} into {position}", part=cell.part, position=cell.position)
        if cell.place:
            words = say("{fit}, from {place}", fit=words, place=cell.place)
    return NextStep(Work.CELL, cell.position, words, cell.why, cell=cell)
