"""The service ticket on paper: findings, readings with uncertainty, parts out and in with lots, time, sign-off.

Photographs on a page: two beside each other, each with its caption, its moment and the start of its SHA-256.
"""

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, measured_in, within_in
from fleetbench.calc.core.verdict import WorkState
from fleetbench.paper.cells.table import CalibrationBlock, calibration_blocks, cell_table, conditions
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import (
    LEAST,
    TEXT,
    Block,
    TableColumn,
    pairs,
    section,
    space,
    table,
    text_lines,
    write_flow,
)
from fleetbench.paper.core.marks import NOT_RECORDED, by_whom, moment, plain_number, said, sheet_texts
from fleetbench.paper.core.pen import BOLD, Align, Pen
from fleetbench.paper.units.schematic import schematic_block
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.core.journal import EntryRecord
from fleetbench.records.core.plain_file import Target
from fleetbench.records.tickets.reads import FindingRecord, PhotographRecord, TimeRecord
from fleetbench.records.tickets.service_plan import TicketStep
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.tickets.list import MoveLine, TaskLine, TicketPage, asked_words, recorded_words
from fleetbench.workshop.units.schematic import Schematic

_HIGH = 150.0
_GAP = 12.0
_CAPTION = 7.0
MISSING = say("the picture is missing or was changed: see verify")


def photograph_blocks(lines: Sequence[PhotographRecord], pictures: Mapping[str, bytes]) -> list[Block]:
    """Blocks that show the photographs under a title; none where there is none.

    pictures: their bytes by SHA-256; one that is missing or was changed has a frame that says so.
    """
    if not lines:
        return []
    rows = [lines[place : place + 2] for place in range(0, len(lines), 2)]
    return [section(say("Photographs")), *(_row(row, pictures) for row in rows)]


def _row(row: Sequence[PhotographRecord], pictures: Mapping[str, bytes]) -> Block:
    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        room = (wide - _GAP) / 2
        for place, each in enumerate(row):
            _draw(pen, each, pictures.get(each.sha256), x + place * (room + _GAP), y, room)

    return Block(_HIGH + 3 * _CAPTION + 12, draw)


def _draw(pen: Pen, line: PhotographRecord, data: bytes | None, x: float, y: float, room: float) -> None:
    if data is None:
        pen.box(x, y, room, _HIGH, 0.6)
        pen.fit(x + 6, y + _HIGH / 2, MISSING, room - 12, _CAPTION + 1, BOLD)
    else:
        scale = min(room / max(1, line.wide), _HIGH / max(1, line.high))
        alt = say("Photograph: {caption}", caption=line.caption or say("no caption"))
        pen.picture(x, y, io.BytesIO(data), line.wide * scale, line.high * scale, alt)
    under = y + _HIGH + _CAPTION + 2
    pen.fit(x, under, line.caption or say("no caption"), room, _CAPTION + 0.6, BOLD)
    pen.fit(
        x,
        under + _CAPTION + 2,
        strung("; ", (by_whom(line.at, line.person), f"SHA-256 {line.sha256[:16]}")),
        room,
        _CAPTION,
    )


_SMALL = 7.8
NO_RECORD = say("no record")
"""The state of a task that was ticked without the record that settles it."""

_TASK_COLUMNS = (
    TableColumn("no.", 5, Align.RIGHT),
    TableColumn("task", 40),
    TableColumn("weight", 9),
    TableColumn("state", 10, mark=True),
    TableColumn("minutes", 10, Align.RIGHT),
    TableColumn(say("settled, by"), 24),
)
_STEP_COLUMNS = (
    TableColumn("no.", 5, Align.RIGHT),
    TableColumn("step", 25),
    TableColumn(say("asked for"), 24),
    TableColumn("recorded", 24, bold=True),
    TableColumn("state", 9, mark=True),
    TableColumn(say("when, by whom"), 27),
)
_TEST_COLUMNS = (
    TableColumn("test", 21, bold=True),
    TableColumn("result", 11, mark=True),
    TableColumn("seen", 26),
    TableColumn(say("at supply"), 9, Align.RIGHT),
    TableColumn("with", 15),
    TableColumn(say("when, by whom"), 28),
)
_OUT_COLUMNS = (
    TableColumn(say("out of slot"), 17, bold=True),
    TableColumn(say("part type"), 26),
    TableColumn("serial", 17),
    TableColumn("lot", 14),
    TableColumn("why", 12),
    TableColumn(say("when, by whom"), 24),
)
_IN_COLUMNS = (
    TableColumn(say("into slot"), 17, bold=True),
    TableColumn(say("part type"), 26),
    TableColumn("serial", 17),
    TableColumn("lot", 14),
    TableColumn(say("when, by whom"), 24),
)


def write_ticket(
    ticket: TicketPage,
    target: Target,
    *,
    head: Letterhead,
    schematic: Schematic | None = None,
    pictures: Mapping[str, bytes] | None = None,
    size: PageSize = PageSize.A4,
) -> int:
    """Write one service ticket as PDF; returns its number of pages.

    schematic: loop and gas sides of the unit with their states at the moment of printing. pictures: the bytes of the
    ticket's photographs by SHA-256, as far as they are there.
    """
    row = ticket.row
    subtitle = joined(
        (
            say("cause: {cause}", cause=say(row.ticket.cause)),
            say("critical") if row.ticket.critical else say("cosmetic"),
            say("refers to {refers_to}", refers_to=row.refers_to) if row.refers_to else "",
        )
    )
    heading = Heading(
        head,
        say("Service ticket {number}", number=row.number),
        row.number,
        subtitle,
        code=row.ticket.unit,
        code_word=said(row.ticket.unit_type),
    )
    wide = size.inner
    blocks = _opening(ticket, wide)
    blocks += _findings(ticket.findings, wide)
    calibrations = calibration_blocks(ticket.calibrations, [move.at for move in ticket.moves])
    for calibration in calibrations:
        blocks += _calibration(calibration, wide)
    if not calibrations:
        blocks += [section(say("Cell readings")), *_none(say("No calibration was taken under this ticket."), wide)]
    blocks += _tests(ticket.tests, wide)
    blocks += _sentences(say("Read by itself"), ticket.given, wide)
    blocks += _sentences(say("Leaks found"), ticket.leaks, wide)
    out, into = ([move for move in ticket.moves if move.way == way] for way in ("out", "in"))
    blocks += _moves(say("Parts out"), _OUT_COLUMNS, out, say("No part was removed."), wide)
    blocks += _moves(say("Parts in"), _IN_COLUMNS, into, say("No part went in."), wide)
    if schematic is not None:
        blocks += _schematic(schematic, ticket.moves, head.printed_at, wide)
    blocks += _tasks(ticket.tasks, wide)
    blocks += _steps(ticket, wide)
    blocks += _sentences(say("Stays due"), ticket.not_counted, wide)
    blocks += _sentences(say("Openings"), ticket.openings, wide)
    blocks += _sentences(say("Disinfection"), ticket.disinfections, wide)
    blocks += photograph_blocks(ticket.photographs, pictures or {})
    if ticket.materials:
        blocks.append(section(say("Notes")))
        for note in ticket.materials:
            blocks += [*text_lines(note, wide), space(3)]
    return write_flow([*blocks, *_sign_off(ticket)], heading, target, size)


def _opening(ticket: TicketPage, wide: float) -> list[Block]:
    row = ticket.row.ticket
    known = pairs(
        (
            (say("unit serial"), said(row.unit_serial)),
            (say("opened"), by_whom(row.opened_at, row.opened_by)),
            (say("time worked"), plain_number(row.minutes, "min")),
            (
                say("state"),
                say("signed {signed_at}", signed_at=moment(row.signed_at)) if row.signed_at else say("not signed"),
            ),
        ),
        2,
        label_share=0.22,
    )
    more: list[Block] = []
    if worked := _worked(ticket.times):
        by_person = strung(", ", (f"{name} {plain_number(minutes, 'min')}" for name, minutes in worked.items()))
        more += text_lines(say("worked by: {by_person}", by_person=by_person), wide, _SMALL)
    if ticket.corrected_by:
        more += text_lines(
            say("corrected by ticket {corrected_by}", corrected_by=strung(", ", ticket.corrected_by)),
            wide,
            _SMALL,
            BOLD,
        )
    return [space(2), *known, *more, section(say("Why it was opened")), *text_lines(said(row.reason), wide)]


def _worked(times: Sequence[TimeRecord]) -> dict[str, float]:
    """Minutes by person, in the order in which they began."""
    minutes: dict[str, float] = {}
    for each in times:
        name = said(each.person)
        minutes[name] = minutes.get(name, 0.0) + (each.minutes or 0.0)
    return {name: worked for name, worked in minutes.items() if worked}


def _none(text: str, wide: float) -> list[Block]:
    return text_lines(text, wide, _SMALL + 0.4)


def _findings(findings: Sequence[FindingRecord], wide: float) -> list[Block]:
    blocks = [section(say("Findings"))]
    if not findings:
        return blocks + _none(say("No finding was recorded."), wide)
    for finding in findings:
        blocks += _kept(text_lines(by_whom(finding.at, finding.person), wide, _SMALL, BOLD))
        blocks += [*text_lines(finding.text, wide), space(4)]
    return blocks


def _kept(blocks: Sequence[Block]) -> list[Block]:
    """The same blocks, kept with what follows them."""
    return [replace(block, with_next=True) for block in blocks]


def _calibration(calibration: CalibrationBlock, wide: float) -> list[Block]:
    title = say("Cell readings") if calibration.when is None else say("Cell readings {when}", when=calibration.when)
    blocks = [section(title, calibration.record or "")]
    blocks += _kept(text_lines(conditions(calibration), wide, _SMALL))
    columns, rows = cell_table(calibration, ages=False)
    blocks += table(columns, rows, wide, _SMALL)
    if not rows:
        blocks += _none(say("Readings {not_recorded}.", not_recorded=NOT_RECORDED), wide)
    for cell in calibration.cells:
        if cell.finding:
            blocks += text_lines(strung(": ", (cell.position, cell.finding)), wide, _SMALL)
    return blocks


def _tests(tests: Sequence[TestLine], wide: float) -> list[Block]:
    blocks = [section(say("Bench tests"))]
    if not tests:
        return blocks + _none(say("No bench test was taken under this ticket."), wide)
    blocks += table(_TEST_COLUMNS, map(_test_row, tests), wide, _SMALL)
    for test in tests:
        said_of_it = strung(
            ". ",
            (word for word in (test.record.finding if test.record.value is not None else "", test.record.note) if word),
        )
        if said_of_it:
            blocks += text_lines(strung(": ", (say(test.record.kind), said_of_it)), wide, _SMALL)
    return blocks


def _test_row(test: TestLine) -> tuple[str, ...]:
    name = strung(", ", map(say, filter(None, (test.record.kind, test.record.direction))))
    return (
        name,
        said(test.record.result),
        test_seen(test.record),
        _supply(test),
        test.record.equipment or "",
        by_whom(test.record.at, test.person),
    )


def _supply(test: TestLine) -> str:
    return "" if test.record.supply_bar is None else plain_number(test.record.supply_bar, BAR)


def test_seen(test: BenchTestRecord) -> str:
    """What was seen: held or fell with the minutes watched, the figure with its unit, or both."""
    words = []
    if test.held is not None:
        watched = say("watched {watched_minutes}", watched_minutes=plain_number(test.watched_minutes, "min"))
        words.append(strung(", ", (say("held") if test.held else say("fell"), watched)))
    if test.value is not None:
        unit = measured_in(test.unit_of_value or say("(unit {not_recorded})", not_recorded=NOT_RECORDED))
        within = "" if test.expanded_u is None else within_in(test.value, test.expanded_u, unit)
        words.append(within or plain_number(test.value, unit))
    return strung(", ", words) if words else say("no figure")


def _moves(
    title: str, columns: Sequence[TableColumn], moves: Sequence[MoveLine], none: str, wide: float
) -> list[Block]:
    if not moves:
        return [section(title), *_none(none, wide)]
    rows = [
        (
            move.move.slot if move.host is None else say("{slot} of {host}", slot=move.move.slot, host=move.host),
            move.move.part_type,
            said(move.move.serial),
            said(move.move.lot),
            *((said(move.why),) if columns is _OUT_COLUMNS else ()),
            by_whom(move.at, move.person),
        )
        for move in moves
    ]
    return [section(title), *table(columns, rows, wide, _SMALL)]


def _schematic(drawn: Schematic, moves: Sequence[MoveLine], printed_at: str, wide: float) -> list[Block]:
    """Loop and gas sides as recorded at the moment of printing, parts changed under this ticket framed heavily."""
    changed = {move.move.slot for move in moves}
    touched = frozenset(each.slot_id for each in drawn.stations() if each.slot in changed)
    beside = say("as recorded {printed_at}; heavy frame: changed under this ticket", printed_at=printed_at)
    drawing = schematic_block(drawn, wide, LEAST, touched=touched)
    return [section(say("Breathing loop and gas side"), beside), drawing]


def _tasks(tasks: Sequence[TaskLine], wide: float) -> list[Block]:
    blocks = [section(say("Tasks"))]
    if not tasks:
        return blocks + _none(say("No task was listed."), wide)
    blocks += table(_TASK_COLUMNS, map(_task_row, tasks), wide, _SMALL)
    for task in tasks:
        if task.state == WorkState.PUT_OFF:
            told = {"ordinal": task.task.ordinal, "reason": said(task.task.put_off_reason)}
            words = (
                say("{ordinal} put off ({times} times): {reason}", times=task.task.times_put_off, **told)
                if task.task.times_put_off > 1
                else say("{ordinal} put off: {reason}", **told)
            )
            blocks += text_lines(words, wide, _SMALL)
        elif task.fact.missing and task.state == WorkState.DONE:
            blocks += text_lines(
                say(
                    "{ordinal} ticked by hand: {missing}",
                    ordinal=task.task.ordinal,
                    missing=strung("; ", task.fact.missing),
                ),
                wide,
                _SMALL,
                BOLD,
            )
    return blocks


def _task_row(task: TaskLine) -> tuple[str, ...]:
    settled = "" if task.state == WorkState.TO_DO else by_whom(task.task.settled_at, task.task.person)
    minutes = "" if task.state != WorkState.DONE and task.task.minutes is None else plain_number(task.task.minutes)
    state = NO_RECORD if task.state == WorkState.DONE and task.fact.missing else task.state
    return (
        str(task.task.ordinal),
        task.task.text,
        say("critical") if task.task.critical else say("cosmetic"),
        state,
        minutes,
        settled,
    )


def _steps(ticket: TicketPage, wide: float) -> list[Block]:
    """The steps of each task, as they were in force when the ticket was opened, and why any was left out."""
    blocks: list[Block] = []
    for task in ticket.tasks:
        steps = ticket.steps_of(task.task.task_id)
        if not steps:
            continue
        sources = strung(", ", dict.fromkeys(step.plan.source for step in steps))
        blocks += [
            section(say("Steps of task {ordinal}", ordinal=task.task.ordinal)),
            *_kept(text_lines(say("by {sources}", sources=sources), wide, _SMALL)),
        ]
        blocks += table(_STEP_COLUMNS, map(_step_row, steps), wide, _SMALL)
        for step in steps:
            if step.given.state == WorkState.LEFT_OUT:
                blocks += text_lines(
                    say("{number} left out: {reason}", number=step.number, reason=said(step.given.reason)),
                    wide,
                    _SMALL,
                    BOLD,
                )
            elif step.given.state == WorkState.DONE and step.lacks:
                blocks += text_lines(
                    say("{number} without its record: {lacks}", number=step.number, lacks=strung("; ", step.lacks)),
                    wide,
                    _SMALL,
                    BOLD,
                )
    return blocks


def _step_row(step: TicketStep) -> tuple[str, ...]:
    state = NO_RECORD if step.given.state == WorkState.DONE and step.lacks else step.state
    settled = "" if step.given.state == WorkState.TO_DO else by_whom(step.settled_at, step.person)
    recorded = "" if step.given.state == WorkState.LEFT_OUT else recorded_words(step)
    return step.number, step.plan.text, asked_words(step), recorded, state, settled


def _sentences(title: str, sentences: Sequence[str], wide: float) -> list[Block]:
    """A section of sentences, each whole on one page."""
    if not sentences:
        return []
    blocks = [section(title)]
    for sentence in sentences:
        *lines, last = text_lines(sentence, wide)
        blocks += [*_kept(lines), last]
    return blocks


def _sign_off(page: TicketPage) -> list[Block]:
    ticket, texts = page.row.ticket, sheet_texts()
    signed = ticket.signed_at is not None
    words = strung("   ", (say(texts.signed), _entry_words(page.signed_in))) if signed else say(texts.not_signed)
    by = by_whom(ticket.signed_at, ticket.signed_by) if signed else ""

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        half = wide / 2
        pen.box(x, y + 2, wide, 62, 0.8 if signed else 1.6)
        pen.fit(x + 8, y + 15, words, wide - 16, TEXT, BOLD)
        for left, label, value in (
            (x + 8, say("signed off"), by),
            (x + half + 8, say("second person"), ticket.second or ""),
        ):
            pen.text(left, y + 28, label, _SMALL)
            pen.fit(left, y + 45, value, half - 20, 10, BOLD)
            pen.rule(left, y + 50, half - 20, 0.5)
            pen.text(left, y + 59, say("signature"), LEAST)

    return [section(say("Sign-off")), Block(68, draw)]


def _entry_words(entry: EntryRecord | None) -> str:
    """The journal entry that holds the signature, with the start of its hash."""
    if entry is None:
        return say("told by an imported file, not signed in this program")
    return say("journal entry {entry} {hash}", entry=entry.entry, hash=entry.hash[:16])
