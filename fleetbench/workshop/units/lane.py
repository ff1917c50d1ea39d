"""The steps that are open on one unit, with the cells that stock offers for it."""

from collections.abc import Iterator

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Verdict, WorkState
from fleetbench.calc.readiness.lane import CellToReplace, NextStep, lane
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.parts.lives import read_shelf_places
from fleetbench.records.turn_rounds.lookups import lines_of_card
from fleetbench.workshop.cells.spread import propose_spread
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import UnitPage, Where


def next_steps(workplace: Workplace, page: UnitPage) -> tuple[NextStep, ...]:
    """What is to be done on the unit that its page tells of, next step first; stock is asked where a cell must go.

    Nothing is done at the bench on a unit that is not here.
    """
    if page.row.where in (Where.OUT, Where.AWAY, Where.RETIRED):
        return ()
    card = (page.card.settled, page.card.lines) if page.card is not None else None
    cells, waits = tuple(_cells(workplace, page)), False
    if cells and page.card is not None:
        with workplace.database.read_session() as session:
            lines = lines_of_card(session, page.card.card_id)
        waits = next((each.step for each in lines if each.state == WorkState.TO_DO), "") in (
            Step.CALIBRATE,
            Step.CALIBRATE_AGAIN,
        )
    return lane(
        page.assessment.checks,
        card=card,
        cells=cells,
        tickets=page.row.open_tickets,
        waits_for_cells=waits,
        holds=[hold.kind for hold, _ticket in page.holds],
    )


def _cells(workplace: Workplace, page: UnitPage) -> Iterator[CellToReplace]:
    gone = [each for each in page.cells if each.part is None or each.verdict == Verdict.REJECT]
    if not gone:
        return
    offered = {line.position: line for line in propose_spread(workplace).lines if line.unit == page.row.tag}
    with workplace.database.reading() as connection:
        places = read_shelf_places(connection)
    for each in gone:
        why = (
            say("{label} is rejected: {value}", label=each.part.label, value=each.finding or say("see its calibration"))
            if each.part
            else say("it is empty")
        )
        line = offered.get(each.position)
        if line is None:
            yield CellToReplace(each.position, why)
        else:
            cell = line.cell.part
            yield CellToReplace(each.position, why, cell.label, places.get(cell.part_id))
