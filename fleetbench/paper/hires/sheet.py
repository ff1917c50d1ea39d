"""The hand-over sheet: front for the diver, back with the technical record, each over as many pages as it needs."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from fleetbench.calc.core.languages import ENGLISH, language, page_in, say, spoken_here
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
from fleetbench.paper.core.flow import LEAST, Block, draw_blocks, in_few_pages, paginated, space
from fleetbench.paper.core.pen import Pen
from fleetbench.paper.core.tags import Artifact, TaggedCanvas
from fleetbench.paper.core.words import said, span
from fleetbench.paper.hires import back, front
from fleetbench.paper.hires.front import Front
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.records.core.plain_file import Target, plain_name, written

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
