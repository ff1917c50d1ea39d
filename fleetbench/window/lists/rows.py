"""Lists as Qt sees them: a table model over a tuple of frozen rows that sorts and filters its own tuple."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
    QThread,
    Signal,
)

from fleetbench.calc.core.languages import folded, say, shown, strung, worded
from fleetbench.calc.core.verdict import Listed
from fleetbench.window.detail.detail import Detail
from fleetbench.window.look.marks import UNKNOWN, Mark
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, font, measure_of, text_width
from fleetbench.window.look.words import as_plain_tip as as_plain_tip  # noqa: PLC0414 - lists hand it on
from fleetbench.window.look.words import counted
from fleetbench.window.shell.place import PageKey

if TYPE_CHECKING:
    from fleetbench.window.lists.list_page import ListSpec  # it stands on this module

R = TypeVar("R")
Index = QModelIndex | QPersistentModelIndex

MARK_ROLE = Qt.ItemDataRole.UserRole + 1
TREND_ROLE = Qt.ItemDataRole.UserRole + 2

_SAMPLED_ROWS = 100
_WIDEST_COLUMN = 340


@dataclass(frozen=True)
class Column(Generic[R]):
    """One column of a list.

    text gives what is shown and copied; sort_key what is compared (the text in natural order when it is absent, None
    sorts last either way); state a mark painted before the text; trend a series for a small line; tooltip a longer
    reading of the cell; shown is False for a column that starts hidden; gives_way marks the column that is narrowed
    where there is little room.
    """

    key: str
    title: str
    text: Callable[[R], str]
    sort_key: Callable[[R], Any] | None = None
    align_right: bool = False
    state: Callable[[R], Mark | None] | None = None
    trend: Callable[[R], Sequence[float | None]] | None = None
    tooltip: Callable[[R], str] | None = None
    heading_tip: str = ""
    shown: bool = True
    gives_way: bool = False

    @property
    def heading(self) -> str:
        """The title as it is read."""
        return worded(self.title)

    def cell(self, row: R) -> str:
        """The text of a row as it is read; a word of state is the program's own."""
        text = self.text(row)
        return shown(text) if self.state is None else worded(text)

    def order(self, row: R) -> Any:
        """What the row sorts by in this column."""
        return natural_key(self.cell(row)) if self.sort_key is None else self.sort_key(row)


@dataclass(frozen=True, slots=True)
class Prepared(Generic[R]):
    """Rows with what filter and sort need of them, calculated off the GUI thread: texts by row, keys by column.

    summary: the line that sums them up; empty for none.
    """

    rows: tuple[R, ...]
    texts: tuple[str, ...]
    keys: tuple[tuple[Any, ...], ...]
    summary: str = ""


def prepared(rows: Sequence[R], columns: Sequence[Column[R]]) -> Prepared[R]:
    """The rows prepared for those columns."""
    texts = tuple(folded(strung("\n", [column.cell(row) for column in columns])) for row in rows)
    return Prepared(tuple(rows), texts, tuple(tuple(map(column.order, rows)) for column in columns))


CALCULATED = say("being calculated")
"""What is not judged or counted yet says."""


def before_judged(
    spec: "ListSpec[R]", page: str, noun: str, at_once: "Callable[[], Sequence[R] | Sequence[Listed]]"
) -> "ListSpec[R]":
    """The list that shows its records before they are judged, where that takes long.

    Until then what is not recorded of a record itself says that it is being calculated, no choice keeps it, and its
    marks are those of what is not known. page: where one is opened; noun: what one is called.
    """

    def unless(told: Callable[[R], Any], listed: Callable[[Listed], Any]) -> Callable[[Any], Any]:
        return lambda row: listed(row) if isinstance(row, Listed) else told(row)

    def sum_up(rows: Sequence[Any]) -> str:
        return strung(": ", (counted(len(rows), noun), CALCULATED)) if is_listed(rows[0]) else spec.sum_up(rows)

    def described(row: Listed) -> Detail:
        return Detail(row.told[spec.columns[0].key], "", (UNKNOWN.worded(CALCULATED),))

    return replace(
        spec,
        columns=tuple(map(_before_judged, spec.columns)),
        key=unless(spec.key, lambda row: row.key),
        load_at_once=cast("Callable[[], Sequence[R]]", at_once),
        lacks=is_listed,
        describe=unless(spec.describe, described),
        sum_up=sum_up,
        place=unless(spec.place, lambda row: PageKey(page, row.key)),
        choices=tuple(replace(each, keep=unless(each.keep, lambda _row: False)) for each in spec.choices),
    )


def is_listed(row: object) -> bool:
    """Whether a row is a record that is not judged yet, so that no act may be offered on it."""
    return isinstance(row, Listed)


def _before_judged(column: Column[R]) -> Column[R]:
    def unless(told: Callable[[R], Any] | None, listed: Callable[[Listed], Any]) -> Any:
        return None if told is None else lambda row: listed(row) if isinstance(row, Listed) else told(row)

    def text(row: Listed) -> str:
        return row.told.get(column.key, CALCULATED)

    return replace(
        column,
        text=unless(column.text, text),
        sort_key=unless(column.order, lambda row: natural_key(shown(text(row))) if column.key in row.told else None),
        state=unless(column.state, lambda _row: UNKNOWN.worded(CALCULATED)),
        trend=unless(column.trend, lambda _row: None),
        tooltip=unless(column.tooltip, text),
    )


class RowModel(QAbstractTableModel, Generic[R]):
    """Rows shown in columns, in the order and through the filter that the reader chose.

    Signals:
        shown_changed: how many rows are shown, and of how many.
    """

    shown_changed = Signal(int, int)

    def __init__(self, columns: Sequence[Column[R]], key: Callable[[R], object], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self._key = key
        self._all: Prepared[R] = prepared((), self.columns)
        self._shown: tuple[R, ...] = ()
        self._numbers: list[int] = []
        self._orders: dict[tuple[int, Qt.SortOrder], list[int]] = {}
        self._words: tuple[str, ...] = ()
        self._keep: Callable[[R], bool] | None = None
        self._sorted_by: tuple[int, Qt.SortOrder] | None = (0, Qt.SortOrder.AscendingOrder)
        self.wraps_headings = False

    @property
    def rows(self) -> tuple[R, ...]:
        """The rows as shown: filtered and in order."""
        return self._shown

    @property
    def total(self) -> int:
        """How many rows there are, shown or not."""
        return len(self._all.rows)

    def keep_given_order(self) -> None:
        """Show the rows in the order in which they are given, until a column is chosen to sort by."""
        self._sorted_by = None
        self._rearrange()

    def set_rows(self, rows: Sequence[R]) -> None:
        """Show other rows through the same filter and in the same order."""
        self.set_prepared(prepared(rows, self.columns))

    def set_prepared(self, rows: Prepared[R]) -> None:
        """The same with rows that were prepared off the GUI thread."""
        self._assert_own_thread()
        self.beginResetModel()
        self._all, self._orders = rows, {}
        self._arrange()
        self.endResetModel()
        self.shown_changed.emit(len(self._shown), self.total)

    def set_filter(self, text: str) -> None:
        """Show only rows in which every word of the text occurs, in any column, whatever its case and accents."""
        self._words = tuple(folded(text).split())
        self._rearrange()

    def set_keep(self, keep: Callable[[R], bool] | None) -> None:
        """Show only rows for which keep is true, besides the filter; None shows all."""
        self._keep = keep
        self._rearrange()

    def row_at(self, number: int) -> R:
        """The row at that place on the screen; raises IndexError when there is none."""
        return self._shown[number]

    def key_at(self, number: int) -> object:
        """The key of the row at that place."""
        return self._key(self._shown[number])

    def place_of(self, key: object) -> int | None:
        """Where the row with that key is shown, or None when it is not."""
        return next((number for number, row in enumerate(self._shown) if self._key(row) == key), None)

    def width_of(self, column: int, most: int = _WIDEST_COLUMN, *, words: bool = False) -> int:
        """Pixels that a column wants for its heading and a sample of its rows, from font metrics; no more than most.

        words: what its longest word wants, where its text is wrapped.
        """
        spec = self.columns[column]
        step = max(1, len(self._shown) // _SAMPLED_ROWS)
        mark = BLOCK + CLOSE if spec.state is not None else 0
        trend = 96 if spec.trend is not None else 0
        measure = measure_of("strong" if mark else "body").horizontalAdvance
        # A trend is drawn and not written, so its words ask for no room.
        written = () if spec.trend is not None else self._shown[::step]
        texts = (part for row in written for part in (spec.cell(row).split() if words else (spec.cell(row),)))
        longest = max(map(measure, texts), default=0) + mark
        head = max(text_width(part, "label") for part in (spec.heading.split() or ("",) if words else (spec.heading,)))
        widest = max(longest, head + (0 if words else BLOCK), trend)
        return min(widest + 2 * APART + 2, most)

    def _rearrange(self) -> None:
        self._assert_own_thread()
        self.layoutAboutToBeChanged.emit()
        kept = [(index, self._numbers[index.row()]) for index in self.persistentIndexList()]
        self._arrange()
        places = self._places_of({number for _, number in kept})
        for index, number in kept:
            place = places.get(number)
            self.changePersistentIndex(index, QModelIndex() if place is None else self.index(place, index.column()))
        self.layoutChanged.emit()
        self.shown_changed.emit(len(self._shown), self.total)

    def _places_of(self, numbers: set[int]) -> dict[int, int]:
        if len(numbers) > _SAMPLED_ROWS:
            return {number: place for place, number in enumerate(self._numbers)}
        # The cursor alone, mostly: one search in the list's own speed instead of a dictionary of every row.
        return {number: self._numbers.index(number) for number in numbers.intersection(self._numbers)}

    def _arrange(self) -> None:
        rows, numbers = self._all.rows, self._passing()
        if self._sorted_by is not None:
            order = self._order_by(*self._sorted_by)
            if len(numbers) < self.total:
                passing = set(numbers)
                order = [number for number in order if number in passing]
            numbers = order
        self._numbers = numbers
        self._shown = tuple([rows[number] for number in numbers])

    def _order_by(self, column: int, direction: Qt.SortOrder) -> list[int]:
        """The numbers of all rows in an order that was chosen, kept until there are other rows."""
        if (column, direction) not in self._orders:
            keys = self._all.keys[column]
            order = in_order(range(self.total), keys.__getitem__, direction == Qt.SortOrder.DescendingOrder)
            self._orders[column, direction] = order
        return self._orders[column, direction]

    def _passing(self) -> list[int]:
        """The numbers of the rows that pass filter and choice, without a call a row where there is no choice."""
        rows, texts, keep = self._all.rows, self._all.texts, self._keep
        numbers = list(range(self.total))
        if keep is not None:
            numbers = [number for number in numbers if keep(rows[number])]
        for word in self._words:
            numbers = [number for number in numbers if word in texts[number]]
        return numbers

    def _assert_own_thread(self) -> None:
        assert QThread.currentThread() is self.thread(), "a list may only change in the GUI thread"

    # Qt overrides

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._shown)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        told = _TOLD.get(role)
        return None if told is None else told(self.columns[index.column()], self._shown[index.row()])

    def told(self, index: Index) -> "Told":
        """What is painted of a cell."""
        column, row = self.columns[index.column()], self._shown[index.row()]
        trend = column.trend(row) if column.trend else None
        if trend is not None:
            return trend, None, "", 0
        mark = column.state(row) if column.state else None
        return None, mark, column.cell(row), _alignment(column).value

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        column = self.columns[section]
        match role:
            case Qt.ItemDataRole.DisplayRole:
                return column.heading
            case Qt.ItemDataRole.TextAlignmentRole:
                return _alignment(column).value | (Qt.TextFlag.TextWordWrap.value if self.wraps_headings else 0)
            case Qt.ItemDataRole.ToolTipRole:
                return as_plain_tip(_with_more(column.heading, worded(column.heading_tip)))
            case Qt.ItemDataRole.FontRole:
                return font("label")
        return None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        if not 0 <= column < len(self.columns):
            return
        self._sorted_by = (column, order)
        self._rearrange()


Told = tuple[Sequence[float | None] | None, Mark | None, str, int]
"""Trend, mark, text and alignment."""


def told_by(index: Index) -> Told:
    """What is painted of a cell, asked of a list of ours in one call instead of four through Qt."""
    model = index.model()
    if isinstance(model, RowModel) and type(model).data is RowModel.data:
        return model.told(index)
    text, alignment = index.data(Qt.ItemDataRole.DisplayRole), index.data(Qt.ItemDataRole.TextAlignmentRole)
    return index.data(TREND_ROLE), index.data(MARK_ROLE), str(text or ""), int(alignment)


def natural_key(text: str) -> str | None:
    """Key that sorts text whatever its case and accents, numbers in it by value ('U2' before 'U10'); None for nothing.

    One text, since a hundred thousand of them are compared far faster than as many tuples: a number stands behind its
    count of digits, and behind a mark that comes before every letter.
    """
    return _NUMBER.sub(_by_value, folded(text)) or None


_NUMBER = re.compile(r"\d+")


def _by_value(found: re.Match[str]) -> str:
    digits = str(int(found[0]))
    return f"\0{chr(len(digits))}{digits}"


def in_order(rows: Sequence[R], key: Callable[[R], Any], descending: bool) -> list[R]:
    """The rows sorted by key, equal ones in the order they came; rows whose key is None come last either way."""
    known = [row for row in rows if key(row) is not None]
    unknown = [row for row in rows if key(row) is None] if len(known) < len(rows) else []
    known.sort(key=key, reverse=descending)
    return known + unknown


def _alignment(column: Column[Any]) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignRight if column.align_right else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter


def _with_more(text: str, more: str) -> str:
    """What stands there, which its room may shorten, above what else is known of it; once where that says it too."""
    return more if text in more else " – ".join(filter(None, (text, more)))


def _tip(column: Column[R], row: R) -> str:
    return as_plain_tip(_with_more(column.cell(row), shown(column.tooltip(row)) if column.tooltip else ""))


_TOLD: dict[int, Callable[[Column[Any], Any], Any]] = {
    Qt.ItemDataRole.DisplayRole: lambda column, row: column.cell(row),
    Qt.ItemDataRole.TextAlignmentRole: lambda column, _row: _alignment(column),
    Qt.ItemDataRole.ToolTipRole: _tip,
    MARK_ROLE: lambda column, row: column.state(row) if column.state else None,
    TREND_ROLE: lambda column, row: column.trend(row) if column.trend else None,
}
