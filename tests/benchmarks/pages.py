"""A hundred hand-over sheets beside the bare canvas that draws the same marks: ``python -m tests.benchmarks.pages``.

The floor replays every mark of the same hundred sheets (each text in the same face and size at the same place, each
line, box and path) on a bare ReportLab canvas, and encodes and draws as many QR codes with their modules merged into
runs. What the program adds is what it takes to decide where the marks go.
"""

import io
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import median
from unittest.mock import patch

from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel
from reportlab.pdfgen.canvas import Canvas

from fleetbench.paper.core import marks as codes
from fleetbench.paper.core import pen as faces
from fleetbench.paper.core.pen import Pen
from fleetbench.paper.core.tags import TaggedCanvas
from fleetbench.paper.hires import pages as hires
from fleetbench.paper.hires.handover_sheet import HandoverSheet
from tests.paper import sample_pages

SHEETS = 100
BAR = 2.5
_RECORDED = (
    "setFont",
    "drawString",
    "line",
    "rect",
    "circle",
    "setLineWidth",
    "setStrokeGray",
    "setFillGray",
    "showPage",
)


@dataclass
class Marks:
    """Every call that the pages made on their canvas, and the text of each code with its place and side."""

    calls: list[tuple[str, tuple[object, ...], dict[str, object]]] = field(default_factory=list)


@dataclass(frozen=True)
class PagesMeasured:
    """Seconds for the sheets and for the floor, the marks drawn, and the ratio against its bar."""

    seconds: float
    floor_seconds: float
    marks: int

    @property
    def ratio(self) -> float:
        """How many times the floor the sheets cost."""
        return self.seconds / self.floor_seconds


class Sheets(Sequence[HandoverSheet]):
    """So many full sheets, each of another unit, renter and readings, made when it is asked for."""

    def __init__(self, count: int) -> None:
        self.count = count

    def __len__(self) -> int:
        return self.count

    def __getitem__(self, number):
        if not 0 <= number < self.count:
            raise IndexError(number)
        full = sample_pages.handover().facts
        return sample_pages.handover(
            record=f"HIR-{number:05d}",
            tag=f"KB-{number:03d}",
            diver=f"Søren Østergård {number}",
            unit_serial=f"U2207-{number:04d}",
            cells=tuple(
                sample_pages.cell(cell.position, f"OC-{number:03d}-{place}", linearity=97 + number / 40 + place)
                for place, cell in enumerate(full.cells)
            ),
            cylinders=tuple(
                sample_pages.relabelled(each, f"CY-{number:03d}-{place}", end_bar=150.0 + number / 2 + place)
                for place, each in enumerate(full.cylinders)
            ),
        )


def recorded_marks(facts: list[HandoverSheet]) -> Marks:
    """The marks of the sheets, in order."""
    marks = Marks()

    class RecordingCanvas(TaggedCanvas):
        """A canvas that notes what is asked of it."""

    def noting(name: str) -> Callable[..., object]:
        method = getattr(TaggedCanvas, name)

        def call(self: Canvas, *args: object, **named: object) -> object:
            marks.calls.append((name, args, named))
            return method(self, *args, **named)

        return call

    for name in _RECORDED:
        setattr(RecordingCanvas, name, noting(name))
    code = Pen.code

    def noting_code(pen: Pen, x: float, y: float, text: str, side: float) -> None:
        marks.calls.append(("code", (x, y, text, side), {}))
        code(pen, x, y, text, side)

    with patch("fleetbench.paper.core.document.TaggedCanvas", RecordingCanvas), patch.object(Pen, "code", noting_code):
        hires.handover_batch(facts, io.BytesIO())
    return marks


def draw_bare(marks: Marks) -> None:
    """Draw the marks again on a bare canvas."""
    canvas = Canvas(io.BytesIO(), pagesize=(595, 842), invariant=1, pageCompression=1)
    for name, args, named in marks.calls:
        if name == "code":
            _bare_code(canvas, *args)
        else:
            getattr(canvas, name)(*args, **named)
    canvas.save()


def _bare_code(canvas: Canvas, x: float, y: float, text: str, side: float) -> None:
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(QR8bitByte(text.encode()))
    code.make()
    step = side / code.getModuleCount()
    path = canvas.beginPath()
    for row, modules in enumerate(code.modules):
        start = None
        for column, dark in enumerate([*modules, False]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                path.rect(x + start * step, y - row * step, (column - start) * step, step)
                start = None
    canvas.drawPath(path, stroke=0, fill=1)


def forget_what_was_measured() -> None:
    """Empty every cache, so that a batch is measured as the first of the day."""
    for module in (faces, codes):
        for each in vars(module).values():
            if hasattr(each, "cache_clear"):
                each.cache_clear()


def measure(count: int = SHEETS, rounds: int = 5) -> PagesMeasured:
    """Median CPU seconds of both over so many rounds, one after the other, so that a busy machine slows both."""
    facts = list(Sheets(count))
    marks = recorded_marks(facts)
    ours, floor = [], []
    for _ in range(rounds):
        floor.append(_seconds(lambda: draw_bare(marks)))
        forget_what_was_measured()
        ours.append(_seconds(lambda: hires.handover_batch(facts, io.BytesIO())))
    return PagesMeasured(median(ours), median(floor), len(marks.calls))


def _seconds(act: Callable[[], object]) -> float:
    start = time.process_time()
    act()
    return time.process_time() - start


def main() -> int:
    """Print the ratio; exit 1 where it is over its bar."""
    found = measure()
    print(
        f"{SHEETS} hand-over sheets: {found.seconds:.2f} s; bare canvas with the same {found.marks} calls: "
        f"{found.floor_seconds:.2f} s; ratio {found.ratio:.2f} (bar {BAR})"
    )
    return 0 if found.ratio <= BAR else 1


if __name__ == "__main__":
    sys.exit(main())
