import gc
import sys
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import QObject, QThread
from PySide6.QtWidgets import QApplication

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.window.shell.background import Background, CycleSearch, ProgramFault, Progress, Refresher


def collected(signal: Any) -> list[Any]:
    """Everything that the signal said, as it came."""
    said: list[Any] = []
    signal.connect(said.append)
    return said


def test_a_value_comes_back_in_the_gui_thread(background: Background, qtbot: Any) -> None:
    threads: list[object] = []
    job = background.run(QThread.currentThread)
    job.succeeded.connect(lambda worker: threads.extend([worker, QThread.currentThread()]))
    with qtbot.waitSignal(job.ended):
        pass
    assert threads[0] is not threads[1]
    assert threads[1] is background.thread()


def test_what_a_person_can_act_on_comes_back_as_one_line(background: Background, qtbot: Any) -> None:
    def refuse() -> None:
        raise Refused("tag: U-99 is not recorded; check the label")

    with qtbot.waitSignal(background.run(refuse).refused) as said:
        pass
    assert said.args == ["tag: U-99 is not recorded; check the label"]


def test_a_fault_of_ours_comes_back_with_its_trace(background: Background, qtbot: Any) -> None:
    with qtbot.waitSignal(background.failed) as said:
        background.run(lambda: 1 // 0)
    fault = said.args[0]
    assert isinstance(fault, ProgramFault)
    assert fault.line.startswith("ZeroDivisionError")
    assert "fleetbench/window/shell/background.py line " in fault.trace and "1 // 0" in fault.trace


def test_progress_is_told_and_a_cancel_stops_at_the_next_step(background: Background, qtbot: Any) -> None:
    told, go_on = threading.Event(), threading.Event()

    def work(progress: Progress) -> str:
        progress(1, 3, "first")
        told.set()
        assert go_on.wait(5)
        progress(2, 3, "second")
        return "never"

    job = background.run_long(work)
    values, called_off = collected(job.succeeded), []
    job.called_off.connect(lambda: called_off.append(True))
    with qtbot.waitSignal(job.progressed) as said:
        pass
    assert said.args == [1, 3, "first"]
    with qtbot.waitSignal(job.ended):
        job.cancel()
        go_on.set()
    assert not values
    assert called_off == [True]


def test_work_that_is_past_its_last_step_says_that_it_is_done_though_it_was_called_off(
    background: Background, qtbot: Any
) -> None:
    began, go_on = threading.Event(), threading.Event()

    def work(_progress: Progress) -> bool:
        began.set()
        return go_on.wait(5)

    job = background.run_long(work)
    values = collected(job.succeeded)
    assert began.wait(5)
    job.cancel()
    with qtbot.waitSignal(job.ended):
        go_on.set()
    assert values == [True]


def test_the_value_of_a_job_whose_view_has_gone_is_dropped(background: Background, qtbot: Any) -> None:
    view, go_on = QObject(), threading.Event()
    job = background.run(lambda: go_on.wait(5), view)
    values = collected(job.succeeded)
    view.deleteLater()
    with qtbot.waitSignal(view.destroyed):
        pass
    go_on.set()
    background.wait()
    qtbot.wait(20)
    assert not values
    assert not background.is_busy


def test_refreshes_asked_while_one_is_loading_become_one(background: Background, qtbot: Any) -> None:
    go_on, loads = threading.Event(), []

    def load(number: int) -> int:
        loads.append(number)
        assert go_on.wait(5)
        return number

    owner = QObject()
    refresher = Refresher(background, owner)
    values = collected(refresher.loaded)
    for number in range(5):
        refresher.ask(lambda number=number: load(number))  # type: ignore[misc]
    go_on.set()
    qtbot.waitUntil(lambda: not refresher.is_loading)
    assert values == [4]
    assert loads in ([0, 4], [4])


def test_a_refusal_does_not_stop_later_refreshes(background: Background, qtbot: Any) -> None:
    owner = QObject()
    refresher = Refresher(background, owner)

    def refuse() -> None:
        raise Refused("busy")

    with qtbot.waitSignal(refresher.refused):
        refresher.ask(refuse)
    qtbot.waitUntil(lambda: not refresher.is_loading)
    with qtbot.waitSignal(refresher.loaded) as said:
        refresher.ask(lambda: 7)
    assert said.args == [7]


def test_the_threads_end_when_asked_to(background: Background, qtbot: Any) -> None:
    background.run(lambda: 1)
    assert background.wait(2_000)


def test_what_a_hidden_page_waits_for_is_not_begun_and_an_act_goes_before_lists(
    background: Background, qtbot: Any
) -> None:
    """Both threads are busy with slow lists; a third list is called off, and an act overtakes a fourth."""
    go_on, began = threading.Event(), []

    def slow() -> None:
        assert go_on.wait(5)

    busy = [Refresher(background, background) for _ in range(2)]
    for each in busy:
        each.ask(slow)
    hidden, shown = Refresher(background, background), Refresher(background, background)
    hidden.ask(lambda: began.append("hidden"))
    shown.ask(lambda: began.append("shown"))
    hidden.call_off()
    act = background.run(lambda: began.append("act"))
    ended = collected_ends(act)
    go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy)
    assert began in (["act", "shown"], ["shown", "act"])  # two threads may take them up at one time
    assert ended
    hidden.ask(lambda: began.append("shown again"))
    qtbot.waitUntil(lambda: not background.is_busy)
    assert began[-1] == "shown again"


def collected_ends(job: Any) -> list[bool]:
    ends: list[bool] = []
    job.ended.connect(lambda: ends.append(True))
    return ends


class Slow:
    """Two statements, between which it waits until it is told to go on."""

    def __init__(self, database: Database) -> None:
        self.database, self.begun, self.go_on = database, threading.Event(), threading.Event()
        self.reached: list[str] = []

    def __call__(self) -> str:
        with self.database.reading() as connection:
            connection.exec_driver_sql("SELECT 1")
            self.begun.set()
            self.go_on.wait(5)
            connection.exec_driver_sql("SELECT 2")
        self.reached.append("end")
        return "loaded"


def test_a_load_that_was_begun_ends_at_its_next_statement_once_its_page_is_left(
    background: Background, sqlite_database: Database, qtbot: Any
) -> None:
    page, load, loaded = Refresher(background, background), Slow(sqlite_database), []
    page.loaded.connect(loaded.append)
    page.ask(load)
    assert load.begun.wait(5)
    page.call_off()
    load.go_on.set()
    qtbot.waitUntil(lambda: not background.is_busy)
    assert not load.reached and not loaded
    page.ask(lambda: "again")
    qtbot.waitUntil(lambda: bool(loaded))
    assert loaded == ["again"]


def test_a_window_that_closes_ends_loads_and_lets_acts_finish(
    background: Background, sqlite_database: Database
) -> None:
    load, act = Slow(sqlite_database), Slow(sqlite_database)
    Refresher(background, background).ask(load)
    background.run(act)
    assert load.begun.wait(5) and act.begun.wait(5)
    for each in (load, act):
        threading.Timer(0.1, each.go_on.set).start()
    assert background.wait(5_000)
    assert (load.reached, act.reached) == ([], ["end"])


class Ring:
    """Garbage in a cycle, which says in which thread it was taken down."""

    def __init__(self, told: list[int]) -> None:
        self.itself, self.told = self, told

    def __del__(self) -> None:
        self.told.append(threading.get_ident())


@pytest.fixture
def often(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    before = gc.get_threshold()
    gc.set_threshold(50, 1, 1)
    monkeypatch.setattr(CycleSearch, "YOUNG", 50)
    yield
    gc.set_threshold(*before)


def worked(background: Background, qtbot: Any) -> list[int]:
    """In which threads cycles were taken down that readers left, and made many objects meanwhile."""
    told: list[int] = []

    def work() -> int:
        for _ in range(200):
            Ring(told)
        return len([[number] for number in range(20_000)])

    with qtbot.waitSignal(background.run(work).ended):
        pass
    return told


def test_cycles_are_looked_for_in_the_gui_thread_alone(background: Background, often: None, qtbot: Any) -> None:
    """Else a reader's thread would take a window's parts down, of which Qt dies."""
    gui = threading.get_ident()
    gc.enable()  # as Python does it by itself
    assert set(worked(background, qtbot)) - {gui}, "without it they are looked for anywhere"
    search = CycleSearch()
    search.begin()
    told = worked(background, qtbot)
    qtbot.waitUntil(lambda: len(told) == 200)
    assert set(told) == {gui}
    search.let_go()
    assert gc.isenabled()


def test_what_dies_in_a_cycle_after_it_was_put_aside_is_found_by_a_thorough_look(
    qapp: QApplication, monkeypatch: pytest.MonkeyPatch, qtbot: Any
) -> None:
    told: list[int] = []
    ring = Ring(told)
    search = CycleSearch()
    search.begin()
    assert gc.get_freeze_count() > 0, "what is there is put aside"
    del ring
    gc.collect()
    assert told == []
    search.look_thoroughly()
    assert told == [threading.get_ident()]
    search.let_go()
    assert gc.get_freeze_count() == 0, "and nothing once the window is closed"


def test_what_is_loaded_in_great_number_is_put_aside_without_a_look(
    often: None, monkeypatch: pytest.MonkeyPatch, qtbot: Any
) -> None:
    monkeypatch.setattr(CycleSearch, "MANY", 1_000)
    search, told, looked = CycleSearch(), list[int](), list[str]()
    search.begin()
    aside = gc.get_freeze_count()
    gc.callbacks.append(lambda phase, _about: looked.append(phase))
    Ring(told)
    living = [[number] for number in range(20_000)]
    qtbot.waitUntil(lambda: gc.get_freeze_count() > aside + len(living))
    gc.callbacks.pop()
    assert (told, looked) == ([], [])
    search.look_thoroughly()
    assert told, "what died among it is found by a thorough look"
    search.let_go()


def test_what_a_reader_is_just_filling_is_never_held_by_a_look(
    background: Background, often: None, monkeypatch: pytest.MonkeyPatch, qtbot: Any
) -> None:
    """Python ends the filling of a tuple that anything else holds with a SystemError: a page stayed empty of it."""
    monkeypatch.setattr(CycleSearch, "EVERY_MS", 0)
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    search = CycleSearch()
    search.begin()
    try:
        with qtbot.waitSignal(
            background.run(lambda: [len(tuple([at] for at in range(5_000))) for _ in range(200)]).succeeded
        ):
            pass
    finally:
        sys.setswitchinterval(before)
        search.let_go()


def test_what_was_looked_at_twice_and_lives_is_put_aside(
    often: None, monkeypatch: pytest.MonkeyPatch, qtbot: Any
) -> None:
    monkeypatch.setattr(CycleSearch, "LIVING", 50)
    search = CycleSearch()
    search.begin()
    aside = gc.get_freeze_count()
    living = [[number] for number in range(20_000)]
    qtbot.waitUntil(lambda: gc.get_freeze_count() > aside + len(living) / 2)
    search.let_go()
