"""Work off the GUI thread, by value: plain values go in, plain values come back as signals in the GUI thread.

An error comes back as one of two kinds: what a person can act on (Refused, one line) or a fault of ours (a report).
"""

import gc
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext, suppress
from dataclasses import dataclass
from functools import partial
from itertools import count
from time import monotonic
from typing import TYPE_CHECKING, Any

import shiboken6
from PySide6.QtCore import QObject, QRunnable, Qt, QThreadPool, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication

from fleetbench.calc.core.languages import shown
from fleetbench.records.core.errors import NotWanted, Refused, fault_line, fault_trace, while_wanted
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.signed_in import SignedIn

if TYPE_CHECKING:
    # Only named here: they read the tables' definitions, which takes longer than showing the window.
    from fleetbench.records.bench.reads import EquipmentRecord
    from fleetbench.workshop.bench.meters import Meter
    from fleetbench.workshop.core.workplace import Workplace


@dataclass(frozen=True, slots=True)
class ProgramFault:
    """A fault of ours: what happened in one line, and the whole trace for the report."""

    line: str
    trace: str


def fault_of(error: BaseException) -> ProgramFault:
    """The report of an error nobody foresaw; it holds nothing of what the error was about."""
    return ProgramFault(fault_line(error), fault_trace(error))


class CalledOffError(Exception):
    """The work was called off by the person who started it."""


class Progress:
    """How far the work is; handed to work that takes long, which calls it between steps.

    Calling it raises CalledOffError once the work was called off.
    """

    def __init__(self, report: Callable[[int, int, str], None]) -> None:
        self._report = report
        self._cancelled = threading.Event()

    def __call__(self, done: int, total: int, what: str = "") -> None:
        if self._cancelled.is_set():
            raise CalledOffError
        self._report(done, total, what)

    def share(self, done: float, what: str = "") -> None:
        """Report what share is done, 0 to 1."""
        self(round(done * 1000), 1000, what)

    def cancel(self) -> None:
        """Ask the work to stop at its next step."""
        self._cancelled.set()

    @property
    def is_cancelled(self) -> bool:
        """True once the work was called off."""
        return self._cancelled.is_set()


class Job(QObject):
    """One piece of work on its way.

    Signals:
        succeeded: the value that the work returned.
        refused: one line that names what was refused and the remedy.
        failed: the Fault of an error nobody foresaw.
        called_off: the work stopped because it was called off.
        progressed: done, total, what is being done.
        ended: after any of the above.
    """

    succeeded = Signal(object)
    refused = Signal(str)
    failed = Signal(object)
    called_off = Signal()
    progressed = Signal(int, int, str)
    ended = Signal()

    def __init__(self, progress: Progress, parent: QObject, *, reads: bool = False) -> None:
        super().__init__(parent)
        self.progress, self.reads = progress, reads

    def cancel(self) -> None:
        """Call the work off: it stops at its next step; work that is past its last step is done and says so."""
        self.progress.cancel()

    def tell(self, kind: str, value: Any) -> None:
        """Emit what the work reported; called in the GUI thread."""
        if kind == "progressed":
            self.progressed.emit(*value)
            return
        if kind == "called_off":
            self.called_off.emit()
        else:
            if kind == "refused":  # Qt hands on its text alone
                value = shown(value)
            {"succeeded": self.succeeded, "refused": self.refused, "failed": self.failed}[kind].emit(value)
        self.ended.emit()
        self.deleteLater()


class _Run(QRunnable):
    """Runs the work in a thread of the pool; it never touches the job, which may be deleted at any moment."""

    def __init__(
        self,
        report: Callable[[str, object], None],
        work: Callable[[Progress], object],
        progress: Progress,
        *,
        reads: bool = False,
    ) -> None:
        """reads: it may be ended between any two statements, since it records nothing."""
        super().__init__()
        self._report, self._work, self._progress, self._reads = report, work, progress, reads

    def _wanted(self) -> AbstractContextManager[None]:
        return while_wanted(lambda: not self._progress.is_cancelled) if self._reads else nullcontext()

    def run(self) -> None:
        try:
            if self._progress.is_cancelled:  # nobody waits for it any more, so it is not begun
                raise CalledOffError
            with self._wanted():
                outcome: tuple[str, object] = ("succeeded", self._work(self._progress))
        except (CalledOffError, NotWanted):
            outcome = ("called_off", None)
        except Refused as refusal:
            outcome = ("called_off", None) if self._progress.is_cancelled else ("refused", str(refusal))
        except Exception as error:  # the report dialog is for just this: whatever nobody foresaw
            outcome = ("failed", fault_of(error))
        with suppress(RuntimeError):  # the window closed meanwhile, and nobody is left to hear of it
            self._report(*outcome)


class Background(QObject):
    """Where views send their work, each piece as the user who was signed in then; its threads end with it.

    Signals:
        failed: a Fault that no view took care of.
        busy_changed: whether any work is on its way.
        acted: work that may have recorded something came to its end.
    """

    failed = Signal(object)
    acted = Signal()
    busy_changed = Signal(bool)
    _reported = Signal(int, str, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._numbers = count(1)
        self._jobs: dict[int, Job] = {}
        self._reported.connect(self._on_reported, Qt.ConnectionType.QueuedConnection)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(2)
        self._on_their_way = 0
        self.signed_in = SignedIn(self)

    def run(self, work: Callable[[], object], parent: QObject | None = None, *, urgent: bool = True) -> Job:
        """Start the work and return its job; the job dies with its parent, and then nobody hears of the value.

        urgent: before what waits for a thread and is not, so that no act waits until lists are loaded.
        """
        return self.run_long(lambda _progress: work(), parent, urgent=urgent)

    def run_long(
        self, work: Callable[[Progress], object], parent: QObject | None = None, *, urgent: bool = True
    ) -> Job:
        """Start work that reports its progress and can be called off."""
        return self._start(work, parent, urgent=urgent)

    def _start(
        self, work: Callable[[Progress], object], parent: QObject | None, *, urgent: bool, reads: bool = False
    ) -> Job:
        number = next(self._numbers)
        report = partial(self._reported.emit, number)
        job = Job(Progress(lambda *step: report("progressed", step)), parent or self, reads=reads)
        self._jobs[number] = job
        job.failed.connect(self.failed)
        if not reads:
            job.succeeded.connect(self._on_acted)
        job.destroyed.connect(self._on_job_gone)
        self._on_their_way += 1
        self.busy_changed.emit(True)
        self._pool.start(_Run(report, self.signed_in.bound(work), job.progress, reads=reads), int(urgent))
        return job

    def read(self, work: Callable[[], object], parent: QObject) -> Job:
        """Start work that only reads, after acts; cancelled, it ends at its next step."""
        return self._start(lambda _progress: work(), parent, urgent=False, reads=True)

    def wait(self, milliseconds: int = 10_000) -> bool:
        """Wait until the threads are done, before the program closes; False when they were not in time.

        What only reads is cancelled.
        """
        for job in tuple(self._jobs.values()):
            if shiboken6.isValid(job) and job.reads:
                job.cancel()
        self._pool.clear()
        return self._pool.waitForDone(milliseconds)

    @property
    def is_busy(self) -> bool:
        """True while any work is on its way."""
        return self._on_their_way > 0

    @Slot(int, str, object)
    def _on_reported(self, number: int, kind: str, value: object) -> None:
        job = self._jobs.get(number)
        if job is not None and shiboken6.isValid(job):
            job.tell(kind, value)

    @Slot(object)
    def _on_acted(self, _value: object) -> None:
        self.acted.emit()

    @Slot()
    def _on_job_gone(self) -> None:
        self._jobs = {number: job for number, job in self._jobs.items() if shiboken6.isValid(job)}
        self._on_their_way -= 1
        if not self._on_their_way:
            self.busy_changed.emit(False)


class Refresher(QObject):
    """Loads one thing again and again without piling up: asked while it is loading, it loads once more afterwards.

    Signals:
        at_once: what there is before the newest value, lacking what takes long; what shows it says `go_on`.
        loaded: the newest value.
        refused: one line that names what was refused and the remedy.
        settled: after any of these, where nothing newer is asked for.
    """

    at_once = Signal(object)
    loaded = Signal(object)
    refused = Signal(str)
    settled = Signal()

    def __init__(self, background: Background, parent: QObject) -> None:
        super().__init__(parent)
        self._background = background
        self._job: Job | None = None
        self._next: tuple[Callable[[], object], Callable[[], object] | None] | None = None
        self._rest: Callable[[], object] | None = None
        self._told: object = None

    @property
    def is_loading(self) -> bool:
        """True from the first ask to the last value."""
        return self._job is not None

    def ask(self, work: Callable[[], object], at_once: Callable[[], object] | None = None) -> None:
        """Load with this work; a value still on its way is out of date then and is dropped.

        at_once: gives what is shown before, where the work takes long; the work is begun by `go_on`.
        """
        bound = self._background.signed_in.bound
        self._begin(bound(work), None if at_once is None else bound(at_once))

    def go_on(self, shown: object) -> None:
        """Load the rest now that this is shown, where it is what was told at once and nothing newer is asked for."""
        if self._rest is not None and self._next is None and shown is self._told:
            self._begin(self._rest, None)

    def _begin(self, work: Callable[[], object], at_once: Callable[[], object] | None) -> None:
        if self._job is not None:
            self._next = work, at_once
            return
        self._rest, self._told = None if at_once is None else work, None
        self._job = self._background.read(at_once or work, self)
        self._job.succeeded.connect(self._on_succeeded)
        self._job.refused.connect(self._on_refused)
        self._job.ended.connect(self._on_ended)

    def call_off(self) -> None:
        """Load no further: what it is for is shown no more, and loads again when it is."""
        self._next = self._rest = self._told = None
        if self._job is not None:
            self._job.cancel()

    @Slot(object)
    def _on_succeeded(self, value: object) -> None:
        if self._next is not None:
            return
        if self._rest is not None:
            self._told = value
            self.at_once.emit(value)
        else:
            self.loaded.emit(value)

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        if self._next is None:
            self.refused.emit(line)

    @Slot()
    def _on_ended(self) -> None:
        self._job, asked, self._next = None, self._next, None
        if asked is None or asked[0] is self._rest:
            self.settled.emit()
        if asked is not None:
            self._begin(*asked)


class CycleSearch(QObject):
    """Looks for cycles of dead objects in the GUI thread alone, between two events, never among all at once.

    By itself Python looks for them in whichever thread makes objects, also in the midst of a paint. Widgets and parts
    of plots in such a cycle would be taken down by a reader's thread, or while the scene that holds them is drawn, and
    Qt ends the process.

    A look takes as long as there are objects, and typing waits meanwhile. So what was looked at twice and lives is put
    aside (`gc.freeze`), with all that a start imports, which is looked at not at all. What dies in a cycle
    after it was put aside is found by a thorough look: while the window is not in front, or once an hour.
    """

    EVERY_MS = 100
    YOUNG, LIVING = 10_000, 15_000
    """So many objects more than at the last look are looked at; so many that live are looked at again and put aside."""
    MANY = 30_000
    """So many at once are records that were loaded: they are put aside unseen, since a look at them would hold the
    window longer than typing may wait."""
    START_S, APART_S, LONGEST_S = 60.0, 600.0, 3600.0
    """A start that never settles is one after so long; thorough looks lie so far apart, and no further."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._before = gc.isenabled()
        gc.disable()
        self._last_thorough, self._has_begun, self._living = monotonic(), False, 0
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._look)
        self._timer.start(self.EVERY_MS)

    @Slot()
    def begin(self) -> None:
        """Look from now on, and never at what is there: it was imported, and stays."""
        self._has_begun = True
        gc.freeze()

    def let_go(self) -> None:
        """Let Python do it again, as it was before; what others put aside stays so."""
        self._timer.stop()
        if self._has_begun:
            gc.unfreeze()
        if self._before:
            gc.enable()

    def look_thoroughly(self) -> None:
        """Look at everything that was put aside too."""
        gc.unfreeze()
        gc.collect()
        gc.freeze()
        self._last_thorough = monotonic()

    @Slot()
    def _look(self) -> None:
        since, young = monotonic() - self._last_thorough, gc.get_count()[0]
        if not self._has_begun:
            if since > self.START_S:
                self.begin()
        elif since > self.LONGEST_S or (since > self.APART_S and not _is_in_front()):
            self.look_thoroughly()
        elif young > self.MANY:
            gc.freeze()
        elif young > self.YOUNG:
            # Counted, never listed: a list holds the tuple a reader is just filling, which ends in SystemError.
            self._living += young - gc.collect(1)
        elif self._living > self.LIVING:  # in a look of its own: two in one hold the window too long
            gc.collect()
            gc.freeze()
            self._living = 0


def _is_in_front() -> bool:
    return QGuiApplication.applicationState() == Qt.ApplicationState.ApplicationActive


class MeterDesk(QObject):
    """The meters of the register, each with its own line; what is read from one is asked for off the GUI thread.

    library, timeout_s: as `Meter` takes them; timeout_s None is its own.

    Signals:
        changed: other meters stand in the register.
    """

    changed = Signal()

    def __init__(self, theme: Theme, background: Background, parent: QObject) -> None:
        super().__init__(parent)
        self.theme, self._background = theme, background
        self.library, self.timeout_s = "", 0.0
        self.tools: tuple[EquipmentRecord, ...] = ()
        self._workplace: Workplace | None = None
        self._meters: dict[int, Meter] = {}
        self._last: dict[tuple[str, str], int] = {}
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_tools)
        background.acted.connect(self.look)

    def begin(self, workplace: "Workplace") -> None:
        """Offer the meters of these records."""
        self._workplace = workplace
        self.look()

    def stop(self) -> None:
        """Offer none any more."""
        self._loader.call_off()
        self._workplace = None
        self.show_tools(())

    def read_into(self, holder: Callable[[], object], say: Callable[[str], object]) -> None:
        """Take a reading into what holds the keyboard, or say that no meter reads there."""
        way = getattr(holder(), "meter", None)
        if getattr(way, "kind", ""):
            way.read()  # type: ignore[union-attr]  # it has a kind
        else:
            say("meter: the keyboard is on no field that a meter reads; go to one first")

    @Slot()
    def look(self) -> None:
        """Load again which meters there are."""
        if self._workplace is not None:
            self._loader.ask(partial(_meters_of, self._workplace))

    @Slot(object)
    def show_tools(self, tools: "tuple[EquipmentRecord, ...]") -> None:
        """Offer these meters; what is open to one that is recorded otherwise now is let go of."""
        if tools == self.tools:
            return
        for key, meter in list(self._meters.items()):
            if meter.tool not in tools:
                del self._meters[key]
                self._background.read(meter.close, self)
        self.tools = tools
        self.changed.emit()

    def fitting(self, kind: str, unit: str) -> "tuple[EquipmentRecord, ...]":
        """The meters of that kind that can read in that unit."""
        if not kind or not self.tools:
            return ()
        from fleetbench.workshop.bench.meters import fitting  # read already, with the register

        return fitting(self.tools, kind, unit)

    def last_read(self, kind: str, unit: str) -> int | None:
        """The key of the meter that was read last for such a figure."""
        return self._last.get((kind, unit))

    def read(self, tool: "EquipmentRecord", unit: str, parent: QObject) -> Job:
        """A new reading in that unit, as a Metered; the job refuses in one sentence where none was taken."""
        from fleetbench.workshop.bench.meters import TIMEOUT_S, Meter

        assert self._workplace is not None, "there is a meter"
        workplace = self._workplace
        if tool.equipment_id not in self._meters:
            self._meters[tool.equipment_id] = Meter(
                tool, workplace.clock, library=self.library, timeout_s=self.timeout_s or TIMEOUT_S
            )
        meter = self._meters[tool.equipment_id]
        self._last[tool.kind, unit] = tool.equipment_id
        return self._background.read(lambda: meter.read(unit, workplace.today()), parent)


def _meters_of(workplace: "Workplace") -> "tuple[EquipmentRecord, ...]":
    from fleetbench.workshop.bench.meters import meters_of  # with the first look, after the window is shown

    return meters_of(workplace)


def meter_desk(widget: QObject | None) -> MeterDesk | None:
    """The meters of the window that a widget or its dialog stands in; None where there are none."""
    while widget is not None:
        desk = getattr(widget, "meters", None)
        if isinstance(desk, MeterDesk):
            return desk
        widget = widget.parent()
    return None
