"""What a reader sees of a PDF: its text page by page, and its pages as grey pictures (pypdfium2)."""

import ctypes
import inspect
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pypdfium2

from tests.paper.sample_pages import LETTERHEAD


def made(write: Callable[..., object], *rows: object, **options: Any) -> bytes:
    """The bytes that a writer makes of the rows, under the sample's letterhead where no other is given."""
    stream = io.BytesIO()
    ours = {"head": LETTERHEAD, "centre": LETTERHEAD.centre}
    known = inspect.signature(write).parameters
    write(*rows, stream, **{name: value for name, value in ours.items() if name in known} | options)
    return stream.getvalue()


def texts(pdf: bytes) -> list[str]:
    """The text of each page, its spaces and line ends made one space."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [" ".join(_page_text(page).split()) for page in document]
    finally:
        document.close()


def _page_text(page: pypdfium2.PdfPage) -> str:
    reader = page.get_textpage()
    try:
        return str(reader.get_text_bounded())
    finally:
        reader.close()


def sizes_of_words(pdf: bytes, words: str) -> list[float]:
    """Size in points of each place on the pages where these words stand."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            reader = page.get_textpage()
            searched = reader.search(words)
            while (place := searched.get_next()) is not None:
                found.append(float(pypdfium2.raw.FPDFText_GetFontSize(reader.raw, place[0])))
            searched.close()
            reader.close()
    finally:
        document.close()
    return found


@dataclass(frozen=True)
class Written:
    """One piece of text on a page: its size in points, and its left and right end."""

    size: float
    left: float
    right: float


def written_on(pdf: bytes) -> list[list[Written]]:
    """Every piece of text of each page, with its size and where it stands."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [[_written(piece) for piece in page.get_objects([pypdfium2.raw.FPDF_PAGEOBJ_TEXT])] for page in document]
    finally:
        document.close()


def _written(piece: pypdfium2.PdfObject) -> Written:
    size = ctypes.c_float()
    pypdfium2.raw.FPDFTextObj_GetFontSize(piece.raw, size)
    left, _bottom, right, _top = piece.get_bounds()
    return Written(size.value, left, right)


def pictures(pdf: bytes, scale: float = 1.0) -> list[np.ndarray]:
    """Each page as a grey array, 0 black to 255 white."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [np.asarray(page.render(scale=scale, grayscale=True).to_pil().convert("L")) for page in document]
    finally:
        document.close()


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in points."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_size() for page in document]
    finally:
        document.close()
