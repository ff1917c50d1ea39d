from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics

from fleetbench.window.detail.detail import Line, Table
from fleetbench.window.lists.lines_view import LinesView, fitted
from fleetbench.window.look.marks import READY
from fleetbench.window.look.theme import APART, CLOSE, Theme, font, head_height, row_height
from fleetbench.window.shell.place import PageKey

LONG = "the exhale one-way valve let breath through in the wrong direction after ten minutes of hanging to dry"


@pytest.fixture
def view(theme: Theme, qtbot: Any) -> LinesView:
    lines = (Line(("cell 1", "ready", LONG), READY, PageKey("parts", "7")), Line(("cell 2", "ready", "short"), READY))
    made = LinesView(theme, Table("Parts", ("Slot", "State", "What"), lines, mark_column=1))
    qtbot.addWidget(made)
    made.resize(420, 300)
    made.show()
    return made


def test_a_long_text_is_wrapped_into_a_higher_row_instead_of_being_cut(view: LinesView) -> None:
    assert view.rowHeight(0) > row_height()
    assert view.rowHeight(1) == row_height()


def test_the_columns_fit_the_width(view: LinesView) -> None:
    assert sum(view.columnWidth(number) for number in range(3)) <= view.viewport().width()


def test_a_heading_wider_than_its_column_is_wrapped_and_never_cut(theme: Theme, qtbot: Any) -> None:
    """The picture of a page drawn at 1280 x 800 had shown half of what a column holds."""
    headings = ("Last valid day of the test", "Oxygen depth", *("What is recorded",) * 4)
    view = LinesView(theme, Table("Cylinders", headings, (Line(("2026", "6 m", *("no words",) * 4)),)))
    qtbot.addWidget(view)
    view.resize(420, 300)
    view.show()
    head, measure = view.horizontalHeader(), QFontMetrics(font("label"))
    for number, heading in enumerate(headings):
        room = QRect(0, 0, view.columnWidth(number) - 2 * APART, 1000)
        box = measure.boundingRect(room, Qt.TextFlag.TextWordWrap, heading)
        assert box.width() <= room.width() and box.height() <= head.height() - CLOSE, heading
    assert head.height() > head_height()


def test_enter_goes_where_the_line_leads_and_nowhere_for_a_line_that_leads_nowhere(view: LinesView, qtbot: Any) -> None:
    view.setFocus()
    view.selectRow(0)
    with qtbot.waitSignal(view.place_requested) as said:
        qtbot.keyClick(view, Qt.Key.Key_Return)
    assert said.args == [PageKey("parts", "7")]
    view.selectRow(1)
    with qtbot.assertNotEmitted(view.place_requested, wait=20):
        qtbot.keyClick(view, Qt.Key.Key_Return)


def test_where_the_room_is_small_each_column_keeps_its_longest_word() -> None:
    wanted, least = [142, 190, 90, 300, 400], [142, 70, 60, 85, 100]
    assert fitted(wanted, 480, least)[0] == 142
    assert sum(fitted(wanted, 480, least)) <= 480
    assert all(wide >= word for wide, word in zip(fitted(wanted, 300, least), least, strict=True))


@given(st.lists(st.integers(40, 400), min_size=1, max_size=8), st.integers(100, 3000))
def test_no_column_grows_and_none_below_its_least_width_shrinks(wanted: list[int], room: int) -> None:
    widths = fitted(wanted, room)
    assert all(wide <= asked for wide, asked in zip(widths, wanted, strict=True))
    assert all(wide >= min(asked, 128) for wide, asked in zip(widths, wanted, strict=True))
    assert sum(widths) <= room or all(wide <= 128 for wide in widths)
