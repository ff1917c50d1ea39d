"""Pages of the hire desk beside the hand-over sheet: the course board, and the receipt of a return."""

from fleetbench.calc.core.measures import METRE
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.words import NOT_RECORDED, figure, moment, plain_number, said, span
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.hires.handover import AccessoryLine
from fleetbench.workshop.hires.pages import Board, BoardUnit, ReturnFacts

_BOARD = (
    TableColumn("Unit", 0.12),
    TableColumn("Who", 0.26),
    TableColumn("Leaves as", 0.14),
    TableColumn("Harness", 0.1),
    TableColumn("State", 0.14),
    TableColumn("What stops it, or what is to do", 0.24),
)
_RECEIPT = (TableColumn("Accessory", 0.5), TableColumn("Went along", 0.25), TableColumn("Came back", 0.25))


def write_course_board(board: Board, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the board of one course or booking: a row a unit; returns how many pages it took."""
    booking = board.booking
    planned = (
        figure(booking.booking.planned_minutes, "min a fill", 0),
        f"{figure(booking.booking.planned_depth_m, METRE, 0)} deep",
    )
    blocks: list[Block] = [
        *pairs(
            (
                ("instructor", said(booking.instructor)),
                ("days", span(booking.booking.starts_on, booking.booking.ends_on)),
                ("planned", joined(planned)),
                ("units wanted", f"{booking.booking.units_wanted}, of which spare {board.spares}"),
            ),
            2,
        ),
        section("Units and people"),
        *table(_BOARD, map(_board_row, board.rows), size.inner),
    ]
    if not board.rows:
        blocks += text_lines("No unit is chosen yet.", size.inner)
    if board.without:
        blocks += [space(6), *text_lines(f"Without a unit: {', '.join(board.without)}", size.inner)]
    subtitle = joined((f"booking {booking.booking.code}", said(booking.booking.unit_type)))
    heading = Heading(head, f"{booking.booking.kind.capitalize()} board", booking.booking.code, subtitle)
    return write_flow(blocks, heading, target, size)


def _board_row(row: BoardUnit) -> tuple[str, ...]:
    return row.unit, row.who or "spare", row.leaves, row.harness or "", row.state, row.why


def write_return_receipt(facts: ReturnFacts, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the receipt of one unit's return, for the diver to take along; returns how many pages it took."""
    late = f", {facts.days_late} day{'' if facts.days_late == 1 else 's'} late" if facts.days_late else ""
    known: tuple[tuple[str, str], ...] = (
        ("renter", said(facts.renter)),
        ("hire", span(facts.starts_on, facts.ends_on)),
        ("received", f"{moment(facts.received_at)}{late}"),
        ("received by", said(facts.received_by)),
        ("deposit", plain_number(facts.deposit, head.currency or "")),
        ("deposit given back", plain_number(facts.deposit_back, head.currency or "")),
        ("loop minutes", figure(facts.loop_minutes, "min", 0)),
        ("dives", NOT_RECORDED if facts.dives is None else str(facts.dives)),
        ("damage", {True: "yes", False: "none seen"}.get(facts.damaged, NOT_RECORDED)),  # type: ignore[arg-type]
        ("missing", facts.missing or "nothing noted"),
    )
    rows = tuple((each.name, str(each.sent or 0), _came_back(each)) for each in facts.accessories)
    blocks: list[Block] = [*pairs(known, 2)]
    if rows:
        blocks += [section("Accessories"), *table(_RECEIPT, rows, size.inner)]
    blocks += [
        space(10),
        *text_lines("What is not recorded here was not looked at when this was printed.", size.inner),
        space(40),
        *pairs((("for the centre", "_" * 34), ("the diver", "_" * 34)), 2),
    ]
    heading = Heading(head, "Return receipt", facts.record, f"booking {facts.booking}", code=facts.unit)
    return write_flow(blocks, heading, target, size)


def _came_back(line: AccessoryLine) -> str:
    if line.back is None:
        return NOT_RECORDED
    sent, back = line.sent or 0, line.back
    return str(back) if back >= sent else f"{back}, {sent - back} lacking"
