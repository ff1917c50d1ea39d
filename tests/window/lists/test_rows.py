from dataclasses import dataclass
from datetime import date

import pytest
from PySide6.QtCore import QItemSelectionModel, QPersistentModelIndex, Qt
from PySide6.QtTest import QAbstractItemModelTester

from fleetbench.window.lists.rows import MARK_ROLE, Column, RowModel, as_plain_tip, in_order, natural_key, prepared
from fleetbench.window.look.marks import HOLD, READY, Mark


@dataclass(frozen=True, slots=True)
class Thing:
    tag: str
    ends: date | None
    fit: Mark


COLUMNS: tuple[Column[Thing], ...] = (
    Column("tag", "Tag", lambda row: row.tag),
    Column("ends", "Ends", lambda row: row.ends.isoformat() if row.ends else "not known", lambda row: row.ends),
    Column("fit", "Fit", lambda row: row.fit.word, lambda row: row.fit.rank, state=lambda row: row.fit),
)
THINGS = (
    Thing("U10", date(2026, 3, 1), READY),
    Thing("U2", None, HOLD),
    Thing("U1", date(2026, 1, 1), READY),
)


@pytest.fixture
def model(qapp: object) -> RowModel[Thing]:
    made: RowModel[Thing] = RowModel(COLUMNS, lambda row: row.tag)
    made.set_rows(THINGS)
    return made


def tags(model: RowModel[Thing]) -> list[str]:
    return [row.tag for row in model.rows]


def test_qt_finds_no_fault_in_the_model_through_load_filter_and_sort(model: RowModel[Thing]) -> None:
    tester = QAbstractItemModelTester(model, QAbstractItemModelTester.FailureReportingMode.Fatal)
    model.set_filter("ready")
    model.sort(1, Qt.SortOrder.DescendingOrder)
    model.set_rows(THINGS[:1])
    model.set_rows(())
    assert tester.model() is model


def test_numbers_in_tags_sort_by_value(model: RowModel[Thing]) -> None:
    assert tags(model) == ["U1", "U2", "U10"]


@pytest.mark.parametrize("order", [Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder])
def test_an_unknown_date_comes_last_either_way(model: RowModel[Thing], order: Qt.SortOrder) -> None:
    model.sort(1, order)
    assert tags(model)[-1] == "U2"


def test_the_filter_wants_every_word_in_any_column_and_any_case(model: RowModel[Thing]) -> None:
    model.set_filter("READY u1")
    assert tags(model) == ["U1", "U10"]


def test_filter_and_quick_choice_narrow_together(model: RowModel[Thing]) -> None:
    model.set_keep(lambda row: row.fit is READY)
    model.set_filter("2026-03")
    assert tags(model) == ["U10"]


def test_what_is_shown_and_of_how_many_is_told(model: RowModel[Thing], qtbot: object) -> None:
    told: list[tuple[int, int]] = []
    model.shown_changed.connect(lambda shown, total: told.append((shown, total)))
    model.set_filter("hold")
    assert told == [(1, 3)]


def test_a_chosen_row_stays_chosen_when_the_order_turns(model: RowModel[Thing]) -> None:
    selection = QItemSelectionModel(model)
    selection.setCurrentIndex(model.index(0, 0), QItemSelectionModel.SelectionFlag.SelectCurrent)
    model.sort(0, Qt.SortOrder.DescendingOrder)
    assert model.key_at(selection.currentIndex().row()) == "U1"


def test_an_index_of_a_row_that_is_filtered_out_becomes_invalid(model: RowModel[Thing]) -> None:
    index = QPersistentModelIndex(model.index(1, 0))
    model.set_filter("ready")
    assert not index.isValid()


def test_the_state_of_a_row_is_handed_to_the_painter(model: RowModel[Thing]) -> None:
    assert model.index(1, 2).data(MARK_ROLE) == HOLD


def test_text_from_users_is_never_markup_in_a_tool_tip() -> None:
    assert as_plain_tip("<b>x</b> & y") == "<qt>&lt;b&gt;x&lt;/b&gt; &amp; y</qt>"


def test_a_column_is_as_wide_as_its_widest_cell_wants(model: RowModel[Thing]) -> None:
    narrow = model.width_of(0)
    model.set_rows((*THINGS, Thing("a much longer tag", None, HOLD)))
    assert model.width_of(0) > narrow


def test_equal_rows_keep_the_order_in_which_they_came() -> None:
    rows = [("b", 1), ("a", 1), ("c", 0)]
    assert in_order(rows, lambda row: row[1], descending=True) == [("b", 1), ("a", 1), ("c", 0)]


def test_nothing_has_no_place_in_natural_order() -> None:
    assert natural_key("") is None
    assert natural_key("Cell 9") < natural_key("cell 10")  # type: ignore[operator]


@pytest.mark.parametrize("column", range(3))
def test_rows_prepared_beforehand_are_shown_and_sorted_like_any_others(model: RowModel[Thing], column: int) -> None:
    other: RowModel[Thing] = RowModel(COLUMNS, lambda row: row.tag)
    other.set_prepared(prepared(THINGS, COLUMNS))
    for each in (model, other):
        each.sort(column, Qt.SortOrder.DescendingOrder)
    assert model.rows == other.rows
