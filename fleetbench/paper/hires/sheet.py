"""The hand-over sheet: one page a renter, never two. What does not fit is made smaller, then named by its record."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from fleetbench.paper.core.document import HEAD_HEIGHT, MARGIN, Heading, PageSize, draw_frame, joined, new_canvas
from fleetbench.paper.core.flow import Block
from fleetbench.paper.core.pen import BOLD, Align, Pen
from fleetbench.paper.core.words import moment, said, span
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.hires.sheet_parts import LEAST, Fit, handover_blocks
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.hires.handover import Signed

Progress = Callable[[int, int], bool | None]


# How much of each list is printed before the rest is named by its record, most generous first.
_MOST: tuple[dict[str, Any], ...] = (
    {
        "tests": 24,
        "accessories": 36,
        "remarks": 12,
        "remark_lines": 6,
        "cylinders": 10,
        "cells": 8,
        "batteries": 12,
        "schematic": True,
        "stops": 12,
    },
    {
        "tests": 16,
        "accessories": 24,
        "remarks": 6,
        "remark_lines": 2,
        "cylinders": 8,
        "cells": 6,
        "batteries": 9,
        "schematic": True,
        "stops": 8,
    },
    {
        "tests": 12,
        "accessories": 15,
        "remarks": 4,
        "remark_lines": 1,
        "cylinders": 6,
        "cells": 5,
        "batteries": 6,
        "schematic": True,
        "stops": 6,
    },
    {
        "tests": 8,
        "accessories": 9,
        "remarks": 3,
        "remark_lines": 1,
        "cylinders": 4,
        "cells": 5,
        "batteries": 3,
        "schematic": False,
        "stops": 5,
    },
    {
        "tests": 6,
        "accessories": 6,
        "remarks": 2,
        "remark_lines": 1,
        "cylinders": 4,
        "cells": 5,
        "batteries": 2,
        "schematic": False,
        "stops": 3,
    },
    {
        "tests": 4,
        "accessories": 3,
        "remarks": 1,
        "remark_lines": 1,
        "cylinders": 4,
        "cells": 5,
        "batteries": 1,
        "schematic": False,
        "stops": 3,
    },
)
OTHER_DAYS = "Dates changed: sign again. Signed before"
_LARGEST, _SMALLEST = 1.12, 0.72


class HandoverCancelledError(Exception):
    """The batch was stopped by the one who asked for it; nothing of a single PDF is left behind."""


def write_handover(sheet: HandoverSheet, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write one hand-over sheet as PDF; returns 1, its number of pages."""
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
        raise ValueError("sheets: there is none to print; choose at least one hire")
    if isinstance(target, str | Path) and Path(target).is_dir():
        return _into_folder(sheets, Path(target), progress, size)
    with written(target) as stream:
        title = f"Hand-over sheet {sheets[0].record}" if len(sheets) == 1 else f"{len(sheets)} hand-over sheets"
        canvas = new_canvas(stream, (size.wide, size.high), title, sheets[0].letterhead.centre)
        for done, sheet in enumerate(sheets, start=1):
            _draw_sheet(canvas, sheet, size)
            _tell(progress, done, len(sheets))
        canvas.save()
    return len(sheets)


def file_name(sheet: HandoverSheet) -> str:
    """A plain file name for one sheet, from unit and record number."""
    kept = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in f"{sheet.facts.tag}-{sheet.record}")
    return f"handover-{kept[:80]}.pdf"


def _into_folder(sheets: Sequence[HandoverSheet], folder: Path, progress: Progress | None, size: PageSize) -> int:
    names = [file_name(sheet) for sheet in sheets]
    if len(set(names)) < len(names):
        raise ValueError("sheets: two of them have the same unit and record number; print them one by one")
    for done, (sheet, name) in enumerate(zip(sheets, names, strict=True), start=1):
        write_handover(sheet, folder / name, size=size)
        _tell(progress, done, len(sheets))
    return len(sheets)


def _tell(progress: Progress | None, done: int, of: int) -> None:
    if progress is not None and progress(done, of) is False:
        raise HandoverCancelledError(f"stopped after {done} of {of} sheets")


def _draw_sheet(canvas: Canvas, sheet: HandoverSheet, size: PageSize) -> None:
    pen = Pen(canvas, size.high)
    blocks, signatures = _fitting_blocks(sheet, size)
    y = MARGIN + HEAD_HEIGHT - 2
    for block in blocks:
        block.draw(pen, MARGIN, y, size.inner)
        y += block.height
    bottom = MARGIN + HEAD_HEIGHT + size.room
    signatures.draw(pen, MARGIN, bottom - signatures.height, size.inner)
    # A batch is handed out sheet by sheet, so each one counts its own pages.
    draw_frame(pen, size, _heading(sheet), 1, 1)
    canvas.showPage()


def _heading(sheet: HandoverSheet) -> Heading:
    facts = sheet.facts
    return Heading(
        sheet.letterhead,
        "Hand-over sheet",
        sheet.record,
        joined((span(facts.starts_on, facts.ends_on), f"booking {facts.booking}" if facts.booking else "")),
        code=facts.tag,
        code_word=said(facts.unit_type),
    )


def _fitting_blocks(sheet: HandoverSheet, size: PageSize) -> tuple[list[Block], Block]:
    """The largest setting that fits the page: size first, then shorter lists, each naming where the rest stands."""
    for most in _MOST:
        scale = _LARGEST
        while scale >= _SMALLEST:
            fit = Fit(scale=scale, wide=size.inner, **most)
            blocks, signatures = handover_blocks(sheet, fit), _signature_block(sheet, fit)
            needed = sum(block.height for block in blocks) + signatures.height
            if needed <= size.room + 2:
                return blocks, signatures
            # Heights grow with the scale, so the ratio leads to the scale that fits in one or two steps.
            scale = min(scale - 0.01, scale * size.room / needed)
    raise ValueError(f"record {sheet.record}: the hand-over sheet cannot be held on one page; shorten its entries")


def _signed(pen: Pen, x: float, y: float, wide: float, high: float, size: float, signature: Signed) -> None:
    """The strokes above the line, and when it was signed; words alone where there are none."""
    bottom = y + high - size * 1.1
    tall = min(high - size * 2.4, wide * 0.5 * 0.3)
    step = tall / 300
    if signature.of_other_days:
        pen.fit(x, bottom - 2.5, f"{OTHER_DAYS}, {moment(signature.at)}", wide, max(LEAST, size), BOLD)
        return
    for stroke in signature.strokes:
        points = [(x + wide * 0.42 + px * step, bottom - tall + py * step) for px, py in stroke]
        pen.polyline(points if len(points) > 1 else points * 2)
    if not signature.strokes:
        pen.text(x, bottom - 2.5, "signed on paper, or the drawing was erased", size * 0.86)
    pen.text(x + wide, bottom - 2.5, moment(signature.at), size * 0.86, align=Align.RIGHT)


def _signature_block(sheet: HandoverSheet, fit: Fit) -> Block:
    """Two signatures: who hands over, and who takes it and has read the page."""
    size = fit.text
    high = 56 * fit.scale
    facts = sheet.facts
    only = ", only once every stop is lifted" if sheet.stops else ""

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        half = wide / 2
        signed = {each.party: each for each in facts.signatures}
        for left, label, name, party in (
            (x, f"handed over by{only}", "" if only else facts.handed_over_by or "", "centre"),
            (x + half + 6, f"received by, who has read this page{only}", sheet.diver or "", "diver"),
        ):
            room = half - 6
            if party in signed:
                _signed(pen, left, y, room, high, size, signed[party])
            pen.text(left, y + size, label, size * 0.86)
            pen.fit(left, y + size * 2.3, name, room, size, BOLD)
            pen.rule(left, y + high - size * 1.1, room, 0.6)
            pen.text(left, y + high - size * 0.2, "signature", size * 0.76)
            pen.text(left + room, y + high - size * 0.2, "day and hour", size * 0.76, align=Align.RIGHT)

    return Block(high + 2, draw)
