"""A pen that writes from the top of the page down and keeps track of what the typeface could not show.

The typeface of every page, how wide text is in it, and what it cannot show.

Text that people typed is set as plain characters and never read as markup. A character that no face has is shown as a
box, since dropping it unseen would turn one name into another. What the page's own face has is drawn as it is; a line
with any other sign goes through `scripts`, here and nowhere else.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from enum import StrEnum
from functools import lru_cache
from math import hypot
from typing import BinaryIO

import font_roboto
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.paper.core.marks import draw_shape, qr_runs, shape_for
from fleetbench.paper.core.scripts import Piece, face_of, joins, pieces
from fleetbench.paper.core.tags import Artifact, Tag, TaggedCanvas

REGULAR = "Roboto"
BOLD = "Roboto-Bold"
BOX = "\ufffc"
BOX_WIDTH = 0.62
_SHRUNK_TO = 0.74
_ELLIPSIS = "…"

_faces = {name: TTFont(name, path) for name, path in ((REGULAR, font_roboto.Roboto), (BOLD, font_roboto.RobotoBold))}
for _face in _faces.values():
    registerFont(_face)
_GLYPHS = frozenset(_faces[REGULAR].face.charToGlyph) & frozenset(_faces[BOLD].face.charToGlyph)


class Spoilt(str):
    """A line that stands otherwise than it was given: cut short, with an ellipsis, or ending within a word."""

    __slots__ = ()


def all_whole(lines: Iterable[str]) -> bool:
    """Whether none of the lines was cut short or ends within a word."""
    return not any(isinstance(line, Spoilt) for line in lines)


_noticed: ContextVar[list[str] | None] = ContextVar("noticed", default=None)


@contextmanager
def spoilt_lines() -> Iterator[list[str]]:
    """The lines that are written meanwhile, by this thread's pens, and that had no room to stand whole."""
    found: list[str] = []
    before = _noticed.set(found)
    try:
        yield found
    finally:
        _noticed.reset(before)


def settable(text: str) -> str:
    """The text on one line as it can be set: composed, without control signs, a BOX for each lacking glyph.

    What was said is set in the language of the page, here and in `fitted` and `wrapped`.
    """
    text = shown(text)
    return _settable(text if type(text) is str else text[:])  # what a line is known by is not kept with its signs


@lru_cache(maxsize=8192)
def _settable(text: str) -> str:
    if text.isascii() and text.isprintable():
        return text
    line = ""
    for sign in unicodedata.normalize("NFC", text):
        line += sign if joins(sign) and line and not _own(line[-1]) else _settable_sign(sign)
    return line


def _settable_sign(sign: str) -> str:
    category = unicodedata.category(sign)
    if category in ("Cc", "Zl", "Zp"):
        return " "
    if category == "Cf":
        return "-" if sign == "\u00ad" else ""
    return sign if sign != BOX and (ord(sign) in _GLYPHS or face_of(sign) is not None) else BOX


@lru_cache(maxsize=8192)
def _own(line: str) -> bool:
    """Whether the page's own face has all of a settable line, as it has of nearly all."""
    return line.isascii() or (_GLYPHS.issuperset(map(ord, line)) and BOX not in line)


def lacks_glyphs(text: str) -> bool:
    """Whether any character of the text is shown as a box."""
    return BOX in settable(text)


@lru_cache(maxsize=16384)
def width(text: str, face: str, size: float) -> float:
    """Width of settable text in points."""
    if _own(text):
        return float(_faces[face].stringWidth(text, size))
    return sum(_wide(piece, face, size) for piece in pieces(text, _GLYPHS, bold=face == BOLD))


def _wide(piece: Piece, face: str, size: float) -> float:
    if piece.face is not None:
        return piece.wide * size
    boxes = piece.text.count(BOX)
    return float(_faces[face].stringWidth(piece.text.replace(BOX, ""), size)) + boxes * BOX_WIDTH * size


def clusters(line: str) -> list[str]:
    """The line in parts that no line end may divide: a letter with its marks, or letters that a mark joins."""
    found: list[str] = []
    for sign in line:
        before = found[-1][-1] if found else ""
        if before and (unicodedata.category(sign)[0] == "M" or joins(sign) or _joined_after(before)):
            found[-1] += sign
        else:
            found.append(sign)
    return found


def _joined_after(sign: str) -> bool:
    """Whether what follows may take another shape: after a virama (canonical combining class 9) or a joiner."""
    return unicodedata.combining(sign) == _VIRAMA or sign == "\u200d"


_VIRAMA = 9


def fitted(text: str, face: str, size: float, room: float, least: float = 0.0) -> tuple[str, float]:
    """The text and a size at which it fits the room on one line: smaller down to 74 %, then cut with an ellipsis.

    least: points under which it is never set.
    """
    return _fitted(settable(text), face, size, room, least)


@lru_cache(maxsize=8192)
def _fitted(line: str, face: str, size: float, room: float, least: float) -> tuple[str, float]:
    wide = width(line, face, size)
    if wide <= room:
        return line, size
    smallest = max(size * _SHRUNK_TO, min(size, least))
    if wide * smallest / size <= room:
        return line, size * room / wide
    return cut(line, face, smallest, room), smallest


def cut(line: str, face: str, size: float, room: float) -> str:
    """The longest beginning of a settable line that fits the room with an ellipsis after it."""
    if width(line, face, size) <= room:
        return line
    parts = line if _own(line) else clusters(line)
    low, high = 0, len(parts)
    while low < high:
        middle = (low + high + 1) // 2
        if width("".join(parts[:middle]).rstrip() + _ELLIPSIS, face, size) <= room:
            low = middle
        else:
            high = middle - 1
    return Spoilt("".join(parts[:low]).rstrip() + _ELLIPSIS)


def wrapped(text: str, face: str, size: float, room: float) -> tuple[str, ...]:
    """The text as lines that fit the room; line ends are kept, and a word longer than a line is broken."""
    return _wrapped(shown(text), face, size, room)


@lru_cache(maxsize=2048)
def _wrapped(text: str, face: str, size: float, room: float) -> tuple[str, ...]:
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        lines.extend(_wrapped_paragraph(settable(paragraph), face, size, room))
    return tuple(lines)


_WORD = re.compile(r"[^\s]+(?:[\u00a0\u202f]+[^\s]+)*")
"""A word, with what a no-break space ties to it (U+00A0, U+202F; UAX #14, class GL)."""


def _wrapped_paragraph(paragraph: str, face: str, size: float, room: float) -> list[str]:
    lines, line = [], ""
    for word in _WORD.findall(paragraph):
        longer = f"{line} {word}" if line else word
        if width(longer, face, size) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        pieces = _broken(word, face, size, room)
        lines.extend(pieces[:-1])
        line = pieces[-1]
    return [*lines, line]


def _broken(word: str, face: str, size: float, room: float) -> list[str]:
    if width(word, face, size) <= room:
        return [word]
    parts = [
        part
        for each in (word if _own(word) else clusters(word))
        for part in ([each] if width(each, face, size) <= room else each)
    ]
    broken, piece = [], ""
    for part in parts:
        if piece and width(piece + part, face, size) > room:
            broken.append(Spoilt(piece))
            piece = ""
        piece += part
    return [*broken, piece]


def whole_line(text: str, size: float, room: float, least: float) -> tuple[str, float]:
    """The bold text at the largest size, down to the least, at which it fits; its first line where none does."""
    line = settable(text)
    wide = width(line, BOLD, size)
    fitting = max(least, min(size, size * room / wide)) if wide else size
    return (line if width(line, BOLD, fitting) <= room + 0.1 else wrapped(text, BOLD, fitting, room)[0]), fitting


class Align(StrEnum):
    """Where text stands in its room."""

    LEFT = "left"
    RIGHT = "right"
    CENTRE = "centre"


class Pen:
    """Draws one page of a canvas; x from the left and y from the top in points, y of text is its baseline."""

    def __init__(self, canvas: TaggedCanvas, page_height: float, least: float = 0.0) -> None:
        self.canvas = canvas
        self.tag: Tag | Artifact | None = None
        """What is written now, where it was told; see `tagged`."""
        self.least = least
        """Points under which nothing is set."""
        self.lacked_glyphs = False
        self._height = page_height
        self._face: tuple[str, float] | None = None

    def tagged(self, tag: Tag | Artifact | None) -> "_Tagged":
        """What is written in this block is that element; within an artifact everything stays one."""
        return _Tagged(self, tag)

    def _write(self) -> None:
        """What is written now is the element that was told; text of which nothing was told is a paragraph."""
        self.canvas.begin(self.tag or Tag("P"))

    def _ornament(self) -> None:
        """What is drawn now is no text: a part of the figure that was told, else an ornament."""
        tag = self.tag
        whole = isinstance(tag, Artifact) or (tag is not None and tag.kind == "Figure")
        self.canvas.begin(tag if whole and tag is not None else Artifact.ORNAMENT)

    def figure(self, x: float, y: float, wide: float, high: float, alt: str) -> Tag:
        """The element of a picture with its top left corner at x, y; alt: what is said instead of it."""
        tag = Tag("Figure", alt=alt)
        tag.box = (x, self._height - y - high, x + wide, self._height - y)
        return tag

    def text(self, x: float, y: float, text: str, size: float, face: str = REGULAR, align: Align = Align.LEFT) -> None:
        """Write one line of text as it stands, whatever signs it holds."""
        self._notice(text)
        line, size = settable(text), max(size, self.least)
        if align is not Align.LEFT:
            x -= width(line, face, size) * (0.5 if align is Align.CENTRE else 1.0)
        if not line:
            return
        self._write()
        if not _own(line):
            self._in_pieces(x, self._height - y, line, size, face)
            return
        self._set_face(face, size)
        self.canvas.drawString(x, self._height - y, line)

    @staticmethod
    def _notice(line: str) -> None:
        if isinstance(line, Spoilt) and (noticed := _noticed.get()) is not None:
            noticed.append(line)

    def _set_face(self, face: str, size: float) -> None:
        if self._face != (face, size):
            self._face = face, size
            self.canvas.setFont(face, size)

    def fit(
        self, x: float, y: float, text: str, room: float, size: float, face: str = REGULAR, align: Align = Align.LEFT
    ) -> None:
        """Write one line inside the room from x on: smaller if need be, then cut with an ellipsis."""
        line, size = fitted(text, face, max(size, self.least), room, self.least)
        self._notice(text)
        self.text(x + {Align.LEFT: 0.0, Align.RIGHT: room, Align.CENTRE: room / 2}[align], y, line, size, face, align)

    def fit_on_two(
        self, x: float, y: float, text: str, room: float, size: float, smaller: float, align: Align = Align.LEFT
    ) -> None:
        """The same where a line could not stand whole: on two smaller lines that end at y."""
        whole = all_whole(fitted(text, REGULAR, max(size, self.least), room, self.least)[:1])
        lines = (text,) if whole else wrapped(text, REGULAR, smaller, room)
        if len(lines) != 2:
            self.fit(x, y, text, room, size, align=align)
            return
        for line, above in zip(lines, (smaller * 1.05, 0.0), strict=True):
            self.fit(x, y - above, line, room, smaller, align=align)

    def mark(
        self, x: float, y: float, word: str, size: float, room: float | None = None, face: str = BOLD, line: str = ""
    ) -> None:
        """Write a state as its shape and its word; y is the word's baseline. line: of the word, beside it."""
        self._ornament()
        draw_shape(self.canvas, shape_for(word), x + size * 0.42, self._height - y + size * 0.35, size * 0.42)
        word = line or worded(word)
        if room is None:
            self.text(x + size * 1.1, y, word, size, face)
        else:
            self.fit(x + size * 1.1, y, word, room - size * 1.1, size, face)

    def shape(self, x: float, y: float, word: str, size: float) -> None:
        """Draw the shape of a state without its word; y is the baseline that the word would have."""
        self._ornament()
        draw_shape(self.canvas, shape_for(word), x + size * 0.42, self._height - y + size * 0.35, size * 0.42)

    def caption(self, x: float, y: float, text: str, size: float) -> None:
        """Write a line centred on x over a strip of white, for words on a line that is drawn already."""
        wide = width(settable(text), REGULAR, size) + size
        self._ornament()
        self.canvas.setFillGray(1)
        self.canvas.rect(x - wide / 2, self._height - y - size * 0.25, wide, size * 1.1, stroke=0, fill=1)
        self.canvas.setFillGray(0)
        self.text(x, y, text, size, align=Align.CENTRE)

    def polyline(self, points: Sequence[tuple[float, float]], thick: float = 0.8, grey: float = 0.0) -> None:
        """Draw a line from point to point."""
        self._ornament()
        path = self.canvas.beginPath()
        path.moveTo(points[0][0], self._height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self._height - y)
        self.canvas.setStrokeGray(grey)
        self.canvas.setLineWidth(thick)
        self.canvas.drawPath(path, stroke=1, fill=0)
        self.canvas.setStrokeGray(0)

    def arrow(self, start: tuple[float, float], tip: tuple[float, float], length: float) -> None:
        """Fill an arrow head at the tip, pointing away from the start; the typeface has none."""
        self._ornament()
        along_x, along_y = tip[0] - start[0], tip[1] - start[1]
        whole = max(1e-9, hypot(along_x, along_y))
        ux, uy = along_x / whole * length, along_y / whole * length
        path = self.canvas.beginPath()
        path.moveTo(tip[0], self._height - tip[1])
        for side in (0.55, -0.55):
            path.lineTo(tip[0] - ux - side * uy, self._height - (tip[1] - uy + side * ux))
        path.close()
        self.canvas.drawPath(path, stroke=0, fill=1)

    def rule(self, x: float, y: float, length: float, thick: float = 0.5, grey: float = 0.0) -> None:
        """Draw a line to the right."""
        self._ornament()
        self.canvas.setStrokeGray(grey)
        self.canvas.setLineWidth(thick)
        self.canvas.line(x, self._height - y, x + length, self._height - y)
        self.canvas.setStrokeGray(0)

    def box(self, x: float, y: float, wide: float, high: float, thick: float = 0.6, fill: float | None = None) -> None:
        """Draw a rectangle from its top left corner down; fill is a grey from 0 (black) to 1."""
        self._ornament()
        self.canvas.setLineWidth(thick)
        if fill is not None:
            self.canvas.setFillGray(fill)
        self.canvas.rect(x, self._height - y - high, wide, high, stroke=int(thick > 0), fill=int(fill is not None))
        if fill is not None:
            self.canvas.setFillGray(0)

    def reversed_text(self, x: float, y: float, text: str, size: float, face: str = BOLD) -> None:
        """Write in white, for a black band."""
        self.canvas.setFillGray(1)
        self.text(x, y, text, size, face)
        self.canvas.setFillGray(0)

    def code(self, x: float, y: float, text: str, side: float) -> None:
        """Draw the QR code of a text, its top left corner at x, y; the quiet zone is the caller's white."""
        squares, runs = qr_runs(text)
        with self.tagged(self.figure(x, y, side, side, shown(say("QR code: {text}", text=text)))):
            self._ornament()
        step = side / squares
        path = self.canvas.beginPath()
        for row, column, length in runs:
            path.rect(x + column * step, self._height - y - (row + 1) * step, length * step, step)
        self.canvas.drawPath(path, stroke=0, fill=1)

    def field(
        self,
        name: str,
        x: float,
        y: float,
        wide: float,
        high: float,
        *,
        said: str,
        value: str = "",
        hidden: bool = False,
    ) -> None:
        """Put a field to type in over a box; said: what a reader calls it; hidden: it only holds its value."""
        self.canvas.acroForm.textfield(
            name=name,
            x=x,
            y=self._height - y - high,
            width=wide,
            height=high,
            value=value,
            tooltip=said,
            fontName="Helvetica",
            fontSize=min(9.0, high * 0.7),
            borderWidth=0,
            maxlen=None,
            fillColor=None,
            borderColor=None,
            textColor=None,
            forceBorder=False,
            fieldFlags="readOnly" if hidden else "",
            annotationFlags="hidden" if hidden else "print",
        )

    def picture(self, x: float, y: float, data: BinaryIO, wide: float, high: float, alt: str) -> None:
        """Draw a JPEG with its top left corner at x, y; alt: what is said instead of it."""
        with self.tagged(self.figure(x, y, wide, high, alt)):
            self._ornament()
        self.canvas.drawImage(ImageReader(data), x, self._height - y - high, wide, high)

    def _in_pieces(self, x: float, y: float, line: str, size: float, face: str) -> None:
        """Write a line with signs of other faces, or of none; copied, it is as it was typed."""
        if BOX in line:
            self.lacked_glyphs = True
            self.canvas.lacking.append(line.replace(BOX, "□"))
        shown = pieces(line, _GLYPHS, bold=face == BOLD)
        lefts = {}
        for piece in sorted(shown):
            lefts[piece.place] = x
            x += _wide(piece, face, size)
        for piece in shown:
            if piece.face is not None:
                self.canvas.in_face(piece, lefts[piece.place], y, size)
            else:
                self._with_boxes(lefts[piece.place], y, piece.text, size, face)

    def _with_boxes(self, x: float, y: float, line: str, size: float, face: str) -> None:
        for position, piece in enumerate(line.split(BOX)):
            if position:
                self.canvas.setLineWidth(size * 0.06)
                self.canvas.rect(x + size * 0.08, y, size * (BOX_WIDTH - 0.16), size * 0.7, stroke=1, fill=0)
                x += size * BOX_WIDTH
            if piece:
                self._set_face(face, size)
                self.canvas.drawString(x, y, piece)
                x += width(piece, face, size)


class _Tagged:
    """The block in which a pen writes one element; a page has hundreds of them."""

    __slots__ = ("_before", "_pen", "_tag")

    def __init__(self, pen: Pen, tag: Tag | Artifact | None) -> None:
        self._pen, self._tag, self._before = pen, tag, pen.tag

    def __enter__(self) -> None:
        if self._tag is not None and not isinstance(self._before, Artifact):
            self._pen.tag = self._tag

    def __exit__(self, *_raised: object) -> None:
        self._pen.tag = self._before
