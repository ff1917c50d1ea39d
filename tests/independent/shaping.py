"""How a name is joined and drawn, found again: HarfBuzz over the whole name, fontTools for the outlines.

HarfBuzz is the reference for shaping by OpenType; fontTools reads variable faces by code of its own.
"""

from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import uharfbuzz
from bidi.algorithm import get_display
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

Box = tuple[float, float, float, float]


def glyphs(path: Path, index: int, text: str, *, leftwards: bool) -> list[tuple[int, int]]:
    """Numbers of the glyphs from the left, and where each begins, in units of the face at its regular weight."""
    font = uharfbuzz.Font(uharfbuzz.Face(path.read_bytes(), index))
    font.set_variations({"wght": 400})
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.direction = "rtl" if leftwards else "ltr"
    buffer.guess_segment_properties()
    uharfbuzz.shape(font, buffer)
    found, at = [], 0
    for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        found.append((info.codepoint, at + place.x_offset))
        at += place.x_advance
    return found


def nominal(path: Path, index: int, sign: str) -> int:
    """The glyph of a sign that stands alone, by the face's own table of characters."""
    return int(_read(path, index).getGlyphID(_read(path, index).getBestCmap()[ord(sign)]))


@cache
def _read(path: Path | BytesIO, index: int) -> TTFont:
    return TTFont(path, fontNumber=index, lazy=True)


def box(path: Path | BytesIO, index: int, drawn: tuple[tuple[int, int, int], ...]) -> Box | None:
    """What glyphs cover that are moved right and up: left, bottom, right and top; None where they draw nothing."""
    font = _read(path, index)
    outlines: Any = font.getGlyphSet(location={"wght": 400})
    pen = BoundsPen(outlines)
    for number, right, up in drawn:
        outlines[font.getGlyphName(number)].draw(TransformPen(pen, (1, 0, 0, 1, right, up)))
    return pen.bounds


def seen(text: str, *, leftwards: bool) -> str:
    """The signs from the left by another implementation of UAX #9, in Python alone; it knows no isolates."""
    return str(get_display(text, base_dir="R" if leftwards else "L"))
