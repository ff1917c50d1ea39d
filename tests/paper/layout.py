"""How the text of a PDF stands on its pages: within its frame and the page, on nothing else, no heading by itself.

Read by pypdfium2, which tells of each piece of text where it stands and as which element of the structure it is marked.
"""

import ctypes
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pypdfium2
from pypdfium2 import raw

from fleetbench.paper.core.document import MARGIN
from fleetbench.paper.core.tags import LACKING

Box = tuple[float, float, float, float]
_SLACK = 1.0
"""Points by which an outline may stand out, as an italic or a bold letter does."""
_OVERLAP = 2.0
_SHEET = 400.0
"""Points: a page as wide as that has margins; a label has not."""


@dataclass(frozen=True)
class Piece:
    """One piece of text: its words, its element, and left, bottom, right, top in points."""

    text: str
    kind: str
    box: Box


@dataclass(frozen=True)
class Placed:
    """One page: its width, its text in the order in which it was written, and the frames drawn on it."""

    wide: float
    pieces: tuple[Piece, ...]
    frames: tuple[Box, ...]


def placed_on(pdf: bytes) -> list[Placed]:
    """Each page of a file."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [_placed(page) for page in document]
    finally:
        document.close()


def _placed(page: pypdfium2.PdfPage) -> Placed:
    reader = page.get_textpage()
    pieces, frames = [], []
    for each in page.get_objects([raw.FPDF_PAGEOBJ_TEXT, raw.FPDF_PAGEOBJ_PATH]):
        box = each.get_bounds()
        if each.type == raw.FPDF_PAGEOBJ_TEXT:
            pieces.append(Piece(_text(each, reader), _kind(each), box))
        elif box[2] - box[0] > 8 and box[3] - box[1] > 8 and _is_frame(each):
            frames.append(box)
    reader.close()
    return Placed(page.get_width(), tuple(pieces), tuple(frames))


def _text(piece: pypdfium2.PdfObject, reader: pypdfium2.PdfTextPage) -> str:
    size = raw.FPDFTextObj_GetText(piece.raw, reader.raw, None, 0)
    buffer = (ctypes.c_ushort * (size // 2 + 1))()
    raw.FPDFTextObj_GetText(piece.raw, reader.raw, buffer, size)
    return bytes(buffer)[: max(0, size - 2)].decode("utf-16-le")


def _kind(piece: pypdfium2.PdfObject) -> str:
    """The name of the mark round it, such as H2; ISO 32000-1, 14.6."""
    if not raw.FPDFPageObj_CountMarks(piece.raw):
        return ""
    buffer, used = (ctypes.c_ushort * 32)(), ctypes.c_ulong()
    raw.FPDFPageObjMark_GetName(raw.FPDFPageObj_GetMark(piece.raw, 0), buffer, 64, used)
    return bytes(buffer)[: max(0, used.value - 2)].decode("utf-16-le")


def _is_frame(path: pypdfium2.PdfObject) -> bool:
    """Whether it is a rectangle with a line round it: a closed path of four sides, stroked."""
    fill, stroke, sides = ctypes.c_int(), ctypes.c_int(), raw.FPDFPath_CountSegments(path.raw)
    raw.FPDFPath_GetDrawMode(path.raw, fill, stroke)
    closed = sides in (4, 5) and raw.FPDFPathSegment_GetClose(raw.FPDFPath_GetPathSegment(path.raw, sides - 1))
    return bool(stroke.value and closed)


def shows_boxes(pdf: bytes) -> bool:
    """Whether the file says that a box stands instead of a sign."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return LACKING in document.get_metadata_value("Keywords")
    finally:
        document.close()


def faults_of(pages: Sequence[Placed]) -> list[str]:
    """What a careful eye would find wrong on the pages of a file."""
    found = []
    for number, page in enumerate(pages, start=1):
        found += [f"page {number}: {each}" for each in (*_outside(page), *_on_each_other(page))]
        if number < len(pages):
            found += [f"page {number}: ends with the heading {each!r}" for each in _alone(page)]
    return found


def _outside(page: Placed) -> Iterator[str]:
    margin = MARGIN if page.wide > _SHEET else 0.0
    for piece in page.pieces:
        left, bottom, right, top = piece.box
        if left < margin - _SLACK or right > page.wide - margin + _SLACK:
            yield f"{piece.text!r} stands out of the page"
        middle = (bottom + top) / 2
        round_it = [each for each in page.frames if each[0] <= left + 1 < each[2] and each[1] <= middle <= each[3]]
        if round_it and right > min(each[2] for each in round_it) + _SLACK:
            yield f"{piece.text!r} stands out of its frame"


def _on_each_other(page: Placed) -> Iterator[str]:
    if not page.pieces:
        return
    left, bottom, right, top = np.array([piece.box for piece in page.pieces]).T
    across = np.minimum(right, right[:, None]) - np.maximum(left, left[:, None])
    upward = np.minimum(top, top[:, None]) - np.maximum(bottom, bottom[:, None])
    for one, other in np.argwhere(np.triu((across > _OVERLAP) & (upward > _OVERLAP), 1)):
        yield f"{page.pieces[one].text!r} and {page.pieces[other].text!r} stand on each other"


def _alone(page: Placed) -> Iterator[str]:
    told = [piece for piece in page.pieces if piece.kind not in ("", "Artifact")]
    last = min(told, key=lambda piece: piece.box[1], default=None)
    if last is not None and last.kind in ("H2", "H3"):
        yield last.text
