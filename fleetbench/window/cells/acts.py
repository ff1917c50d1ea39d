"""What the list of cells opens: which stock cells to fit where, and how long cells of each type and lot last."""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QDialog, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.window.cells.plots import LifeCard
from fleetbench.window.detail.detail import Line, Table
from fleetbench.window.detail.view import part_view
from fleetbench.window.look.buttons import Banner, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.look.words import day, said
from fleetbench.window.shell.background import Background, Job, Refresher
from fleetbench.workshop.cells.cell_lives import LifeLine, life_of_cells
from fleetbench.workshop.cells.spread import Spread, SpreadLine, propose_spread
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import Fitted, fit_part

_SIZE = (230 * GRID, 170 * GRID)
CAUTION = say(
    "The maker's manual decides which cells suit a head. After fitting: calibrate, and test as after any opening."
)


class _Sheet(QDialog):
    """A title, a sentence, a banner, and what was loaded below them."""

    def __init__(self, theme: Theme, background: Background, title: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle(shown(title))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(*_SIZE)
        self.theme, self._background = theme, background
        self.summary: QLabel = text_label("", "body", self)
        self.summary.setWordWrap(True)
        self.banner = Banner(theme, self)
        self._scroll = QScrollArea(self)
        self._scroll.setWidgetResizable(True)
        self._scroll.setAccessibleName(shown(title))
        self.leave_button = quiet_button(theme, "Close", "", self)
        feet = QHBoxLayout()
        feet.addWidget(self.leave_button)
        feet.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(title, "title", self))
        layout.addWidget(self.summary)
        layout.addWidget(self.banner)
        layout.addWidget(self._scroll, 1)
        layout.addLayout(feet)
        self.leave_button.clicked.connect(self.reject)
        self._loader = Refresher(background, self)
        self._loader.refused.connect(self.banner.say_refused)

    def _fresh(self) -> tuple[QWidget, QVBoxLayout]:
        body = QWidget()
        body.setObjectName("scrolled")
        whole = QVBoxLayout(body)
        whole.setSpacing(CLOSE)
        return body, whole


class SpreadDialog(_Sheet):
    """The proposal as a list, each line with its own act.

    Signals:
        fitted: words on what was fitted where.
    """

    fitted = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("Which stock cells to fit where"), parent)
        self._workplace = workplace
        self._job: Job | None = None
        self.plan: Spread | None = None
        self._loader.loaded.connect(self.show_plan)
        self.ask()

    def ask(self) -> None:
        """Calculate the proposal again."""
        self._loader.ask(partial(propose_spread, self._workplace))

    @Slot(object)
    def show_plan(self, plan: Spread) -> None:
        """Show this proposal."""
        self.plan = plan
        self.summary.setText(shown(strung(" ", (plan.words, CAUTION)) if plan.lines else plan.words))
        body, whole = self._fresh()
        for line in plan.lines:
            whole.addLayout(self._row(line, body))
        for sentence in plan.empty:
            whole.addWidget(_wrapped(sentence, body))
        if plan.left_out:
            whole.addWidget(
                _wrapped(say("Left out of the stock: {left_out}.", left_out=strung("; ", plan.left_out)), body)
            )
        whole.addStretch(1)
        self._scroll.setWidget(body)

    def _row(self, line: SpreadLine, body: QWidget) -> QHBoxLayout:
        row = QHBoxLayout()
        button = plain_button(
            self.theme, say("Fit into {unit}, {position}", unit=line.unit, position=line.position), "", body
        )
        button.clicked.connect(partial(self.fit, line))
        out = (
            line.because
            if line.old is None
            else say("{label} is removed: {because}", label=line.old.part.label, because=line.because)
        )
        part = line.cell.part
        words = say(
            "{label}, lot {lot}, last valid day {last_good_day}. {out}.",
            label=part.label,
            lot=said(part.lot),
            last_good_day=day(line.cell.last_good_day),
            out=out,
        )
        row.addWidget(button)
        row.addWidget(_wrapped(words, body), 1)
        return row

    @Slot()
    def fit(self, line: SpreadLine, _checked: bool = False) -> None:
        """Fit one cell as proposed; the proposal is calculated again after it."""
        if self._job is not None:
            return
        work = partial(
            fit_part, self._workplace, line.cell.part.part_id, line.unit, line.position, why_old=line.why_old
        )
        self._job = self._background.run(work, self)
        self._job.succeeded.connect(self._on_fitted)
        self._job.refused.connect(self.banner.say_refused)
        self._job.ended.connect(self._on_ended)

    @Slot(object)
    def _on_fitted(self, done: Fitted) -> None:
        words = say("{part} fitted into {slot}", part=done.part, slot=done.slot)
        if done.old_part:
            words = strung(", ", (words, say("{part} removed", part=done.old_part)))
        self.banner.say_note(strung("; ", (words, *done.warnings)))
        self.fitted.emit(words)
        self.ask()

    @Slot()
    def _on_ended(self) -> None:
        self._job = None


class LifeDialog(_Sheet):
    """The life of cells by part type and lot: curves with their interval, and the figures as a table."""

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, say("How long cells last"), parent)
        self.lines: tuple[LifeLine, ...] = ()
        self._loader.loaded.connect(self.show_lines)
        self._loader.ask(partial(life_of_cells, workplace))

    @Slot(object)
    def show_lines(self, lines: tuple[LifeLine, ...]) -> None:
        """Show these lives."""
        self.lines = lines
        self.summary.setText(
            worded(
                "Kaplan-Meier, 95 % interval. A cell removed for low output or a fault has failed; one "
                "removed for age, to be moved or for service has not. A lot with too few failures has no "
                "curve of its own."
            )
        )
        body, whole = self._fresh()
        for kind in dict.fromkeys(line.part_type for line in lines):
            mine = [line for line in lines if line.part_type == kind]
            whole.addWidget(LifeCard(self.theme, [line for line in mine if line.lot is None], None, body))
            whole.addWidget(part_view(self.theme, life_table(kind, mine), body))
        if not lines:
            whole.addWidget(
                _wrapped(say("No cell was fitted yet: lives are told from fittings and why they ended."), body)
            )
        whole.addStretch(1)
        self._scroll.setWidget(body)


def life_table(kind: str, lines: list[LifeLine]) -> Table:
    """The lots of a part type with what is known of their lives."""
    return Table(
        say("{kind}, by lot", kind=kind),
        ("Lot", "Watched", "Failed", "Still serving, with its 95 % interval"),
        tuple(
            Line((line.lot or "", str(line.parts), str(line.failures), shares_words(line)))
            for line in lines
            if line.lot is not None
        ),
        "No lot of it is recorded.",
    )


def shares_words(line: LifeLine) -> str:
    """'75 % after 180 days (31 to 93 %)', or why there is no curve."""
    if line.curve is None:
        return say("too few failures to say")
    return strung(
        "; ",
        (
            say(
                "{what:.0f} % after {days} days ({what_2:.0f} to {what_3:.0f} %)",
                what=100 * share,
                days=days,
                what_2=100 * low,
                what_3=100 * high,
            )
            for days, share, low, high in line.shares
        ),
    ) or say("watched for {longest_days:.0f} days", longest_days=line.curve.longest_days)


def _wrapped(text: str, parent: QWidget) -> QLabel:
    label = text_label(text, "body", parent)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
