"""Bringing in sheets by keys and clicks: checked first, whole or not at all, and called off in between."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt

from fleetbench.records.core.database import Database
from fleetbench.shipped import shipped
from fleetbench.window.import_export.page import BringInPage
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import Opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.units.list import list_units
from tests.workshop.small_folder import small_rows, write_folder


@pytest.fixture
def empty_workplace(sqlite_database: Database) -> Workplace:
    return Workplace(sqlite_database)


@pytest.fixture
def desk(empty_workplace: Workplace, qtbot: Any) -> Iterator[Desk]:
    made = Desk(lambda: Opened(empty_workplace), "light")
    made.window.show()
    qtbot.waitUntil(lambda: made.window.here == PageKey("today"))
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


@pytest.fixture
def page(desk: Desk) -> BringInPage:
    desk.window.bring_in()
    assert isinstance(desk.window.page, BringInPage)
    return desk.window.page


@pytest.fixture
def sheets(tmp_path: Path) -> Path:
    """A small centre's folder, taken in within a blink."""
    return write_folder(tmp_path / "sheets", small_rows())


@pytest.fixture
def many_sheets(tmp_path: Path) -> Path:
    """The sample fleet's folder, which takes long enough to be called off."""
    return Path(shutil.copytree(shipped("sample_fleet"), tmp_path / "many"))


def check(page: BringInPage, folder: Path, qtbot: Any) -> None:
    """Type the folder and press Enter."""
    page.folder_field.setText(str(folder))
    qtbot.keyClick(page.folder_field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not page.work.cancel_button.isVisible(), timeout=60_000)


def test_a_folder_is_checked_first_and_then_taken_in_whole(
    page: BringInPage, desk: Desk, empty_workplace: Workplace, sheets: Path, qtbot: Any
) -> None:
    check(page, sheets, qtbot)
    assert list_units(empty_workplace) == ()
    qtbot.mouseClick(page.take_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.banner.text.endswith("imported."), timeout=60_000)
    assert len(list_units(empty_workplace)) == len(small_rows()["units"])
    qtbot.waitUntil(lambda: desk.window.windowTitle().startswith(read_centre(empty_workplace).name))


def test_a_fault_is_shown_by_sheet_row_and_column_and_nothing_can_be_brought_in(
    page: BringInPage, empty_workplace: Workplace, sheets: Path, qtbot: Any
) -> None:
    lines = (sheets / "people.csv").read_text(encoding="utf-8").splitlines()
    (sheets / "people.csv").write_text("\n".join([*lines, lines[-1]]) + "\n", encoding="utf-8")
    check(page, sheets, qtbot)
    assert page.result.detail is not None
    faults = page.result.detail.parts[0].lines  # type: ignore[union-attr]
    assert ("people", str(len(lines) + 1)) in {line.cells[:2] for line in faults}
    assert not page.take_button.isVisible()
    assert list_units(empty_workplace) == ()


def test_a_folder_that_is_not_there_is_refused_in_one_line(page: BringInPage, tmp_path: Path, qtbot: Any) -> None:
    check(page, tmp_path / "nowhere", qtbot)
    assert "nowhere" in page.banner.text


def test_it_can_be_called_off_and_then_nothing_was_brought_in(
    page: BringInPage, empty_workplace: Workplace, many_sheets: Path, qtbot: Any
) -> None:
    check(page, many_sheets, qtbot)
    qtbot.mouseClick(page.take_button, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(page.work.cancel_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.banner.text == "Cancelled: nothing was imported.", timeout=60_000)
    assert list_units(empty_workplace) == ()


def test_another_folder_has_to_be_checked_before_it_is_taken(page: BringInPage, sheets: Path, qtbot: Any) -> None:
    check(page, sheets, qtbot)
    assert page.take_button.isVisible()
    page.folder_field.setText(str(sheets.parent))
    assert not page.take_button.isVisible()
    assert page.check_button.isVisible()
