"""The ways to the bench through the main window: units and tickets lead to the work."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from shutil import copy

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.place import PageKey
from fleetbench.window.tickets.work import TicketWorkPage


@pytest.fixture
def desk(qtbot: QtBot, sample_file: Path, tmp_path: Path) -> Iterator[Desk]:
    opened = Desk(partial(open_records, str(copy(sample_file, tmp_path / "fleet.sqlite"))), "light")
    opened.window.show()
    qtbot.waitUntil(lambda: opened.window.here.page != "start", timeout=20_000)
    yield opened
    opened.close()


def settle(qtbot: QtBot, desk: Desk) -> None:
    qtbot.waitUntil(lambda: not desk.background.is_busy, timeout=20_000)
    qtbot.wait(20)


def test_unit_page_leads_to_its_calibration(qtbot: QtBot, desk: Desk) -> None:
    desk.window.go(PageKey("units", "B-01"))
    settle(qtbot, desk)
    page = desk.window.page
    assert isinstance(page, RecordPage)
    button = next(each for each in page.onward_buttons if each.text() == "Calibrate")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settle(qtbot, desk)
    assert desk.window.here == PageKey("calibrate", "B-01")
    assert desk.window.page.title == "Calibrate B-01"


def test_keys_open_a_ticket_on_the_unit_that_is_shown(qtbot: QtBot, desk: Desk) -> None:
    desk.window.go(PageKey("units", "C-02"))
    settle(qtbot, desk)
    desk.window.actions_at_hand.action("new_ticket").trigger()
    settle(qtbot, desk)
    page = desk.window.page
    assert isinstance(page, TicketWorkPage)
    assert page.new.tag.text() == "C-02"


def test_one_key_goes_on_with_what_is_next_on_the_unit_that_was_shown_last(qtbot: QtBot, desk: Desk) -> None:
    window = desk.window
    window.go(PageKey("units", "B-05"))
    settle(qtbot, desk)
    assert isinstance(window.page, RecordPage)
    steps = window.page.part("Next steps").lines  # type: ignore[attr-defined]
    window.go(PageKey("due"))
    settle(qtbot, desk)
    qtbot.keyClick(window, Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    settle(qtbot, desk)
    first = steps[0].leads_to
    assert first is not None and window.here == (PageKey("units", "B-05") if first.page == "fit" else first)


def test_the_key_for_what_is_next_asks_for_a_unit_where_none_was_shown(qtbot: QtBot, desk: Desk) -> None:
    settle(qtbot, desk)
    qtbot.keyClick(desk.window, Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    assert "open one" in desk.window.page.banner.text
