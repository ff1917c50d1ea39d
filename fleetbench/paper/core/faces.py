"""The typeface of every page, how wide text is in it, and what it cannot show.

Text that people typed is set as plain characters and never read as markup. A character that the face lacks is shown
as a box, since dropping it unseen would turn one name into another.
"""

import unicodedata
from functools import lru_cache

import font_roboto
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

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


@lru_cache(maxsize=8192)
def settable(text: str) -> str:
    """The text on one line as it can be set: composed, without control signs, a BOX for each lacking glyph."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_settable_sign(sign) for sign in unicodedata.normalize("NFC", text))


def _settable_sign(sign: str) -> str:
    category = unicodedata.category(sign)
    if category in ("Cc", "Zl", "Zp"):
        return " "
    if category == "Cf":
        return "-" if sign == "\u00ad" else ""
    return sign if ord(sign) in _GLYPHS and sign != BOX else BOX


def lacks_glyphs(text: str) -> bool:
    """Whether any character of the text is shown as a box."""
    return BOX in settable(text)


@lru_cache(maxsize=16384)
def width(text: str, face: str, size: float) -> float:
    """Width of settable text in points."""
    boxes = text.count(BOX)
    plain = text.replace(BOX, "") if boxes else text
    return float(_faces[face].stringWidth(plain, size)) + boxes * BOX_WIDTH * size


@lru_cache(maxsize=8192)
def fitted(text: str, face: str, size: float, room: float) -> tuple[str, float]:
    """The text and a size at which it fits the room on one line: smaller down to 74 %, then cut with an ellipsis."""
    line = settable(text)
    wide = width(line, face, size)
    if wide <= room:
        return line, size
    smallest = size * _SHRUNK_TO
    if wide * _SHRUNK_TO <= room:
        return line, size * room / wide
    return cut(line, face, smallest, room), smallest


def cut(line: str, face: str, size: float, room: float) -> str:
    """The longest beginning of a settable line that fits the room with an ellipsis after it."""
    if width(line, face, size) <= room:
        return line
    low, high = 0, len(line)
    while low < high:
        middle = (low + high + 1) // 2
        if width(line[:middle].rstrip() + _ELLIPSIS, face, size) <= room:
            low = middle
        else:
            high = middle - 1
    return line[:low].rstrip() + _ELLIPSIS


@lru_cache(maxsize=2048)
def wrapped(text: str, face: str, size: float, room: float) -> tuple[str, ...]:
    """The text as lines that fit the room; line ends are kept, and a word longer than a line is broken."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        lines.extend(_wrapped_paragraph(settable(paragraph), face, size, room))
    return tuple(lines)


def _wrapped_paragraph(paragraph: str, face: str, size: float, room: float) -> list[str]:
    lines, line = [], ""
    for word in paragraph.split():
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
    pieces, piece, used = [], "", 0.0
    if width(word, face, size) <= room:
        return [word]
    for sign in word:
        step = width(sign, face, size)
        if piece and used + step > room:
            pieces.append(piece)
            piece, used = "", 0.0
        piece, used = piece + sign, used + step
    return [*pieces, piece]
