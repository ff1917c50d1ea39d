"""Pages of the hire desk beside the hand-over sheet: the course board, and the receipt of a return."""

from fleetbench.paper.core.document import Heading, PageSize, Target, joined
from fleetbench.paper.core.flow import Block, Column, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.shapes import CourseBoard, ReturnReceipt
from fleetbench.paper.core.words import NOT_RECORDED, figure, moment, plain_number, said, span

_BOARD = (
    Column("Unit", 0.12),
    Column("Who", 0.26),
    Column("Leaves as", 0.14),
    Column("Harness", 0.1),
    Column("State", 0.14),
    Column("What stops it, or what is to do", 0.24),
)
_RECEIPT = (Column("Accessory", 0.5), Column("Went along", 0.25), Column("Came back", 0.25))


def write_course_board(facts: CourseBoard, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the board of one course or booking: a row a unit; returns how many pages it took."""
    blocks: list[Block] = [
        *pairs(
            (
                ("instructor", said(facts.instructor)),
                ("days", span(facts.starts_on, facts.ends_on)),
                ("planned", joined((figure(facts.minutes, "min a fill", 0), figure(facts.depth_m, "m deep", 0)))),
                ("units wanted", f"{facts.wanted}, of which spare {facts.spares}"),
            ),
            2,
        ),
        section("Units and people"),
        *table(
            _BOARD,
            tuple((each.unit, each.who, each.leaves, each.harness, each.state, each.why) for each in facts.rows),
            size.inner,
        ),
    ]
    if not facts.rows:
        blocks += text_lines("No unit is chosen yet.", size.inner)
    if facts.without:
        blocks += [space(6), *text_lines(f"Without a unit: {', '.join(facts.without)}", size.inner)]
    subtitle = joined((f"booking {facts.code}", said(facts.unit_type)))
    heading = Heading(facts.letterhead, f"{facts.kind.capitalize()} board", facts.code, subtitle)
    return write_flow(blocks, heading, target, size)


def write_return_receipt(facts: ReturnReceipt, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the receipt of one unit's return, for the diver to take along; returns how many pages it took."""
    late = f", {facts.days_late} day{'' if facts.days_late == 1 else 's'} late" if facts.days_late else ""
    known: tuple[tuple[str, str], ...] = (
        ("renter", said(facts.renter)),
        ("hire", span(facts.starts_on, facts.ends_on)),
        ("received", f"{moment(facts.received_at)}{late}"),
        ("received by", said(facts.received_by)),
        ("deposit", plain_number(facts.deposit)),
        ("deposit given back", plain_number(facts.deposit_back)),
        ("loop minutes", figure(facts.loop_minutes, "min", 0)),
        ("dives", NOT_RECORDED if facts.dives is None else str(facts.dives)),
        ("damage", {True: "yes", False: "none seen"}.get(facts.damaged, NOT_RECORDED)),  # type: ignore[arg-type]
        ("missing", facts.missing or "nothing noted"),
    )
    rows = tuple((name, str(sent), _came_back(sent, back)) for name, sent, back in facts.accessories)
    blocks: list[Block] = [*pairs(known, 2)]
    if rows:
        blocks += [section("Accessories"), *table(_RECEIPT, rows, size.inner)]
    blocks += [
        space(10),
        *text_lines("What is not recorded here was not looked at when this was printed.", size.inner),
        space(40),
        *pairs((("for the centre", "_" * 34), ("the diver", "_" * 34)), 2),
    ]
    heading = Heading(facts.letterhead, "Return receipt", facts.record, f"booking {facts.booking}", facts.unit)
    return write_flow(blocks, heading, target, size)


def _came_back(sent: int, back: int | None) -> str:
    if back is None:
        return NOT_RECORDED
    return str(back) if back >= sent else f"{back}, {sent - back} lacking"
