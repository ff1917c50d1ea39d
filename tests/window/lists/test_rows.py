import random
import re
from dataclasses import dataclass
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
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
    assert natural_key("Cell 9") < natural_key("cell 10")


@pytest.mark.parametrize("column", range(3))
def test_rows_prepared_beforehand_are_shown_and_sorted_like_any_others(model: RowModel[Thing], column: int) -> None:
    other: RowModel[Thing] = RowModel(COLUMNS, lambda row: row.tag)
    other.set_prepared(prepared(THINGS, COLUMNS))
    for each in (model, other):
        each.sort(column, Qt.SortOrder.DescendingOrder)
    assert model.rows == other.rows


def by_parts(text: str) -> tuple[tuple[int, int, str], ...]:
    """The natural order told plainly: numbers by value before letters, part by part."""
    parts = re.findall(r"\d+|\D+", text.casefold())
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)


LABELS = st.text(st.sampled_from("0129 aAbB-ß٣"), max_size=9)


@given(LABELS, LABELS)
def test_one_text_sorts_as_its_parts_do(one: str, other: str) -> None:
    first, second = natural_key(one) or "", natural_key(other) or ""
    assert (first < second) == (by_parts(one) < by_parts(other))
    assert (first == second) == (by_parts(one) == by_parts(other))


@pytest.mark.parametrize("column", range(3))
@pytest.mark.parametrize("direction", [Qt.SortOrder.AscendingOrder, Qt.SortOrder.DescendingOrder])
def test_many_rows_sorted_and_filtered_are_those_that_a_plain_sort_and_search_give(
    qapp: object, column: int, direction: Qt.SortOrder
) -> None:
    """The rows are invented; the cursor stays on its row wherever that goes, and goes where its row is hidden."""
    chance = random.Random(column)
    rows = [
        Thing(
            f"{chance.choice('UVW')}{n}", chance.choice((None, date(2026, 1 + n % 12, 1))), chance.choice((HOLD, READY))
        )
        for n in range(400)
    ]
    model: RowModel[Thing] = RowModel(COLUMNS, lambda row: row.tag)
    QAbstractItemModelTester(model)
    model.set_rows(rows)
    cursor = QPersistentModelIndex(model.index(17, 0))
    held = model.rows[17]
    model.sort(column, direction)
    for words in ("", "u 1", "1 hold", "v", "nothing at all", "U17"):
        model.set_filter(words)
        kept = [row for row in rows if all(word in texts_of(row) for word in words.casefold().split())]
        descending = direction == Qt.SortOrder.DescendingOrder
        assert list(model.rows) == in_order(kept, COLUMNS[column].order, descending)
        assert not cursor.isValid() or model.rows[cursor.row()] == held
        if held not in kept:
            assert not cursor.isValid()
            break
    model.set_filter("")
    model.set_keep(lambda row: row.ends is None)
    assert list(model.rows) == in_order([row for row in rows if row.ends is None], COLUMNS[column].order, descending)


def texts_of(row: Thing) -> str:
    return "\n".join(column.text(row) for column in COLUMNS).casefold()
