"""A list page driven by keys and clicks, on rows that are loaded off the GUI thread."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import shiboken6
from openpyxl import load_workbook
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication

from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter, widest_for
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.marks import HOLD, READY, mark_for
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.place import PageKey


@dataclass(frozen=True, slots=True)
class Thing:
    tag: str
    fit: str
    note: str = ""


THINGS = [Thing("U10", "ready"), Thing("U2", "hold", "=1+1"), Thing("U1", "ready", "<b>bold</b>")]


class Source:
    """What the list loads; the test changes it."""

    def __init__(self) -> None:
        self.rows: list[Thing] = list(THINGS)
        self.refusal = ""

    def __call__(self) -> list[Thing]:
        if self.refusal:
            raise Refused(self.refusal)
        return list(self.rows)


@pytest.fixture
def source() -> Source:
    return Source()


def make_page(theme: Theme, background: Background, source: Source) -> ListPage[Thing]:
    """A list of things."""
    spec = ListSpec(
        "Things",
        (
            Column("tag", "Tag", lambda row: row.tag),
            Column("fit", "Fit", lambda row: row.fit, state=lambda row: mark_for(row.fit)),
            Column("note", "Note", lambda row: row.note),
            Column("more", "More", lambda row: "more", shown=False),
        ),
        key=lambda row: row.tag,
        load=source,
        describe=lambda row: Detail(row.tag, parts=(Section("Note", (Fact("Note", row.note),)),)),
        empty=Emptiness("No things", "Make one.", "note", "make", "Make one"),
        place=lambda row: PageKey("things", row.tag),
        choices=(
            QuickFilter("hold", lambda row: row.fit == "hold", HOLD),
            QuickFilter("ready", lambda row: row.fit == "ready", READY),
        ),
    )
    return ListPage(theme, background, spec)


@pytest.fixture
def page(theme: Theme, background: Background, source: Source, qtbot: Any) -> ListPage[Thing]:
    made = make_page(theme, background, source)
    qtbot.addWidget(made)
    made.resize(1000, 600)
    made.show()
    with qtbot.waitSignal(made.rows_shown):
        made.refresh()
    made.focus_first()
    return made


def shown(page: ListPage[Thing]) -> list[str]:
    return [row.tag for row in page.model.rows]


def test_rows_are_loaded_summed_up_and_the_first_is_described(page: ListPage[Thing]) -> None:
    assert shown(page) == ["U1", "U2", "U10"]
    assert page.summary == "3 in all"
    assert page.detail.detail is not None
    assert page.detail.detail.title == "U1"


def test_typing_in_the_filter_narrows_the_list_and_escape_widens_it_again(page: ListPage[Thing], qtbot: Any) -> None:
    page.focus_filter()
    qtbot.keyClicks(page.filter_field, "hold")
    assert shown(page) == ["U2"]
    qtbot.keyClick(page.filter_field, Qt.Key.Key_Escape)
    assert shown(page) == ["U1", "U2", "U10"]
    assert page.table.hasFocus()


def test_a_row_that_is_filtered_away_leaves_no_detail_behind(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.waitUntil(lambda: page.detail.detail is not None and page.detail.detail.title == "U1")
    page.focus_filter()
    qtbot.keyClicks(page.filter_field, "hold")
    qtbot.waitUntil(lambda: page.detail.detail is not None and page.detail.detail.title == "U2")
    assert page.told.text() == "1 of 3"
    qtbot.waitUntil(lambda: page.told.width() >= page.told.sizeHint().width())


def test_a_list_that_a_filter_empties_says_so_and_shows_no_detail(page: ListPage[Thing], qtbot: Any) -> None:
    page.focus_filter()
    qtbot.keyClicks(page.filter_field, "no such words")
    assert page.nothing_left.isVisible()
    assert page.nothing_left.text() == "None of 3 matches. Escape clears the filter."
    assert page.detail.detail is None
    qtbot.keyClick(page.filter_field, Qt.Key.Key_Escape)
    assert not page.nothing_left.isVisible()


def test_escape_with_nothing_to_clear_asks_to_go_back(page: ListPage[Thing], qtbot: Any) -> None:
    with qtbot.waitSignal(page.back_requested):
        qtbot.keyClick(page.table, Qt.Key.Key_Escape)


def test_arrow_down_moves_and_enter_opens(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.keyClick(page.table, Qt.Key.Key_Down)
    with qtbot.waitSignal(page.place_requested) as said:
        qtbot.keyClick(page.table, Qt.Key.Key_Return)
    assert said.args == [PageKey("things", "U2")]


def test_a_double_click_opens(page: ListPage[Thing], qtbot: Any) -> None:
    at = page.table.visualRect(page.model.index(2, 0)).center()
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    with qtbot.waitSignal(page.place_requested) as said:
        qtbot.mouseDClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert said.args == [PageKey("things", "U10")]


def test_alt_up_and_down_sort_by_the_column_of_the_cursor(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.keyClick(page.table, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    assert shown(page) == ["U10", "U2", "U1"]
    qtbot.keyClick(page.table, Qt.Key.Key_Right)
    qtbot.keyClick(page.table, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert shown(page)[0] == "U2"


def test_a_click_on_a_heading_sorts(page: ListPage[Thing], qtbot: Any) -> None:
    heads = page.table.horizontalHeader()
    qtbot.mouseClick(heads.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(heads.sectionViewportPosition(0) + 9, 9))
    assert shown(page) == ["U10", "U2", "U1"]


def test_up_from_the_first_row_goes_to_the_filter_and_down_returns(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.keyClick(page.table, Qt.Key.Key_Up)
    assert page.filter_field.hasFocus()
    qtbot.keyClick(page.filter_field, Qt.Key.Key_Down)
    assert page.table.hasFocus()


def test_a_quick_choice_narrows_and_all_widens(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.mouseClick(page.choice_buttons[1], Qt.MouseButton.LeftButton)
    assert shown(page) == ["U2"]
    qtbot.mouseClick(page.choice_buttons[0], Qt.MouseButton.LeftButton)
    assert len(shown(page)) == 3


def test_a_refresh_keeps_the_chosen_row_though_others_come_before_it(
    page: ListPage[Thing], source: Source, qtbot: Any
) -> None:
    assert page.choose("U2")
    source.rows.append(Thing("U0", "ready"))
    with qtbot.waitSignal(page.rows_shown):
        page.refresh()
    assert page.chosen_key() == "U2"


def test_copy_gives_the_shown_columns_with_formulas_made_harmless(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.mouseClick(page.copy_button, Qt.MouseButton.LeftButton)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines == ["Tag\tFit\tNote", "U1\tready\t<b>bold</b>", "U2\thold\t'=1+1", "U10\tready\t"]
    assert page.banner.text == "3 rows copied as a table."


def test_copy_takes_only_the_marked_rows_when_several_are_marked(page: ListPage[Thing], qtbot: Any) -> None:
    qtbot.keyClick(page.table, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    page.copy_as_table()
    assert len(QGuiApplication.clipboard().text().splitlines()) == 3


def test_a_list_is_saved_as_it_is_shown_with_formulas_made_harmless(
    page: ListPage[Thing], qtbot: Any, tmp_path: Path
) -> None:
    qtbot.keyClicks(page.filter_field, "u")
    page.choice_buttons[1].click()
    page.choice_buttons[0].click()
    page._columns_menu.actions()[1].setChecked(False)
    page.table.sortByColumn(0, Qt.SortOrder.DescendingOrder)
    for name in ("things.xlsx", "things.csv"):
        with qtbot.waitSignal(page.saving.written, timeout=20_000):
            page.saving.write_to(tmp_path / name)
    sheet = load_workbook(tmp_path / "things.xlsx").active
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [
        ["Tag", "Note"], ["U10", None], ["U2", "=1+1"], ["U1", "<b>bold</b>"],
    ]  # fmt: skip
    assert {cell.data_type for row in sheet.iter_rows() for cell in row if cell.value} == {"s"}
    said = (tmp_path / "things.csv").read_text("utf-8-sig")
    assert said == "Tag,Note\nU10,\nU2,'=1+1\nU1,<b>bold</b>\n"  # RFC 4180; CWE-1236
    assert page.banner.text.startswith(f"Written to {tmp_path / 'things.csv'}. Where figures are written with a comma")


def test_a_column_can_be_hidden_and_shown_but_never_the_last_one(page: ListPage[Thing]) -> None:
    tag, fit, note, more = page.columns_button.menu().actions()
    assert page.table.isColumnHidden(3)
    more.trigger()
    assert not page.table.isColumnHidden(3)
    for action in (fit, note, more):
        action.trigger()
    assert not tag.isEnabled()


def test_an_empty_list_says_what_to_do_next_and_offers_it(page: ListPage[Thing], source: Source, qtbot: Any) -> None:
    source.rows = []
    with qtbot.waitSignal(page.rows_shown):
        page.refresh()
    assert page.empty_state.isVisible()
    with qtbot.waitSignal(page.action_requested) as said:
        qtbot.mouseClick(page.empty_state.button, Qt.MouseButton.LeftButton)
    assert said.args == ["make"]


def test_a_refusal_is_one_line_in_the_page_and_the_rows_stay(page: ListPage[Thing], source: Source, qtbot: Any) -> None:
    source.refusal = "the database is busy at another desk; try again in a moment"
    page.refresh()
    qtbot.waitUntil(lambda: page.banner.text == source.refusal)
    assert len(shown(page)) == 3


def test_a_later_load_that_works_takes_the_refusal_away(page: ListPage[Thing], source: Source, qtbot: Any) -> None:
    page.banner.say_refused("the database is busy")
    with qtbot.waitSignal(page.rows_shown):
        page.refresh()
    assert page.banner.text == ""


def test_text_from_users_is_shown_as_it_is_in_the_detail_pane(page: ListPage[Thing]) -> None:
    page.choose("U1")
    assert any(label.text() == "<b>bold</b>" for label in page.detail.labels())
    assert all(label.textFormat() is Qt.TextFormat.PlainText for label in page.detail.labels())


def test_the_page_is_freed_with_its_parts_when_it_is_deleted(
    theme: Theme, background: Background, source: Source, qtbot: Any
) -> None:
    made = make_page(theme, background, source)
    parts = (made.model, made.table, made.detail, made.columns_button.menu())
    made.deleteLater()
    qtbot.waitUntil(lambda: not any(map(shiboken6.isValid, (made, *parts))))


@pytest.mark.parametrize(("room", "cap"), [(900, 400), (700, 300), (400, 150), (90, 96)])
def test_the_widest_columns_give_way_first_and_none_beyond_reading(room: int, cap: int) -> None:
    assert widest_for([400, 300, 100], room) == cap


def test_the_choice_of_columns_says_how_many_are_out_of_view(page: ListPage[Thing], qtbot: Any) -> None:
    assert page.columns_button.text() == "Columns"
    page.table.setFixedWidth(120)
    qtbot.waitUntil(lambda: "out of view" in page.columns_button.text())
    page.table.setFixedWidth(900)
    qtbot.waitUntil(lambda: page.columns_button.text() == "Columns")


def test_what_comes_after_the_rest_was_loaded_has_its_room_and_a_width_that_was_given_stays(
    theme: Theme, background: Background, qtbot: Any
) -> None:
    first = [Thing("U1", "…", "…"), Thing("U2", "…", "…")]
    whole = [Thing(each.tag, "not known, to be measured again", "a note of some length") for each in first]
    spec = ListSpec(
        "Things",
        (Column("tag", "Tag", lambda row: row.tag), Column("fit", "Fit", lambda row: row.fit),
         Column("note", "Note", lambda row: row.note)),
        key=lambda row: row.tag, load=lambda: whole, load_at_once=lambda: first, lacks=lambda row: row.fit == "…",
        describe=lambda row: Detail(row.tag), empty=Emptiness("No things", "Make one."),
    )  # fmt: skip
    page = ListPage(theme, background, spec)
    qtbot.addWidget(page)
    page.resize(1400, 600)
    page.show()
    page.rows_shown.connect(lambda _count: page.table.setColumnWidth(0, 177), Qt.ConnectionType.SingleShotConnection)
    page.refresh()
    qtbot.waitUntil(lambda: page.model.rows == tuple(whole) and not background.is_busy, timeout=20_000)
    assert page.table.columnWidth(1) == page.model.width_of(1) > 177
    assert page.table.columnWidth(0) == 177
