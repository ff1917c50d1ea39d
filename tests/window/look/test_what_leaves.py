"""What leaves the hire desk, driven through the window: swaps, fills left in a canister, and hires made longer."""

from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.canisters.tables import Fill
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.tables import Hold
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.canisters.packing import give_fill
from tests.window.hires.test_hire_desk import SIX, Desk, book_course, hand_over_course, type_cell, type_over

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
    with desk.centre.shop.acting("write", "test") as act:
        act.add(Hold(unit_id=desk.centre.units[tag], kind="manual", reason=reason, placed_at=act.at,
                     placed_by_id=desk.centre.manager))  # fmt: skip


def swap_dialog(desk: Desk, failed: str = FAILED, instead: str = SPARE) -> Any:
    dialog = desk.opened("W")
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
    with desk.centre.shop.database.looking() as session:
        found = select(Fitting.unit_id).join(Part, Part.id == Fitting.part_id)
        return session.scalar(found.where(Part.serial == serial, Fitting.removed_at.is_(None)))


def test_a_spare_on_hold_is_not_swapped_in(desk: Desk) -> None:
    hold(desk, SPARE, "smells of caustic; do not dive")
    assert "smells of caustic" in refused(desk, swap_dialog(desk))
    assert desk.centre.rows(Ticket) == []
    assert all(row.received_at is None for row in desk.centre.rows(BookingUnit))


def test_what_nobody_said_was_exchanged_stays_with_its_unit_and_what_was_goes_over(desk: Desk) -> None:
    dialog = swap_dialog(desk)
    told = [[dialog.model.data(dialog.model.index(row, column)) for column in range(3)]
            for row in range(len(dialog.model.rows))]  # fmt: skip
    names = [line[0] for line in told]
    assert {line[2] for line in told} == {"not exchanged"}
    assert [f"CAN-L-{FAILED}, CAN-L-{SPARE}"] == [line[1] for line in told if line[0] == "canister"]
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
    if any(each.to_accept for each in dialog.checks.looks):
        dialog.checks.manager.setCurrentIndex(1)
        type_over(dialog.checks.pin, "2468")
        type_over(dialog.checks.reason, "seen, and known")


@pytest.fixture
def one(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    """The hire desk with H-7 to hand over, and in its unit a fill of another diver."""
    made = Desk(qtbot, theme, background, sqlite_database, clock)
    made.centre.make_fit("LK-01", pack=True)
    give_fill(made.centre.shop, "CAN-L-LK-01", diver_id=made.centre.keys.other)
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
