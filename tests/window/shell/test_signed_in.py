"""One user is signed in for the whole window: what the head shows is what the journal holds, on every page."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from shutil import copy

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QComboBox, QPushButton, QWidget
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.calc.core.languages import folded_name
from fleetbench.calc.people.permits import ACTS
from fleetbench.records.core.journal import Journal
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.place import PageKey
from fleetbench.window.shell.signed_in import SignedIn
from fleetbench.workshop.core.workplace import Workplace

RECORDS = {
    "units": "B-05", "calibrate": "B-05", "bench": "B-05", "unit_gas": "B-05", "turn_rounds": "B-05", "parts": "1",
    "people": "R0001",
}  # fmt: skip


@pytest.fixture
def desk(qtbot: QtBot, sample_file: Path, tmp_path: Path) -> Iterator[Desk]:
    opened = Desk(partial(open_records, str(copy(sample_file, tmp_path / "fleet.sqlite"))), "light")
    opened.window.show()
    qtbot.waitUntil(lambda: opened.window.here.page != "start", timeout=20_000)
    qtbot.waitUntil(lambda: bool(opened.background.signed_in.offered), timeout=20_000)
    settle(qtbot, opened)
    yield opened
    opened.close()


def settle(qtbot: QtBot, desk: Desk) -> None:
    qtbot.waitUntil(lambda: not desk.background.is_busy, timeout=20_000)
    qtbot.wait(20)


def choose(qtbot: QtBot, desk: Desk, typed: str) -> None:
    """Open the list in the head with its key, type and press Enter."""
    desk.window.activateWindow()
    qtbot.waitUntil(desk.window.isActiveWindow)
    qtbot.keyClick(desk.window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    names = desk.window.chooser.list
    qtbot.waitUntil(names.isVisible)
    qtbot.keyClicks(names.field, folded_name(typed))
    qtbot.keyClick(names.field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not names.isVisible())
    settle(qtbot, desk)


def workplace_of(desk: Desk) -> Workplace:
    context = desk.window._context
    assert context is not None
    return context.workplace


def last_act(desk: Desk) -> tuple[str, str]:
    """The act of the last journal entry, and the name of its person."""
    with workplace_of(desk).database.read_session() as session:
        entry = session.scalars(select(Journal).order_by(Journal.id.desc())).first()
        assert entry is not None
        name = session.scalar(select(PersonPrivate.name).where(PersonPrivate.person_id == entry.person_id))
        return entry.act, name or ""


def names(desk: Desk) -> dict[str, str]:
    """The name of one person of each role that may sign in, by role."""
    return {each.role: each.name for each in reversed(desk.background.signed_in.offered)}


def open_act(qtbot: QtBot, desk: Desk, button: QPushButton) -> ActDialog:
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    settle(qtbot, desk)
    found = [each for each in QApplication.topLevelWidgets() if isinstance(each, ActDialog) and each.isVisible()]
    assert len(found) == 1
    return found[0]


def button_of(page: QWidget, words: str) -> QPushButton:
    return next(each for each in page.findChildren(QPushButton) if each.text().replace("&", "").startswith(words))


def place_hold(qtbot: QtBot, desk: Desk, tag: str) -> None:
    desk.window.go(PageKey("units", tag))
    settle(qtbot, desk)
    dialog = open_act(qtbot, desk, button_of(desk.window.page, "Hold…"))
    qtbot.keyClicks(dialog.focusWidget(), "seen at the bench")
    qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    settle(qtbot, desk)


def test_the_journal_names_whom_the_head_shows_after_every_change_of_page_and_person(qtbot: QtBot, desk: Desk) -> None:
    offered = names(desk)
    for role, tag in (("technician", "B-05"), ("manager", "B-07"), ("technician", "B-05")):
        choose(qtbot, desk, offered[role])
        desk.window.go(PageKey("cells"))
        settle(qtbot, desk)
        place_hold(qtbot, desk, tag)
        assert desk.window.chooser.button.text().endswith(offered[role])
        assert last_act(desk) == ("place hold", offered[role])


def workplaces_of(page: QWidget) -> list[Workplace]:
    """Every workshop that the page or a part of it holds."""
    held = (value for each in (page, *page.findChildren(QWidget)) for value in vars(each).values())
    return [value for value in held if isinstance(value, Workplace)]


def test_every_page_records_as_the_signed_in_user_and_offers_no_other(qtbot: QtBot, desk: Desk) -> None:
    offered, signed_in = names(desk), desk.background.signed_in
    everybody = {each.name for each in signed_in.offered}
    places = [PageKey(spec.name) for spec in (*PAGES, *BESIDE_THE_RAIL) if spec.name != "parts"]
    places += [PageKey(name, key) for name, key in RECORDS.items()]
    seen = 0
    for number, place in enumerate(places):
        choose(qtbot, desk, offered["technician" if number % 2 else "manager"])
        desk.window.go(place)
        settle(qtbot, desk)
        choose(qtbot, desk, offered["manager" if number % 2 else "technician"])
        page, workplaces = desk.window.page, workplaces_of(desk.window.page)
        assert {workplace.person_id for workplace in workplaces} <= {signed_in.person_id}, place
        boxes = page.findChildren(QComboBox)
        assert not any(everybody <= {box.itemText(at) for at in range(box.count())} for box in boxes), place
        seen += len(workplaces)
    assert seen > len(places) / 2


@pytest.mark.parametrize("key", [Qt.Key.Key_S, Qt.Key.Key_Z, Qt.Key.Key_Down, Qt.Key.Key_Home])
def test_no_key_and_no_turn_of_the_wheel_changes_the_user(qtbot: QtBot, desk: Desk, key: Qt.Key) -> None:
    offered = names(desk)
    choose(qtbot, desk, offered["technician"])
    before, button = desk.background.signed_in.person_id, desk.window.chooser.button
    qtbot.keyClick(button, key)
    focused = desk.window.focusWidget()
    assert focused is not button
    qtbot.keyClick(focused, key)
    at = QPointF(button.rect().center())
    turn = QWheelEvent(
        at, QPointF(button.mapToGlobal(at.toPoint())), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(button, turn)
    assert desk.background.signed_in.person_id == before
    assert not desk.window.chooser.list.isVisible()


def test_a_key_printed_on_a_button_acts_on_the_page_after_a_choice_with_the_mouse(qtbot: QtBot, desk: Desk) -> None:
    desk.window.go(PageKey("unit_gas", "B-05"))
    settle(qtbot, desk)
    head = desk.window.chooser
    qtbot.mouseClick(head.button, Qt.MouseButton.LeftButton)
    at = head.list.names.visualRect(head.list._model.index(0)).center()
    qtbot.mouseClick(head.list.names.viewport(), Qt.MouseButton.LeftButton, pos=at)
    settle(qtbot, desk)
    before = desk.background.signed_in.person_id
    assert before is not None
    qtbot.keyClick(desk.window.focusWidget(), Qt.Key.Key_V)
    settle(qtbot, desk)
    found = [each for each in QApplication.topLevelWidgets() if isinstance(each, ActDialog) and each.isVisible()]
    assert [each.recorded_as.text() for each in found] == [f"Recorded as {desk.background.signed_in.name}"]
    assert desk.background.signed_in.person_id == before
    found[0].reject()


def test_a_dialog_asks_who_is_signed_in_before_anything_is_typed(qtbot: QtBot, desk: Desk) -> None:
    desk.window.go(PageKey("units", "B-05"))
    settle(qtbot, desk)
    head = desk.window.chooser
    button = button_of(desk.window.page, "Hold…")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert head.list.isVisible() and head.list.why.isVisible()
    qtbot.keyClick(head.list.field, Qt.Key.Key_Escape)
    settle(qtbot, desk)
    assert not any(isinstance(each, ActDialog) and each.isVisible() for each in QApplication.topLevelWidgets())
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.keyClicks(head.list.field, folded_name(names(desk)["manager"]))
    qtbot.keyClick(head.list.field, Qt.Key.Key_Return)
    settle(qtbot, desk)
    dialog = next(each for each in QApplication.topLevelWidgets() if isinstance(each, ActDialog) and each.isVisible())
    qtbot.keyClicks(dialog.focusWidget(), "seen at the bench")
    qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    settle(qtbot, desk)
    assert last_act(desk) == ("place hold", names(desk)["manager"])


def test_names_are_found_without_accents(qtbot: QtBot, desk: Desk) -> None:
    assert [folded_name(name) for name in ("Núria Łęcka", "Søren Štěrba", "ÅSA")] == [
        "nuria lecka", "soren sterba", "asa",
    ]  # fmt: skip
    accented = next(each for each in desk.background.signed_in.offered if folded_name(each.name) != each.name.lower())
    choose(qtbot, desk, folded_name(accented.name))
    assert desk.background.signed_in.person == accented


def test_what_is_recorded_is_who_the_head_shows_when_record_is_pressed(qtbot: QtBot, desk: Desk) -> None:
    offered = names(desk)
    choose(qtbot, desk, offered["technician"])
    desk.window.go(PageKey("units", "B-05"))
    settle(qtbot, desk)
    dialog = open_act(qtbot, desk, button_of(desk.window.page, "Hold…"))
    qtbot.keyClicks(dialog.focusWidget(), "seen at the bench")
    signed_in = desk.background.signed_in
    signed_in.choose(next(each.person_id for each in signed_in.offered if each.name == offered["manager"]))
    assert dialog.recorded_as.text() == f"Recorded as {offered['manager']}"
    assert desk.window.chooser.button.text().endswith(offered["manager"])
    dialog.act()
    signed_in.choose(next(each.person_id for each in signed_in.offered if each.name == offered["technician"]))
    settle(qtbot, desk)
    assert last_act(desk) == ("place hold", offered["manager"])


def test_a_message_goes_with_the_record_it_speaks_of_and_moves_no_button(qtbot: QtBot, desk: Desk) -> None:
    choose(qtbot, desk, names(desk)["manager"])
    desk.window.go(PageKey("units", "B-05"))
    settle(qtbot, desk)
    page = desk.window.page
    assert isinstance(page, RecordPage)
    buttons = [each for each in page.findChildren(QPushButton) if each.isVisible()]
    before = [each.mapToGlobal(QPoint(0, 0)) for each in buttons]
    page.banner.say_note("Of B-05. " * 30)
    qtbot.wait(20)
    assert [each.mapToGlobal(QPoint(0, 0)) for each in buttons] == before
    desk.window.go(PageKey("units", "B-07"))
    settle(qtbot, desk)
    assert desk.window.page is page and page.banner.text == ""


def test_who_left_is_signed_out(qtbot: QtBot, desk: Desk) -> None:
    choose(qtbot, desk, names(desk)["technician"])
    gone = desk.background.signed_in.person_id
    with Workplace(workplace_of(desk).database).transaction("import", "test") as act:
        act.change(act.get(Person, gone, "person"), active=False)
    qtbot.mouseClick(desk.window.chooser.button, Qt.MouseButton.LeftButton)
    settle(qtbot, desk)
    assert desk.background.signed_in.person_id is None
    desk.window.chooser.list.hide()


def test_work_runs_as_the_user_who_handed_it_over(qtbot: QtBot) -> None:
    signed_in = SignedIn()
    signed_in.choose(1)
    work = signed_in.bound(lambda: signed_in.person_id)
    signed_in.choose(2)
    assert (work(), signed_in.person_id) == (1, 2)


def test_the_way_to_sign_in_stands_among_the_keys(qtbot: QtBot, desk: Desk) -> None:
    assert any("Ctrl+Shift+S" in spec.keys for spec in desk.window.actions_at_hand.specs)
    assert ACTS
