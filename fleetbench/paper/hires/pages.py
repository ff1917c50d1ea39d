"""Pages of the hire desk: the hand-over sheet, the course board, the receipt of a return, and the bench day of a plan.

The sheet has its front for the diver and its back with the technical record, each over as many pages as it needs.
"""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path

from fleetbench.calc.core.languages import ENGLISH, language, page_in, say, say_count, spoken_here, strung
from fleetbench.calc.core.measures import METRE
from fleetbench.calc.hires.plan_facts import BenchJob, Stint
from fleetbench.paper.core.document import (
    HEAD_HEIGHT,
    MARGIN,
    Heading,
    Letterhead,
    PageSize,
    draw_foot,
    draw_head,
    joined,
    new_canvas,
)
from fleetbench.paper.core.flow import (
    LEAST,
    Block,
    TableColumn,
    draw_blocks,
    in_few_pages,
    paginated,
    pairs,
    section,
    space,
    table,
    text_lines,
    write_flow,
)
from fleetbench.paper.core.marks import NOT_RECORDED, day, figure, moment, plain_number, said, span
from fleetbench.paper.core.pen import Align, Pen
from fleetbench.paper.core.tags import Artifact, TaggedCanvas
from fleetbench.paper.hires import back, front
from fleetbench.paper.hires.front import Front
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.records.core.plain_file import Target, plain_name, written
from fleetbench.workshop.hires.handover import AccessoryLine
from fleetbench.workshop.hires.pages import BenchDay, Board, BoardUnit, ReturnFacts
from fleetbench.workshop.turn_rounds.baths import Hanging

Progress = Callable[[int, int], bool | None]


class HandoverCancelledError(Exception):
    """The batch was stopped by the one who asked for it; nothing of a single PDF is left behind."""


def write_handover(sheet: HandoverSheet, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write one hand-over sheet as PDF; returns 1, its number of sheets."""
    return handover_batch([sheet], target, size=size)


def handover_batch(
    sheets: Sequence[HandoverSheet],
    target: Target,
    progress: Progress | None = None,
    *,
    size: PageSize = PageSize.A4,
) -> int:
    """Write many sheets: one PDF each where the target is a folder, else one PDF of all; returns how many sheets.

    progress(done, of) is called after each sheet and stops the batch by returning False. Raises HandoverCancelledError
    then, ValueError for no sheet at all or for two sheets of one name, OSError as the system gives it.
    """
    if not sheets:
        raise ValueError(say("sheets: there is none to print; choose at least one hire"))
    if isinstance(target, str | Path) and Path(target).is_dir():
        return _into_folder(sheets, Path(target), progress, size)
    first = sheets[0]
    with written(target) as stream:
        title = (
            say("Hand-over sheet {record}", record=first.record)
            if len(sheets) == 1
            else say("{count} hand-over sheets", count=len(sheets))
        )
        spoken = language(first.language).code
        head = first.letterhead
        canvas = new_canvas(stream, (size.wide, size.high), title, head.centre, spoken, head.at)
        for done, sheet in enumerate(sheets, start=1):
            _draw_sheet(canvas, sheet, size)
            _tell(progress, done, len(sheets))
        canvas.save()
    return len(sheets)


def page_state(sheet: HandoverSheet, size: PageSize) -> str:
    """SHA-256 of all that the page states, without who signs it and when it is printed."""
    bare = replace(
        sheet,
        facts=replace(sheet.facts, signatures=(), signed_page=None, signed_before=None),
        letterhead=Letterhead(sheet.letterhead.centre, "", sheet.letterhead.telephone),
    )
    stream = BytesIO()
    with page_in(language(ENGLISH)):  # whatever language the desk is read in
        write_handover(bare, stream, size=size)
    return hashlib.sha256(stream.getvalue()).hexdigest()


def file_name(sheet: HandoverSheet) -> str:
    """A plain file name for one sheet, from unit and record number."""
    return plain_name(f"handover-{sheet.facts.tag}-{sheet.record}", ".pdf")


def _into_folder(sheets: Sequence[HandoverSheet], folder: Path, progress: Progress | None, size: PageSize) -> int:
    names = [file_name(sheet) for sheet in sheets]
    if len(set(names)) < len(names):
        raise ValueError(say("sheets: two of them have the same unit and record number; print them one by one"))
    for done, (sheet, name) in enumerate(zip(sheets, names, strict=True), start=1):
        write_handover(sheet, folder / name, size=size)
        _tell(progress, done, len(sheets))
    return len(sheets)


def _tell(progress: Progress | None, done: int, of: int) -> None:
    if progress is not None and progress(done, of) is False:
        raise HandoverCancelledError(say("stopped after {done} of {of} sheets", done=done, of=of))


def _draw_sheet(canvas: TaggedCanvas, sheet: HandoverSheet, size: PageSize) -> None:
    """Front, then back; a batch is handed out sheet by sheet, so each one counts its own pages."""
    drawn = Front(sheet, size)
    signatures = space(0) if sheet.only_shows else drawn.signatures()
    with page_in(drawn.words):
        fronts = paginated([*drawn.blocks(), signatures], drawn.room)
    backs = in_few_pages(back.back_blocks(sheet, size.inner), size.room)
    pages, heading = len(fronts) + len(backs), _heading(sheet)
    canvas.part(drawn.words.code)
    for number, blocks in enumerate(fronts, start=1):
        with page_in(drawn.words):
            _draw_front(Pen(canvas, size.high, front.LEAST), drawn, blocks, signatures, (number, len(fronts), pages))
        canvas.showPage()
    canvas.part(spoken_here())
    for number, blocks in enumerate(backs, start=len(fronts) + 1):
        pen = Pen(canvas, size.high, LEAST)
        draw_head(pen, size, heading, again=number > len(fronts) + 1)
        draw_blocks(pen, blocks, MARGIN, MARGIN + HEAD_HEIGHT - 2, size.inner)
        draw_foot(pen, size, heading, number, pages)
        canvas.showPage()


def _draw_front(
    pen: Pen, drawn: Front, blocks: Sequence[Block], signatures: Block, place: tuple[int, int, int]
) -> None:
    """Draw one page of the front; place: its number, the last of the front, and of how many in all."""
    number, last, pages = place
    with pen.tagged(Artifact.HEAD if number > 1 else None):
        drawn.head(pen)
    # the signatures stand at the foot of the last page of the front, above which nothing is signed for
    above = [each for each in blocks if each is not signatures]
    draw_blocks(pen, above, MARGIN, MARGIN + front.HEAD, drawn.size.inner)
    if signatures in blocks:
        signatures.draw(pen, MARGIN, MARGIN + front.HEAD + drawn.room - signatures.height, drawn.size.inner)
    with pen.tagged(Artifact.FOOT if number < last else None):
        drawn.foot(pen, number, pages)


def _heading(sheet: HandoverSheet) -> Heading:
    facts = sheet.facts
    return Heading(
        sheet.letterhead,
        say("Technical record"),
        sheet.record,
        joined(
            (
                span(facts.starts_on, facts.ends_on),
                say("booking {booking}", booking=facts.booking) if facts.booking else "",
            )
        ),
        code=facts.tag,
        code_word=said(facts.unit_type),
    )


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


_WORK = (
    TableColumn("done", 6),
    TableColumn("from", 8),
    TableColumn("to", 8),
    TableColumn("min", 7, Align.RIGHT),
    TableColumn("unit", 10, bold=True),
    TableColumn("work", 33),
    TableColumn(say("take along"), 28),
    TableColumn("for", 20),
)
_HANGING = (
    TableColumn("unit", 12, bold=True),
    TableColumn(say("hangs since"), 22),
    TableColumn(say("dry from, at the earliest"), 26, bold=True),
    TableColumn(say("dry by"), 22),
    TableColumn(say("looked at and dry"), 20),
)
_OTHERS = (TableColumn("unit", 12, bold=True), TableColumn("why", 80))


def write_bench_day(bench: BenchDay, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a day at the bench as PDF; returns its number of pages, one for all but the largest workshops."""
    heading = Heading(head, say("Bench day"), f"BENCH-{day(bench.on)}", _subtitle(bench))
    return write_flow(_blocks(bench, size.inner), heading, target, size)


def _subtitle(bench: BenchDay) -> str:
    jobs = [job for _, given in bench.people for _, job in given]
    return joined(
        (
            say(
                "{weekday} {day}, from {opens:%H:%M}",
                weekday=say(f"{bench.on:%A}"),
                day=day(bench.on),
                opens=bench.opens,
            ),
            say_count("{count} unit", "{count} units", len(jobs)),
            say("{minutes:.0f} min of work", minutes=sum(job.minutes for job in jobs)),
            say("{minutes:.0f} min each ({source})", minutes=bench.minutes, source=bench.source),
        )
    )


def _blocks(bench: BenchDay, wide: float) -> list[Block]:
    blocks: list[Block] = []
    for name, given in bench.people:
        spent = sum(job.minutes for _, job in given)
        blocks.append(section(name, say("{spent:.0f} of {minutes:.0f} min", spent=spent, minutes=bench.minutes)))
        rows = [_row(bench.opens, each) for each in given]
        blocks += table(_WORK, rows, wide, 8.6, 6) if rows else text_lines(say("Nothing to do."), wide)
        blocks.append(space(6))
    if bench.hanging:
        blocks.append(section(say("Hang to dry"), say("not usable before they are dry")))
        blocks += table(_HANGING, [_hung(each, bench.opens) for each in bench.hanging], wide, 8.6)
        blocks.append(space(6))
    blocks += _others(say("Wait"), bench.waits, wide)
    left = tuple(
        (each.tag, strung(", ", filter(None, (_words(each), f"{each.minutes:.0f} min", _by(each)))))
        for each in bench.later
    )
    blocks += _others(say("No time left on this day"), left, wide)
    said = say(
        "Minutes are estimates of hands' time. The maker's manual and the unit's own card say "
        "what each work is. A loop is dry once it was looked at and found dry, not when its time "
        "is over."
    )
    return blocks + text_lines(said, wide, 7.4)


def _row(opens: datetime, stint: Stint) -> tuple[str, ...]:
    start, job = stint
    begun, over = (f"{opens + timedelta(minutes=minute):%H:%M}" for minute in (start, start + job.minutes))
    return (
        "[  ]",
        begun,
        over,
        f"{job.minutes:.0f}",
        job.tag,
        _words(job),
        strung("; ", job.fetch),
        _by(job),
    )


def _words(job: BenchJob) -> str:
    return strung("; ", job.work)


def _by(job: BenchJob) -> str:
    if job.ready_by is None:
        return ""
    by = say("ready by {ready_by}", ready_by=day(job.ready_by))
    return strung(", ", (job.wanted_for, by)) if job.wanted_for else by


def _hung(loop: Hanging, opens: datetime) -> tuple[str, ...]:
    moments = loop.found_damp_at or loop.disinfected_at, loop.dry_from, loop.dry_by
    since, first, last = (f"{each.astimezone(opens.tzinfo):%Y-%m-%d %H:%M}" for each in moments)
    return (
        loop.unit,
        strung(", ", (since, *((say("found damp"),) if loop.found_damp_at else ()))),
        first,
        last,
        say("[  ] at"),
    )


def _others(title: str, rows: Sequence[tuple[str, str]], wide: float) -> list[Block]:
    return [section(title), *table(_OTHERS, rows, wide, 8.6), space(6)] if rows else []
