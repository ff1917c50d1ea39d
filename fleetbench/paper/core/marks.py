"""How values and states stand on paper: a unit beside each figure, words where nothing is known, shapes and codes.

The standing words of the pages: cautions, and what the diver still does. They are data, not code.

The outlines differ, so that they tell the state in black on white: a disc (nothing wanted), a lozenge (plan it),
an open ring (do it again), a crossed square (not allowed), a flat bar (not known).

The code holds exactly the text given (a unit's tag, a record number) as UTF-8 bytes, error correction level M
(ISO/IEC 18004), so that a scanner types into the find box what a person would type. It is a keyboard: what cannot
be printed would press its keys, and stands as U+FFFD.
"""

import tomllib
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date, datetime
from enum import Enum
from functools import cache, lru_cache
from math import cos, pi, sin
from typing import Any, TypeVar, cast
from zoneinfo import ZoneInfo

from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel
from reportlab.pdfgen.canvas import Canvas

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import METRE, Measure, in_unit
from fleetbench.calc.gas.depth import breathable_at_surface
from fleetbench.shipped import shipped

NOT_RECORDED = say("not recorded")
Row = TypeVar("Row")


def at_site(row: Row, zone: ZoneInfo) -> Row:
    """The same row, or rows, with every moment in it as a wall-clock time of the site."""
    return cast("Row", _at_site(row, zone))


def _at_site(value: Any, zone: ZoneInfo) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(zone)
    if isinstance(value, tuple):
        return tuple(_at_site(each, zone) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{each.name: _at_site(getattr(value, each.name), zone) for each in fields(value)})
    return value


def said(text: str | None) -> str:
    """The text, or 'not recorded' for none or blank."""
    return text if text is not None and text.strip() else NOT_RECORDED


def day(value: date | str | None) -> str:
    """A date as 2026-03-14, a marked month or quarter as it is marked."""
    if isinstance(value, datetime):
        return value.date().isoformat()
    return value.isoformat() if isinstance(value, date) else said(value)


def moment(value: datetime | None) -> str:
    """A wall-clock time as 2026-03-14 09:05."""
    return NOT_RECORDED if value is None else f"{value:%Y-%m-%d %H:%M}"


def figure(value: float | None, unit: str | Measure = "", decimals: int | None = 1) -> str:
    """A figure with its unit, for instance 49.8 mV; of a measure in the unit in use."""
    return NOT_RECORDED if value is None else in_unit(value, unit, decimals)


def plain_number(value: float | None, unit: str | Measure = "") -> str:
    """A figure with no more decimals than it has, for counts and settings."""
    return figure(value, unit, None)


def plus_minus(value: float | None, expanded: float | None, unit: str) -> str:
    """A measured value with its expanded uncertainty (k = 2); a value without one says so."""
    if value is None:
        return NOT_RECORDED
    if expanded is None:
        return say("{value:.1f} {unit}, U {not_recorded}", value=value, unit=unit, not_recorded=NOT_RECORDED)
    return f"{value:.1f} ± {expanded:.1f} {unit}"


def by_whom(at: datetime | None, who: str | None) -> str:
    """When and by whom, on one line."""
    if at is None and who is None:
        return NOT_RECORDED
    return strung(", ", (moment(at) if at else say("time not recorded"), who or say("by whom not recorded")))


def yes_no(value: bool | None) -> str:
    """Yes, no, or not recorded."""
    return NOT_RECORDED if value is None else say("yes") if value else say("no")


def surface_warning(oxygen_percent: float | None) -> str | None:
    """The warning of a gas that must not be breathed at the surface, or that nobody has analysed; None else.

    The unrounded figure decides.
    """
    if oxygen_percent is None or not oxygen_percent >= 0:
        return say("oxygen not recorded: do not breathe it")
    # An analyser may show a little over 100 %.
    return None if breathable_at_surface(min(oxygen_percent, 100.0) / 100) else say("not breathable at the surface")


def span(first: date | None, last: date | None) -> str:
    """From one day to another; 'not recorded' once where neither is known."""
    return (
        NOT_RECORDED if first is None and last is None else say("{first} to {last}", first=day(first), last=day(last))
    )


_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip


def whole_metres(depth_m: float) -> str:
    """A greatest depth rounded down, since rounding up would allow what the figure does not."""
    return METRE.whole(depth_m)


@dataclass(frozen=True, slots=True)
class SheetTexts:
    """Standing words in one language. still_to_do: by hand-over kind; turn_round: what is noted at each step."""

    cautions: tuple[str, ...]
    lacking_glyph: str
    still_to_do: dict[str, tuple[str, ...]]
    kind_said: dict[str, str]
    oxygen_handling: str
    fill_label: str
    shared_fill_label: str
    turn_round: dict[str, tuple[str, ...]]
    signed: str
    not_signed: str


@cache
def sheet_texts(language: str = "english") -> SheetTexts:
    """The texts of one language; FileNotFoundError where the installation lacks them."""
    path = shipped("resources") / "sheet_texts" / f"{language}.toml"
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    return SheetTexts(
        cautions=tuple(read["cautions"]),
        lacking_glyph=read["lacking_glyph"],
        still_to_do={kind: tuple(lines) for kind, lines in read["still_to_do"].items()},
        kind_said=dict(read["kind_said"]),
        oxygen_handling=read["oxygen_handling"],
        fill_label=read["fill_label"],
        shared_fill_label=read["shared_fill_label"],
        turn_round={step: tuple(spots) for step, spots in read["turn_round"].items()},
        signed=read["signed"],
        not_signed=read["not_signed"],
    )


class PrintedShape(Enum):
    """Outline of a mark."""

    DISC = "disc"
    LOZENGE = "lozenge"
    OPEN_RING = "open ring"
    CROSSED_SQUARE = "crossed square"
    BAR = "bar"


_SHAPES = {
    PrintedShape.DISC: ("ready", "pass", "ok", "done", "held", "good", "later", "fresh"),
    PrintedShape.LOZENGE: ("due soon", "watch", "advise", "put off", "left out"),
    PrintedShape.OPEN_RING: ("repeat", "to do", "undecided"),
    PrintedShape.CROSSED_SQUARE: ("hold", "reject", "stop", "past", "overdue", "fell", "failed", "stale"),
}
_BY_WORD = {word: shape for shape, words in _SHAPES.items() for word in words}


def shape_for(word: str | None) -> PrintedShape:
    """The shape of a state, verdict or result; a missing or unheard-of word is the bar: not known."""
    return _BY_WORD.get((word or "").strip().lower().replace("_", " "), PrintedShape.BAR)


def draw_shape(canvas: Canvas, shape: PrintedShape, x: float, y: float, reach: float) -> None:
    """Draw a shape in black round the centre x, y (canvas coordinates), `reach` being half its side."""
    _DRAWN[shape](canvas, x, y, reach)


def _disc(canvas: Canvas, x: float, y: float, reach: float) -> None:
    canvas.circle(x, y, reach * 0.84, stroke=0, fill=1)


def _lozenge(canvas: Canvas, x: float, y: float, reach: float) -> None:
    """A rhombus with a hollow upper half."""
    inner = reach * 0.56
    outline = canvas.beginPath()
    outline.moveTo(x - reach, y)
    outline.lineTo(x, y - reach)
    outline.lineTo(x + reach, y)
    outline.lineTo(x, y + reach)
    outline.lineTo(x - reach, y)
    outline.lineTo(x - inner, y)
    outline.lineTo(x, y + inner)
    outline.lineTo(x + inner, y)
    outline.lineTo(x - inner, y)
    outline.close()
    canvas.drawPath(outline, stroke=0, fill=1, fillMode=0)


def _open_ring(canvas: Canvas, x: float, y: float, reach: float) -> None:
    """A ring with a gap at the upper right."""
    radius = reach * 0.74
    canvas.setLineWidth(reach * 0.44)
    ring = canvas.beginPath()
    start = 80 * pi / 180
    ring.moveTo(x + radius * cos(start), y + radius * sin(start))
    ring.arcTo(x - radius, y - radius, x + radius, y + radius, startAng=80, extent=290)
    canvas.drawPath(ring, stroke=1, fill=0)


def _crossed_square(canvas: Canvas, x: float, y: float, reach: float) -> None:
    side, arm = reach * 0.86, reach * 0.5
    canvas.rect(x - side, y - side, 2 * side, 2 * side, stroke=0, fill=1)
    canvas.setStrokeGray(1)
    canvas.setLineWidth(reach * 0.36)
    canvas.line(x - arm, y - arm, x + arm, y + arm)
    canvas.line(x - arm, y + arm, x + arm, y - arm)
    canvas.setStrokeGray(0)


def _bar(canvas: Canvas, x: float, y: float, reach: float) -> None:
    canvas.rect(x - reach, y - reach * 0.24, 2 * reach, reach * 0.48, stroke=0, fill=1)


_DRAWN = {
    PrintedShape.DISC: _disc,
    PrintedShape.LOZENGE: _lozenge,
    PrintedShape.OPEN_RING: _open_ring,
    PrintedShape.CROSSED_SQUARE: _crossed_square,
    PrintedShape.BAR: _bar,
}


MOST_BYTES = 200


@lru_cache(maxsize=64)
def qr_runs(text: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """How many squares wide and high the code of a text is, and its dark runs as (row, first column, length).

    ValueError for no text or for more than 200 bytes.
    """
    data = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text).encode()
    if not 1 <= len(data) <= MOST_BYTES:
        raise ValueError(f"code: {len(data)} bytes cannot be printed as a small code; give 1 to {MOST_BYTES}")
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(QR8bitByte(data))
    code.make()
    size = code.getModuleCount()
    return size, tuple(run for row in range(size) for run in _dark_runs(code, row, size))


def _dark_runs(code: QRCode, row: int, size: int) -> list[tuple[int, int, int]]:
    runs, start = [], None
    for column in range(size + 1):
        dark = column < size and bool(code.isDark(row, column))
        if dark and start is None:
            start = column
        elif not dark and start is not None:
            runs.append((row, start, column - start))
            start = None
    return runs
