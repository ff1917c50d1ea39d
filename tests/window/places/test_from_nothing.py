"""From an empty database to nine units of two types, through the window alone, with what it took counted."""

from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from sqlalchemy import select

from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.verify import verify
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.register import count_rows, register_rows
from fleetbench.workshop.units.list import list_units, unit_page
from tests.conftest import Clock
from tests.window.places.hands import Centre, MakeCentre, centres_made

SINCE, MANUAL = "2024-03-01", "invented manual, edition 2"
MOST_TYPED = 60
"""Fields typed for nine units; common practice, no published source. By files it took 546 cells without the people."""


@pytest.fixture
def make_centre(qtbot: Any) -> Iterator[MakeCentre]:
    yield from centres_made(qtbot)


def add_types_and_units(centre: Centre) -> None:
    page = centre.window.page
    centre.press(page.add_button)
    centre.fill(page.dialog, centre="Invented Lake", user="Mo Tarn", manual=MANUAL, tag="B-01", serial="1001",
                in_service_on=SINCE)  # fmt: skip
    centre.save(page.dialog)
    more_like(centre, "B-01", ("1002", "1003", "1004", "1005"))
    units = centre.go("units")
    centre.start(units, "new_type")
    centre.fill(units.dialog, start="Chest", manual=MANUAL, tag="C-01", serial="2001", in_service_on=SINCE)
    centre.save(units.dialog)
    more_like(centre, "C-01", ("2002", "2003", "2004"))


def more_like(centre: Centre, tag: str, serials: tuple[str, ...]) -> None:
    """Read the cells of a unit, then enter more like it whose cells came with them."""
    units = centre.go("units")
    centre.choose(units, tag)
    centre.start(units, "marks")
    centre.fill(units.dialog, lot="L-7", made="2026-01", opened="2026-02-01")
    centre.save(units.dialog)
    centre.choose(units, tag)
    centre.start(units, "more")
    centre.typed += len(serials) - 1  # each line is a field of its own
    centre.fill(units.dialog, serials="\n".join(serials), same_delivery=True)
    centre.save(units.dialog)


def add_rules(centre: Centre) -> None:
    lives = centre.go("centre", "part_type_lives")
    for kind in ("BACK cell", "CHEST cell"):
        for basis, months in (("opened", "12"), ("made", "18")):
            centre.start(lives, "add")
            centre.fill(lives.dialog, part_type=kind, basis=basis, amount=months, source=MANUAL)
            centre.save(lives.dialog)
    plan = centre.go("centre", "service_tasks")
    for unit_type in ("BACK", "CHEST"):
        centre.start(plan, "add")
        centre.fill(plan.dialog, unit_type=unit_type, text="Yearly service", basis="months", amount="12", source=MANUAL)
        centre.save(plan.dialog)


def add_people_and_instruments(centre: Centre) -> None:
    people = centre.go("people")
    centre.start(people, "enter")
    centre.fill(people.bar.dialog, code="T1", role="technician", name="Odo Brandt")
    centre.save(people.bar.dialog)
    equipment = centre.go("equipment")
    for kind, serial, uncertainty in (("analyser", "AN-1", "0.25"), ("barometer", "BR-1", "0.5")):
        centre.start(equipment, "add")
        dialog = equipment.dialog
        centre.fill(dialog, kind=kind, name=kind, serial=serial, uncertainty=uncertainty, last_good_day="2026-12-31")
        centre.save(dialog)


def press(centre: Centre, keys: str | Qt.Key) -> None:
    for key in [keys] if isinstance(keys, Qt.Key) else list(keys):
        target = QApplication.focusWidget() or centre.window.page
        if isinstance(key, Qt.Key):
            QTest.keyClick(target, key)
        else:
            QTest.keyClicks(target, key)


def calibrate(centre: Centre, clock: Clock) -> None:
    """One head by keys: the room, air on two handsets, the flush until it settled, oxygen, record."""
    page = centre.go("calibrate", "B-01")
    assert isinstance(page, CalibratePage)
    centre.window.activateWindow()
    for text in ("1008.4", "21", "45", "99.6"):
        centre.typed += 1
        press(centre, text)
        press(centre, Qt.Key.Key_Return)
        centre.settle()
    centre.qtbot.waitUntil(lambda: page.sheet is not None and page.sheet.held.session is not None)
    centre.settle()
    oxygen = "498489507"
    for keys, seconds in (
        ("11", 0),
        ("104102106104102106", 0),
        ("*", 100),
        (oxygen, 30),
        ("+", 31),
        ("+", 0),
        (oxygen, 0),
    ):
        press(centre, keys)
        clock.advance(seconds=seconds)
        centre.settle()
    centre.typed += 6 + 3 + 3 + 3
    outcome = page.sheet.outcome  # type: ignore[union-attr]
    if not outcome.record_button.hasFocus():
        press(centre, Qt.Key.Key_Return)
    centre.qtbot.waitUntil(lambda: outcome.record_button.hasFocus() and not outcome.is_fresh)
    with centre.qtbot.waitSignal(page.finished, timeout=20_000):
        press(centre, Qt.Key.Key_Return)
    centre.settle()


def test_nine_units_of_two_types_are_entered_through_the_window_and_one_is_calibrated(
    make_centre: MakeCentre, sqlite_database: Database, clock: Clock
) -> None:
    centre = make_centre(Shop(sqlite_database, clock, attended=True))
    add_types_and_units(centre)
    add_rules(centre)
    add_people_and_instruments(centre)
    shop = Shop(sqlite_database, clock)
    assert [row.tag for row in list_units(shop)] == [
        *(f"B-0{n}" for n in range(1, 6)),
        *(f"C-0{n}" for n in range(1, 5)),
    ]
    assert all(len(unit_page(shop, row.tag).cells) == 3 for row in list_units(shop))
    assert count_rows(shop, ("readers",)) == {"readers": 4}  # two handsets a type
    assert {cell.last_good_day.isoformat() for cell in unit_page(shop, "C-04").cells if cell.last_good_day} == {
        "2027-01-31"
    }
    assert [each.role for each in list_people(shop)] == ["manager", "technician"]
    due = centre.go("due")
    assert len(due.model.rows) >= 27
    typed = centre.typed
    print(f"fields typed {typed}, choices {centre.chosen}, buttons {centre.pressed}, due {len(due.model.rows)}")
    assert typed <= MOST_TYPED
    calibrate(centre, clock)
    with sqlite_database.reading() as connection:
        assert list(connection.scalars(select(CalibrationOutcome.verdict))) == ["pass"] * 3
    print(f"with one calibration: fields typed {centre.typed}")
    assert verify(sqlite_database).whole and rebuild_lives(shop) == []
    assert len(register_rows(shop, "service_tasks")) == 2
