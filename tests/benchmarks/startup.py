"""Start-up to a usable window, beside the floor: the same libraries imported and an empty window shown.

Each figure is a whole process up to that moment, so that nothing is warm that would not be warm for a person. What its
ending costs is not counted. Runs alternate.
"""

import os
import statistics
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.today import today_page
from tests.benchmarks.stalls import COMPILED

FLOOR = """
import os
import sqlalchemy.orm, zoneinfo, PySide6.QtSvg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
app = QApplication([])
window = QMainWindow()
window.resize(1280, 800)
window.show()
QTimer.singleShot(0, app.quit)
app.exec()
os._exit(0)
"""

PROGRAM = """
import os, sys
from functools import partial
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
app = QApplication([])
desk = Desk(partial(open_records, sys.argv[1]))
desk.window.show()
whole = sys.argv[3:] == ["whole"]
def look():
    page = desk.window.page
    if desk.window.here.page != "start" and page.is_loaded and not (whole and "being calculated" in page.summary):
        app.quit()
beat = QTimer(interval=25)
beat.timeout.connect(look)
beat.start()
app.exec()
os._exit(0)
"""
"""Today as it stands; `whole`: and what its promises ask for, which is judged once it is shown.

Looked at forty times a second: two hundred times, on a busy machine, cost a twentieth of what was measured.
"""


KEPT = """
import os, sys
from functools import partial
from pathlib import Path
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.units.kept_today import KeptToday
app = QApplication([])
led = sys.argv[3:] == ["led"]
opening = partial(open_records, sys.argv[1]) if led else lambda: None
desk = Desk(opening, "system", KeptToday(Path(sys.argv[2]), Path(sys.argv[1])))
if not led:
    desk.background.wait()
desk.window.show()
def press():
    tables = desk.window.page.findChildren(LinesView)
    table = next(each for each in tables if each.model().rowCount() > 1)
    table.setFocus()
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Down, *([Qt.Key.Key_Return] if led else [])):
        app.sendEvent(table, QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier))
    assert table.currentIndex().row() == 1, "the key acted"
    look() if led else QTimer.singleShot(0, app.quit)
def look():
    if desk.window.here.page not in ("start", "today") and desk.window.page.is_loaded:
        app.quit()
    else:
        QTimer.singleShot(25, look)
QTimer.singleShot(0, press)
app.exec()
os._exit(0)
"""
"""Today as it was kept, on which a key moves down a line; `led`: and Enter goes where that leads, until it is shown."""

FRAME = """
import os
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
app = QApplication([])
desk = Desk(lambda: None)
desk.background.wait()
desk.window.show()
QTimer.singleShot(0, app.quit)
app.exec()
os._exit(0)
"""


LED, WHOLE = "start: where Enter led", "start: Today, promises too"
WORDS = {LED: "led", WHOLE: "whole"}


@dataclass(frozen=True, slots=True)
class Pair:
    """Median seconds of the program and of its floor, and their ratio."""

    seconds: float
    floor: float

    @property
    def ratio(self) -> float:
        """How many times the floor."""
        return self.seconds / self.floor


def timed(code: str, *words: str) -> float:
    """CPU seconds of one whole process that runs the code."""
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPYCACHEPREFIX": str(COMPILED)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program is compiled once, not at every start
    began = _of_children()
    subprocess.run([sys.executable, "-c", code, *words], check=True, env=environment, capture_output=True)
    return _of_children() - began


def _of_children() -> float:
    spent = os.times()
    return spent.children_user + spent.children_system


def measure(workplace: Workplace, database: Path, runs: int = 7) -> dict[str, Pair]:
    """The first frame, a key on Today as it was kept, what Enter on it led to, Today as it stands; and the floor.

    CPU seconds of whole processes: medians over alternating runs, after one of each to warm the disk.
    """
    from fleetbench.window.units.kept_today import KeptToday  # what reads alone is measured where there is no Qt, too
    from fleetbench.window.units.today import today_detail

    kept = KeptToday(database.parent, database)
    kept.keep(today_detail(today_page(workplace)), kept.head(), workplace.zone(), workplace.clock())
    codes = {
        "floor": FLOOR,
        "start: first frame": FRAME,
        "start: Today as kept": KEPT,
        LED: KEPT,
        "start: Today": PROGRAM,
        WHOLE: PROGRAM,
    }
    for name, code in codes.items():
        timed(code, str(database), str(database.parent), *filter(None, [WORDS.get(name)]))
    taken: dict[str, list[float]] = {name: [] for name in codes}
    for _ in range(runs):
        for name, code in codes.items():
            taken[name].append(timed(code, str(database), str(database.parent), *filter(None, [WORDS.get(name)])))
    middle = {name: statistics.median(each) for name, each in taken.items()}
    floor = middle.pop("floor")
    return {name: Pair(seconds, floor) for name, seconds in middle.items()}
