"""Parts: the page of one part with its limits of life, where it has been, its tests and its holds.

A part's whole life as a line of time: where it sat, what was read, today, and its last good day.

The table under it says the same in words, for whoever reads by keyboard.
"""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from itertools import groupby
from pathlib import Path
from zoneinfo import ZoneInfo

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, say_count, shown, strung, worded
from fleetbench.calc.hires.log import READINGS, dive_words
from fleetbench.calc.parts.condition import PartCondition
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.parts.life import LastGoodDay
from fleetbench.records.hires.reads import LogReadingRecord
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.detail.record_page import RecordPage, with_photographs
from fleetbench.window.gas.acts import PartTests
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.marks import HOLD, Mark, mark_for, shape_path
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, font
from fleetbench.window.look.words import NONE, day, figure, moment, projected_day, said, spaced
from fleetbench.window.parts.fit import FitDesk
from fleetbench.window.parts.shelf import PartBar
from fleetbench.window.shell.background import Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.parts import list as parts
from fleetbench.workshop.parts.list import FittingLine, PartHappening, PartPage, PartStory, part_story

LEFT = 22 * GRID
ROW = 7 * GRID
ROWS = ("Marks", say("Sat in"), "Readings")
TODAY = "today"
_MARK = 12.0


class LifeTimeline(QWidget):
    """Paints one PartStory; nothing until there is one."""

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._zone = theme, zone
        self.story: PartStory | None = None
        self.setFixedHeight(len(ROWS) * ROW + 14 * GRID)
        self.setAccessibleName(worded("time line"))
        theme.changed.connect(self._on_theme_changed)

    def show_story(self, story: PartStory) -> None:
        """Draw this life."""
        self.story = story
        self.setToolTip(as_plain_tip(spoken(story)))
        self.setAccessibleDescription(shown(spoken(story)))
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
    last = (
        say("last valid day {last_good_day}", last_good_day=story.last_good_day)
        if story.last_good_day
        else say("no last valid day is known")
    )
    sat = say_count("sat in {count} place", "sat in {count} places", len(story.stays))
    return say(
        "From {begins} to today, {today}: {sat}, {count} readings, {last}.",
        begins=story.begins,
        today=story.today,
        sat=sat,
        count=len(story.readings),
        last=last,
    )


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
        self._day(self.story.today, worded(TODAY), "muted", Qt.PenStyle.DashLine)
        end = self.story.last_good_day
        if end is not None:
            past = end < self.story.today
            self._day(end, shown(last_words(end)), "state_hold" if past else "accent", Qt.PenStyle.SolidLine)

    def _axis(self) -> None:
        self.p.setFont(font("small"))
        self.p.setPen(self.theme.colour("muted"))
        for number, words in enumerate(ROWS):
            room = QRectF(0, self.y(number), LEFT - CLOSE, ROW)
            self.p.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, worded(words))
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
            words = metrics.elidedText(shown(stay.where), Qt.TextElideMode.ElideRight, bar.width() - CLOSE)
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
    return say("last valid day {day}", day=day)


def _word(line: PartHappening) -> str:
    """The first word or two of an event."""
    return shown(line.words).split(":")[0].split(",")[0]


def record_page(context: PageContext) -> "PartRecordPage":
    """The page of one part."""
    return PartRecordPage(context)


class PartRecordPage(RecordPage):
    """The page of one part: its acts and its line of time stand above what is known of it."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._workplace, self._zone = context.workplace, context.zone
        super().__init__(context.theme, context.background, self._load_part, parent)
        self.desk = PartBar(context, receives=False, parent=self)
        self.line = LifeTimeline(context.theme, context.zone, self)
        self.exports = ExportRow(context.theme, context.background, "return", (".pdf",), self._writer, self)
        self.exports.buttons["print"].setText(worded("Print return…"))
        self.exports.hide()
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)
        self._stories = Refresher(context.background, self)
        self.fitting = FitDesk(context, parent=self)
        self.fitting.buttons["fit"].setText(worded("Replace"))
        self.fitting.hide()
        self.content.insertWidget(2, self.desk)
        self.desk.put_first(self.fitting)
        self.content.insertWidget(4, self.line)
        self.fitting.changed.connect(self._on_changed)
        self.fitting.refused.connect(self.banner.say_refused)
        self.fitting.left.connect(self.focus_first)
        self._stories.loaded.connect(self.show_story)
        self._stories.refused.connect(self.banner.say_refused)
        self.desk.changed.connect(self._on_changed)
        self.desk.refused.connect(self.banner.say_refused)
        self.desk.left.connect(self.focus_first)
        self.tests = PartTests(context, self)
        self.content.insertWidget(3, self.tests)
        self.tests.changed.connect(self._on_changed)
        self.tests.left.connect(self.focus_first)

    def refresh(self) -> None:
        """Load the part and its life again."""
        super().refresh()
        if self.key is not None:
            workplace, part_id = self._workplace, int(self.key)
            self._stories.ask(lambda: part_story(workplace, part_id))

    @Slot(object)
    def show_story(self, story: PartStory) -> None:
        """Draw its life and offer what its state allows."""
        self.line.show_story(story)
        self.desk.choose_parts([(story.part_id, story.part)], story.can)
        self.tests.choose_part(story.part_id, story.part, story.state)
        self.fitting.show_unit(story.unit or "", story.slot or "")
        self.fitting.setVisible(story.unit is not None)
        self.exports.setVisible(story.state == PartState.SENT_BACK)

    def _writer(self) -> Callable[[Path], object]:
        workplace, part_id = self._workplace, int(self.key or 0)

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.printing import print_return

            print_return(workplace, part_id, path)

        return write

    def _load_part(self, key: str) -> Detail:
        workplace = self._workplace
        story = part_story(workplace, int(key))
        detail = part_detail(parts.part_page(workplace, int(key)), self._zone, workplace.today(), story)
        return with_photographs(detail, workplace, self._zone, part_id=int(key))

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.refresh()
        self.banner.say_note(words)


def part_detail(page: PartPage, zone: ZoneInfo, today: date, story: PartStory | None = None) -> Detail:
    """Everything on one part's page; story: what happened to it, newest first."""
    return Detail(
        page.part.label,
        strung(", ", (page.kind.name, spaced(page.kind.kind))),
        (
            condition_mark(page.condition),
            *(HOLD.worded(say("hold: {reason}", reason=reason)) for reason in page.holds),
        ),
        (
            _now(page, today),
            _made(page),
            Section(
                "Units it has been in",
                tuple(Fact("", tag, leads_to=PageKey("units", tag)) for tag in page.units_touched),
                "It has not been in any unit.",
            ),
            limits_table(page.limits, today),
            fittings_table(page.fittings, zone),
            Table(
                "Tests and services",
                ("Done", "Kind", "Result", "By"),
                tuple(
                    Line(
                        (
                            day(test.done_on),
                            spaced(test.kind),
                            say("pass") if test.passed else say("failed"),
                            said(test.done_by),
                        ),
                        mark_for("pass" if test.passed else "failed"),
                    )
                    for test in page.tests
                ),
                "No periodic test or service is recorded.",
                mark_column=2,
            ),
            *((story_table(story, zone),) if story is not None else ()),
        ),
    )


def story_table(story: PartStory, zone: ZoneInfo) -> Table:
    """The whole life in words, newest first."""
    return Table(
        "Its whole life",
        ("When", "What", "Result", "By"),
        tuple(
            Line(
                (
                    day(line.at.astimezone(zone).date()) if line.marked else moment(line.at, zone),
                    line.words,
                    said(line.result, NONE),
                    said(line.person, NONE),
                ),
                mark_for(line.result) if line.result else None,
            )
            for line in story.lines
        ),
        "Nothing is recorded of it.",
        mark_column=2,
    )


def limit_mark(line: LastGoodDay, today: date) -> Mark:
    """Whether a limit is past; one without a day is not known, unless no end is expected."""
    if line.day is None:
        return mark_for("good").worded(line.state) if line.state == "open ended" else mark_for("unknown")
    return mark_for("past" if line.day < today else "good")


def limits_table(limits: Sequence[LastGoodDay], today: date) -> Table:
    """Every limit of life with its calculation and source."""
    return Table(
        "Limits of life",
        ("Counts from", "State", "Last valid day", "Limit", "Calculation", "Source"),
        tuple(
            Line(
                (
                    spaced(line.basis),
                    limit_mark(line, today).word,
                    projected_day(line.day, projected=line.projected),
                    line.limit.describe(),
                    line.why,
                    line.limit.source,
                ),
                limit_mark(line, today),
            )
            for line in limits
        ),
        "No limit of life is recorded for its part type.",
        mark_column=1,
    )


def fittings_table(fittings: Sequence[FittingLine], zone: ZoneInfo) -> Table:
    """Where a part has been, newest first, and why it came out."""
    return Table(
        "Where it has been",
        ("From", "To", "Unit", "Slot", "Reason for removal"),
        tuple(
            Line(
                (
                    moment(line.fitted_at, zone),
                    moment(line.removed_at, zone, say("still there")),
                    said(line.unit, said(line.host, NONE)),
                    line.slot,
                    said(line.why_removed, NONE),
                ),
                leads_to=PageKey("units", line.unit) if line.unit else None,
            )
            for line in fittings
        ),
        "It has not been fitted anywhere.",
    )


def readings_table(readings: Sequence[LogReadingRecord], zone: ZoneInfo, empty: str) -> Table:
    """What renters read of one part, newest dive first: a line a dive and handset; it calibrates nothing."""
    kinds = [name for name in READINGS if any(each.quantity == name for each in readings)]
    with_handset = any(each.handset for each in readings)
    dives: dict[tuple[int, int], list[Line]] = {}
    for (line, dive, handset), group in groupby(readings, key=lambda each: (each.line_id, each.dive, each.handset)):
        of_one = {each.quantity: each for each in group}
        first = next(iter(of_one.values()))
        figures = [READINGS[name].told(of_one[name].value) if name in of_one else NONE for name in kinds]
        noted = strung("; ", (each.note for each in of_one.values() if each.note))
        shown = [said(handset, NONE)] if with_handset else []
        when = dive_words(first.on_day, first.started_at, zone)
        cells = (when, *shown, *figures, first.booking, first.unit, said(noted, NONE))
        dives.setdefault((line, dive), []).append(Line(cells))
    titles = [strung(" ", (gas, *when)) for gas, _unit, *when in map(str.split, kinds)]
    return Table(
        "Renters' readings, no calibration",
        (
            "Dive",
            *(["Handset"] if with_handset else []),
            *(each[0].upper() + each[1:] for each in titles),
            "Hire",
            "Unit",
            "Remark",
        ),
        tuple(line for lines in reversed(dives.values()) for line in lines),
        empty,
    )


def life_mark(limits: Sequence[LastGoodDay], today: date) -> Mark:
    """The worst of all limits: past before not known, not known before good; none recorded is said so."""
    marks = [limit_mark(line, today) for line in limits]
    return max(marks, key=lambda mark: mark.rank, default=mark_for("no limit recorded"))


def condition_mark(found: PartCondition) -> Mark:
    """The mark of a part's condition, the same on every list and page."""
    return mark_for(found.state)


def condition_facts(found: PartCondition) -> tuple[Fact, ...]:
    """The condition in a word, and all that its records say of it."""
    mark = condition_mark(found)
    why = found.why or (say("nothing stands against it"),)
    return (Fact("Condition", why[0], mark, strung("; ", why[1:])),)


def _now(page: PartPage, today: date) -> Section:
    where = strung(", ", (page.unit, said(page.slot))) if page.unit else said(page.lies.place)
    return Section(
        "Now",
        (
            *condition_facts(page.condition),
            Fact("State", say("set aside") if page.part.state == PartState.QUARANTINE else spaced(page.part.state)),
            Fact("Where", where, leads_to=PageKey("units", page.unit) if page.unit else None),
            Fact(
                "Last valid day",
                day(page.last_good_day),
                life_mark(page.limits, today),
                say("set by {basis}", basis=spaced(page.basis)),
            ),
            Fact("Owner", page.lies.owner),
            Fact("Hours, dives, hires", strung(", ", (figure(page.hours, "h"), str(page.dives), str(page.hires)))),
        ),
    )


def _made(page: PartPage) -> Section:
    return Section(
        "As marked",
        (
            Fact("Serial", said(page.part.serial)),
            Fact("Lot", said(page.part.lot)),
            Fact("Made", said(page.made)),
            Fact("Opened", said(page.opened)),
            Fact("Received", day(page.part.received_on)),
            *((Fact("Firmware", page.part.firmware),) if page.part.firmware else ()),
        ),
    )
