"""QR codes as rows of dark runs, so that a page draws some hundred bars instead of four hundred squares.

The code holds exactly the text given (a unit's tag, a record number) as UTF-8 bytes, error correction level M
(ISO/IEC 18004), so that a scanner types into the find box what a person would type. It is a keyboard: what cannot
be printed would press its keys, and stands as U+FFFD.
"""

from functools import lru_cache

from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel

MOST_BYTES = 200


@lru_cache(maxsize=512)
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
