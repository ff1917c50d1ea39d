"""One frame of the time line at 200 units by 365 days, as a ratio to filling as many plain rectangles with words.

`python -m tests.benchmarks.availability` prints the milliseconds of a frame at each width of a day, beside a floor
drawn in the same run: each seen row and day as one filled rectangle, each seen booking as a rectangle with its code.
"""

import os
from collections.abc import Callable
from datetime import date, timedelta
from statistics import median
from time import perf_counter

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from fleetbench.calc.hires.availability import DayCount, Strip, What
from fleetbench.window.hires.chart import DAY_WIDTHS, AvailabilityChart
from fleetbench.window.hires.paint import HEAD, NAMES, ROW, Frame, Painting
from fleetbench.window.look.theme import Theme, font
from fleetbench.workshop.hires.availability import Availability, TypeDays, UnitDays

UNITS, DAYS, FRAMES = 200, 365, 15
WIDTH, HEIGHT = 1920, 1080
TODAY = date(2026, 5, 4)


def invented_fleet() -> Availability:
    """200 units of three types with a booking a week each, a hold on every tenth and an expiry on every third."""
    units = []
    for number in range(UNITS):
        strips = tuple(
            Strip(TODAY + timedelta(days=at), TODAY + timedelta(days=at + 3), (What.HIRE, What.COURSE)[at % 2],
                  f"H-{number}-{at}", "hire", ("booking", "H"), state="to come")
            for at in range(number % 7, DAYS, 7)
        )  # fmt: skip
        bands = [
            Strip(TODAY + timedelta(days=90 + number), date.max, What.UNFIT, "unfit", "a life ends", ("unit", ""), True)
        ]
        if number % 10 == 0:
            bands.append(Strip(TODAY, date.max, What.HOLD, "hold", "strap torn", ("unit", ""), True))
        units.append(UnitDays(f"U-{number:03d}", "ABC"[number % 3], strips, tuple(bands[number % 3 > 0 :])))
    counts = tuple(DayCount(66, 40 + at % 30, at % 3, 60) for at in range(DAYS))
    types = tuple(TypeDays(kind, f"Invented type {kind}", 1, (), counts) for kind in "ABC")
    return Availability(TODAY, TODAY, tuple(units), types)


def frame_of(chart: AvailabilityChart, width: int) -> Frame:
    """What is painted at a width of a day, scrolled to the middle of units and days."""
    chart.day_width = width
    chart._set_bars()
    for bar in (chart.horizontalScrollBar(), chart.verticalScrollBar()):
        bar.setValue(bar.maximum() // 2)
    found = chart.frame_now()
    assert found is not None
    return found


def floor(painter: QPainter, frame: Frame) -> None:
    """As many rectangles and words as are seen, with nothing calculated."""
    painter.setFont(font("small"))
    rows = range(frame.top // ROW, min(len(frame.rows), frame.top // ROW + (frame.height - HEAD) // ROW + 2))
    first, days = frame.left // frame.day_width, (frame.width - NAMES) // frame.day_width + 2
    for row in rows:
        y = HEAD + row * ROW - frame.top
        for day in range(days):
            painter.fillRect(
                QRectF(NAMES + day * frame.day_width, y, frame.day_width - 1, ROW - 1), Qt.GlobalColor.white
            )
        for strip in frame.rows[row].strips:
            at = (strip.first - frame.shown.first).days - first
            if -4 <= at <= days:
                box = QRectF(NAMES + at * frame.day_width, y + 5, 4 * frame.day_width, 17)
                painter.fillRect(box, Qt.GlobalColor.lightGray)
                painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, strip.text)


def milliseconds(draw: Callable[[QPainter], None]) -> float:
    """The median of some frames."""
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_ARGB32_Premultiplied)
    taken = []
    for _ in range(FRAMES):
        painter = QPainter(image)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        begun = perf_counter()
        draw(painter)
        painter.end()
        taken.append((perf_counter() - begun) * 1000)
    return median(taken)


def main() -> None:
    """Print a line for each width of a day."""
    app = QApplication.instance() or QApplication([])
    theme = Theme()
    chart = AvailabilityChart(theme)
    chart.resize(WIDTH, HEIGHT)
    chart.show()
    chart.show_availability(invented_fleet())
    QApplication.processEvents()
    print("| pixels a day | days seen | frame, ms | floor, ms | ratio |", "|---" * 5 + "|", sep="\n")
    for width in DAY_WIDTHS:
        frame = frame_of(chart, width)
        mine = milliseconds(lambda painter, frame=frame: Painting(painter, theme, frame).draw())
        bare = milliseconds(lambda painter, frame=frame: floor(painter, frame))
        print(f"| {width} | {min(DAYS, (WIDTH - NAMES) // width)} | {mine:.1f} | {bare:.1f} | {mine / bare:.1f} |")
    chart.close()
    del app


if __name__ == "__main__":
    main()
