"""A theme, background work and a watch for what a test leaves behind."""

import gc
import threading
from collections.abc import Iterator
from pathlib import Path
from time import thread_time
from weakref import WeakSet

import pytest
import shiboken6
from PySide6.QtCore import QCoreApplication, QEvent, QTimer
from PySide6.QtWidgets import QApplication, QMainWindow

from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background, CycleSearch

PLATFORM = r"This plugin does not support (propagateSizeHints|raise|grabbing the keyboard)"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The offscreen platform says this of every window that has a size, and of a list that opens; no fault of ours."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.qt_log_ignore(PLATFORM))


@pytest.fixture
def theme(qapp: QApplication) -> Iterator[Theme]:
    """The looks, applied."""
    made = Theme()
    made.set_dark(False)
    made.apply(qapp)
    yield made
    made.deleteLater()


@pytest.fixture
def background(qapp: QApplication) -> Iterator[Background]:
    """Where work runs; ends with the test."""
    made = Background()
    yield made
    assert made.wait(5_000), "work was still running when the test ended"
    made.deleteLater()


@pytest.fixture(autouse=True)
def nothing_left_behind(qapp: QApplication, request: pytest.FixtureRequest) -> Iterator[None]:
    """Fails a test that leaves a Python thread or a running timer, or a top-level widget that it did not close."""
    _set_lasting_aside()
    threads = set(threading.enumerate())
    known = set(map(id, qapp.topLevelWidgets()))
    cycles = CycleSearch()  # as in the program: a search in the midst of a paint ends the process
    yield
    cycles.let_go()
    left = [thread for thread in set(threading.enumerate()) - threads if not thread.name.startswith("Dummy")]
    assert not left, f"threads left: {left}"
    left_open = [widget for widget in qapp.topLevelWidgets() if id(widget) not in known]
    shown = [widget for widget in left_open if widget.isVisible()]
    assert not shown, f"widgets left: {shown}"
    assert not _running_timers(), "a timer still runs"
    for widget in left_open:  # a later change of look is worked out for every widget that still stands
        if isinstance(widget, QMainWindow) and shiboken6.isValid(widget):
            widget.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


SETTLED_S = 0.005
"""So long the collector may walk after each test; what takes longer is set aside before the next one."""

_WALKED_S = [SETTLED_S + 1.0]
_TIMERS: WeakSet[QTimer] = WeakSet()


def _set_lasting_aside() -> None:
    """Let the collector pass over what outlives tests: modules, statements, fixtures. Walking it cost 0.05 s a test."""
    if _WALKED_S[0] > SETTLED_S:
        gc.collect()
        gc.freeze()


def _running_timers() -> list[QTimer]:
    begun = thread_time()
    gc.collect()
    _WALKED_S[0] = thread_time() - begun
    # Never from the collector's list of all objects, which holds also a tuple that a thread is just filling.
    _TIMERS.update(thing for thing in shiboken6.getAllValidWrappers() if isinstance(thing, QTimer))
    # Python may still hold a timer that Qt has deleted with its page.
    return [timer for timer in _TIMERS if shiboken6.isValid(timer) and timer.isActive()]
