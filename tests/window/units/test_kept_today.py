"""Today as it was kept: shown while the records are opened, and only where nothing can have changed since."""

import json
import shutil
import stat
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt

from fleetbench.records.people.reads import read_names
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.window.detail.detail import Detail, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import Opened
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.kept_today import AGAIN, KeptToday, kept_of
from fleetbench.window.units.today import today_detail
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.holds import place_hold
from fleetbench.workshop.units.today import today_page


@pytest.fixture
def workplace(sample_of_today: Path, tmp_path: Path) -> Iterator[Workplace]:
    """The sample fleet, its dates moved to today."""
    made = Workplace(open_database(Path(shutil.copy(sample_of_today, tmp_path / "fleet.sqlite"))))
    yield made
    made.database.close()


@pytest.fixture
def kept(workplace: Workplace, tmp_path: Path) -> KeptToday:
    """Today of the sample, kept a moment ago."""
    assert workplace.database.path is not None
    made = KeptToday(tmp_path, workplace.database.path)
    made.keep(today_detail(today_page(workplace)), made.head(), workplace.zone(), workplace.clock())
    return made


def lines(detail: Detail) -> list[Any]:
    return [line for part in detail.parts if isinstance(part, Table) for line in part.lines]


def test_what_is_kept_says_who_goes_where_and_neither_fitness_nor_name(workplace: Workplace, kept: KeptToday) -> None:
    found, true = kept.shown(workplace.clock()), today_detail(today_page(workplace))
    assert found is not None
    assert found.title == true.title
    assert found.subtitle.startswith("as of ")
    assert found.marks == (AGAIN,)
    assert {line.cells[0] for line in lines(found)} <= {line.cells[0] for line in lines(true)}
    assert len(lines(found)) > 5
    assert all(line.mark is None for line in lines(found))
    for part in (each for each in found.parts if isinstance(each, Table)):
        column, page = ("Unit", "units") if "Unit" in part.headings else ("Booking", "hires")
        at = part.headings.index(column)  # whatever stops it
        assert all(line.leads_to in (PageKey(page, line.cells[at]), None) for line in part.lines)
    assert sum(line.leads_to is not None for line in lines(found)) > 5
    said = kept.file.read_text(encoding="utf-8").casefold()
    with workplace.database.reading() as connection:
        assert not any(name.casefold() in said for name in read_names(connection).values() if " " in name)
    # `free of holds` would be as much a verdict as `ready`.
    assert not any(word in said for word in ("ready", "hold", "free of", "fit", "due soon", "ring"))
    assert stat.S_IMODE(kept.file.stat().st_mode) == 0o600


def test_it_is_not_shown_once_anything_was_written_or_the_day_is_another(workplace: Workplace, kept: KeptToday) -> None:
    assert kept.shown(workplace.clock() + timedelta(days=1)) is None
    with workplace.database.reading() as connection:
        person, tag = min(read_names(connection)), today_page(workplace).on_bench or None
        tag = connection.exec_driver_sql("SELECT tag FROM unit ORDER BY id LIMIT 1").scalar()
    place_hold(workplace.as_person(person), str(tag), "dropped")
    assert kept.shown(workplace.clock()) is None


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"head": null, "zone": "UTC", "day": "2026-01-01"}'])
def test_what_cannot_be_read_is_as_if_nothing_was_kept(workplace: Workplace, kept: KeptToday, text: str) -> None:
    kept.file.write_text(text, encoding="utf-8")
    assert kept.shown(workplace.clock()) is None


def test_a_damaged_table_and_a_missing_database_show_nothing(
    workplace: Workplace, kept: KeptToday, tmp_path: Path
) -> None:
    there = json.loads(kept.file.read_text(encoding="utf-8"))
    kept.file.write_text(json.dumps({**there, "tables": [{"title": "Late"}]}), encoding="utf-8")
    assert kept.shown(workplace.clock()) is None
    gone = KeptToday(tmp_path, tmp_path / "never.sqlite")
    shutil.copy(kept.file, gone.file)
    assert gone.shown(workplace.clock()) is None
    assert gone.head() is None
    assert not (tmp_path / "never.sqlite").exists()


def test_a_server_keeps_nothing_beside_itself() -> None:
    assert kept_of("postgresql://somewhere/fleet") is None


def test_keys_act_on_it_before_the_records_are_open_and_the_true_day_takes_over(
    workplace: Workplace, kept: KeptToday, qtbot: Any
) -> None:
    desk, go_on = _waiting(workplace, kept)
    window = desk.window
    start = window.page
    assert window.here.page == "start"
    assert not window._start.state.isVisible()
    assert window._start._kept is not None
    assert window._start._kept.isVisible()

    table = next(each for each in start.findChildren(LinesView) if each.model().rowCount() > 1)
    table.setFocus()
    table.selectRow(0)
    qtbot.keyClick(table, Qt.Key.Key_Down)
    assert table.currentIndex().row() == 1
    name, tag = table.accessibleName(), str(table.model().index(1, 0).data())
    go_on.set()
    qtbot.waitUntil(lambda: window.here.page == "today", timeout=10_000)
    page = window.page
    assert page is not start
    assert isinstance(page, RecordPage)
    assert page.detail is not None
    assert page.detail.marks == (AGAIN,), "what was kept stands until the true day"
    qtbot.waitUntil(lambda: page.is_loaded, timeout=10_000)
    assert page.detail.marks != (AGAIN,)
    held = window.focusWidget()
    assert isinstance(held, LinesView)
    assert (held.accessibleName(), str(held.model().index(held.currentIndex().row(), 0).data())) == (name, tag)
    _end(desk, qtbot)


def test_where_a_key_led_before_the_records_are_open_is_shown_as_soon_as_they_are(
    workplace: Workplace, kept: KeptToday, qtbot: Any
) -> None:
    desk, go_on = _waiting(workplace, kept)
    window = desk.window
    table = next(each for each in window.page.findChildren(LinesView) if each._model.row_at(0).leads_to is not None)
    table.setFocus()
    table.selectRow(0)
    wanted = table._model.row_at(0).leads_to
    qtbot.keyClick(table, Qt.Key.Key_Return)
    assert window.here.page == "start"
    go_on.set()
    qtbot.waitUntil(lambda: window.here == wanted, timeout=10_000)
    window.go_back()
    assert window.here.page == "today"
    _end(desk, qtbot)


def _waiting(workplace: Workplace, kept: KeptToday) -> tuple[Desk, threading.Event]:
    """A window whose records open once the event is set."""
    go_on = threading.Event()

    def slowly() -> Opened:
        assert go_on.wait(10)
        return Opened(workplace, "Sample")

    desk = Desk(slowly, "light", kept)
    desk.window.show()
    return desk, go_on


def _end(desk: Desk, qtbot: Any) -> None:
    desk.close()
    desk.window.deleteLater()
    desk.deleteLater()
    qtbot.wait(1)
