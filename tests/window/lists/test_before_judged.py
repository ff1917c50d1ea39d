"""Lists whose records stand there before they are judged: none looks good meanwhile, and no act is offered on one."""

import threading
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.window.bench import valves as valve_page
from fleetbench.window.cells import list as cell_page
from fleetbench.window.gas import list as cylinder_page
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.lists.rows import is_listed
from fleetbench.window.look.marks import UNKNOWN
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.bench import valves
from fleetbench.workshop.cells import list as cells
from fleetbench.workshop.core import known
from fleetbench.workshop.core.known import Workplace, forget, listed_at_once
from fleetbench.workshop.gas import list as cylinders
from fleetbench.workshop.units.fleet import whole_fleet
from fleetbench.workshop.units.holds import place_hold

CALCULATED = "being calculated"
PAGES: dict[str, tuple[Any, Any, str, str]] = {
    "cells": (cell_page, cells, "list_cells", "cells_listed"),
    "cylinders": (cylinder_page, cylinders, "list_cylinders", "cylinders_listed"),
    "valves": (valve_page, valves, "list_valves", "valves_listed"),
}
Made = Callable[[str], tuple[ListPage[Any], threading.Event]]


@pytest.fixture
def made(
    qtbot: QtBot, theme: Theme, background: Background, sample_workplace: Workplace, monkeypatch: pytest.MonkeyPatch
) -> Any:
    """Makes a page whose records are many, and which are judged when the event is set."""
    may_go_on = threading.Event()

    def make(name: str) -> tuple[ListPage[Any], threading.Event]:
        module, desk, whole, _ = PAGES[name]
        judge = getattr(desk, whole)

        def held_back(workplace: Workplace) -> Any:
            assert may_go_on.wait(20)
            return judge(workplace)

        monkeypatch.setattr(desk, whole, held_back)
        page: ListPage[Any] = module.list_page(PageContext(theme, background, sample_workplace, ZoneInfo("UTC")))
        qtbot.addWidget(page)
        page.resize(1088, 480)
        with qtbot.waitExposed(page):
            page.show()
        with qtbot.waitSignal(page.rows_shown, timeout=20_000):
            page.refresh()
        return page, may_go_on

    monkeypatch.setattr(known, "MANY", 10)
    forget(sample_workplace.database)
    yield make
    may_go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy, timeout=20_000)


@pytest.mark.parametrize("name", PAGES)
def test_a_record_tells_only_what_is_recorded_of_itself_and_no_choice_keeps_it(made: Made, name: str) -> None:
    page, _ = made(name)
    rows = page.model.rows
    assert len(rows) > 10
    assert page.summary.endswith(CALCULATED)
    assert all(map(is_listed, rows))
    for column in page.model.columns:
        for row in rows:
            assert column.cell(row) == row.told.get(column.key, CALCULATED)
            if column.state is not None:
                mark = column.state(row)
                assert mark is not None
                assert (mark.shape, mark.tone) == (UNKNOWN.shape, UNKNOWN.tone)
            assert column.trend is None or column.trend(row) is None
    for button in page.choice_buttons[1:]:
        button.click()
        assert page.model.rowCount() == 0, button.text()


@pytest.mark.parametrize("name", PAGES)
def test_the_rest_arrives_for_the_same_records_and_cursor_and_filter_stay(
    qtbot: QtBot, made: Made, name: str, background: Background
) -> None:
    page, may_go_on = made(name)
    before = {row.key: row.told for row in page.model.rows}
    page.focus_table()
    for _ in range(5):
        QTest.keyClick(page.table, Qt.Key.Key_Down)
    chosen = page.chosen_key()
    word = before[str(chosen)][page.model.columns[0].key]
    page.filter_field.setText(word)
    assert page.chosen_key() == chosen
    may_go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy and not any(map(is_listed, page.model.rows)), timeout=20_000)
    assert page.chosen_key() == chosen
    assert page.filter_field.text() == word
    page.filter_field.clear()
    spec = page._spec
    assert {spec.key(row) for row in page.model.rows} == set(before)
    for row in page.model.rows:
        for column in page.model.columns:
            told = before[spec.key(row)].get(column.key)
            assert told is None or column.cell(row) == told
    assert CALCULATED not in page.summary


def test_no_column_keeps_the_room_of_what_it_said_before(qtbot: QtBot, made: Made, background: Background) -> None:
    page, may_go_on = made("cylinders")
    number = [column.key for column in page.model.columns].index("bar")
    before = page.table.columnWidth(number)
    may_go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy and not any(map(is_listed, page.model.rows)), timeout=20_000)
    assert page.table.columnWidth(number) == page.model.width_of(number) < before


def test_no_act_is_offered_on_a_cylinder_that_is_not_judged(qtbot: QtBot, made: Made, background: Background) -> None:
    page, may_go_on = made("cylinders")
    assert isinstance(page, cylinder_page.CylinderList)
    page.focus_table()
    page.table.selectAll()
    assert page.bench.row == ()
    none_chosen = {name: button.isEnabled() for name, button in page.bench.buttons.items()}
    may_go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy and not any(map(is_listed, page.model.rows)), timeout=20_000)
    assert page.bench.row
    page.bench.choose_lines([], marked=False)
    assert {name: button.isEnabled() for name, button in page.bench.buttons.items()} == none_chosen


@pytest.mark.parametrize("name", PAGES)
def test_what_was_calculated_is_there_at_once_also_after_an_act(
    sample_workplace: Workplace, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    _, desk, whole, listed = PAGES[name]
    whole, listed = getattr(desk, whole), getattr(desk, listed)
    forget(sample_workplace.database)
    assert listed_at_once(sample_workplace, whole, listed) == whole(sample_workplace), "so few take no time"
    monkeypatch.setattr(known, "MANY", 10)
    assert listed_at_once(sample_workplace, whole, listed) == whole(sample_workplace)
    tag = whole_fleet(sample_workplace).records.units[0].tag
    place_hold(sample_workplace.as_person(1), tag, "dropped")
    assert listed_at_once(sample_workplace, whole, listed) == whole(sample_workplace)
    forget(sample_workplace.database)
    assert all(map(is_listed, listed_at_once(sample_workplace, whole, listed)))


def test_valves_are_listed_alike_whether_the_fleet_is_known_or_not(sample_workplace: Workplace) -> None:
    forget(sample_workplace.database)
    read = valves.valves_listed(sample_workplace)
    whole_fleet(sample_workplace)
    assert valves.valves_listed(sample_workplace) == read
