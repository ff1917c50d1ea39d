"""A centre sets itself up and corrects itself in the window, by keys and clicks, from an empty database on."""

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog

from fleetbench.records.core.database import Database
from fleetbench.window.look.buttons import EmptyState
from fleetbench.window.places.register import RegisterList
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units import setting_up
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people
from tests.conftest import Clock
from tests.window.places.hands import LEFT, Centre, MakeCentre, centres_made
from tests.workshop.small_folder import import_small, small_rows, write_folder

WHY = "typing error, the label was read again"


@pytest.fixture
def make_centre(qtbot: Any) -> Iterator[MakeCentre]:
    yield from centres_made(qtbot)


@pytest.fixture
def empty(make_centre: MakeCentre, sqlite_database: Database, clock: Clock) -> Centre:
    """The window on a database in which nothing is recorded."""
    return make_centre(Workplace(sqlite_database, clock, attended=True))


@pytest.fixture
def small(make_centre: MakeCentre, sqlite_database: Database, clock: Clock) -> Centre:
    """The window on the small invented centre, its manager signed in."""
    plain = Workplace(sqlite_database, clock)
    import_small(plain)
    centre = make_centre(Workplace(sqlite_database, clock, attended=True))
    manager = next(each for each in list_people(plain) if each.role == "manager")
    centre.desk.background.signed_in.choose(manager.person_id)
    centre.settle()
    return centre


def test_an_empty_database_opens_on_three_ways_to_begin_and_says_which_file_it_is(empty: Centre) -> None:
    page = empty.window.page
    assert isinstance(page, setting_up.FirstPage) and page.hasFocus() is False
    assert [page.add_button.text(), page.import_button.text(), page.sample_button.text()] == [
        "Add my first unit", "Import my spreadsheet", "Look at the sample",
    ]  # fmt: skip
    assert "fleet.db in " in empty.window.windowTitle()
    empty.press(page.import_button)
    assert empty.window.here == PageKey("bring_in")


def add_first(hands: Centre, **more: str) -> None:
    page = hands.window.page
    hands.press(page.add_button)
    hands.fill(page.dialog, tag="B-01", serial="1001", in_service_on="2024-03-01", **more)
    hands.save(page.dialog)


def test_the_first_unit_is_entered_in_one_form_and_its_user_signed_in(empty: Centre) -> None:
    add_first(empty, centre="Invented Lake", user="Mo Tarn")
    assert empty.window.here == PageKey("units")
    assert [row.tag for row in empty.window.page.model.rows] == ["B-01"]
    assert empty.desk.background.signed_in.name == "Mo Tarn"
    assert empty.window.windowTitle().startswith("Invented Lake – ")
    assert empty.typed == 5


def test_a_list_that_is_empty_says_what_belongs_there_and_begins_it(empty: Centre) -> None:
    add_first(empty, centre="Invented Lake", user="Mo Tarn")
    page = empty.go("centre", "limits")
    state = page.findChild(EmptyState)
    assert state.words[0] == "Limits: nothing is recorded yet" and state.button.text() == "Add limit"
    empty.press(state.button)
    empty.fill(page.dialog, name="loop leak", amount="8", source="invented manual, page 3", unit_type="BACK")
    empty.save(page.dialog)
    (row,) = page.model.rows
    assert (row.shown["name"], row.shown["unit"], row.shown["unit_type"]) == ("loop leak", "mL/min", "BACK")


CORRECTIONS: tuple[tuple[str, str, dict[str, str], str], ...] = (
    ("unit_types", "TYPE-B", {"loop_volume_l": "8.5"}, "Loop volume: 9.5 → 8.5."),
    ("part_type_lives", "CELL-A: opened", {"amount": "1"}, "Amount: 12 → 1. 2 cells now end earlier."),
    ("centre", "LK", {"telephone": "+00 555 0100"}, "Telephone: not recorded → +00 555 0100."),
    ("part_types", "CELL-A", {"price": "78.5"}, "Price: 10 → 78.5."),
    ("absences", "B-02: yearly service", {"back_at": "2026-05-02 16:00"},
     "Came back: not recorded → 2026-05-02 16:00."),
)  # fmt: skip


@pytest.mark.parametrize(("sheet", "label", "given", "said"), CORRECTIONS)
def test_a_fact_of_the_centre_is_corrected_by_keys_and_what_changed_is_told(
    small: Centre, sheet: str, label: str, given: dict[str, str], said: str
) -> None:
    page = small.go("centre", sheet)
    assert isinstance(page, RegisterList)
    small.choose(page, label)
    page.table.setFocus()
    QTest.keyClick(page.table, Qt.Key.Key_F4)
    small.qtbot.waitUntil(lambda: page.dialog is not None)
    small.settle()
    small.fill(page.dialog, **given, reason=WHY)
    small.save(page.dialog)
    assert page.banner.text.startswith(said)
    history = page.detail.detail.parts[1]
    small.qtbot.waitUntil(lambda: bool(page.detail.detail.parts[1].lines))
    assert WHY in page.detail.detail.parts[1].lines[0].cells, history


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"serial": "1020"}, "Serial: 1002 → 1020."),
        ({"place": "Shelf A"}, "Place: not recorded → Shelf A."),
        ({"retired_on": "2026-05-01"}, "Retired on: not recorded → 2026-05-01."),
    ],
)
def test_a_unit_is_corrected_from_the_list_of_units(small: Centre, given: dict[str, str], said: str) -> None:
    page = small.go("units")
    small.choose(page, "B-02")
    page.start("correct")
    small.qtbot.waitUntil(lambda: page.dialog is not None)
    small.settle()
    small.fill(page.dialog, **given, reason=WHY)
    small.save(page.dialog)
    assert page.banner.text.startswith(said)


@pytest.mark.parametrize(
    ("given", "said"),
    [({"lot": "L-9"}, "Lot: not recorded → L-9."), ({"made_on": "2025-08"}, "Made: 2026-01 → 2025-08.")],
)
def test_a_cell_is_corrected_from_the_page_of_the_part(small: Centre, given: dict[str, str], said: str) -> None:
    cell = next(fitted for fitted in _fitted(small.workplace) if fitted.slot == "cell 1")
    page = small.go("parts", str(cell.part_id))
    page.desk.start("correct_part")
    small.qtbot.waitUntil(lambda: page.desk.dialog is not None)
    small.settle()
    dialog = page.desk.dialog
    small.fill(dialog, **given, reason=WHY)
    small.save(dialog)
    assert page.banner.text.startswith(said)


def test_a_role_is_corrected_on_the_page_of_the_person(small: Centre) -> None:
    page = small.go("people", "T1")
    page.bar.start("role")
    small.qtbot.waitUntil(lambda: page.bar.dialog is not None)
    small.settle()
    dialog = page.bar.dialog
    small.fill(dialog, role="instructor", reason=WHY)
    small.save(dialog)
    assert page.banner.text.startswith("Role: technician → instructor.")


def _fitted(workplace: Workplace) -> Any:
    from fleetbench.workshop.units.list import unit_page

    return unit_page(workplace, "B-01").fitted


def test_a_looser_limit_is_refused_in_the_form_until_it_has_its_source(small: Centre) -> None:
    page = small.go("centre", "limits")
    small.choose(page, "CELL-A: cell air low")
    page.start("correct")
    small.settle()
    small.fill(page.dialog, amount="7", reason=WHY)
    QTest.mouseClick(page.dialog.act_button, LEFT)
    small.qtbot.waitUntil(lambda: page.dialog.banner.text.startswith("source: the limit gets looser, 8.5 mV to 7 mV"))
    small.settle()
    small.fill(page.dialog, source="invented manual, edition 2, page 31")
    small.save(page.dialog)
    assert "The limit gets looser, 8.5 mV to 7 mV." in page.banner.text


EMPTY_LISTS = ("units", "cells", "canisters", "valves", "hires", "due", "tickets", "stock", "shelf", "orders", "places",
               "cylinders", "absorbent", "people", "availability")  # fmt: skip


@pytest.mark.parametrize("name", EMPTY_LISTS)
def test_every_empty_list_says_what_belongs_there_and_its_button_begins_it(empty: Centre, name: str) -> None:
    page = empty.go(name)
    state = page.findChild(EmptyState)
    assert state.isVisible() and len(state.words[1]) > 20 and state.button.isVisible()
    before = empty.window.here
    QTest.mouseClick(state.button, LEFT)
    empty.settle()
    dialogs = [each for each in empty.window.findChildren(QDialog) if each.isVisible()]
    assert empty.window.here != before or dialogs
    for dialog in dialogs:
        dialog.reject()
    empty.settle()


def test_the_sample_is_built_in_a_folder_of_its_own_and_thrown_away(
    empty: Centre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = write_folder(tmp_path / "sample_files", small_rows())
    data = tmp_path / "data"
    data.mkdir()
    monkeypatch.setattr("fleetbench.workshop.places.shipped.shipped", _always(files))
    for module in ("fleetbench.window.units.setting_up", "fleetbench.window.shell.opening", "fleetbench.settings"):
        monkeypatch.setattr(f"{module}.data_folder", partial(Path, data))
    page, window = empty.window.page, empty.window
    assert isinstance(page, setting_up.FirstPage)
    QTest.mouseClick(page.sample_button, LEFT)
    empty.qtbot.waitUntil(lambda: "sample.sqlite in " in window.windowTitle(), timeout=30_000)
    empty.settle()
    assert window.here == PageKey("today")
    leave = window.actions_at_hand.action("leave_sample")
    assert leave.isEnabled()
    leave.trigger()
    empty.qtbot.waitUntil(lambda: "fleet.db in " in window.windowTitle(), timeout=30_000)
    empty.settle()
    assert window.here == PageKey("first") and not leave.isEnabled()
    empty.qtbot.waitUntil(lambda: not (data / "sample").exists())


def _always(path: Path) -> Callable[[str], Path]:
    def shipped(_name: str) -> Path:
        return path

    return shipped
