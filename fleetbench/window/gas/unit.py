"""The gas side of one unit: cylinders, the oxygen side, regulators with their service, batteries, and their acts."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from zoneinfo import ZoneInfo

import shiboken6
from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from fleetbench.window.detail.detail import Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.gas.acts import GaugeDialog
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.gas.unit_acts import BatteryDialog, PartsCleanDialog, PartsLostDialog, ServiceDialog
from fleetbench.window.look.buttons import plain_button
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.look.words import NOT_RECORDED, day, moment, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import Place
from fleetbench.window.units.page import batteries_table, cylinders_table
from fleetbench.workshop.gas.clean import OxygenSidePart
from fleetbench.workshop.gas.unit import ServiceLine, UnitGas, unit_gas
from fleetbench.workshop.turn_rounds.handsets import BatteryAnswer

SOON_DAYS = 30
ACTS = (
    ("Batteries", "B", "batteries"),
    ("Gauges", "G", "gauges"),
    ("Serviced", "S", "serviced"),
    ("Cleaned", "C", "cleaned"),
    ("Not clean", "X", "lost"),
)


class UnitGasPage(RecordPage):
    """The record page with the acts of the gas side above the cards."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._shop, self._zone = context.shop, context.zone
        super().__init__(context.theme, context.background, self._load_side, parent)
        self.side: UnitGas | None = None
        self._context = context
        self._dialog: ActDialog | None = None
        self.buttons: dict[str, QPushButton] = {}
        row = QWidget(self)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for word, key, name in ACTS:
            button = plain_button(context.theme, f"{word}   {key}", "", row)
            button.clicked.connect(partial(self.start, name))
            shortcut = QShortcut(QKeySequence(key), self._scroll)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(button.click)
            self.buttons[name] = button
            line.addWidget(button)
        line.addStretch(1)
        self.content.insertWidget(2, row)

    @property
    def dialog(self) -> ActDialog | None:
        """The dialog that is open, if any."""
        return self._dialog if self._dialog is not None and shiboken6.isValid(self._dialog) else None

    def _load_side(self, key: str) -> Detail:
        return side_detail(unit_gas(self._shop, key), self._zone)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show the gas side, and offer what there is to do to it."""
        super().show_detail(detail)
        if isinstance(detail, SideDetail) and detail.side is not None:
            side = self.side = detail.side
            for name, there in (("batteries", side.batteries), ("gauges", side.cylinders), ("serviced", side.services),
                                ("cleaned", side.oxygen_side), ("lost", side.oxygen_side)):  # fmt: skip
                self.buttons[name].setEnabled(bool(there))

    def start(self, name: str, _checked: bool = False) -> None:
        """Open the dialog of an act."""
        if self.side is None:
            return
        side, common = self.side, (self._context.theme, self._context.background, self._shop)
        makers: dict[str, Callable[[], ActDialog]] = {
            "batteries": lambda: BatteryDialog(*common, side, self.window()),
            "gauges": lambda: GaugeDialog(*common, side.cylinders, self.window()),
            "serviced": lambda: ServiceDialog(*common, side.tag, side.services, self.window()),
            "cleaned": lambda: PartsCleanDialog(*common, side.tag, side.oxygen_side, self.window()),
            "lost": lambda: PartsLostDialog(*common, side.tag, side.oxygen_side, self.window()),
        }
        dialog = makers[name]()
        self._dialog = dialog
        dialog.done_with.connect(partial(self._on_done, name))
        dialog.finished.connect(self._on_left)
        dialog.open()

    def _on_done(self, name: str, value: object) -> None:
        words = {"gauges": "Gauges recorded.", "serviced": "Service recorded.", "cleaned": "Cleaning recorded.",
                 "lost": "Recorded: it stops every hand-over until it is cleaned for oxygen again."}  # fmt: skip
        self.banner.say_note(battery_words(value) if name == "batteries" else words[name])
        self.refresh()

    @Slot()
    def _on_left(self) -> None:
        self.window().activateWindow()
        self._scroll.setFocus()


def list_page(context: PageContext) -> UnitGasPage:
    """The same page before a unit is chosen."""
    page = UnitGasPage(context)
    page.set_title("Gas side")
    page.banner.say_note("Open a unit and press Gas side.")
    return page


def record_page(context: PageContext) -> UnitGasPage:
    """The gas side of one unit."""
    return UnitGasPage(context)


def battery_words(answers: object) -> str:
    """What was read of each device, in words."""
    told = [each for each in answers if isinstance(each, BatteryAnswer)] if isinstance(answers, tuple) else []
    return " ".join(f"{each.device}: {each.verdict.value}, {each.sentence.rstrip('.')}." for each in told)


@dataclass(frozen=True, slots=True)
class SideDetail(Detail):
    """A Detail with the gas side it was made from."""

    side: UnitGas | None = None


def side_detail(side: UnitGas, zone: ZoneInfo) -> SideDetail:
    """Everything on the page of a unit's gas side."""
    return SideDetail(
        f"Gas side of {side.tag}",
        f"{side.unit_type}; pressures, cleanliness and voltages as last recorded",
        (),
        (
            cylinders_table(side.cylinders, zone),
            _oxygen_side(side.oxygen_side, zone),
            _services(side),
            batteries_table(side.batteries, zone),
            Section("Handling", (Fact("", OXYGEN_CAUTION),)),
        ),
        onward=(Onward("The unit", "units", Place("units", side.tag)),),
        side=side,
    )


def _clean_mark(line: OxygenSidePart) -> Mark:
    if line.status.clean is None:
        return UNKNOWN.worded("not known" if line.kept else "none kept")
    return OK.worded("oxygen-clean") if line.status.clean else STOP.worded("lost")


def _oxygen_side(lines: Sequence[OxygenSidePart], zone: ZoneInfo) -> Table:
    return Table(
        "Oxygen side",
        ("Slot", "State", "Part", "What is recorded", "Cleaned"),
        tuple(
            Line(
                (
                    each.slot,
                    _clean_mark(each).word,
                    each.part,
                    each.status.words if each.kept else "its type asks for none, and nothing is on record",
                    NOT_RECORDED if each.status.cleaned_at is None else moment(each.status.cleaned_at, zone)[:10],
                ),
                _clean_mark(each),
                Place("parts", str(each.part_id)),
            )
            for each in lines
        ),
        "No slot of this unit is on the oxygen side.",
        mark_column=1,
    )


def _service_mark(line: ServiceLine, side: UnitGas) -> Mark:
    if line.last_good_day is None:
        return mark_for("unknown")
    left = (line.last_good_day - side.today).days
    return mark_for("past" if left < 0 else "due soon" if left <= SOON_DAYS else "good")


def _services(side: UnitGas) -> Table:
    return Table(
        "Regulators and whatever else is serviced by interval",
        ("Slot", "State", "Part", "Serviced", "Last good day", "Reckoning", "Source"),
        tuple(
            Line(
                (
                    each.slot, _service_mark(each, side).word, each.serial, said(each.done or None, NOT_RECORDED),
                    day(each.last_good_day), each.why, each.source,
                ),
                _service_mark(each, side),
                Place("parts", str(each.part_id)),
            )
            for each in side.services
        ),
        "No part of this unit has a service interval: set it on its part type.",
        mark_column=1,
    )  # fmt: skip
