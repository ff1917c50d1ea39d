"""What goes along with each unit of a hand-over, on one grid: a row a unit, keyboard only."""

import re
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from fleetbench.calc.readiness.judge import USUAL_WAY
from fleetbench.window.lists.entry_model import EntryModel, Index
from fleetbench.workshop.hires.handover import Handing, LeavingUnit

HEADINGS = ("Unit", "Diver", "Leaves as", "Harness", "Accessories", "Absorbent, kg", "Deposit")
KINDS = {"a": "assembled", "k": "kit", "n": "not for diving"}


class LeavingModel(EntryModel[LeavingUnit]):
    """Units to hand over, and what was typed of each; kinds begin as the one chosen for all."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(HEADINGS, parent)
        self.kind = USUAL_WAY.value

    def show_units(self, units: Sequence[LeavingUnit]) -> None:
        """Show these rows, with the harness that each unit has and how its booking says that it leaves."""
        self.beginResetModel()
        self.rows = tuple(units)
        self.typed = {(row, 3): each.harness for row, each in enumerate(units) if each.harness}
        self.typed |= {(row, 2): each.leaves for row, each in enumerate(units) if each.leaves}
        self.endResetModel()

    def set_kind(self, kind: str) -> None:
        """Let every unit leave as this."""
        self.kind = kind
        self.typed = {place: text for place, text in self.typed.items() if place[1] != 2}
        if self.rows:
            self.dataChanged.emit(self.index(0, 2), self.index(len(self.rows) - 1, 2))

    def kind_of(self, row: int) -> str:
        """How a unit leaves: a, k and n stand for the three kinds; Refused for another word."""
        text = self.text_at(row, 2).casefold()
        kind = KINDS.get(text, text) or self.kind
        if kind not in KINDS.values():
            raise self.wrong(row, 2, "type a for assembled, k for kit, n for not for diving")
        return kind

    def handing(self, row: int) -> Handing:
        """What was typed of one unit; Refused names unit and column."""
        counts, total = self._accessories(row)
        return Handing(
            unit=self.rows[row].unit,
            kind=self.kind_of(row),
            harness=self.text_at(row, 3),
            accessories=total,
            deposit=self._figure(row, 6),
            counts=counts,
            absorbent_kg=self._figure(row, 5),
        )

    def handings(self) -> list[Handing]:
        """The same of every unit."""
        return [self.handing(row) for row in range(len(self.rows))]

    def _accessories(self, row: int) -> tuple[tuple[tuple[int, int], ...], int | None]:
        """Counts by key where the type has a list, and the total: `all`, `all but torch`, `all but 2 torch`, or 5."""
        text, listed = self.text_at(row, 4).casefold(), self.rows[row].accessories
        if not text:
            return (), None
        if text.isdecimal():
            belongs = sum(each.count for each in listed)
            counts = tuple((each.accessory_id, each.count) for each in listed) if int(text) == belongs else ()
            return counts, int(text)
        said = re.fullmatch(r"all(?:\s+but\s+(.+))?", text)
        if said is None or not listed:
            raise self.wrong(row, 4, "type how many, or where the unit type has a list: all, or all but what lacks")
        found = re.findall(r"(\d+)?\s*([^,\d][^,]*)", said[1] or "")
        lacking = {name.strip(): int(count or 1) for count, name in found}
        known = {each.name.casefold() for each in listed}
        if set(lacking) - known:
            raise self.wrong(row, 4, f"on the list stand: {', '.join(sorted(known))}")
        counts = tuple(
            (each.accessory_id, max(0, each.count - lacking.get(each.name.casefold(), 0))) for each in listed
        )
        return counts, sum(count for _, count in counts)

    def _figure(self, row: int, column: int) -> float | None:
        text = self.text_at(row, column)
        try:
            return float(text.replace(",", ".")) if text else None
        except ValueError:
            raise self.wrong(row, column, "enter a figure, or leave it empty") from None

    # Qt overrides

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        unit, column = self.rows[index.row()], index.column()
        if role == Qt.ItemDataRole.ToolTipRole and column == 4 and unit.accessories:
            return "\n".join(f"{each.count} × {each.name}" for each in unit.accessories)
        shown = super().data(index, role)
        if role == Qt.ItemDataRole.DisplayRole and column == 2:
            return KINDS.get(str(shown).strip().casefold(), shown) or self.kind
        return shown
