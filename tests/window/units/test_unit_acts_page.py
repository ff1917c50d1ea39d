"""A unit is held, freed, frozen and proved on its page by keys and clicks; what a role may not do is refused."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPlainTextEdit
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.tables import Hold
from fleetbench.window.detail.detail import Fact, Section
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.units import list as units
from fleetbench.window.units.acts import UnitRecordPage, tag_label_pdf, write_sheet
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people
from tests.centres.bench_centre import write_centre
from tests.paper.pdf_reader import texts

BERLIN = ZoneInfo("Europe/Berlin")
LEFT = Qt.MouseButton.LeftButton


class UnitDesk:
    """The page of LK-01 over the small centre, with an instructor beside the technician and the manager."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.background = qtbot, background
        self.keys = write_centre(database, clock())
        self.workplace = Workplace(database, clock, self.keys.technician)
        with self.workplace.transaction("write", "people") as act:
            self.instructor = act.add(Person(code="I1", role="instructor", active=True, erased_at=None)).id
        context = PageContext(
            theme, background, background.signed_in.at(Workplace(database, clock, attended=True)), BERLIN
        )
        page = units.record_page(context)
        assert isinstance(page, UnitRecordPage)
        self.page = page
        qtbot.addWidget(page)
        page.resize(1088, 748)
        page.show()
        page.show_key("LK-01")
        self.be(self.keys.technician)

    def be(self, person: int) -> None:
        self.settle()
        self.background.signed_in.show_people(list_people(self.workplace))
        self.background.signed_in.choose(person)

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: self.page.is_loaded and not self.background.is_busy)

    def say(self, word: str, words: str) -> None:
        """Press a button of the page, write into its dialog and press the act's own."""
        dialog = self.page.ask(word)
        (field,) = (each for each in dialog.fields.values() if isinstance(each, QPlainTextEdit))
        QTest.keyClicks(field, words)
        self.press(dialog)

    def press(self, dialog: Any) -> None:
        with self.qtbot.waitSignal(dialog.accepted, timeout=10_000):
            QTest.mouseClick(dialog.act_button, LEFT)
        self.settle()

    def holds(self) -> list[tuple[str, str, bool]]:
        with self.workplace.database.read_session() as session:
            return [(row.kind, row.reason, row.lifted_at is None) for row in session.scalars(select(Hold))]


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> UnitDesk:
    """The page."""
    return UnitDesk(qtbot, theme, background, sqlite_database, clock)


def lift(desk: UnitDesk, words: str) -> FormDialog:
    QTest.mouseClick(desk.page.buttons["lift"], LEFT)
    dialog = desk.page.bar.dialog
    assert isinstance(dialog, FormDialog)
    desk.settle()
    QTest.keyClicks(dialog["reason"], words)
    return dialog


def test_a_hold_is_placed_a_ticket_begun_from_it_and_the_hold_lifted(desk: UnitDesk) -> None:
    assert not desk.page.buttons["lift"].isVisible()
    desk.say("hold", "Strap torn")
    desk.qtbot.waitUntil(desk.page.buttons["lift"].isVisible)
    assert desk.page.detail is not None
    (section,) = [part for part in desk.page.detail.parts if isinstance(part, Section) and part.title == "Holds placed"]
    begun = [fact.leads_to for fact in section.facts if isinstance(fact, Fact) and fact.leads_to]
    assert begun and begun[0].page == "ticket_work" and '"Strap torn", "hold"' in str(begun[0].key)
    desk.press(lift(desk, "new strap"))
    assert desk.holds() == [("manual", "Strap torn", False)]


def test_a_dialog_without_words_says_so_and_keeps_what_was_typed(desk: UnitDesk) -> None:
    dialog = desk.page.ask("hold")
    QTest.mouseClick(dialog.act_button, LEFT)
    desk.qtbot.waitUntil(lambda: dialog.banner.text.startswith("reason: is empty"))
    desk.settle()
    dialog.reject()
    assert desk.holds() == []


def test_an_incident_is_meant_or_refused_writes_its_sheet_and_is_lifted_by_a_manager_only(
    desk: UnitDesk, tmp_path: Path
) -> None:
    dialog = desk.page.ask("incident")
    dialog["sheet"].setText(str(tmp_path / "incident.pdf"))
    QTest.keyClicks(dialog["words"], "Diver felt unwell")
    QTest.mouseClick(dialog.act_button, LEFT)
    assert dialog.banner.text.startswith("freeze: tick that it is meant")
    dialog["sure"].setChecked(True)
    desk.press(dialog)
    assert (tmp_path / "incident.pdf").read_bytes().startswith(b"%PDF")
    assert desk.page.banner.text.startswith("LK-01 is frozen. What to preserve is written to")
    desk.qtbot.waitUntil(desk.page.buttons["sheet"].isVisible)
    write_sheet(desk.page.bar, "LK-01", tmp_path / "again.pdf")
    desk.qtbot.waitUntil((tmp_path / "again.pdf").exists)
    desk.settle()
    tried = lift(desk, "looked at")
    QTest.mouseClick(tried.act_button, LEFT)
    desk.qtbot.waitUntil(lambda: "'lift incident hold' is not for the role technician" in tried.banner.text)
    desk.settle()
    tried.reject()
    assert desk.holds() == [("incident", "Diver felt unwell", True)]
    desk.be(desk.keys.manager)
    desk.press(lift(desk, "given back"))
    assert desk.holds() == [("incident", "Diver felt unwell", False)]


def test_a_near_miss_opens_a_ticket_of_its_own_kind(desk: UnitDesk) -> None:
    desk.say("near_miss", "Oxygen valve found shut on the surface")
    desk.qtbot.waitUntil(lambda: desk.page.banner.text.startswith("Ticket 2026-001 holds the unit"))
    desk.settle()
    with desk.workplace.database.read_session() as session:
        assert session.scalars(select(Ticket.cause)).all() == ["near miss"]
    assert desk.holds() == []


def test_evidence_is_gathered_into_a_new_folder_and_a_day_that_is_none_is_refused(
    desk: UnitDesk, tmp_path: Path
) -> None:
    dialog = desk.page.ask("evidence")
    dialog["first"].setText("last week")
    dialog["folder"].setText(str(tmp_path / "evidence"))
    QTest.mouseClick(dialog.act_button, LEFT)
    assert dialog.banner.text.startswith("first day: 'last week' is not a date")
    dialog["first"].setText("2026-05-01")
    desk.press(dialog)
    assert (tmp_path / "evidence" / "manifest.txt").exists()
    assert desk.page.banner.text.endswith(f"files are in {tmp_path / 'evidence'}.")


def test_what_an_instructor_may_not_do_is_greyed_and_nobody_chosen_does_nothing(desk: UnitDesk) -> None:
    desk.say("hold", "Strap torn")
    desk.be(desk.instructor)
    assert desk.page.buttons["hold"].isEnabled() and desk.page.buttons["incident"].isEnabled()
    assert not desk.page.buttons["lift"].isEnabled()
    assert desk.page.buttons["lift"].toolTip() == "Only a technician or manager may do this."
    signed_in = desk.background.signed_in
    signed_in.choose(None)
    with desk.qtbot.waitSignal(signed_in.wanted):
        dialog = desk.page.ask("hold")
    assert not dialog.isVisible()
    signed_in.choose(desk.keys.technician)
    assert dialog.isVisible()
    dialog.reject()
    assert len(desk.holds()) == 1


def test_the_label_of_a_unit_is_shown_and_its_tag_stands_on_it(desk: UnitDesk, tmp_path: Path) -> None:
    desk.settle()
    desk.page.ask("label")
    desk.settle()
    desk.page.bar.dialog.save_to(str(tmp_path / "label.pdf"))
    assert "LK-01" in texts(tmp_path / "label.pdf")[0]
    assert tag_label_pdf(desk.workplace, "LK-01").startswith(b"%PDF")
    desk.page.bar.dialog.reject()


@pytest.mark.parametrize(
    ("name", "words"),
    [("blank_log", "Daily log"), ("blank_card", "Turn-round card"), ("blank_service", "Service card")],
)
def test_a_blank_form_of_the_unit_is_shown_to_print_or_save(
    desk: UnitDesk, tmp_path: Path, name: str, words: str
) -> None:
    desk.settle()
    desk.page.ask(name)
    desk.settle()
    dialog = desk.page.bar.dialog
    assert dialog.print_button.isEnabled() and dialog.save_button.text() == "Save as PDF…"
    dialog.save_to(str(tmp_path / "form.pdf"))
    page = texts(tmp_path / "form.pdf")[0]
    assert words in page and "LK-01" in page
    dialog.reject()


def test_a_unit_is_added_sent_away_brought_back_and_retired_on_the_list(desk: UnitDesk) -> None:
    page = units.list_page(desk.page.bar.context)
    desk.qtbot.addWidget(page)
    page.resize(1088, 748)
    with desk.qtbot.waitSignal(page.rows_shown, timeout=20_000):
        page.show()
        page.refresh()
    desk.be(desk.keys.manager)

    def done(act: str, about: str, **typed: str) -> str:
        assert act == "add" or page.choose(about)
        if act in page.bar.choices:
            page.bar.choices[act].trigger()
        else:
            QTest.mouseClick(page.buttons[act], LEFT)
        dialog = page.dialog
        desk.settle()
        for name, text in typed.items():
            dialog[name].setFocus()
            QTest.keyClicks(dialog[name], text)
        with desk.qtbot.waitSignal(page.rows_shown, timeout=20_000):
            QTest.mouseClick(dialog.act_button, LEFT)
        desk.settle()
        chosen = next((row for row in page.model.rows if row.tag == about), None)
        return chosen.where.value if chosen is not None else "not listed"

    assert done("add", "LK-09", tag="LK-09", serial="S-9") == "on shelf"
    assert done("away", "LK-09", why="yearly service") == "away"
    assert not page.bar.choices["away"].isEnabled() and page.bar.choices["back"].isEnabled()
    assert done("back", "LK-09") == "on shelf"
    assert done("retire", "LK-09", why="too old") == "retired"
    assert "LK-09" in page.banner.text
