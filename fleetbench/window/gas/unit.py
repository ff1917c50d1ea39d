"""The gas side of one unit: cylinders, the oxygen side, regulators with their service, batteries, and their acts."""

from collections.abc import Sequence
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import due_state
from fleetbench.window.detail.detail import Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.gas.acts import (
    OXYGEN_CAUTION,
    battery_form,
    gauge_form,
    parts_clean_form,
    parts_lost_form,
    service_form,
)
from fleetbench.window.lists.act_bar import ActBar, ActSpec
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark, mark_for
from fleetbench.window.look.words import NOT_RECORDED, day, moment, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.page import batteries_table, cylinders_table
from fleetbench.workshop.gas.list import SOON_DAYS
from fleetbench.workshop.gas.oxygen_side import GasSideService, OxygenSidePart, UnitGas, unit_gas
from fleetbench.workshop.turn_rounds.handsets import BatteryAnswer


def _has(part: str, side: UnitGas | None) -> bool:
    return side is not None and bool(getattr(side, part))


def battery_words(answers: object) -> str:
    """What was read of each device, in words."""
    told = [each for each in answers if isinstance(each, BatteryAnswer)] if isinstance(answers, tuple) else []
    return strung(
        " ",
        (strung("", (each.device, ": ", each.verdict.value, ", ", each.sentence.rstrip("."), ".")) for each in told),
    )


ACTS = (
    ActSpec("batteries", "Batteries", "V", "read volts", "read batteries", partial(_has, "batteries"),
            lambda bar, side: battery_form(bar.workplace, side), lambda _side, answers: battery_words(answers)),
    ActSpec("gauges", "Gauges", "G", "read gauges", "read gauges", partial(_has, "cylinders"),
            lambda bar, side: gauge_form(bar.workplace, side.cylinders), "Gauges recorded."),
    ActSpec("serviced", "Serviced", "S", act="record service", needs=partial(_has, "services"),
            form=lambda bar, side: service_form(bar.workplace, side.tag, side.services), said="Service recorded."),
    ActSpec("cleaned", "Cleaned", "C", "cleaned for oxygen", "clean for oxygen", partial(_has, "oxygen_side"),
            lambda bar, side: parts_clean_form(bar.workplace, side.tag, side.oxygen_side), "Cleaning recorded."),
    ActSpec("lost", "Not clean", "Z", "record as spoiled", "oxygen-clean lost", partial(_has, "oxygen_side"),
            lambda bar, side: parts_lost_form(bar.workplace, side.tag, side.oxygen_side),
            "Recorded: it stops every hand-over until it is cleaned for oxygen again."),
)  # fmt: skip


class UnitGasPage(RecordPage):
    """The record page with the acts of the gas side above the cards."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._workplace, self._zone = context.workplace, context.zone
        super().__init__(context.theme, context.background, self._load_side, parent)
        self.side: UnitGas | None = None
        self.bar = ActBar(context, ACTS, self._scroll, self)
        self.buttons, self.start = self.bar.buttons, self.bar.start
        self.content.insertWidget(2, self.bar)
        self.bar.changed.connect(self._on_changed)
        self.bar.refused.connect(self.banner.say_refused)

    @property
    def dialog(self) -> Any:
        """The dialog that is open, if any."""
        return self.bar.dialog

    def _load_side(self, key: str) -> Detail:
        return side_detail(unit_gas(self._workplace, key), self._zone)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show the gas side, and offer what there is to do to it."""
        super().show_detail(detail)
        if isinstance(detail.source, UnitGas):
            self.side = detail.source
            self.bar.choose(detail.source)

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def list_page(context: PageContext) -> UnitGasPage:
    """The same page before a unit is chosen."""
    page = UnitGasPage(context)
    page.set_title(say("Gas side"))
    page.banner.say_note(say("Open a unit and press Gas side."))
    return page


def record_page(context: PageContext) -> UnitGasPage:
    """The gas side of one unit."""
    return UnitGasPage(context)


def side_detail(side: UnitGas, zone: ZoneInfo) -> Detail:
    """Everything on the page of a unit's gas side."""
    return Detail(
        say("Gas side of {tag}", tag=side.tag),
        say("{unit_type}; pressures, cleanliness and voltages as last recorded", unit_type=side.unit_type),
        (),
        (
            cylinders_table(side.cylinders, zone),
            _oxygen_side(side.oxygen_side, zone),
            _services(side),
            batteries_table(side.batteries, zone),
            Section("Handling", (Fact("", OXYGEN_CAUTION),)),
        ),
        onward=(Onward("The unit", "units", PageKey("units", side.tag)),),
        source=side,
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
                    each.status.words if each.kept else say("its type asks for none, and nothing is on record"),
                    NOT_RECORDED if each.status.cleaned_at is None else moment(each.status.cleaned_at, zone)[:10],
                ),
                _clean_mark(each),
                PageKey("parts", str(each.part_id)),
            )
            for each in lines
        ),
        "No slot of this unit is on the oxygen side.",
        mark_column=1,
    )


def _service_mark(line: GasSideService, side: UnitGas) -> Mark:
    return mark_for(due_state(line.last_good_day, side.today, SOON_DAYS))


def _services(side: UnitGas) -> Table:
    return Table(
        "Regulators and whatever else is serviced by interval",
        ("Slot", "State", "Part", "Serviced", "Last valid day", "Calculation", "Source"),
        tuple(
            Line(
                (
                    each.slot, _service_mark(each, side).word, each.serial, said(each.done or None, NOT_RECORDED),
                    day(each.last_good_day), each.why, each.source,
                ),
                _service_mark(each, side),
                PageKey("parts", str(each.part_id)),
            )
            for each in side.services
        ),
        say("No part of this unit has a service interval: enter it from the manual {what}.", what=door('life')),
        mark_column=1,
    )  # fmt: skip
