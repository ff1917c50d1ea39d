"""A part's whole life as a line of time: where it sat, what was read, today, and its last good day.

The table under it says the same in words, for whoever reads by keyboard.
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from fleetbench.window.look.marks import mark_for, shape_path
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, font
from fleetbench.workshop.parts.history import PartStory, StoryLine

LEFT = 22 * GRID
ROW = 7 * GRID
ROWS = ("Marks", "Sat in", "Readings")
TODAY = "today"
_MARK = 12.0


class LifeLine(QWidget):
    """Paints one PartStory; nothing until there is one."""

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._zone = theme, zone
        self.story: PartStory | None = None
        self.setFixedHeight(len(ROWS) * ROW + 14 * GRID)
        self.setAccessibleName("time line")
        theme.changed.connect(self._on_theme_changed)

    def show_story(self, story: PartStory) -> None:
        """Draw this life."""
        self.story = story
        self.setToolTip(spoken(story))
        self.setAccessibleDescription(spoken(story))
        self.update()

    @Slot()
    def _on_theme_changed(self) -> None:
        self.update()

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(200 * GRID, self.height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        if self.story is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        _Drawing(painter, self._theme, self._zone, self.story, QRectF(self.rect())).draw()
        painter.end()


def spoken(story: PartStory) -> str:
    """The line in one sentence."""
    last = f"last good day {story.last_good_day}" if story.last_good_day else "no last good day is known"
    sat = f"sat in {len(story.stays)} {'place' if len(story.stays) == 1 else 'places'}"
    return f"From {story.begins} to today, {story.today}: {sat}, {len(story.readings)} readings, {last}."


class _Drawing:
    """One painting: the span of days, and everything placed in it."""

    def __init__(self, painter: QPainter, theme: Theme, zone: ZoneInfo, story: PartStory, box: QRectF) -> None:
        self.p, self.theme, self.zone, self.story = painter, theme, zone, story
        last = max(story.today, min(story.last_good_day or story.today, story.today + timedelta(days=1100)))
        width = max(30, (last - story.begins).days)
        self.first, self.last = story.begins - timedelta(days=width // 40 + 1), last + timedelta(days=width // 14 + 2)
        self.box = box.adjusted(LEFT, 5 * GRID, -APART, -6 * GRID)

    def x(self, at: datetime | date) -> float:
        if not isinstance(at, datetime):
            at = datetime.combine(at, time(), tzinfo=self.zone)
        start = datetime.combine(self.first, time(), tzinfo=self.zone)
        share = (at - start).total_seconds() / ((self.last - self.first).days * 86_400)
        return self.box.left() + min(1.0, max(0.0, share)) * self.box.width()

    def y(self, row: int) -> float:
        return self.box.top() + row * ROW

    def draw(self) -> None:
        self._axis()
        self._stays()
        self._readings()
        self._marks()
        self._day(self.story.today, TODAY, "muted", Qt.PenStyle.DashLine)
        end = self.story.last_good_day
        if end is not None:
            past = end < self.story.today
            self._day(end, last_words(end), "state_hold" if past else "accent", Qt.PenStyle.SolidLine)

    def _axis(self) -> None:
        self.p.setFont(font("small"))
        self.p.setPen(self.theme.colour("muted"))
        for number, words in enumerate(ROWS):
            room = QRectF(0, self.y(number), LEFT - CLOSE, ROW)
            self.p.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, words)
        floor = self.y(len(ROWS))
        step = next((n for n in (1, 2, 3, 6, 12, 24) if self._months() / n * 13 * GRID < self.box.width()), 36)
        month = self.first.replace(day=1)
        while month <= self.last:
            if month >= self.first and (month.year * 12 + month.month - 1) % step == 0:
                x = self.x(month)
                self.p.setPen(QPen(self.theme.colour("line"), 1))
                self.p.drawLine(QPointF(x, self.box.top()), QPointF(x, floor + TIGHT))
                self.p.setPen(self.theme.colour("muted"))
                under = QRectF(x - 40, floor + TIGHT, 80, 4 * GRID)
                self.p.drawText(under, Qt.AlignmentFlag.AlignHCenter, f"{month:%Y-%m}")
            month = (month.replace(day=28) + timedelta(days=5)).replace(day=1)

    def _months(self) -> int:
        return (self.last.year - self.first.year) * 12 + self.last.month - self.first.month + 1

    def _stays(self) -> None:
        metrics = QFontMetricsF(font("small"))
        today = datetime.combine(self.story.today, time(23, 59), tzinfo=self.zone)
        for stay in self.story.stays:
            left, right = self.x(stay.since), self.x(stay.until or today)
            bar = QRectF(left, self.y(1) + 4, max(2.0, right - left), ROW - 8)
            self.p.fillRect(bar, self.theme.colour("chosen"))
            self.p.setPen(QPen(self.theme.colour("edge"), 1))
            self.p.drawRect(bar)
            words = metrics.elidedText(stay.where, Qt.TextElideMode.ElideRight, bar.width() - CLOSE)
            if bar.width() > 8 * GRID:
                self.p.setPen(self.theme.colour("ink"))
                inside = bar.adjusted(TIGHT, 0, 0, 0)
                self.p.drawText(inside, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, words)

    def _readings(self) -> None:
        for line in self.story.lines:
            if line.result is None:
                continue
            mark = mark_for(line.result)
            centre = QPointF(self.x(line.at), self.y(2) + ROW / 2)
            box = QRectF(centre.x() - _MARK / 2, centre.y() - _MARK / 2, _MARK, _MARK)
            self.p.fillPath(shape_path(mark.shape, box), self.theme.colour(mark.tone))

    def _marks(self) -> None:
        """Made, received, opened and other events, each with its word where there is room."""
        metrics = QFontMetricsF(font("small"))
        free = self.box.left() - 1
        middle = self.y(0) + ROW / 2
        for line in sorted(self.story.lines, key=lambda each: each.at):
            if line.kind not in ("life", "event"):
                continue
            x, words = self.x(line.at), _word(line)
            self.p.setPen(QPen(self.theme.colour("ink"), 2))
            self.p.drawLine(QPointF(x, middle + 5), QPointF(x, middle + 13))
            if x > free and x + CLOSE + metrics.horizontalAdvance(words) < self.box.right():
                self.p.setPen(self.theme.colour("ink"))
                self.p.drawText(QPointF(x, middle + 2), words)
                free = x + CLOSE + metrics.horizontalAdvance(words)

    def _day(self, day: date, words: str, tone: str, style: Qt.PenStyle) -> None:
        x = self.x(day)
        self.p.setPen(QPen(self.theme.colour(tone), 1.5, style))
        self.p.drawLine(QPointF(x, self.box.top() - TIGHT), QPointF(x, self.y(len(ROWS))))
        self.p.setFont(font("label"))
        self.p.drawText(QPointF(self._left_of(x, words), self.box.top() - CLOSE), words)
        self.p.setFont(font("small"))

    def _left_of(self, x: float, words: str) -> float:
        """Where a day's words begin: over its line; 'today' gives way to the last good day's."""
        width = QFontMetricsF(font("label")).horizontalAdvance(words)
        left = min(max(self.box.left(), x - width / 2), self.box.right() - width)
        end = self.story.last_good_day
        if words != TODAY or end is None:
            return left
        other_words = last_words(end)
        other = self._left_of(self.x(end), other_words)
        apart = left + width + CLOSE <= other or left >= other + CLOSE + QFontMetricsF(font("label")).horizontalAdvance(
            other_words
        )
        if apart:
            return left
        after = other + QFontMetricsF(font("label")).horizontalAdvance(other_words) + CLOSE
        if end < self.story.today and after + width <= self.box.right() + APART:
            return after
        return max(self.box.left(), other - width - CLOSE)


def last_words(day: date) -> str:
    """What stands over the last good day."""
    return f"last good day {day}"


def _word(line: StoryLine) -> str:
    """The first word or two of an event."""
    return line.words.split(":")[0].split(",")[0]
