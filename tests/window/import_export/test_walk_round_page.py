"""The walk-round by keys: an answer is typed, saved at once, and the line says what it settled."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit

from fleetbench.records.core.database import Database
from fleetbench.records.parts.tables import PartType, PartTypeLife
from fleetbench.window.import_export.walk_round import ANSWER, WalkRoundPage
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import Opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.bring import bring
from fleetbench.workshop.import_export.spreadsheet import guessed, open_spreadsheet


@pytest.fixture
def page(sqlite_database: Database, tmp_path: Path, qtbot: Any) -> Iterator[WalkRoundPage]:
    """The list of a fleet of one unit; a cell lasts 12 months from made, invented."""
    workplace = Workplace(sqlite_database)
    path = tmp_path / "fleet.csv"
    path.write_text("Unit,S/N,Cell 1,Cell 1 made\nR1,101,c11,?\nR2,102,c21,2026-01\n", encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    bring(workplace, table, guessed(table), {}, name=path.name)
    with workplace.transaction("import", "a life") as act:
        kind = act.get(PartType, 1, "part type")
        act.add(PartTypeLife(part_type_id=kind.id, basis="made", amount=12, unit="months", source="invented manual"))
    desk = Desk(lambda: Opened(workplace), "light")
    desk.window.show()
    qtbot.waitUntil(lambda: desk.window.here == PageKey("today"))
    desk.window.go(PageKey("walk_round"))
    assert isinstance(desk.window.page, WalkRoundPage)
    shown = desk.window.page
    qtbot.waitUntil(lambda: shown.is_loaded)
    yield shown
    desk.close()
    desk.window.deleteLater()
    desk.deleteLater()
    qtbot.wait(1)


def type_answer(page: WalkRoundPage, field: str, text: str, qtbot: Any) -> tuple[str, str, str]:
    """Put the cursor on the line, type, press Enter."""
    row = next(at for at, line in enumerate(page.model.rows) if line.field == field)
    line = page.model.row_at(row)
    page.table.setCurrentIndex(page.model.index(row, ANSWER))
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    editor = page.table.findChild(QLineEdit)
    assert editor is not None
    qtbot.keyClicks(editor, text)
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: line.key in page.model.typed)
    return line.key


def test_an_answer_turns_not_known_into_a_day_before_ones_eyes(page: WalkRoundPage, qtbot: Any) -> None:
    before = page.round.known
    key = type_answer(page, "made_on", "2026-03", qtbot)
    qtbot.waitUntil(lambda: page.model.settled.get(key) == "last valid day 2027-02-28", timeout=20_000)
    qtbot.waitUntil(lambda: page.round.known == before + 1, timeout=20_000)
    assert page.summary.startswith(f"{before + 1} of {page.round.total} facts are known")


def test_an_answer_that_cannot_be_read_is_refused_in_one_line(page: WalkRoundPage, qtbot: Any) -> None:
    type_answer(page, "made_on", "spring", qtbot)
    qtbot.waitUntil(lambda: "'spring' is no date" in page.banner.text, timeout=20_000)


@pytest.mark.parametrize("ending", [".pdf", ".csv", ".xlsx"])
def test_the_list_is_printed_and_saved(page: WalkRoundPage, tmp_path: Path, qtbot: Any, ending: str) -> None:
    path = tmp_path / f"round{ending}"
    with qtbot.waitSignal(page.saving.written, timeout=60_000):
        page.saving.write_to(path)
    assert path.stat().st_size > 100
