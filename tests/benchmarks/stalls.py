"""How long the window's own thread is held, page by page: `python -m tests.benchmarks.stalls [--units 200] [--file F]`.

A beat every 5 ms; told is the longest gap between two of them while each page is opened and opened again, how much of
it the thread itself worked (the rest it waited for the interpreter, the disk or another process), what searches for
cycles took of it, and where it was seen. Wall time, so to be run on a quiet machine.
"""

import argparse
import gc
import os
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

BEAT_MS, BAR_MS, SETTLED_MS = 5, 50.0, 400

COMPILED = Path(tempfile.gettempdir()) / "fleetbench-benchmark-compiled"
"""Where benchmarks keep what they compiled: an installed program is compiled once, not at every start."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Milliseconds between two beats, of which the thread worked and cycles were searched, and where it was seen."""

    long: float
    worked: float = 0.0
    cycles: float = 0.0
    seen: str = ""

    @property
    def cause(self) -> str:
        """The likeliest in one word."""
        if self.cycles > self.long / 2:
            return "gc"
        if self.worked < self.long / 2:
            return "waits (interpreter lock)"
        return "import" if "import" in self.seen else "paint" if "paint" in self.seen.lower() else "own work"


class Heart:
    """Beats in the window's thread, and keeps the longest gap since it was asked last."""

    def __init__(self) -> None:
        from PySide6.QtCore import QTimer

        self._at, self._worked, self._cycles, self._began = time.perf_counter(), time.thread_time(), 0.0, 0.0
        self._seen: Counter[str] = Counter()
        self.longest = Gap(0.0)
        self._main, self._stop = threading.get_ident(), threading.Event()
        gc.callbacks.append(self._on_cycles)
        threading.Thread(target=self._watch, daemon=True).start()
        self._timer = QTimer(interval=BEAT_MS)
        self._timer.timeout.connect(self._beat)
        self._timer.start()

    def take(self) -> Gap:
        """The longest gap since the last time."""
        found, self.longest = self.longest, Gap(0.0)
        return found

    def stop(self) -> None:
        """Beat no more."""
        self._timer.stop()
        self._stop.set()
        gc.callbacks.remove(self._on_cycles)

    def _beat(self) -> None:
        now, worked = time.perf_counter(), time.thread_time()
        gap = (now - self._at) * 1000
        if gap > self.longest.long:
            seen = next((name for name, _ in self._seen.most_common(1)), "")
            self.longest = Gap(gap, (worked - self._worked) * 1000, self._cycles * 1000, seen)
        self._at, self._worked, self._cycles = now, worked, 0.0
        self._seen.clear()

    def _on_cycles(self, phase: str, _info: Any) -> None:
        if phase == "start":
            self._began = time.perf_counter()
        else:
            self._cycles += time.perf_counter() - self._began

    def _watch(self) -> None:
        while not self._stop.wait(BEAT_MS / 1000):
            frame = sys._current_frames().get(self._main)
            if frame is not None and time.perf_counter() - self._at > 4 * BEAT_MS / 1000:
                self._seen[_place(frame)] += 1


def _place(frame: FrameType | None) -> str:
    """The innermost function of the program, and 'import' where a module is read within it."""
    importing = ""
    while frame is not None:
        file = frame.f_code.co_filename
        importing = importing or ("import " if "importlib" in file else "")
        if f"{os.sep}fleetbench{os.sep}" in file and frame.f_code.co_name != "<module>":
            return f"{importing}{Path(file).stem}.{frame.f_code.co_qualname}"
        frame = frame.f_back
    return importing


def walk(file: Path, tell: Callable[[str, Gap], None]) -> None:
    """Open the window on a database and visit every page twice."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtWidgets import QApplication

    from fleetbench.window.shell.app import Desk, settle
    from fleetbench.window.shell.opening import open_records
    from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
    from fleetbench.window.shell.place import PageKey

    app = QApplication.instance() or QApplication([])
    heart = Heart()
    desk = Desk(partial(open_records, str(file)))
    desk.window.show()
    app.processEvents()
    tell("until it is shown", heart.take())
    settle(desk)

    def until(met: Callable[[], bool]) -> None:
        still = time.perf_counter()
        while (time.perf_counter() - still) * 1000 < SETTLED_MS:
            app.processEvents()
            time.sleep(0.001)
            if not met():
                still = time.perf_counter()

    until(lambda: desk.window.here.page == "today" and desk.window.page.is_loaded and not desk.background.is_busy)
    tell("start", heart.take())
    for again in ("first", "again"):
        for spec in (*PAGES, *BESIDE_THE_RAIL):
            if not hasattr(sys.modules[spec.module], "list_page"):
                continue
            desk.window.go(PageKey(spec.name))
            until(lambda: not desk.background.is_busy)
            tell(f"{spec.name}, {again}", heart.take())
    heart.stop()
    desk.close()


def main() -> None:
    """Print a line a page, the longest gaps last."""
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.stalls", description=__doc__)
    words.add_argument("--units", type=int, default=200)
    words.add_argument("--months", type=int, default=3)
    words.add_argument("--file", type=Path, help="a database that is there already")
    chosen = words.parse_args()
    sys.pycache_prefix, sys.dont_write_bytecode = str(COMPILED), False
    found: list[tuple[str, Gap]] = []
    with tempfile.TemporaryDirectory() as folder:
        file = chosen.file
        if file is None:
            from tests.benchmarks import fleets

            file = fleets.build(Path(folder) / "fleet", chosen.units, chosen.months)
        walk(file, lambda name, gap: found.append((name, gap)))
    for name, gap in sorted(found, key=lambda each: each[1].long):
        verdict = "kept" if gap.long <= BAR_MS else "MISSED"
        print(
            f"{name:<22} {gap.long:7.1f} ms ({verdict}), worked {gap.worked:6.1f}, cycles {gap.cycles:6.1f}, "
            f"{gap.cause}: {gap.seen}"
        )


if __name__ == "__main__":
    main()
