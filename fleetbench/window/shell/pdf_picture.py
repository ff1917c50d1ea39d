"""A printed page as a picture in the window."""

from PySide6.QtCore import QSize
from PySide6.QtGui import QImage

from fleetbench.records.core.errors import Refused


def picture_of(pdf: bytes, size: QSize, page: int = 0) -> QImage:
    """That page on white, as wide as asked or as high, whichever is reached first; Refused where it cannot be drawn."""
    # PDF drawing is loaded by whoever looks at a page
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as fault:
        raise Refused("page: it cannot be shown; save it as PDF and open that") from fault
    try:
        sheet = document[page]
        scale = min(size.width() / sheet.get_width(), size.height() / sheet.get_height())
        drawn = sheet.render(scale=scale, rev_byteorder=True)
        whole = QImage(bytes(drawn.buffer), drawn.width, drawn.height, drawn.stride, QImage.Format.Format_RGB888)
        return whole.copy()
    finally:
        document.close()
