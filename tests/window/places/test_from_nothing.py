"""From an empty database to nine units of two types and one of them ready, through the window alone, counted."""

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
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.units.page import remedy_of
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.register import count_rows
from fleetbench.workshop.units.list import Fit, list_units, unit_page
from tests.conftest import Clock
from tests.window.places.hands import Centre, MakeCentre, centres_made

FOR_CELLS = (("analyser", "AN-1", "0.25"), ("barometer", "BR-1", "0.5"))
FOR_TESTS = (
    ("gauge", "GA-1", "0.02"), ("flow meter", "FM-1", "0.01"), ("thermometer", "TH-1", "0.2"),
    ("manometer", "MA-1", "0.2"),
)  # fmt: skip
"""Test equipment with its standard uncertainty; invented."""
SINCE, MANUAL = "2024-03-01", "invented manual, edition 2"
READY, PIN = "C-01", "2468"
MOST_TYPED, MOST_TYPED_READY = 60, 150
"""Fields typed for nine units, and until one is ready; common practice, no published source.

By files nine units alone took 546 cells, without the people."""


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
    add_equipment(centre, FOR_CELLS)


def add_equipment(centre: Centre, listed: tuple[tuple[str, str, str], ...]) -> None:
    equipment = centre.go("equipment")
    for kind, serial, uncertainty in listed:
        centre.start(equipment, "add")
        dialog = equipment.dialog
        centre.fill(dialog, kind=kind)
        centre.settle()  # the unit follows the kind
        centre.fill(dialog, name=kind, serial=serial, uncertainty=uncertainty, last_good_day="2026-12-31")
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
    page = centre.go("calibrate", READY)
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
    store_in_handsets(centre, page)
    outcome = page.sheet.outcome  # type: ignore[union-attr]
    outcome.record_button.setFocus()
    if not outcome.record_button.hasFocus():
        press(centre, Qt.Key.Key_Return)
    centre.qtbot.waitUntil(lambda: outcome.record_button.hasFocus() and not outcome.is_fresh)
    with centre.qtbot.waitSignal(page.finished, timeout=20_000):
        press(centre, Qt.Key.Key_Return)
    centre.settle()


def store_in_handsets(centre: Centre, page: CalibratePage) -> None:
    """What was set in each handset for its own calibration, and what it shows after."""
    extras = page.sheet.extras  # type: ignore[union-attr]
    centre.press(extras.panel_buttons["handsets"])
    for fields in extras.handset_fields.values():
        for field, text in zip(fields, ("99.6", "1008.4", "0.99", "0.21"), strict=True):
            centre.type(field, text)
            QTest.keyClick(field, Qt.Key.Key_Tab)
    centre.settle()


LIMITS = (
    ("battery voltage low", "3.3"), ("loop negative minutes", "3"), ("loop positive minutes", "3"),
    ("intermediate pressure low", "8.5"), ("intermediate pressure high", "10"),
    ("relief valve opening pressure low", "20"), ("relief valve opening pressure high", "40"),
    ("injector flow", "0.8"), ("injector pressure", "9.4"), ("injector tolerance", "10"),
    ("injector temperature", "20"),
)  # fmt: skip
"""Figures of an invented manual; without them a unit is held, and no figure of theirs is shipped."""


def add_what_the_manual_states(centre: Centre) -> None:
    limits = centre.go("centre", "limits")
    for name, amount in LIMITS:
        centre.start(limits, "add")
        centre.fill(limits.dialog, unit_type="CHEST", name=name, amount=amount, source=MANUAL)
        centre.save(limits.dialog)
    for sheet, given in (
        ("approved_firmware", {"version": "1.4"}),
        ("disinfectants", {"name": "Agent A", "strength": "1 %", "contact_minutes": "10", "use_within_hours": "24"}),
    ):
        page = centre.go("centre", sheet)
        centre.start(page, "add")
        centre.fill(page.dialog, unit_type="CHEST", source=MANUAL, **given)
        centre.save(page.dialog)
    add_equipment(centre, FOR_TESTS)
    units = centre.go("units")
    centre.choose(units, READY)
    centre.start(units, "marks")
    centre.fill(units.dialog, kind="handset", firmware="1.4")
    centre.save(units.dialog)
    manager = centre.go("people", "M1")
    centre.start(manager, "paper")
    centre.fill(manager.bar.dialog, kind="technician")
    centre.save(manager.bar.dialog)
    centre.start(manager, "pin")
    centre.fill(manager.bar.dialog, pin=PIN, again=PIN)
    centre.save(manager.bar.dialog)


def follow(centre: Centre, check: str) -> Any:
    """Press Enter on a check of the unit's page: the place where it is corrected."""
    found = next(each for each in unit_page(centre.workplace, READY).assessment.checks if each.check == check)
    place = remedy_of(found, READY)
    assert place is not None, found
    centre.pressed += 1
    page = centre.go(place.page, place.key)
    centre.qtbot.wait(10)
    centre.settle()
    return page


def serve(centre: Centre) -> None:
    """The yearly service as a ticket: its task done and signed."""
    page = follow(centre, "periodic service")
    with centre.qtbot.waitSignal(page.opened, timeout=20_000):
        centre.press(page.new.open_button)
    centre.settle()
    centre.press(page.tasks.rows[0].done_button)
    sign(centre, page, page.sign.sign_button)


def sign(centre: Centre, page: Any, button: Any) -> None:
    """Press the button that signs, and give the PIN."""
    known = set(page.findChildren(FormDialog))
    centre.press(button)
    (dialog,) = set(page.findChildren(FormDialog)) - known
    centre.type(dialog["pin"], PIN)
    centre.save(dialog)


def turn_round(centre: Centre, clock: Clock) -> Any:
    """The card up to the tests: stripped, rinsed, disinfected, dried and put together."""
    card = follow(centre, "disinfected and dry")
    centre.press(card.open_button)
    take_up(centre, card)
    answer(centre, "111111")
    clock.advance(minutes=20)
    dialog = card.bath()
    centre.settle()
    centre.save(dialog)
    clock.advance(hours=16)
    card.refresh()
    centre.settle()
    take_up(centre, card)
    answer(centre, "1111")
    return card


def take_up(centre: Centre, page: Any) -> None:
    """Put the keyboard where the work goes on."""
    centre.window.activateWindow()
    centre.qtbot.waitUntil(centre.window.isActiveWindow)
    page.focus_first()


def answer(centre: Centre, keys: str) -> None:
    for key in keys:
        press(centre, key)
        centre.settle()


def release(centre: Centre, clock: Clock) -> None:
    """Every test that the unit's checks ask for, with what the bench reads."""
    bench = follow(centre, "one-way valves and loop")
    centre.settle()
    choose_test(centre, bench, "One-way valves")
    press(centre, "1111")
    record(centre, bench, Qt.Key.Key_Return)
    for words in ("Mouthpiece valve: function", "Addition valve: function", "Alarms"):
        choose_test(centre, bench, words)
        press(centre, "1")
        record(centre, bench, Qt.Key.Key_Return)
    stage, settles = "Oxygen first stage", ("9.4", "9.4", "9.4")
    for words, values in (
        (stage, ("190", *settles)), (stage, ("60", *settles)), ("Relief valve: opening", ("30", "30.5", "30.2")),
        ("Injector", ("9.4", "21", "0.8", "0.8", "0.81")),
    ):  # fmt: skip
        choose_test(centre, bench, words)
        for value in values:
            centre.typed += 1
            press(centre, value)
            press(centre, Qt.Key.Key_Return)
            centre.settle()
            clock.advance(seconds=160)
        record(centre, bench, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)


def choose_test(centre: Centre, bench: Any, words: str) -> None:
    centre.press(next(each for each in bench.tests.buttons() if each.text().startswith(words)))
    take_up(centre, bench.card)


def record(centre: Centre, bench: Any, key: Qt.Key, modifier: Any = Qt.KeyboardModifier.NoModifier) -> None:
    with centre.qtbot.waitSignal(bench.recorded, timeout=20_000):
        QTest.keyClick(QApplication.focusWidget(), key, modifier)
    centre.settle()


def read_batteries(centre: Centre) -> None:
    gas = follow(centre, "batteries")
    centre.start(gas, "batteries")
    for device in ("handset 1 battery", "handset 2 battery"):
        centre.fill(gas.bar.dialog, **{device: "3.9"})
    centre.save(gas.bar.dialog)


def make_ready(centre: Centre, clock: Clock) -> None:
    """Everything that the checks of one unit ask for, each begun where its own remedy leads."""
    add_what_the_manual_states(centre)
    serve(centre)
    card = turn_round(centre, clock)
    release(centre, clock)
    read_batteries(centre)
    calibrate(centre, clock)
    card = centre.go("turn_rounds", READY)
    take_up(centre, card)
    answer(centre, "111")
    sign(centre, card, card.finish.button)


def test_from_nothing_to_nine_units_of_two_types_and_one_of_them_ready(
    make_centre: MakeCentre, sqlite_database: Database, clock: Clock
) -> None:
    centre = make_centre(Workplace(sqlite_database, clock, attended=True))
    add_types_and_units(centre)
    add_rules(centre)
    add_people_and_instruments(centre)
    workplace = Workplace(sqlite_database, clock)
    assert [row.tag for row in list_units(workplace)] == [
        *(f"B-0{n}" for n in range(1, 6)),
        *(f"C-0{n}" for n in range(1, 5)),
    ]
    assert all(len(unit_page(workplace, row.tag).cells) == 3 for row in list_units(workplace))
    assert count_rows(workplace, ("readers",)) == {"readers": 4}  # two handsets a type
    assert {cell.last_good_day.isoformat() for cell in unit_page(workplace, "C-04").cells if cell.last_good_day} == {
        "2027-01-31"
    }
    assert [each.role for each in list_people(workplace)] == ["manager", "technician"]
    due = centre.go("due")
    assert len(due.model.rows) >= 27
    print(f"nine units: fields typed {centre.typed}, choices {centre.chosen}, buttons {centre.pressed}")
    assert centre.typed <= MOST_TYPED
    assert {row.fit for row in list_units(workplace)} == {Fit.HOLD}
    make_ready(centre, clock)
    print(f"one of them ready: fields typed {centre.typed}, choices {centre.chosen}, buttons {centre.pressed}")
    assert centre.typed <= MOST_TYPED_READY
    shown = next(row for row in centre.go("units").model.rows if row.tag == READY)
    assert (shown.fit, shown.reasons) == (Fit.READY, ())
    assert {row.tag for row in list_units(workplace) if row.fit is Fit.READY} == {READY}
    with sqlite_database.reading() as connection:
        assert list(connection.scalars(select(CalibrationOutcome.verdict))) == ["pass"] * 3
    assert verify(sqlite_database).whole and rebuild_lives(workplace) == []
