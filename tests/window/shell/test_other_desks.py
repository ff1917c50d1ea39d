"""What another desk records is shown by itself, and nothing that is typed or chosen is lost for it."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from fleetbench.records.core.database import Database
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import as_opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import list_tickets
from fleetbench.workshop.tickets.work import add_finding, open_ticket
from fleetbench.workshop.units.holds import place_hold


@pytest.fixture
def workplace(sample_of_today: Path, tmp_path: Path) -> Iterator[Workplace]:
    made = Workplace(open_database(Path(shutil.copy(sample_of_today, tmp_path / "fleet.sqlite"))), attended=True)
    yield made
    made.database.close()


@pytest.fixture
def far(workplace: Workplace) -> Iterator[Workplace]:
    """Another desk on the same file, at which a technician works."""
    assert workplace.database.path is not None
    with workplace.database.read_session() as session:
        person = session.query(Person).filter_by(role="technician").first()
        assert person is not None
    made = Workplace(Database(workplace.database.path), person_id=person.id)
    yield made
    made.database.close()


@pytest.fixture
def desk(workplace: Workplace, far: Workplace, qtbot: Any) -> Iterator[Desk]:
    made = Desk(lambda: replace(as_opened(workplace), told=""), "light")
    made.window.show()
    qtbot.waitUntil(lambda: made.window.here == PageKey("today"), timeout=20_000)
    made.background.signed_in.choose(far.person_id)
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


def at(desk: Desk, place: PageKey, qtbot: Any) -> Any:
    desk.window.go(place)
    qtbot.waitUntil(lambda: desk.window.page.is_loaded and not desk.background.is_busy, timeout=20_000)
    return desk.window.page


def test_a_list_shows_another_desks_act_and_keeps_filter_cursor_and_marks(
    desk: Desk, far: Workplace, qtbot: Any
) -> None:
    page = at(desk, PageKey("units"), qtbot)
    rows = [row.tag for row in page.model.rows]
    qtbot.keyClicks(page.filter_field, rows[1][0])
    page.choose(rows[3])
    page.table.selectionModel().select(
        page.model.index(2, 0),
        page.table.selectionModel().SelectionFlag.Select | page.table.selectionModel().SelectionFlag.Rows,
    )
    marked = page._marked_keys()
    assert len(marked) == 2
    page.filter_field.setFocus()
    free = next(row.tag for row in page.model.rows if row.fit.value != "hold")
    place_hold(far, free, "a crack in the weld")
    qtbot.waitUntil(
        lambda: any("a crack in the weld" in str(row.reasons) for row in page.model.rows if row.tag == free),
        timeout=20_000,
    )
    qtbot.waitUntil(lambda: not desk.background.is_busy, timeout=20_000)
    assert page.chosen_key() == rows[3] and page._marked_keys() == marked
    assert page.filter_field.text() == rows[1][0] and QApplication.focusWidget() is page.filter_field
    assert not desk.window.desks_line.isVisible()


def test_a_half_typed_finding_stays_and_the_page_follows_once_it_is_emptied(
    desk: Desk, far: Workplace, qtbot: Any
) -> None:
    tag = at(desk, PageKey("units"), qtbot).model.rows[0].tag
    number = open_ticket(far, tag, cause="by hand", reason="look at the strap")
    row = next(row for row in list_tickets(far) if row.ticket.ticket_id == number)
    page = at(desk, PageKey("ticket_work", row.number), qtbot)
    page.findings.new.setFocus()
    qtbot.keyClicks(page.findings.new, "strap worn")
    add_finding(far, number, "CRACK in the counterlung weld")
    qtbot.waitUntil(desk.window.desks_line.isVisible, timeout=20_000)
    assert "Another desk recorded something" in desk.window.desks_line.text()
    assert page.findings.new.text() == "strap worn" and not page.desk.page.findings
    page.findings.new.selectAll()
    qtbot.keyClick(page.findings.new, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: bool(page.desk.page.findings), timeout=20_000)
    assert QApplication.focusWidget() is page.findings.new and not desk.window.desks_line.isVisible()


def test_a_lost_database_is_told_in_one_quiet_line_and_found_again_by_itself(
    desk: Desk, workplace: Workplace, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = at(desk, PageKey("units"), qtbot)
    total = page.model.total
    path = workplace.database.path
    assert path is not None
    away = path.with_name("away")
    workplace.database.close_look()
    path.rename(away)  # as a network drive that went away
    qtbot.waitUntil(desk.window.desks_line.isVisible, timeout=20_000)
    assert "not there any more" in desk.window.desks_line.text() and page.model.total == total
    away.rename(path)
    qtbot.waitUntil(lambda: not desk.window.desks_line.isVisible(), timeout=20_000)
    assert page.model.total == total
