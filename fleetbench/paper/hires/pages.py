"""Pages of the hire desk beside the hand-over sheet: the course board, and the receipt of a return."""

from fleetbench.calc.core.languages import say, say_count, strung
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
    TableColumn(say("Leaves as"), 0.14),
    TableColumn("Harness", 0.1),
    TableColumn("State", 0.14),
    TableColumn(say("What stops it, or what is to do"), 0.24),
)
_RECEIPT = (
    TableColumn(say("Accessory"), 0.5),
    TableColumn(say("Went along"), 0.25),
    TableColumn(say("Came back"), 0.25),
)


def write_course_board(board: Board, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the board of one course or booking: a row a unit; returns how many pages it took."""
    booking = board.booking
    planned = (
        figure(booking.booking.planned_minutes, say("min a fill"), 0),
        say("{planned_depth_m} deep", planned_depth_m=figure(booking.booking.planned_depth_m, METRE, 0)),
    )
    blocks: list[Block] = [
        *pairs(
            (
                (say("instructor"), said(booking.instructor)),
                (say("days"), span(booking.booking.starts_on, booking.booking.ends_on)),
                (say("planned"), joined(planned)),
                (
                    say("units wanted"),
                    say(
                        "{units_wanted}, of which spare {spares}",
                        units_wanted=booking.booking.units_wanted,
                        spares=board.spares,
                    ),
                ),
            ),
            2,
        ),
        section(say("Units and people")),
        *table(_BOARD, map(_board_row, board.rows), size.inner),
    ]
    if not board.rows:
        blocks += text_lines(say("No unit is chosen yet."), size.inner)
    if board.without:
        blocks += [
            space(6),
            *text_lines(say("Without a unit: {without}", without=strung(", ", board.without)), size.inner),
        ]
    subtitle = joined((say("booking {code}", code=booking.booking.code), said(booking.booking.unit_type)))
    heading = Heading(
        head, say("{kind} board", kind=say(booking.booking.kind.capitalize())), booking.booking.code, subtitle
    )
    return write_flow(blocks, heading, target, size)


def _board_row(row: BoardUnit) -> tuple[str, ...]:
    return row.unit, row.who or "spare", row.leaves, row.harness or "", row.state, row.why


def write_return_receipt(facts: ReturnFacts, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the receipt of one unit's return, for the diver to take along; returns how many pages it took."""
    late = say_count("{count} day late", "{count} days late", facts.days_late) if facts.days_late else ""
    known: tuple[tuple[str, str], ...] = (
        (say("renter"), said(facts.renter)),
        (say("hire"), span(facts.starts_on, facts.ends_on)),
        (say("received"), strung(", ", filter(None, (moment(facts.received_at), late)))),
        (say("received by"), said(facts.received_by)),
        (say("deposit"), plain_number(facts.deposit, head.currency or "")),
        (say("deposit given back"), plain_number(facts.deposit_back, head.currency or "")),
        (say("loop minutes"), figure(facts.loop_minutes, "min", 0)),
        (say("dives"), NOT_RECORDED if facts.dives is None else str(facts.dives)),
        (say("damage"), {True: say("yes"), False: say("none seen")}.get(facts.damaged, NOT_RECORDED)),  # type: ignore[arg-type]
        (say("missing"), facts.missing or say("nothing noted")),
    )
    rows = tuple((each.name, str(each.sent or 0), _came_back(each)) for each in facts.accessories)
    blocks: list[Block] = [*pairs(known, 2)]
    if rows:
        blocks += [section(say("Accessories")), *table(_RECEIPT, rows, size.inner)]
    blocks += [
        space(10),
        *text_lines(say("What is not recorded here was not looked at when this was printed."), size.inner),
        space(40),
        *pairs(((say("for the centre"), "_" * 34), (say("the diver"), "_" * 34)), 2),
    ]
    heading = Heading(
        head, say("Return receipt"), facts.record, say("booking {booking}", booking=facts.booking), code=facts.unit
    )
    return write_flow(blocks, heading, target, size)


def _came_back(line: AccessoryLine) -> str:
    if line.back is None:
        return NOT_RECORDED
    sent, back = line.sent or 0, line.back
    return str(back) if back >= sent else say("{back}, {sent} lacking", back=back, sent=sent - back)
