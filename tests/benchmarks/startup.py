"""Start-up to a usable window, beside the floor: the same libraries imported and an empty window shown.

Each figure is a whole process, so that nothing is warm that would not be warm for a person. Runs alternate.
"""

import os
import statistics
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

COMPILED = Path(tempfile.gettempdir()) / "fleetbench-benchmark-compiled"
"""Where the processes keep what they compiled, the program and its floor alike."""

FLOOR = """
import sqlalchemy.orm, zoneinfo, PySide6.QtSvg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
app = QApplication([])
window = QMainWindow()
window.resize(1280, 800)
window.show()
QTimer.singleShot(0, app.quit)
app.exec()
"""

PROGRAM = """
import sys
from functools import partial
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
app = QApplication([])
desk = Desk(partial(open_records, sys.argv[1]))
desk.window.show()
def look():
    if desk.window.here.page != "start" and desk.window.page.is_loaded:
        app.quit()
    else:
        QTimer.singleShot(5, look)
look()
app.exec()
desk.close()
"""


FRAME = """
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk
app = QApplication([])
desk = Desk(lambda: None)
desk.background.wait()
desk.window.show()
QTimer.singleShot(0, app.quit)
app.exec()
desk.close()
"""


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


def measure(database: Path, runs: int = 7) -> tuple[Pair, Pair]:
    """The window's first frame, and Today, beside the floor: medians over alternating runs, after one to warm the disk.

    CPU seconds of whole processes.
    """
    codes = (FLOOR, FRAME, PROGRAM)
    for code in codes:
        timed(code, str(database))
    taken = [[timed(code, str(database)) for code in codes] for _ in range(runs)]
    floor, frame, today = (statistics.median(each[at] for each in taken) for at in range(3))
    return Pair(frame, floor), Pair(today, floor)
