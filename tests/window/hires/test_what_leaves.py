"""What leaves the hire desk, driven through the window: swaps, fills left in a canister, and hires made longer."""

from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import Fitting, Part, PartType, PartTypeLife
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.tables import Hold, Slot
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.canisters.history import canister_story
from fleetbench.workshop.canisters.packing import give_fill
from fleetbench.workshop.hires.list import handover_facts
from fleetbench.workshop.hires.signing import sign_sheet
from tests.window.hires.test_hire_desk import SIX, Desk, book_course, hand_over_course, receive, type_cell, type_over

FAILED, SPARE = "LK-02", SIX[-1]


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    """The hire desk over seven units, a course of six out, the last of them its spare."""
    made = Desk(qtbot, theme, background, sqlite_database, clock)
    book_course(made)
    hand_over_course(made)
    made.centre.clock.advance(hours=20)
    return made


def hold(desk: Desk, tag: str, reason: str) -> None:
    with desk.centre.workplace.transaction("write", "test") as act:
        act.add(Hold(unit_id=desk.centre.units[tag], kind="manual", reason=reason, placed_at=act.at,
                     placed_by_id=desk.centre.manager))  # fmt: skip


def swap_dialog(desk: Desk, failed: str = FAILED, instead: str = SPARE) -> Any:
    dialog = desk.opened("Y")
    desk.scan(failed)
    desk.scan(instead)
    desk.settle()
    desk.press("handset 2 blank")
    return dialog


def refused(desk: Desk, dialog: Any) -> str:
    QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert dialog.isVisible(), "the dialog closed: the act was not refused"
    said = str(dialog.banner.text)
    dialog.reject()
    return said


def unit_of(desk: Desk, serial: str) -> int | None:
    """The key of the unit in which a part sits."""
    with desk.centre.workplace.database.read_session() as session:
        found = select(Fitting.unit_id).join(Part, Part.id == Fitting.part_id)
        return session.scalar(found.where(Part.serial == serial, Fitting.removed_at.is_(None)))


def test_a_spare_on_hold_is_not_swapped_in(desk: Desk) -> None:
    hold(desk, SPARE, "smells of caustic; do not dive")
    dialog = swap_dialog(desk)
    assert [each.text() for each in dialog.fit.findChildren(QPushButton)] == ["LK-01"], "a unit on hold is not fit"
    assert "smells of caustic" in refused(desk, dialog)
    assert desk.centre.rows(Ticket) == []
    assert all(row.received_at is None for row in desk.centre.rows(BookingUnit))


def test_what_nobody_said_was_exchanged_stays_with_its_unit_and_what_was_goes_over(desk: Desk) -> None:
    dialog = swap_dialog(desk)
    told = [[dialog.model.data(dialog.model.index(row, column)) for column in range(3)]
            for row in range(len(dialog.model.rows))]  # fmt: skip
    names = [line[0] for line in told]
    assert [each.text() for each in dialog.fit.findChildren(QPushButton)] == [SPARE, "LK-01"]
    assert {line[2] for line in told} == {"not exchanged"}
    assert [f"CAN-L-{FAILED} ↔ CAN-L-{SPARE}"] == [line[1] for line in told if line[0] == "canister"]
    desk.press(Qt.Key.Key_Return)
    for name in names:
        type_cell(dialog, "y" if name in ("canister", "accessories and harness", "absorbent sent along") else "")
    desk.settle()
    accept(dialog)
    desk.done(dialog)
    assert (unit_of(desk, f"CAN-L-{FAILED}"), unit_of(desk, f"CAN-L-{SPARE}")) == (
        desk.centre.units[SPARE], desk.centre.units[FAILED],
    )  # fmt: skip
    assert unit_of(desk, f"BATT-L-{FAILED}") == desk.centre.units[FAILED]
    failed = next(row for row in desk.centre.rows(BookingUnit) if row.unit_id == desk.centre.units[FAILED])
    assert failed.received_at is not None


def accept(dialog: Any) -> None:
    """A manager accepts whatever is advised in a dialog of a hand-over, a swap or an extension."""
    checks = dialog["checks"] if isinstance(dialog, FormDialog) else dialog.checks
    if any(each.to_accept for each in checks.looks):
        checks.manager.setCurrentIndex(1)
        type_over(checks.pin, "2468")
        type_over(checks.reason, "seen, and known")


@pytest.fixture
def one(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    """The hire desk with H-7 to hand over, and in its unit a fill of another diver."""
    made = Desk(qtbot, theme, background, sqlite_database, clock)
    made.centre.make_fit("LK-01", pack=True)
    give_fill(made.centre.workplace, "CAN-L-LK-01", diver_id=made.centre.keys.other)
    return made


def test_a_kit_does_not_leave_with_the_last_divers_fill_in_its_canister(one: Desk) -> None:
    one.page.choose("H-7")
    dialog = one.opened("H")
    one.press("2")
    one.settle()
    accept(dialog)
    said = refused(one, dialog)
    assert "absorbent in the canister" in said and "another diver's" in said
    assert one.centre.rows(BookingUnit)[0].out_at is None


def test_the_unit_that_the_chosen_booking_has_out_stands_in_return_and_swap_and_a_scan_replaces_it(one: Desk) -> None:
    with one.centre.workplace.transaction("write", "test") as act:
        act.change(act.session.scalars(select(BookingUnit)).one(), out_at=act.at, out_by_id=one.centre.manager)
    with one.qtbot.waitSignal(one.page.rows_shown):
        one.page.refresh()
    one.settle()
    one.page.choose("H-7")
    back = one.opened("R")
    assert back["tag"].text() == "LK-01" and back["tag"].hasFocus()
    one.scan("LK-02")
    assert back["tag"].text() == "LK-02" and back["wet"].hasFocus()
    back.reject()
    hold(one, "LK-02", "smells of caustic; do not dive")
    swap = one.opened("Y")
    assert swap.failed.text() == "LK-01"
    assert [each.text() for each in swap.checks.checks.labels()] == [
        "Name the unit that goes out in its place: then it is checked."
    ]
    offered = swap.fit.findChildren(QPushButton)
    assert [each.text() for each in offered] == ["LK-03", "LK-04", "LK-05", "LK-06", "LK-07"]
    QTest.mouseClick(offered[0], Qt.MouseButton.LeftButton)
    assert swap.instead.text() == "LK-03" and swap.reason.hasFocus()
    one.settle()
    assert [each.unit for each in swap.checks.looks] == ["LK-03"]
    swap.failed.clear()
    swap.ask_items()
    assert swap.checks.looks == () and "the unit that failed and" in swap.checks.checks.labels()[0].text()
    swap.reject()


def test_a_fill_that_was_taken_out_at_the_hand_over_is_recorded_as_discarded(one: Desk) -> None:
    one.page.choose("H-7")
    dialog = one.opened("H")
    one.press("2")
    dialog.table.setFocus()
    dialog.table.setCurrentIndex(dialog.model.index(0, 7))
    assert dialog.model.data(dialog.model.index(0, 7)).startswith("FILL-")
    type_cell(dialog, "d")
    one.settle()
    accept(dialog)
    one.done(dialog)
    (fill,) = one.centre.rows(Fill)
    assert (fill.discarded_at, fill.why_discarded) == (one.centre.clock(), "at hand-over")
    assert one.centre.rows(BookingUnit)[0].out_at is not None


@pytest.fixture
def bare(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    """The hire desk of seven units, with nothing out."""
    return Desk(qtbot, theme, background, sqlite_database, clock)


def hand_over_h7(desk: Desk) -> None:
    """LK-01 leaves on H-7, assembled and packed."""
    desk.page.choose("H-7")
    dialog = desk.opened("H")
    accept(dialog)
    desk.done(dialog)


def test_dives_without_a_start_are_kept_as_such_between_hand_over_and_return(bare: Desk) -> None:
    centre = bare.centre
    centre.make_fit("LK-01", pack=True)
    out_at = centre.clock()
    hand_over_h7(bare)
    centre.clock.advance(days=2)
    receive(bare, "LK-01", "ynnn")
    centre.clock.advance(hours=3)
    dialog = bare.opened("D")
    dialog.table.setFocus()
    dialog.table.setCurrentIndex(dialog.model.index(0, 2))
    type_cell(dialog, "40+30+20")
    dialog.table.setCurrentIndex(dialog.model.index(0, 12))
    day = centre.day(-1)
    type_cell(dialog, f"+{day}+{day} 10:15")
    bare.done(dialog)
    back = next(row for row in centre.rows(BookingUnit) if row.unit_id == centre.units["LK-01"]).received_at
    zone = ZoneInfo("Europe/Berlin")
    midnight = datetime.combine(day, time(), tzinfo=zone)
    assert [(run.minutes, run.started_at, run.ended_by) for run in centre.rows(Run)] == [
        (40, out_at, back),
        (30, midnight, midnight + timedelta(days=1)),
        (20, midnight + timedelta(hours=10, minutes=15), None),
    ]
    with centre.workplace.database.read_session() as session:
        canister = session.scalar(select(Part.id).where(Part.serial == "CAN-L-LK-01"))
    assert "start not known" in str(canister_story(centre.workplace, canister))


def test_a_day_before_the_hire_is_refused_by_the_name_of_its_column(bare: Desk) -> None:
    bare.centre.make_fit("LK-01", pack=True)
    hand_over_h7(bare)
    bare.centre.clock.advance(hours=6)
    receive(bare, "LK-01", "ynnn")
    dialog = bare.opened("D")
    dialog.model.setData(dialog.model.index(0, 2), "40")
    dialog.model.setData(dialog.model.index(0, 12), bare.centre.day(-3).isoformat())
    said = refused(bare, dialog)
    assert "day and start: a run begins before the unit left" in said
    assert bare.centre.rows(Run) == []


def with_sensor(desk: Desk, ends_in_days: int) -> None:
    """A carbon dioxide sensor in LK-01, not critical, that ends so many days from today."""
    centre = desk.centre
    keys = centre.keys.centre
    with centre.workplace.transaction("write", "test") as act:
        kind = act.add(PartType(code="CO2-L", name="Carbon dioxide sensor", kind="sensor", assembly=False,
                                stocked_in="piece", source="invented"))  # fmt: skip
        act.add(PartTypeLife(part_type_id=kind.id, basis="fitted", amount=10 + ends_in_days + 1, unit="days",
                             source="invented"))  # fmt: skip
        slot = act.add(Slot(unit_type_id=keys.unit_type, name="carbon dioxide sensor", kind="sensor", critical=False,
                            ordinal=40))  # fmt: skip
        part = act.add(Part(part_type_id=kind.id, serial="CO2-1", owner_id=keys.owner, state="fitted"))
        act.add(Fitting(part_id=part.id, slot_id=slot.id, unit_id=centre.units["LK-01"],
                        fitted_at=centre.clock() - timedelta(days=10), fitted_by_id=keys.technician))  # fmt: skip


def test_extending_past_the_end_of_any_part_says_so_before_it_is_done_and_asks_for_a_new_page(bare: Desk) -> None:
    bare.centre.make_fit("LK-01", pack=True)
    with_sensor(bare, ends_in_days=3)
    hand_over_h7(bare)
    sign_sheet(bare.centre.workplace, "H-7", "LK-01", "diver")
    bare.centre.clock.advance(days=1)
    bare.page.choose("H-7")
    dialog = bare.opened("E")
    bare.scan(bare.centre.day(3).isoformat())
    bare.settle()
    (look,) = dialog["checks"].looks
    sensor = next(each for each in look.against if each.check == "part life")
    assert "carbon dioxide sensor CO2-1: last valid day" in sensor.evidence
    assert "a manager may accept" in refused(bare, dialog)
    dialog = bare.opened("E")
    dialog["last"].setText(bare.centre.day(3).isoformat())
    dialog.act()
    bare.settle()
    assert dialog.isVisible() and dialog["checks"].looks, "what runs out is shown before anything is done"
    accept(dialog)
    bare.done(dialog)
    booking = next(row for row in bare.centre.rows(Booking) if row.code == "H-7")
    assert booking.ends_on == bare.centre.day(3)
    facts = handover_facts(bare.centre.workplace, "LK-01", "H-7")
    assert [each.of_other_days for each in facts.signatures] == [True]
    sign_sheet(bare.centre.workplace, "H-7", "LK-01", "diver")
    facts = handover_facts(bare.centre.workplace, "LK-01", "H-7")
    assert [each.of_other_days for each in facts.signatures] == [False]


def test_a_unit_on_hold_does_not_stay_out_longer(bare: Desk) -> None:
    bare.centre.make_fit("LK-01", pack=True)
    hand_over_h7(bare)
    hold(bare, "LK-01", "smells of caustic; do not dive")
    bare.page.choose("H-7")
    dialog = bare.opened("E")
    bare.scan(bare.centre.day(4).isoformat())
    bare.settle()
    accept(dialog)
    assert "smells of caustic" in refused(bare, dialog)
    booking = next(row for row in bare.centre.rows(Booking) if row.code == "H-7")
    assert booking.ends_on == bare.centre.day(2)
