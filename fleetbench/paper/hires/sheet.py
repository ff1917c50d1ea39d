"""The hand-over sheet: one page a renter, never two. What does not fit is made smaller, then named by its record."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from fleetbench.paper.core.document import (
    HEAD_HEIGHT,
    MARGIN,
    Heading,
    PageSize,
    Target,
    draw_frame,
    joined,
    new_canvas,
    written,
)
from fleetbench.paper.core.flow import Block
from fleetbench.paper.core.pen import Pen
from fleetbench.paper.core.shapes import HandoverFacts
from fleetbench.paper.core.words import said, span
from fleetbench.paper.hires.sheet_parts import Fit, handover_blocks, signature_block

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
)
_LARGEST, _SMALLEST = 1.12, 0.72


class HandoverCancelledError(Exception):
    """The batch was stopped by the one who asked for it; nothing of a single PDF is left behind."""


def write_handover(facts: HandoverFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write one hand-over sheet as PDF; returns 1, its number of pages."""
    return handover_batch([facts], target, size=size)


def handover_batch(
    sheets: Sequence[HandoverFacts],
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
        for done, facts in enumerate(sheets, start=1):
            _draw_sheet(canvas, facts, size)
            _tell(progress, done, len(sheets))
        canvas.save()
    return len(sheets)


def file_name(facts: HandoverFacts) -> str:
    """A plain file name for one sheet, from unit and record number."""
    kept = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in f"{facts.unit}-{facts.record}")
    return f"handover-{kept[:80]}.pdf"


def _into_folder(sheets: Sequence[HandoverFacts], folder: Path, progress: Progress | None, size: PageSize) -> int:
    names = [file_name(facts) for facts in sheets]
    if len(set(names)) < len(names):
        raise ValueError("sheets: two of them have the same unit and record number; print them one by one")
    for done, (facts, name) in enumerate(zip(sheets, names, strict=True), start=1):
        write_handover(facts, folder / name, size=size)
        _tell(progress, done, len(sheets))
    return len(sheets)


def _tell(progress: Progress | None, done: int, of: int) -> None:
    if progress is not None and progress(done, of) is False:
        raise HandoverCancelledError(f"stopped after {done} of {of} sheets")


def _draw_sheet(canvas: Canvas, facts: HandoverFacts, size: PageSize) -> None:
    pen = Pen(canvas, size.high)
    blocks, signatures = _fitting_blocks(facts, size)
    y = MARGIN + HEAD_HEIGHT - 2
    for block in blocks:
        block.draw(pen, MARGIN, y, size.inner)
        y += block.height
    bottom = MARGIN + HEAD_HEIGHT + size.room
    signatures.draw(pen, MARGIN, bottom - signatures.height, size.inner)
    # A batch is handed out sheet by sheet, so each one counts its own pages.
    draw_frame(pen, size, _heading(facts), 1, 1)
    canvas.showPage()


def _heading(facts: HandoverFacts) -> Heading:
    return Heading(
        facts.letterhead,
        "Hand-over sheet",
        facts.record,
        joined((span(facts.starts_on, facts.ends_on), f"booking {facts.booking}" if facts.booking else "")),
        facts.unit,
        said(facts.unit_type),
    )


def _fitting_blocks(facts: HandoverFacts, size: PageSize) -> tuple[list[Block], Block]:
    """The largest setting that fits the page: size first, then shorter lists, each naming where the rest stands."""
    for most in _MOST:
        scale = _LARGEST
        while scale >= _SMALLEST:
            fit = Fit(scale=scale, wide=size.inner, **most)
            blocks, signatures = handover_blocks(facts, fit), signature_block(facts, fit)
            needed = sum(block.height for block in blocks) + signatures.height
            if needed <= size.room + 2:
                return blocks, signatures
            # Heights grow with the scale, so the ratio leads to the scale that fits in one or two steps.
            scale = min(scale - 0.01, scale * size.room / needed)
    raise ValueError(f"record {facts.record}: the hand-over sheet cannot be held on one page; shorten its entries")
