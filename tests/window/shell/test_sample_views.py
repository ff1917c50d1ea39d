"""The views on the invented sample fleet, held against the sheets as a plain CSV reader sees them."""

import csv
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QGraphicsView, QScrollArea
from sqlalchemy import event

from fleetbench.calc.core.verdict import DueState
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.shipped import shipped
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.detail.view import TableView
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.look.marks import UNKNOWN, mark_for
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import Opened
from fleetbench.window.shell.pages import PAGES, page_named
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.schematic import StationButton
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.list import LifeWord
from fleetbench.workshop.units.list import Fit

LISTS = [*PAGES[1:], *(page_named(name) for name in ("cylinders", "absorbent"))]

STARTED = """
import sys
from functools import partial
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import settle, wait_until
app = QApplication([])
desk = Desk(partial(open_records, sys.argv[1]))
desk.window.show()
wait_until(lambda: desk.window.here.page != "start")
settle(desk)
desk.close()
print(*sorted({"pandas", "scipy", "reportlab", "pyqtgraph", "alembic", "openpyxl"} & set(sys.modules)))
"""

SHOWN = """
import sys
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
app = QApplication([])
desk = Desk(lambda: None)
desk.background.wait()
desk.window.show()
early = {"sqlalchemy", "numpy", "dateutil", "fleetbench.workshop", "fleetbench.calc.readiness"}
print(*sorted(early & set(sys.modules)))
"""

AHEAD = """
import linecache, sys
from functools import partial
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell import app, pages, pictures
from fleetbench.window.shell.opening import open_records, read_ahead
from fleetbench.window.shell.place import PageKey
pictures._PATIENCE_MS = 200_000
application = QApplication([])
desk = app.Desk(partial(open_records, sys.argv[1]))
desk.window.show()
app.settle(desk)
pictures.wait_until(lambda: not desk.background.is_busy and not set(read_ahead()) - set(sys.modules))
before = set(sys.modules)
for spec in (*pages.PAGES, *pages.BESIDE_THE_RAIL):
    if hasattr(sys.modules[spec.module], "list_page"):
        desk.window.go(PageKey(spec.name))
        pictures.wait_until(lambda: not desk.background.is_busy)
late = sorted(name for name in set(sys.modules) - before if name.startswith(("fleetbench", "pyqtgraph", "PySide6")))
kept = [path for path in linecache.cache if path.endswith(".py")]
sources = sorted(path for path in kept if "fleetbench" in path or "sqlalchemy" in path)
desk.close()
print(late, sources)
"""


@pytest.fixture(scope="module")
def sample(sample_of_today: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workplace]:
    """The sample fleet, its dates moved to today."""
    copy = shutil.copy(sample_of_today, tmp_path_factory.mktemp("sample") / "fleet.sqlite")
    workplace = Workplace(open_database(Path(copy)))
    yield workplace
    workplace.database.close()


@pytest.fixture
def desk(sample: Workplace, qtbot: Any) -> Iterator[Desk]:
    made = Desk(lambda: Opened(sample, "Sample"), "light")
    made.window.show()
    qtbot.waitUntil(lambda: made.window.here == PageKey("today"))
    yield made
    made.close()
    made.window.deleteLater()
    made.deleteLater()
    qtbot.wait(1)


def sheet(name: str) -> list[dict[str, str]]:
    """The lines of one of the sheets."""
    with (shipped("sample_fleet") / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def at(desk: Desk, place: PageKey, qtbot: Any) -> Any:
    """The page at a place, loaded."""
    desk.window.go(place)
    qtbot.waitUntil(lambda: desk.window.page.is_loaded and not desk.background.is_busy, timeout=20_000)
    assert desk.window.page.banner.text == ""
    return desk.window.page


@pytest.mark.parametrize("spec", LISTS, ids=lambda spec: spec.name)
def test_every_list_shows_rows_and_describes_the_chosen_one(desk: Desk, spec: Any, qtbot: Any) -> None:
    page: ListPage[Any] = at(desk, PageKey(spec.name), qtbot)
    assert page.model.total > 0
    assert page.detail.detail is not None
    assert page.summary
    wide = desk.window.width()
    page.filter_field.setText("no row holds these words, which are many more than a list shows")
    assert desk.window.minimumSizeHint().width() <= wide == desk.window.width(), "a filter widens no window"
    page.filter_field.clear()


def test_the_wheel_over_a_plot_scrolls_the_page_of_a_cell(desk: Desk, qtbot: Any) -> None:
    cells = at(desk, PageKey("cells"), qtbot)
    page = at(desk, PageKey("cells", str(cells.model.row_at(0).part.part_id)), qtbot)
    plot = next(each for each in page.findChildren(QGraphicsView) if each.isVisible() and each.height() > 40)
    bar = next(each.verticalScrollBar() for each in page.findChildren(QScrollArea) if each.isAncestorOf(plot))
    assert (bar.value(), bar.maximum() > 0) == (0, True)
    middle = plot.viewport().mapTo(desk.window, plot.viewport().rect().center())
    QTest.wheelEvent(desk.window.windowHandle(), QPointF(middle), QPoint(0, -120))
    qtbot.waitUntil(lambda: bar.value() > 0)


def test_the_list_of_units_holds_the_tags_of_the_sheet(desk: Desk, qtbot: Any) -> None:
    page = at(desk, PageKey("units"), qtbot)
    assert sorted(row.tag for row in page.model.rows) == sorted(line["tag"] for line in sheet("units"))


def test_the_list_of_cylinders_holds_the_cylinders_of_the_sheet(desk: Desk, qtbot: Any) -> None:
    assert at(desk, PageKey("cylinders"), qtbot).model.total == len(sheet("cylinders"))


def test_the_page_of_a_unit_on_hold_says_why_and_marks_it_by_word_shape_and_colour(desk: Desk, qtbot: Any) -> None:
    row = next(row for row in at(desk, PageKey("units"), qtbot).model.rows if row.fit is Fit.HOLD)
    page: RecordPage = at(desk, PageKey("units", row.tag), qtbot)
    assert page.detail is not None
    assert page.detail.marks[0] == mark_for("hold")
    page.focus_first()
    scrolled = page.findChild(QScrollArea)
    assert scrolled is not None and scrolled.verticalScrollBar().value() == 0  # what holds it stands at the head
    said = next(each for each in page.detail.parts if each.title == "On hold because")
    assert [fact.value for fact in said.facts] == list(row.reasons)  # type: ignore[union-attr]


def test_pressing_a_slot_on_the_schematic_opens_the_part_in_it(desk: Desk, qtbot: Any) -> None:
    page = at(desk, PageKey("units", sheet("units")[0]["tag"]), qtbot)
    slot = next(button for button in page.findChildren(StationButton) if button.station.part_id)
    qtbot.mouseClick(slot, Qt.MouseButton.LeftButton)
    assert desk.window.here == PageKey("parts", str(slot.station.part_id))


def test_the_history_of_a_unit_is_newest_first(desk: Desk, qtbot: Any) -> None:
    page = at(desk, PageKey("units", sheet("units")[0]["tag"]), qtbot)
    history = page.part("History")
    assert isinstance(history, TableView)
    moments = [line.cells[0] for line in history.lines]
    assert moments == sorted(moments, reverse=True)
    assert moments


@pytest.mark.parametrize("name", ["cells", "canisters", "valves", "tickets"])
def test_enter_on_the_first_row_opens_its_page(desk: Desk, name: str, qtbot: Any) -> None:
    page = at(desk, PageKey(name), qtbot)
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: desk.window.page.is_loaded and not desk.background.is_busy)
    assert desk.window.here.page == name
    assert desk.window.page.banner.text == ""
    assert desk.window.page.title


def test_a_scanned_tag_jumps_to_its_unit(desk: Desk, qtbot: Any) -> None:
    tag = sheet("units")[3]["tag"]
    desk.window.focus_find()
    qtbot.keyClicks(desk.window.find_box, tag)
    qtbot.keyClick(desk.window.find_box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: desk.window.here == PageKey("units", tag))


def test_the_due_list_begins_with_what_is_not_known_and_then_the_earliest(desk: Desk, qtbot: Any) -> None:
    rows = at(desk, PageKey("due"), qtbot).model.rows
    days = [row.last_good_day or date.min for row in rows]
    assert days == sorted(days)


def test_a_rejected_cell_is_never_shown_as_good_until_a_day(desk: Desk, qtbot: Any) -> None:
    page = at(desk, PageKey("cells"), qtbot)
    column = next(column for column in page.model.columns if column.key == "last")
    rejected = [row for row in page.model.rows if row.verdict == "reject"]
    assert rejected
    assert all(column.state(row) == mark_for("past") for row in rejected)


def test_no_database_is_touched_in_the_gui_thread(desk: Desk, sample: Workplace, qtbot: Any) -> None:
    threads: set[int] = set()
    listen = (sample.database.engine, "checkout", lambda *_args: threads.add(threading.get_ident()))
    event.listen(*listen)
    try:
        for spec in PAGES:
            at(desk, PageKey(spec.name), qtbot)
        at(desk, PageKey("units", sheet("units")[0]["tag"]), qtbot)
    finally:
        event.remove(*listen)
    assert threads
    assert threading.get_ident() not in threads


def test_the_window_is_usable_before_any_slow_library_is_imported(sample: Workplace) -> None:
    path = sample.database.path
    assert path is not None
    asked = [sys.executable, "-c", STARTED, str(path)]
    root = str(Path(__file__).parents[3])
    done = subprocess.run(asked, check=True, capture_output=True, text=True, cwd=root, timeout=60)
    assert done.stdout.strip() == ""


def test_the_window_is_shown_before_anything_is_read_that_knows_the_records() -> None:
    """Those take several times as long as the window itself; they are read in the thread that opens the records."""
    root = str(Path(__file__).parents[3])
    asked = [sys.executable, "-c", SHOWN]
    done = subprocess.run(asked, check=True, capture_output=True, text=True, cwd=root, timeout=60)
    assert done.stdout.strip() == ""


def test_no_page_imports_anything_when_it_is_opened_first_and_no_source_of_what_was_imported_is_kept(
    sample: Workplace,
) -> None:
    """An import in the midst of a key press is waited for; the lines of all sources took as much memory as a fleet."""
    root = str(Path(__file__).parents[3])
    asked = [sys.executable, "-X", "faulthandler", "-c", AHEAD, str(sample.database.path)]
    done = subprocess.run(asked, check=False, capture_output=True, text=True, cwd=root, timeout=240)
    assert (done.returncode, done.stdout.strip()) == (0, "[] []"), done.stderr


@pytest.mark.parametrize("word", [*Fit, *LifeWord, *DueState])
def test_every_state_of_the_workshop_has_its_own_mark(word: Any) -> None:
    unknown = {LifeWord.UNKNOWN, LifeWord.NO_LIMIT, LifeWord.EMPTY, DueState.UNKNOWN, Fit.CALCULATED}
    assert (mark_for(word).shape is UNKNOWN.shape) == (word in unknown)
