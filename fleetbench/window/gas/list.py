"""Cylinders: contents, gas, next test, where each is and with whom; the page of one; the fill station's acts."""

from collections.abc import Sequence
from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import QItemSelection, QModelIndex, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.gas.acts import (
    bar_words,
    depth_words,
    gas_in_short,
    gas_words,
    least_depth_m,
    pressure_words,
    whereabouts,
)
from fleetbench.window.gas.cylinder_bench import CylinderBar
from fleetbench.window.gas.page import CylinderRecordPage, contents_section, gas_section, state_mark
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column, before_judged, is_listed
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import STOP, UNKNOWN
from fleetbench.window.look.words import NONE, counted, day, figure, moment, said
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.known import listed_at_once
from fleetbench.workshop.gas import list as cylinder_desk
from fleetbench.workshop.gas.list import CylinderLine

EMPTY = nothing_recorded(
    "No cylinders are recorded yet", "stock", "Cylinders stand here with their tests and their gas."
)


class CylinderList(ListPage[CylinderLine]):
    """The list with the fill station's acts above the rows."""

    def __init__(self, context: PageContext, spec: ListSpec[CylinderLine], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, spec, parent)
        self.bench = CylinderBar(context, keys_on=self.table, parent=self)
        self.content.insertWidget(2, self.bench)
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().currentRowChanged.connect(self._on_chosen)
        self.table.selectionModel().selectionChanged.connect(self._on_marked)

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        # A centre without cylinders begins here with its first.
        self.bench.setVisible(True)
        self.bench.ask_people()
        self._choose_marked()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()

    @Slot(QModelIndex, QModelIndex)
    def _on_chosen(self, _current: QModelIndex, _before: QModelIndex) -> None:
        self._choose_marked()

    @Slot(QItemSelection, QItemSelection)
    def _on_marked(self, _more: QItemSelection, _fewer: QItemSelection) -> None:
        self._choose_marked()

    def _choose_marked(self) -> None:
        numbers = sorted({index.row() for index in self.table.selectionModel().selectedRows()})
        current = self.table.currentIndex()
        if len(numbers) < 2:
            numbers = [current.row()] if current.isValid() else []
        lines = [line for line in map(self.model.row_at, numbers) if not is_listed(line)]
        self.bench.choose_lines(lines, marked=len(lines) > 1)


def list_page(context: PageContext) -> CylinderList:
    """The list of cylinders."""
    spec = ListSpec(
        "Cylinders",
        columns(context.zone),
        key=lambda row: str(row.part.part_id),
        load=partial(cylinder_desk.list_cylinders, context.workplace),
        describe=partial(describe, zone=context.zone),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("cylinders", str(row.part.part_id)),
        choices=(
            QuickFilter("needs filling", lambda row: row.wants_gas),
            QuickFilter("not analysed", lambda row: row.wants_analysis, UNKNOWN),
            QuickFilter("stopped", lambda row: state_mark(row).rank == STOP.rank, STOP),
        ),
        siblings=SIBLINGS,
    )
    at_once = partial(listed_at_once, context.workplace, cylinder_desk.list_cylinders, cylinder_desk.cylinders_listed)
    return CylinderList(context, before_judged(spec, "cylinders", "cylinder", at_once))


def record_page(context: PageContext) -> CylinderRecordPage:
    """The page of one cylinder."""
    return CylinderRecordPage(context)


def sum_up(rows: Sequence[CylinderLine]) -> str:
    """'70 cylinders: 24 need filling, 3 not analysed since they were filled, 2 stopped'."""
    wants, unknown = sum(row.wants_gas for row in rows), sum(row.wants_analysis for row in rows)
    stopped = sum(state_mark(row).rank == STOP.rank for row in rows)
    words = say(
        "{wants} need filling, {unknown} not analysed since they were filled, {stopped} stopped",
        wants=wants,
        unknown=unknown,
        stopped=stopped,
    )
    return strung(": ", (counted(len(rows), "cylinder"), words))


def describe(row: CylinderLine, zone: ZoneInfo) -> Detail:
    """What the list's own row says of a cylinder."""
    return Detail(
        row.part.label,
        strung(
            "",
            (
                say(row.state.facts.role),
                ", ",
                f"{row.state.facts.size_l:g}",
                " L, ",
                BAR.words(row.state.facts.working_bar),
            ),
        ),
        (state_mark(row),),
        (
            contents_section(row, zone),
            gas_section(row, zone),
            Section(
                "Where",
                (
                    Fact("Unit", said(row.unit, NONE), leads_to=PageKey("units", row.unit) if row.unit else None),
                    Fact("Place", said(row.state.facts.place, NONE)),
                    Fact("With", said(row.with_whom, say("in the house"))),
                    Fact("Next test", day(row.next_test), note=said(row.next_test_kind, "")),
                    Fact("Marking", said(row.state.facts.marking)),
                ),
            ),
        ),
    )


def _analysed_at(row: CylinderLine) -> datetime | None:
    return row.state.analysis and row.state.analysis.at


def _filled_at(row: CylinderLine) -> datetime | None:
    return row.state.fill and row.state.fill.at


def _oxygen(row: CylinderLine) -> float | None:
    return row.state.gas.oxygen if row.state.gas else None


def columns(zone: ZoneInfo) -> tuple[Column[CylinderLine], ...]:
    """The columns of the list."""
    return (
        Column("serial", "Serial", lambda row: row.part.label),
        Column("role", "Role", lambda row: say(row.state.facts.role)),
        Column("state", "State", lambda row: state_mark(row).word, lambda row: -state_mark(row).rank,
               state=state_mark),
        Column("bar", str(BAR).capitalize(), bar_words, lambda row: row.state.now_bar, align_right=True,
               tooltip=pressure_words,
               heading_tip="What is in it now; 'used' where it was out since its pressure was last read"),
        Column("content", title="Litres", text=lambda row: figure(row.content_l, "", 0, NONE),
            sort_key=lambda row: row.content_l, align_right=True,
               heading_tip=say("Free gas at {what} and 1.01325 bar, calculated as a real gas", what=CELSIUS.words(15))),
        Column("gas", "Gas, %", lambda row: gas_in_short(row.state.gas), _oxygen,
               tooltip=lambda row: gas_words(row.state.gas, row.analysis)),
        Column("analysed", "Analysed", lambda row: moment(_analysed_at(row), zone, NONE)[:10], _analysed_at,
               tooltip=lambda row: moment(_analysed_at(row), zone, row.analysis)),
        Column("test", "Next test", lambda row: day(row.next_test), lambda row: day(row.next_test, "0"),
               tooltip=lambda row: strung(": ", (said(row.next_test_kind, say("test")), say(row.test_state)))),
        Column("where", "Where", whereabouts),
        Column("with", "With", lambda row: said(row.with_whom, NONE)),
        Column("depth", "Max depth", lambda row: depth_words(row.depths), lambda row: least_depth_m(row.depths),
               heading_tip="The smaller of the depths by density and by oxygen first, each with what limits it"),
        Column("clean", "Oxygen-clean", lambda row: row.clean.words if row.clean else NONE, shown=False),
        Column("filled", "Filled", lambda row: moment(_filled_at(row), zone, NONE), _filled_at, shown=False),
        Column("size", title="Size, L", text=lambda row: f"{row.state.facts.size_l:g}",
            sort_key=lambda row: row.state.facts.size_l, align_right=True,
               shown=False),
        Column("owner", "Owner", lambda row: row.state.facts.owner, shown=False),
        Column("marking", "Marking", lambda row: said(row.state.facts.marking, NONE), shown=False),
    )  # fmt: skip
