"""Start-up to a usable window, beside the floor: the same libraries imported and an empty window shown.

Each figure is a whole process, so that nothing is warm that would not be warm for a person. Runs alternate.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

COMPILED = Path(tempfile.gettempdir()) / "fleetbench-benchmark-compiled"
"""Where the processes keep what they compiled, the program and its floor alike."""

FLOOR = """
import sqlalchemy.orm, numpy, dateutil.relativedelta, zoneinfo, PySide6.QtSvg
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
    """Seconds of one whole process that runs the code."""
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPYCACHEPREFIX": str(COMPILED)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program is compiled once, not at every start
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, *words], check=True, env=environment, capture_output=True)
    return time.perf_counter() - began


def measure(database: Path, runs: int = 7) -> Pair:
    """The median over alternating runs of floor and program on a database, after one of each to warm the disk."""
    timed(FLOOR)
    timed(PROGRAM, str(database))
    floors, programs = [], []
    for _ in range(runs):
        floors.append(timed(FLOOR))
        programs.append(timed(PROGRAM, str(database)))
    return Pair(statistics.median(programs), statistics.median(floors))
