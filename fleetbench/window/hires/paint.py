"""How the time line is painted: only the rows and days that are seen.

A state is told by its outline, pattern and word, and by colour besides. Bookings lie in the upper part of a row: a hire
has round ends, a course square ones with a second line along its top, a try day a notch; what is out is filled, what
waits has a broken outline. In the lower part lies what keeps the unit in: each band has its own hatching and begins
with its mark.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPainterPath, QPen

from fleetbench.calc.core.languages import month_words, say, shown, worded
from fleetbench.calc.hires.availability import Strip, What
from fleetbench.calc.hires.promises import GONE, HireState
from fleetbench.window.hires.availability_rows import ChartRow
from fleetbench.window.look.marks import ADVISE, STOP, UNKNOWN, Mark, shape_path
from fleetbench.window.look.theme import CLOSE, GRID, TIGHT, Theme, font
from fleetbench.workshop.hires.availability import Availability, TypeDays

ROW = 9 * GRID
BAR_TOP, BAR = 5, 17
BAND_TOP, BAND = 25, 7
HEAD = 12 * GRID
FOOT = 11 * GRID
NAMES = 38 * GRID
FAR = date(2200, 1, 1)

BANDS: dict[What, tuple[str, Qt.BrushStyle, Mark]] = {
    What.HOLD: ("state_hold", Qt.BrushStyle.DiagCrossPattern, STOP),
    What.UNFIT: ("check_stop", Qt.BrushStyle.FDiagPattern, STOP),
    What.SERVICE: ("state_due_soon", Qt.BrushStyle.VerPattern, ADVISE),
    What.AWAY: ("state_unknown", Qt.BrushStyle.HorPattern, UNKNOWN),
    What.TURN_ROUND: ("muted", Qt.BrushStyle.BDiagPattern, UNKNOWN),
    What.CALCULATED: ("state_unknown", Qt.BrushStyle.Dense6Pattern, UNKNOWN),
}
WORDS = {
    What.HOLD: "hold",
    What.UNFIT: "unfit",
    What.SERVICE: "service",
    What.AWAY: "away",
    What.TURN_ROUND: "turn-round",
    What.CALCULATED: "being calculated",
}


@dataclass(frozen=True, slots=True)
class Ghost:
    """What is being moved or marked: its row, days, words, and whether it would be refused."""

    row: int
    first: int
    last: int
    words: str
    refused: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """What one painting is of: the rows, where they are scrolled to, the cursor and what is being moved."""

    shown: Availability
    rows: Sequence[ChartRow]
    types: Sequence[TypeDays]
    day_width: int
    left: int
    top: int
    width: int
    height: int
    cursor: tuple[int, int]
    focused: bool
    ghost: Ghost | None

    @property
    def foot(self) -> int:
        """Height of the lines of promised against fit units."""
        return FOOT * len(self.types)


class Painting:
    """One painting of a frame."""

    def __init__(self, painter: QPainter, theme: Theme, frame: Frame) -> None:
        self.p, self.theme, self.f = painter, theme, frame
        self.small, self.label = font("small"), font("label")
        self.metrics = QFontMetricsF(self.small)
        self._stop: QPainterPath | None = None
        self.body = QRectF(NAMES, HEAD, frame.width - NAMES, max(0, frame.height - HEAD - frame.foot))
        self.first = max(0, frame.left // frame.day_width)
        seen = int(self.body.width()) // frame.day_width + 2
        self.end = min(frame.shown.length, self.first + seen)
        self._tones = {name: theme.colour(name) for name in (
            "ink", "muted", "faint", "line", "edge", "accent", "on_accent", "raised", "surface", "sunken", "chosen",
            "ground_note", "ground_refused", "check_stop",
        )}  # fmt: skip

    def tone(self, name: str) -> QColor:
        return self._tones[name]

    def x(self, day: int) -> float:
        """Left edge of a day, counted from the first."""
        return NAMES + day * self.f.day_width - self.f.left

    def day_of(self, day: date) -> int:
        return (min(day, FAR) - self.f.shown.first).days

    def draw(self) -> None:
        """Everything that is seen."""
        p = self.p
        p.fillRect(0, 0, self.f.width, self.f.height, self.tone("raised"))
        p.save()
        p.setClipRect(self.body)
        self._weekends(self.body)
        self._today(self.body)
        begin = max(0, self.f.top // ROW)
        end = min(len(self.f.rows), begin + int(self.body.height()) // ROW + 2)
        for number in range(begin, end):
            self._row(number)
        self._cursor()
        p.restore()
        self._names(begin, end)
        self._foot()
        self._head()

    # rows

    def top_of(self, row: int) -> float:
        """Upper edge of a row."""
        return HEAD + row * ROW - self.f.top

    def _weekends(self, box: QRectF) -> None:
        for day in range(self.first, self.end):
            if (self.f.shown.first + timedelta(days=day)).weekday() >= 5:
                self.p.fillRect(QRectF(self.x(day), box.top(), self.f.day_width, box.height()), self.tone("surface"))

    def _row(self, number: int) -> None:
        row, top = self.f.rows[number], self.top_of(number)
        self.p.setPen(QPen(self.tone("line"), 1))
        self.p.drawLine(QPointF(NAMES, top + ROW - 0.5), QPointF(self.f.width, top + ROW - 0.5))
        taken = self._seen(row.strips)
        for band in row.painted:
            self._band(band, top)
        said: list[QRectF] = [self._span(each, top + BAR_TOP, BAR) for each in taken]
        for band in reversed(row.painted):
            self._band_word(band, top, said)
        for strip in taken:
            if row.tag is not None and strip.state is not HireState.BACK:
                self._turn_round(strip, row, top)
        for strip in taken:
            self._booking(strip, top)

    def _seen(self, strips: Sequence[Strip]) -> list[Strip]:
        last = self.f.shown.first + timedelta(days=self.end)
        until = bisect_right(strips, last, key=lambda each: each.first)
        begin = self.f.shown.first + timedelta(days=self.first)
        return [each for each in strips[:until] if each.last >= begin - timedelta(days=3)]

    def _span(self, strip: Strip, top: float, height: float) -> QRectF:
        left, right = self.x(self.day_of(strip.first)), self.x(self.day_of(strip.last) + 1)
        return QRectF(max(left, NAMES - 40.0), top, min(right, self.f.width + 40.0) - max(left, NAMES - 40.0), height)

    def _band(self, band: Strip, top: float) -> None:
        tone, pattern, mark = BANDS[band.what]
        box = self._span(band, top + BAND_TOP, BAND)
        if box.right() < NAMES or box.left() > self.f.width or box.width() <= 0:
            return
        self.p.fillRect(box, self.tone("raised"))
        self.p.fillRect(box, QBrush(self.theme.colour(tone), pattern))
        self.p.setPen(QPen(self.theme.colour(tone), 1))
        self.p.drawLine(box.topLeft(), box.topRight())
        left = max(box.left(), float(NAMES))
        side = 11.0
        self.p.fillRect(QRectF(left, top + BAND_TOP - 3, side + 3, BAND + 4), self.tone("raised"))
        self.p.fillPath(
            shape_path(mark.shape, QRectF(left + 1, top + BAND_TOP - 2, side, side)), self.theme.colour(tone)
        )

    def _band_word(self, band: Strip, top: float, said: list[QRectF]) -> None:
        """The band's word where it begins, unless a booking or the word of a graver band stands there."""
        words, box = worded(WORDS[band.what]), self._span(band, top + BAND_TOP, BAND)
        left = max(box.left(), float(NAMES))
        room = QRectF(left + 2, top + BAR_TOP, self.metrics.horizontalAdvance(words) + CLOSE, BAR)
        if box.right() > left and box.left() < self.f.width and not any(each.intersects(room) for each in said):
            self._text(room, words, self.theme.colour(BANDS[band.what][0]))
            said.append(room)

    def _turn_round(self, strip: Strip, row: ChartRow, top: float) -> None:
        left = self.x(self.day_of(strip.last) + 1)
        width = (row.nights - 1) * self.f.day_width + max(3.0, 0.3 * self.f.day_width) if row.nights else 0.0
        if width and left < self.f.width and left + width > NAMES:
            box = QRectF(left, top + BAR_TOP + 2, width, BAR - 4)
            self.p.fillRect(box, QBrush(self.tone("muted"), Qt.BrushStyle.BDiagPattern))

    def _booking(self, strip: Strip, top: float) -> None:
        box = self._span(strip, top + BAR_TOP, BAR).adjusted(1, 0, -1, 0)
        if box.right() < NAMES or box.left() > self.f.width:
            return
        filled = strip.state in GONE
        ground = self.tone("accent" if filled else "sunken" if strip.state is HireState.BACK else "chosen")
        if box.width() < 16 and strip.what is not What.WAITING:
            # So small, an outline is all that is seen of a shape, and paths are what costs.
            self.p.fillRect(box, self.tone("edge" if strip.state is HireState.BACK else "accent"))
            if not filled:
                self.p.fillRect(box.adjusted(1, 1, -1, -1), ground)
            return
        path = bar_path(strip.what, box)
        if strip.what is What.WAITING:
            self.p.fillPath(path, self.tone("raised"))
            self.p.strokePath(path, QPen(self.tone("accent"), 1, Qt.PenStyle.DashLine))
        else:
            self.p.fillPath(path, ground)
            self.p.strokePath(path, QPen(self.tone("edge" if strip.state is HireState.BACK else "accent"), 1))
        if strip.what is What.COURSE and box.width() > 3:
            line = self.tone("on_accent" if filled else "accent")
            self.p.fillRect(QRectF(box.left() + 1.5, box.top() + 2, box.width() - 3, 1.5), line)
        inside = QRectF(max(box.left(), float(NAMES)), box.top(), 0, BAR)
        inside.setRight(min(box.right(), float(self.f.width)))
        ink = self.tone("on_accent" if filled else "muted" if strip.state is HireState.BACK else "ink")
        if strip.state is HireState.LATE and inside.width() > 14:
            self.p.fillPath(shape_path(STOP.shape, QRectF(inside.left() + 3, inside.top() + 3, 11, 11)), ink)
            inside.setLeft(inside.left() + 14)
        words = say("late, {strip}", strip=strip.text) if strip.state is HireState.LATE else strip.text
        if strip.lacking:
            words = say("{lacking} for {words}", lacking=strip.lacking, words=words)
        self._text(inside.adjusted(TIGHT, 0, -2, 0), words, ink)

    def _text(self, box: QRectF, words: str, ink: QColor) -> None:
        """Words in a box, cut where they do not fit, nothing where fewer than three letters would."""
        words = shown(words)
        if box.width() < 34 and self.metrics.averageCharWidth() * len(words) > box.width():
            return
        self.p.setFont(self.small)
        self.p.setPen(ink)
        if self.metrics.horizontalAdvance(words) > box.width():
            words = self.metrics.elidedText(words, Qt.TextElideMode.ElideRight, box.width())
            if len(words) < 5:
                return
        self.p.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)

    def _today(self, box: QRectF) -> None:
        x = self.x(self.day_of(self.f.shown.today)) + 0.5
        if NAMES <= x <= self.f.width:
            self.p.setPen(QPen(self.tone("accent"), 1.5))
            self.p.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))

    def _cursor(self) -> None:
        row, day = self.f.cursor
        ghost = self.f.ghost
        if ghost is not None:
            box = QRectF(self.x(ghost.first), self.top_of(ghost.row) + BAR_TOP - 1,
                         (ghost.last - ghost.first + 1) * self.f.day_width, BAR + 2)  # fmt: skip
            tone = self.tone("check_stop" if ghost.refused else "accent")
            self.p.fillRect(box, self.tone("ground_refused" if ghost.refused else "ground_note"))
            self.p.setPen(QPen(tone, 2, Qt.PenStyle.DashLine if ghost.refused else Qt.PenStyle.SolidLine))
            self.p.drawRect(box)
            self._text(box.adjusted(CLOSE, 0, 0, 0), ghost.words, self.tone("ink"))
        elif self.f.focused and row < len(self.f.rows):
            self.p.setPen(QPen(self.tone("accent"), 2))
            self.p.setBrush(Qt.BrushStyle.NoBrush)
            self.p.drawRect(QRectF(self.x(day) + 1, self.top_of(row) + 1, self.f.day_width - 1, ROW - 3))

    def _names(self, begin: int, end: int) -> None:
        p = self.p
        p.save()
        p.setClipRect(QRectF(0, HEAD, NAMES, self.body.height()))
        p.fillRect(QRectF(0, HEAD, NAMES, self.body.height()), self.tone("raised"))
        for number in range(begin, end):
            row, top = self.f.rows[number], self.top_of(number)
            if number == self.f.cursor[0] and self.f.focused:
                p.fillRect(QRectF(0, top, NAMES - 1, ROW - 1), self.tone("chosen"))
            p.setPen(QPen(self.tone("line"), 1))
            p.drawLine(QPointF(0, top + ROW - 0.5), QPointF(NAMES, top + ROW - 0.5))
            left = float(CLOSE)
            gravest = next((each for each in row.bands_on(self.f.shown.today) if each.stops), None)
            if gravest is not None:
                tone, _pattern, mark = BANDS[gravest.what]
                p.fillPath(shape_path(mark.shape, QRectF(left, top + 12, 12, 12)), self.theme.colour(tone))
            left += 18 if row.tag is not None else 0
            p.setFont(self.label if row.tag is not None else self.small)
            p.setPen(self.tone("ink" if row.tag is not None else "muted"))
            metrics = QFontMetricsF(p.font())
            words = metrics.elidedText(shown(row.label), Qt.TextElideMode.ElideRight, NAMES - left - CLOSE)
            p.drawText(QRectF(left, top, NAMES - left, ROW), Qt.AlignmentFlag.AlignVCenter, words)
        p.restore()
        p.setPen(QPen(self.tone("edge"), 1))
        p.drawLine(QPointF(NAMES - 0.5, HEAD), QPointF(NAMES - 0.5, self.f.height))

    # head and foot

    def _head(self) -> None:
        p, width = self.p, self.f.day_width
        p.fillRect(QRectF(0, 0, self.f.width, HEAD), self.tone("raised"))
        p.save()
        p.setClipRect(QRectF(NAMES, 0, self.f.width - NAMES, HEAD))
        p.setFont(self.label)
        label = QFontMetricsF(self.label)
        free = float(NAMES)
        for day in range(self.first, self.end):
            at = self.f.shown.first + timedelta(days=day)
            x = self.x(day)
            if at.day == 1 or day == self.first:
                words = month_words(at, "LLLL y" if width >= 5 else "LLL")
                left = max(x, float(NAMES)) + TIGHT
                after = (date(at.year + at.month // 12, at.month % 12 + 1, 1) - at).days
                if left >= free and left + label.horizontalAdvance(words) < self.x(day + after):
                    p.setFont(self.label)
                    p.setPen(self.tone("ink"))
                    p.drawText(QRectF(left, 2, 200, 20), Qt.AlignmentFlag.AlignVCenter, words)
                    free = left + label.horizontalAdvance(words) + CLOSE
            self._day_number(at, x)
        x = self.x(self.day_of(self.f.shown.today))
        p.setPen(QPen(self.tone("accent"), 1.5))
        p.drawLine(QPointF(x + 0.5, HEAD - 24), QPointF(x + 0.5, HEAD))
        p.restore()
        p.setPen(QPen(self.tone("edge"), 1))
        p.drawLine(QPointF(0, HEAD - 0.5), QPointF(self.f.width, HEAD - 0.5))

    def _day_number(self, at: date, x: float) -> None:
        p, width = self.p, self.f.day_width
        monday = at.weekday() == 0
        if width < 20 and not (monday and width >= 4):
            return
        p.setFont(self.small)
        p.setPen(self.tone("ink" if at == self.f.shown.today else "muted"))
        if monday or width >= 20:
            words = f"{month_words(at, 'ccc')[:2]} {at.day}" if width >= 36 else str(at.day)
            box = QRectF(x, HEAD - 24, max(width, 20), 22)
            across = Qt.AlignmentFlag.AlignHCenter if width >= 20 else Qt.AlignmentFlag.AlignLeft
            p.drawText(box, Qt.AlignmentFlag.AlignVCenter | across, words)
        if monday:
            p.setPen(QPen(self.tone("line"), 1))
            p.drawLine(QPointF(x, HEAD - 22), QPointF(x, HEAD))

    def _foot(self) -> None:
        p = self.p
        top = float(self.f.height - self.f.foot)
        p.fillRect(QRectF(0, top, self.f.width, self.f.foot), self.tone("surface"))
        for number, kind in enumerate(self.f.types):
            self._counts(kind, top + number * FOOT)
        p.setPen(QPen(self.tone("edge"), 1))
        p.drawLine(QPointF(0, top + 0.5), QPointF(self.f.width, top + 0.5))

    def _counts(self, kind: TypeDays, top: float) -> None:
        """Promised units as columns, fit units as a line; a day that is short is marked and numbered."""
        p, width = self.p, self.f.day_width
        height, base = FOOT - 19.0, top + FOOT - 3
        most = max(1, max((max(each.units, each.promised) for each in kind.days), default=1))
        p.save()
        p.setClipRect(QRectF(NAMES, top, self.f.width - NAMES, FOOT))
        steps = QPainterPath()
        for day in range(self.first, self.end):
            count, x = kind.days[day], self.x(day)
            if count.promised:
                tall = height * count.promised / most
                p.fillRect(QRectF(x + 0.5, base - tall, max(1.0, width - 1), tall),
                           self.tone("ground_refused" if count.short else "chosen"))  # fmt: skip
                p.fillRect(QRectF(x + 0.5, base - tall, max(1.0, width - 1), 1.5),
                           self.tone("check_stop" if count.short else "accent"))  # fmt: skip
            if count.fit is None:
                continue
            y = base - height * count.fit / most
            (steps.moveTo if day == self.first else steps.lineTo)(QPointF(x, y))
            steps.lineTo(QPointF(x + width, y))
            if count.short:
                self._short(x, top, count.short)
            elif width >= 30 and count.promised:
                words = f"{count.promised}/{count.fit}"
                if self.metrics.horizontalAdvance(words) <= width - 2:
                    p.setFont(self.small)
                    p.setPen(self.tone("muted"))
                    p.drawText(QRectF(x, top + 1, width, 14), Qt.AlignmentFlag.AlignCenter, words)
        p.strokePath(steps, QPen(self.tone("ink"), 1.5))
        p.restore()
        p.setPen(self.tone("ink"))
        p.setFont(self.label)
        name = QFontMetricsF(self.label).elidedText(kind.name, Qt.TextElideMode.ElideRight, NAMES - 2 * CLOSE)
        p.drawText(QRectF(CLOSE, top + 3, NAMES - CLOSE, 18), Qt.AlignmentFlag.AlignVCenter, name)
        p.setPen(self.tone("muted"))
        p.setFont(self.small)
        p.drawText(
            QRectF(CLOSE, top + 21, NAMES - CLOSE, 18), Qt.AlignmentFlag.AlignVCenter, worded("promised against fit")
        )
        p.setPen(QPen(self.tone("line"), 1))
        p.drawLine(QPointF(0, top + FOOT - 0.5), QPointF(self.f.width, top + FOOT - 0.5))

    def _short(self, x: float, top: float, units: int) -> None:
        width = self.f.day_width
        side = min(10.0, max(4.0, width - 2.0))
        tone = self.tone("check_stop")
        if self._stop is None:
            self._stop = shape_path(STOP.shape, QRectF(0, 0, side, side))
        self.p.fillPath(self._stop.translated(x + 1, top + 2), tone)
        if width >= 30:
            self.p.setFont(self.small)
            self.p.setPen(tone)
            box = QRectF(x + side + 3, top, width - side - 3, 14)
            self.p.drawText(box, Qt.AlignmentFlag.AlignVCenter, f"−{units}")


def bar_path(what: What, box: QRectF) -> QPainterPath:
    """The outline of a booking's bar: round ends for a hire, square for a course, a notch for a try day."""
    path = QPainterPath()
    if what is What.COURSE or box.width() < 6:
        path.addRect(box)
    elif what is What.TRY_DAY:
        path.moveTo(box.topLeft())
        path.lineTo(box.topRight())
        path.lineTo(box.right() - 4, box.center().y())
        path.lineTo(box.bottomRight())
        path.lineTo(box.bottomLeft())
        path.closeSubpath()
    else:
        path.addRoundedRect(box, 7, 7)
    return path
