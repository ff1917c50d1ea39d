"""What the window holds in memory, beside an empty window: `python -m tests.benchmarks.memory FILE`.

Megabytes of the resident set of a whole process: once Today and its promises stand, and once every page of the rail was
looked at. The floor imports every module of others that the program had imported by then. With `--sheets N` also the
highest that a batch of hand-over sheets reaches, of N and of ten times as many.
"""

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.stalls import COMPILED

BAR_MB = {1_000: 120, 10_000: 400}
"""Megabytes over the floor, by the number of units up to which it counts."""

RESIDENT = """
def resident():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
"""

WINDOW = (
    """
import json, os, sys
from functools import partial
from PySide6.QtCore import QElapsedTimer
from PySide6.QtWidgets import QApplication
from fleetbench.window.shell.app import Desk, settle
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.place import PageKey
"""
    + RESIDENT
    + """
app = QApplication([])
desk = Desk(partial(open_records, sys.argv[1]))
desk.window.show()
settle(desk)
def rest():
    still = QElapsedTimer()
    still.start()
    while still.elapsed() < 1500:
        app.processEvents()
        if desk.background.is_busy or desk.window.here.page == "start":
            still.restart()
def held():
    others = [name for name in sys.modules if name.partition(".")[0] not in ("fleetbench", "__main__", "tests")]
    return {"mb": resident(), "modules": others}
rest()
told = {"Today": held()}
for spec in (*PAGES, *BESIDE_THE_RAIL):
    if hasattr(sys.modules[spec.module], "list_page"):
        desk.window.go(PageKey(spec.name))
        rest()
told["every page"] = held()
print(json.dumps(told), flush=True)
os._exit(0)
"""
)

FLOOR = (
    """
import importlib, json, os, sys, warnings
warnings.simplefilter("ignore")
"""
    + RESIDENT
    + """
from PySide6.QtWidgets import QApplication, QMainWindow
for name in json.load(sys.stdin):
    try:
        importlib.import_module(name)
    except ImportError:
        pass
app = QApplication([])
window = QMainWindow()
window.resize(1280, 800)
window.show()
app.processEvents()
print(json.dumps(resident()), flush=True)
os._exit(0)
"""
)

SHEETS = """
import io, json, resource, sys, tempfile
from fleetbench.paper.hires import pages as sheet
from tests.benchmarks.pages import Sheets
with tempfile.TemporaryFile() as file:
    sheet.handover_batch(Sheets(int(sys.argv[1])), file)
print(json.dumps(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3))
"""


def _told(code: str, *words: str, given: str = "") -> object:
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "PYTHONPYCACHEPREFIX": str(COMPILED)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    done = subprocess.run(
        [sys.executable, "-c", code, *words], check=True, env=environment, capture_output=True, text=True, input=given
    )
    return json.loads(done.stdout)


def measure(file: Path) -> dict[str, tuple[float, float]]:
    """Megabytes of the window and of its floor, by what had been looked at."""
    told = _told(WINDOW, str(file))
    assert isinstance(told, dict)
    found = {}
    for name, held in told.items():
        floor = _told(FLOOR, given=json.dumps(held["modules"]))
        assert isinstance(floor, float)
        found[name] = (held["mb"], floor)
    return found


def main() -> None:
    """Print a line for each, beside its bar."""
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.memory", description=__doc__)
    words.add_argument("file", type=Path, help="a database, which is only looked at")
    words.add_argument("--units", type=int, default=1_000, help="how many it holds, for the bar")
    words.add_argument("--sheets", type=int, default=0, help="a batch of so many sheets, and of ten times as many")
    chosen = words.parse_args()
    bar = next(most for size, most in BAR_MB.items() if chosen.units <= size)
    for name, (held, floor) in measure(chosen.file).items():
        verdict = "kept" if held - floor <= bar else "MISSED"
        print(f"{name:<12} {held:6.0f} MB, floor {floor:6.0f} MB, {held - floor:+6.0f} MB (bar {bar} MB: {verdict})")
    for count in (chosen.sheets, 10 * chosen.sheets) if chosen.sheets else ():
        print(f"{count:>6} hand-over sheets: {_told(SHEETS, str(count)):6.0f} MB at the highest")


if __name__ == "__main__":
    main()
