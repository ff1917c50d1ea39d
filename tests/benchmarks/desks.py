"""What binding adds to an act, and how soon another desk hears of one: `python -m tests.benchmarks.desks [TRIES]`.

CPU seconds of an act as it is beside the same act with a part of it left out, turn by turn, so that both meet the same
machine; the median of the ratios. A witness is written once a day and outside every act: its own time is told. Seconds
from the end of an act until the other desk's watch tells it are of the wall, median and longest, on both databases.
With `--no-server` on a file alone.
"""

import statistics
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from threading import Thread
from typing import Any

from fleetbench.records.core import transaction as transaction_module
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import clean_text
from fleetbench.records.core.watch import Watch
from fleetbench.records.upkeep.witness import keep_heads
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.acts import change_contact
from tests.faults.__main__ import places
from tests.faults.places import Places, keys_of, wall

TRIES = 200
BAR = 1.10
"""Nothing may lengthen an act's time by more than a tenth."""


@contextmanager
def without(name: str, instead: Any) -> Iterator[None]:
    """A part of an act left out."""
    kept = getattr(transaction_module, name)
    setattr(transaction_module, name, instead)
    try:
        yield
    finally:
        setattr(transaction_module, name, kept)


PARTS: dict[str, tuple[str, Any]] = {
    "binding what can be erased": ("commitment", lambda _table, _row: "0" * 64),
    "lengths of texts looked at": (
        "_fitting",
        lambda _table, _name, value: clean_text(value) if isinstance(value, str) else value,
    ),
}


def spent(work: Callable[[], object]) -> float:
    """CPU seconds of a piece of work."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def added(workplace: Workplace, keys: dict[str, int], tries: int) -> Iterator[str]:
    """A line an act and part: the median ratio with it and without."""
    count = iter(range(10**9))
    acts: dict[str, Callable[[], object]] = {
        "change a contact": lambda: change_contact(workplace, keys["R-9"], "Vendela", f"+00 555 {next(count):06d}"),
        "record a test": lambda: record_test(workplace, "LK-01", "loop negative", held=True, watched_minutes=3),
    }
    for name, work in acts.items():
        for part, (what, instead) in PARTS.items():
            pairs = []
            for _ in range(tries):
                whole = spent(work)
                with without(what, instead):
                    pairs.append((whole, spent(work)))
            ratio = statistics.median(one / other for one, other in pairs)
            median = 1000 * statistics.median(one for one, _ in pairs)
            yield f"{name:<18} {part:<28} {median:6.2f} ms CPU, x {ratio:.3f}  {'within' if ratio <= BAR else 'OVER'}"


def heard_after(where: str | Path, tries: int) -> list[float]:
    """Seconds from the end of each act at one desk until the other's watch told it."""
    found: list[float] = []
    told: list[float] = []
    with closing(Database(where)) as here, closing(Database(where)) as there:
        watch = Watch(there)

        def listen() -> None:
            while not watch.is_stopped:
                if watch.wait() is not None:
                    told.append(time.monotonic())
            watch.close()

        thread = Thread(target=listen, daemon=True)
        thread.start()
        time.sleep(0.6)
        workplace = Workplace(here, wall).as_person(keys_of(here)["T1"])
        for number in range(tries):
            told.clear()
            record_test(workplace, "LK-01", "loop negative", held=True, watched_minutes=3)
            ended = time.monotonic()
            while not told and time.monotonic() < ended + 5:
                time.sleep(0.001)
            found.append((told[0] if told else float("inf")) - ended)
            time.sleep(0.013 * (number % 20))  # so that an act falls anywhere between two looks
        watch.stop()
        thread.join(2)
    return found


def run(place: Places, tries: int) -> Iterator[str]:
    """Every line of the table."""
    for kind in place.kinds:
        with place.database(kind) as where:
            with closing(Database(where)) as database:
                keys = keys_of(database)
                workplace = Workplace(database, wall).as_person(keys["M1"])
                yield from (f"{kind:<11} {line}" for line in added(workplace, keys, tries))
                room = place.room()
                kept = spent(lambda d=database, r=room: keep_heads(d, [r], desk=r, at=wall()))
                yield f"{kind:<11} a witness, once a day, outside every act: {1000 * kept:.1f} ms CPU"
            seconds = heard_after(where, max(10, tries // 5))
            said = f"median {statistics.median(seconds):.3f} s, longest {max(seconds):.3f} s of {len(seconds)}"
            yield f"{kind:<11} another desk heard after: {said}"


if __name__ == "__main__":
    numbers = [int(each) for each in sys.argv[1:] if each.isdigit()]
    with places("--no-server" not in sys.argv) as place:
        for line in run(place, numbers[0] if numbers else TRIES):
            print(line, flush=True)
