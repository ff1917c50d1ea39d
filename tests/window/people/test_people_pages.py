"""People are entered, their papers seen, PINs reset, legal holds placed and names erased, by keys and clicks."""

from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import Journal
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification
from fleetbench.window.look.theme import Theme
from fleetbench.window.people import acts
from fleetbench.window.people import list as people
from fleetbench.window.people.list import PAGE_ACTS, PeopleList, PersonRecordPage
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import enter_person
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.units.holds import note_near_miss
from tests.centres.bench_centre import write_centre
from tests.centres.pins import give_pin

LEFT = Qt.MouseButton.LeftButton


class PeopleRoom:
    """Both pages of people over the small centre, with the manager at the desk."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.background, self.clock = qtbot, background, clock
        self.keys = write_centre(database, clock())
        self.workplace = Workplace(database, clock, self.keys.manager)
        self.renter = enter_person(self.workplace, "R-7", "renter", "Zoë Ångström", "zoe@mail.invalid")
        workplace = background.signed_in.at(Workplace(database, clock, attended=True))
        context = PageContext(theme, background, workplace, ZoneInfo("Europe/Berlin"))
        self.list: PeopleList = people.list_page(context)
        self.page: PersonRecordPage = people.record_page(context)
        for page in (self.list, self.page):
            qtbot.addWidget(page)
            page.resize(1088, 748)
        self.list.show()
        self.be(self.keys.manager)
        self.settle(self.list)

    def be(self, person: int) -> None:
        self.background.signed_in.show_people(list_people(self.workplace))
        self.background.signed_in.choose(person)

    def settle(self, page: Any) -> None:
        self.qtbot.waitUntil(lambda: page.is_loaded and not self.background.is_busy)

    def show(self, code: str, person: int | None = None) -> None:
        self.page.show()
        self.page.show_key(code)
        self.settle(self.page)
        self.be(person or self.keys.manager)
        self.settle(self.page)
        self.qtbot.waitUntil(lambda: self.page.detail is not None and self.page.detail.title == code)

    def press(self, dialog: Any) -> None:
        with self.qtbot.waitSignal(dialog.accepted, timeout=10_000):
            QTest.mouseClick(dialog.act_button, LEFT)
        self.settle(dialog.parent())

    def rows(self, kind: type[Any]) -> list[Any]:
        with self.workplace.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found


@pytest.fixture
def room(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> PeopleRoom:
    """The pages."""
    return PeopleRoom(qtbot, theme, background, sqlite_database, clock)


def test_somebody_is_entered_by_keys_and_a_code_is_never_given_twice(room: PeopleRoom) -> None:
    dialog = room.list.ask("enter")
    QTest.keyClicks(dialog["code"], "R-7")
    QTest.keyClicks(dialog["name"], "Odo Brandt")
    QTest.mouseClick(dialog.act_button, LEFT)
    room.qtbot.waitUntil(lambda: dialog.banner.text.startswith("code R-7: it is or was in use"))
    room.settle(room.list)
    dialog["code"].setText("R-8")
    QTest.keyClick(dialog["contact"], Qt.Key.Key_Return)
    room.qtbot.waitUntil(lambda: room.list.banner.text == "R-8 is entered as renter.")
    room.settle(room.list)
    assert room.rows(Person)[-1].code == "R-8"
    room.qtbot.waitUntil(lambda: any(row.code == "R-8" and row.name == "Odo Brandt" for row in room.list.model.rows))


def test_the_years_are_set_with_the_rule_they_come_from(room: PeopleRoom) -> None:
    dialog = room.list.ask("years")
    dialog["years of names and contacts"].setText("5")
    dialog["rule for names and contacts"].setText("our privacy notice")
    room.press(dialog)
    assert room.list.banner.text == "The years are set."


def test_a_paper_is_seen_and_only_its_day_and_who_saw_it_are_kept(room: PeopleRoom) -> None:
    room.show("R-7")
    dialog = room.page.ask("paper")
    dialog["kind"].setCurrentIndex(dialog["kind"].findData("medical"))
    QTest.keyClicks(dialog["valid_until"], "2027-05-03")
    QTest.mouseClick(dialog.act_button, LEFT)
    room.qtbot.waitUntil(lambda: room.page.banner.text == "medical of R-7: seen on 2026-05-04.")
    room.settle(room.page)
    row = room.rows(Qualification)[-1]
    assert (row.kind, row.unit_type_id, row.seen_by_id) == ("medical", None, room.keys.manager)


def test_a_lost_pin_is_reset_by_a_manager_and_stands_in_the_journal(room: PeopleRoom) -> None:
    give_pin(room.workplace, room.keys.technician, "4711")
    room.show("T1")
    room.qtbot.waitUntil(room.page.buttons["reset"].isVisible)
    dialog = room.page.ask("reset")
    QTest.keyClicks(dialog["pin"], "9999")
    QTest.mouseClick(dialog.act_button, LEFT)
    room.qtbot.waitUntil(lambda: dialog.banner.text.startswith("PIN: this person has none yet"))
    room.settle(room.page)
    give_pin(room.workplace, room.keys.manager, "2468")
    dialog["pin"].setText("2468")
    room.press(dialog)
    assert room.rows(Person)[0].pin_digest is None
    assert room.rows(Journal)[-1].act == "reset PIN"
    room.qtbot.waitUntil(room.page.buttons["pin"].isVisible)
    again = room.page.ask("pin")
    QTest.keyClicks(again["manager_pin"], "2468")
    for field in (again["pin"], again["again"]):
        QTest.keyClicks(field, "1357")
    room.press(again)
    assert room.rows(Person)[0].pin_digest is not None
    entry = room.rows(Journal)[-1]
    assert (entry.act, entry.person_id) == ("set first PIN", room.keys.manager), "the manager who was present"


def test_the_first_manager_sets_their_pin_alone_then_changes_it_with_the_old_one(room: PeopleRoom) -> None:
    room.show("T1")
    refused = room.page.ask("pin")
    QTest.mouseClick(refused.act_button, LEFT)
    assert refused.banner.text.startswith("manager: none has a PIN yet; let a manager set theirs first")
    refused.reject()
    room.show("M1")
    room.qtbot.waitUntil(room.page.buttons["pin"].isVisible)
    first = room.page.ask("pin")
    assert "manager" not in first.fields and "sets the first one alone" in first.note.text()
    for field in (first["pin"], first["again"]):
        QTest.keyClicks(field, "2468")
    room.press(first)
    entry = room.rows(Journal)[-1]
    assert (entry.act, entry.person_id) == ("set first manager's PIN", room.keys.manager)
    room.qtbot.waitUntil(room.page.buttons["change"].isVisible)
    change = room.page.ask("change")
    QTest.keyClicks(change["old"], "2468")
    for field in (change["pin"], change["again"]):
        QTest.keyClicks(field, "8642")
    room.press(change)
    assert room.rows(Journal)[-1].act == "change PIN"


def test_a_legal_hold_stands_above_erasing_and_once_lifted_the_name_goes(
    room: PeopleRoom, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(acts, "data_folder", partial(Path, tmp_path))
    room.show("R-7")
    dialog = room.page.ask("legal")
    QTest.keyClicks(dialog["reason"], "claim 12")
    room.press(dialog)
    erase = room.page.ask("erase")
    QTest.mouseClick(erase.act_button, LEFT)
    assert erase.banner.text.startswith("sure: tick that it is meant")
    erase["sure"].setChecked(True)
    QTest.mouseClick(erase.act_button, LEFT)
    room.qtbot.waitUntil(lambda: "legal hold: 'claim 12' stands above erasure" in erase.banner.text)
    room.settle(room.page)
    room.qtbot.waitUntil(room.page.buttons["lift"].isVisible)
    room.press(room.page.ask("lift"))
    room.press(erase)
    assert room.page.banner.text.startswith("R-7 is erased; the history stays, nameless. Printed pages, ")
    assert not any(row.person_id == room.renter for row in room.rows(PersonPrivate))


def test_a_technician_sees_contacts_and_what_only_a_manager_may_do_is_greyed(room: PeopleRoom) -> None:
    room.show("R-7", room.keys.technician)
    room.qtbot.waitUntil(lambda: not room.page.buttons["erase"].isEnabled())
    enabled = {spec.name for spec in PAGE_ACTS if room.page.buttons[spec.name].isEnabled()}
    assert enabled == {"paper", "contact", "pin"}
    assert room.page.buttons["erase"].toolTip() == "Only a manager may do this."
    assert room.page.page is not None and room.page.page.row.contact == "zoe@mail.invalid"


def test_the_last_manager_does_not_leave(room: PeopleRoom) -> None:
    room.show("M1")
    dialog = room.page.ask("leave")
    dialog["sure"].setChecked(True)
    QTest.mouseClick(dialog.act_button, LEFT)
    room.qtbot.waitUntil(lambda: "is the last manager" in dialog.banner.text)
    room.settle(room.page)
    dialog.reject()


def test_a_manager_confirms_the_clock_and_what_was_dated_ahead_is_corrected(room: PeopleRoom) -> None:
    ahead = Workplace(room.workplace.database, lambda: room.clock() + timedelta(days=40), room.keys.manager)
    note_near_miss(ahead, "LK-01", "Seen while the clock ran ahead")
    dialog = room.list.ask("clock")
    room.qtbot.waitUntil(lambda: "2026-06-13" in dialog["doubt"].text())
    room.press(dialog)
    assert room.list.banner.text == "The clock is confirmed. Records dated after it and corrected: 1."
    entry = room.rows(Journal)[-1]
    assert (entry.act, entry.person_id, entry.at) == ("correct clock", room.keys.manager, room.clock())
