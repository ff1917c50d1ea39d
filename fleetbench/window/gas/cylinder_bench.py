"""Everything that is done to cylinders, each on a button and a letter; the list and the page of one offer it alike."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO

import shiboken6
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QHBoxLayout, QMenu, QPushButton, QWidget

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import CylinderFinding
from fleetbench.records.gas.reads import AnalysisRecord
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.gas.acts import CleanDialog, GaugeDialog, LostDialog, TestDialog, named
from fleetbench.window.gas.analyses import AnalysisDialog
from fleetbench.window.gas.certificate import CertificateDialog
from fleetbench.window.gas.entry import EnterDialog, RuleDialog
from fleetbench.window.gas.fill_log import Filled, FillLogDialog, KeptLog
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Job
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.analyses import AnalysisAnswer
from fleetbench.workshop.gas.list import (
    CylinderLine,
    GasStation,
    Slip,
    cylinder_label,
    gas_station,
    label_centre,
    slip_of,
    to_analyse,
    to_fill,
)
from fleetbench.workshop.people.list import PersonRow, list_people

MOST_ROWS = 40
DIVER_ROLES = ("renter", "student", "instructor")


@dataclass(frozen=True, slots=True)
class BenchAct:
    """One act: its word, its key, its name in `CylinderBench`, whether it needs a chosen cylinder, whether it is rare.

    What is rare stands behind one button, so that the row fits a small window; its key works all the same.
    """

    word: str
    key: str
    name: str
    chosen: bool = True
    rare: bool = False


ACTS = (
    BenchAct("Fill", "F", "fill", chosen=False),
    BenchAct("Analyse", "A", "analyse", chosen=False),
    BenchAct("Gauge", "G", "gauge"),
    BenchAct("Test", "T", "test"),
    BenchAct("Cleaned", "C", "clean"),
    BenchAct("Label", "L", "label"),
    BenchAct("Put right", "F4", "put_right"),
    BenchAct("Oxygen-clean lost", "X", "lost", rare=True),
    BenchAct("New cylinder", "N", "enter", chosen=False, rare=True),
    BenchAct("Gas certificate", "K", "certificate", chosen=False, rare=True),
    BenchAct("Rule of periodic tests", "R", "rule", chosen=False, rare=True),
)


def label_pdf(shop: Shop, part_ids: Sequence[int]) -> bytes:
    """The labels of these cylinders as one PDF, a label a page."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.core.words import at_site
    from fleetbench.paper.gas.label import write_cylinder_labels

    labels = tuple(cylinder_label(shop, part_id) for part_id in part_ids)
    stream = BytesIO()
    write_cylinder_labels(at_site(labels, shop.zone()), stream, centre=label_centre(shop))
    return stream.getvalue()


class CylinderBench(QWidget):
    """The row of acts for the cylinders that are chosen; filling and analysing take what is to do where none is marked.

    Signals:
        changed: one line that says what was done; whoever shows cylinders loads them again.
        refused: one line that names what was refused and the remedy.
    """

    changed = Signal(str)
    refused = Signal(str)

    def __init__(self, context: PageContext, keys_on: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._context, self._shop, self._keys_on = context, context.shop, keys_on
        self._chosen: tuple[CylinderLine, ...] = ()
        self._marked = False
        self._people: tuple[PersonRow, ...] = ()
        self._people_asked = False
        self._kept: KeptLog | None = None
        self._dialog: QDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        self.more = plain_button(context.theme, "More", "", self)
        self._menu = QMenu(self.more)
        self.more.setMenu(self._menu)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for act in ACTS:
            shortcut = QShortcut(QKeySequence(act.key), keys_on)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            if act.rare:
                choice = self._menu.addAction(f"{act.word}   {act.key}")
                choice.triggered.connect(getattr(self, act.name))
                shortcut.activated.connect(choice.trigger)
                continue
            button = plain_button(context.theme, f"{act.word}   {act.key}", "", self)
            button.clicked.connect(getattr(self, act.name))
            shortcut.activated.connect(button.click)
            self.buttons[act.name] = button
            line.addWidget(button)
        line.addWidget(self.more)
        line.addStretch(1)
        self.choose((), marked=False)

    @property
    def dialog(self) -> QDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def ask_people(self) -> None:
        """Load who dives, once."""
        if not self._people_asked:
            self._people_asked = True
            shop = self._shop
            self._run(lambda: list_people(shop), self._show_people)

    def choose(self, lines: Sequence[CylinderLine], *, marked: bool) -> None:
        """Act on these cylinders; marked: they were marked on purpose, and not only stood under the cursor."""
        self._chosen, self._marked = tuple(lines), marked
        for act in ACTS:
            if not act.rare:
                self.buttons[act.name].setEnabled(bool(self._chosen) or not act.chosen)

    @Slot()
    def fill(self) -> None:
        """Open the fill log: for the marked cylinders, else for those that want gas."""
        self._at_station(self._open_fill)

    @Slot()
    def analyse(self) -> None:
        """Open the analyses: for the marked cylinders, else for those filled and not analysed."""
        self._at_station(self._open_analyses)

    @Slot()
    def gauge(self) -> None:
        """Read the gauges of the chosen cylinders."""
        self._open_ask(GaugeDialog, "read")

    @Slot()
    def test(self) -> None:
        """Record a test of the chosen cylinders."""
        self._open_ask(TestDialog, "test recorded")

    @Slot()
    def clean(self) -> None:
        """Record that the chosen cylinders were cleaned for oxygen."""
        self._open_ask(CleanDialog, "cleaning recorded")

    @Slot()
    def lost(self) -> None:
        """Record what ended their oxygen-clean status."""
        self._open_ask(LostDialog, "oxygen-clean status lost")

    @Slot()
    def label(self) -> None:
        """Show the labels of the chosen cylinders."""
        if self._chosen:
            keys, shop = tuple(line.part_id for line in self._chosen), self._shop
            self._open(
                LabelDialog(
                    self._context.theme, self._context.background, shop, keys[0], None, self.window(),
                    make=partial(label_pdf, shop, keys), title=f"Label of {named(self._chosen)}",
                )
            )  # fmt: skip

    @Slot()
    def put_right(self) -> None:
        """Put the last fill or analysis of the chosen cylinder right, within ten minutes."""
        if self._chosen:
            shop, key = self._shop, self._chosen[0].part_id
            self._run(lambda: slip_of(shop, key), self._open_slip)

    @Slot()
    def enter(self) -> None:
        """Take a new cylinder in."""
        dialog = EnterDialog(self._context.theme, self._context.background, self._shop, self.window())
        dialog.done_with.connect(partial(self._say, "The cylinder is taken in. Fill and analyse it before it leaves."))
        self._open(dialog)

    @Slot()
    def rule(self) -> None:
        """Set the rule by which cylinders of a part type are tested."""
        dialog = RuleDialog(self._context.theme, self._context.background, self._shop, self.window())
        dialog.done_with.connect(partial(self._say, "The rule is set; every last good day follows it."))
        self._open(dialog)

    @Slot()
    def certificate(self) -> None:
        """Type a gas certificate in, of the batch that was filled last today."""
        self._at_station(self._open_certificate)

    def _open_certificate(self, station: GasStation) -> None:
        batches = [station.batch] if station.batch else []
        dialog = CertificateDialog(self._context.theme, self._context.background, self._shop, batches, self.window())
        dialog.done_with.connect(self._on_certified)
        self._open(dialog)

    @Slot(object)
    def _on_certified(self, findings: tuple[CylinderFinding, ...]) -> None:
        against = [f"{each.field} {each.words}" for each in findings if each.result is Result.STOP]
        missing = [each.field for each in findings if each.result is Result.ADVISE]
        words = "Certificate kept."
        if against:
            words += f" Do not use the gas; ask the supplier: {'; '.join(against)}."
        if missing:
            words += f" Not stated: {', '.join(missing)}."
        self.changed.emit(words)

    def _open_slip(self, slip: Slip) -> None:
        common = (self._context.theme, self._context.background, self._shop, (slip.line,), slip.station)
        if isinstance(slip.record, AnalysisRecord):
            dialog: QDialog = AnalysisDialog(*common, self._divers((slip.line,)), self.window(), instead=slip.record)
        else:
            dialog = FillLogDialog(*common, self.window(), instead=slip.record)
        words = f"{slip.line.serial}: put right. Analyse its gas before it leaves."
        dialog.done_with.connect(partial(self._say, words))  # type: ignore[attr-defined]
        self._open(dialog)

    def _divers(self, lines: Sequence[CylinderLine]) -> list[PersonRow]:
        """Who may analyse as a diver, those first for whom these cylinders are promised."""
        first = {line.diver_id for line in lines}
        divers = [person for person in self._people if person.active and person.role in DIVER_ROLES]
        return sorted(divers, key=lambda person: (person.person_id not in first, person.name))

    def _at_station(self, then: Callable[[GasStation], None]) -> None:
        shop = self._shop
        self._run(lambda: gas_station(shop), then)

    def _open_fill(self, station: GasStation) -> None:
        lines = self._wanted(station, to_fill(station.lines))
        if not lines:
            self.refused.emit("fill log: no cylinder here wants gas; mark the ones to fill in the list")
            return
        dialog = FillLogDialog(self._context.theme, self._context.background, self._shop, lines, station, self.window())
        if self._kept is not None:
            dialog.bring_back(self._kept)
        dialog.done_with.connect(self._on_filled)
        dialog.rejected.connect(partial(self._on_log_left, dialog))
        self._open(dialog)

    def _open_analyses(self, station: GasStation) -> None:
        lines = self._wanted(station, to_analyse(station.lines))
        if not lines:
            self.refused.emit("analyses: every fill here was analysed; mark cylinders in the list to analyse again")
            return
        dialog = AnalysisDialog(
            self._context.theme, self._context.background, self._shop, lines, station, self._divers(lines),
            self.window(),
        )  # fmt: skip
        dialog.done_with.connect(self._on_analysed)
        self._open(dialog)

    def _wanted(self, station: GasStation, else_these: Sequence[CylinderLine]) -> tuple[CylinderLine, ...]:
        """The marked cylinders as they stand now, else what is to do, from the chosen one on and round."""
        keys = {line.part_id for line in self._chosen}
        if self._marked:
            return tuple([line for line in station.lines if line.part_id in keys][:MOST_ROWS])
        first = next((at for at, line in enumerate(else_these) if line.part_id in keys), 0)
        return tuple([*else_these[first:], *else_these[:first]][:MOST_ROWS])

    def _open_ask(self, kind: Callable[..., QDialog], said: str) -> None:
        if self._chosen:
            dialog = kind(self._context.theme, self._context.background, self._shop, self._chosen, self.window())
            dialog.done_with.connect(partial(self._say, f"{named(self._chosen)}: {said}."))  # type: ignore[attr-defined]
            self._open(dialog)

    def _open(self, dialog: QDialog) -> None:
        self._dialog = dialog
        dialog.finished.connect(self._on_dialog_left)
        dialog.open()

    @Slot()
    def _on_dialog_left(self) -> None:
        self.window().activateWindow()
        self._keys_on.setFocus()

    @Slot(object)
    def _on_filled(self, filled: Filled) -> None:
        self._kept = None
        self.changed.emit(f"{counted(len(filled.fill_ids), 'fill')} recorded. Analyse the gas before it leaves.")

    def _on_log_left(self, dialog: FillLogDialog) -> None:
        kept = dialog.kept()
        self._kept = kept if kept.rows else None
        if kept.rows:
            self.changed.emit(f"Fill log left with {counted(len(kept.rows), 'row')} typed; it comes back as it was.")

    @Slot(object)
    def _on_analysed(self, answers: tuple[AnalysisAnswer, ...]) -> None:
        told = [f"{answer.cylinder}: {found.words}; {found.remedy}" for answer in answers for found in answer.findings]
        words = " ".join((f"{counted(len(answers), 'analysis', 'analyses')} recorded.", *(f"{each}." for each in told)))
        self.changed.emit(words)

    def _say(self, words: str, _value: object = None) -> None:
        self.changed.emit(words)

    def _run(self, work: Callable[[], object], then: Callable[..., None]) -> None:
        job: Job = self._context.background.run(work, self)
        job.succeeded.connect(then)
        job.refused.connect(self.refused)

    def _show_people(self, people: tuple[PersonRow, ...]) -> None:
        self._people = people
