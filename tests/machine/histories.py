"""Histories: rows of acts, each with its own seed, that can be run again with some of them left out."""

import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.migrate import open_database
from tests.conftest import Clock, Server
from tests.machine.chains import ACTS
from tests.machine.looks import last_look, look, same
from tests.machine.scene import Scene
from tests.round_trip import comes_back

Step = tuple[str, int]
"""An act and the seed of its own chances."""


@dataclass(slots=True)
class Told:
    """What a history came to: how often each act was done and refused, and the fault that ended it."""

    steps: int
    done: Counter[str]
    refused: Counter[str]
    fault: BaseException | None = None
    log: list[str] = field(default_factory=list)


def a_history(seed: int, steps: int) -> list[Step]:
    """Steps by their weights; each history leaves out some acts, so that those that are left go deep."""
    chance = random.Random(seed)
    names = [name for name in ACTS if ACTS[name][0] >= 5 or chance.random() < 0.7]
    chosen = chance.choices(names, [ACTS[name][0] for name in names], k=steps)
    return [(name, seed * 1_000_003 + at) for at, name in enumerate(chosen)]


def one_step(scene: Scene, name: str, chance: random.Random) -> None:
    """An act; where there is nothing of its kind to do, a unit is hired out instead, or comes back."""
    before = len(scene.log)
    ACTS[name][1](scene, chance)
    if len(scene.log) == before:
        ACTS[chance.choice(("hire out", "hire out", "receive"))][1](scene, chance)


def run(database: Database, steps: Sequence[Step], *, every: bool = False, carry_all: bool = False) -> Told:
    """Run a history on an empty database, looking after each step, to its end or to the first fault.

    What it left is carried into a new centre at the end (carry_all: after each step too), and must be the same there.
    """
    scene = Scene(database, Clock())
    told = Told(0, scene.done, scene.refused, None, scene.log)
    try:
        for at, (name, seed) in enumerate(steps, 1):
            scene.log.append(f"{at} {name}")
            told.steps = at
            one_step(scene, name, random.Random(seed))
            look(scene, at, every=every)
            if carry_all:
                same(f"records carried after {name}", comes_back(database), [])
        last_look(scene)
        same("records carried into a new centre", comes_back(database), [])
    except Exception as fault:
        told.fault = fault
    return told


class Fresh:
    """Empty databases, one after another: copies of a file, or one server's."""

    def __init__(self, server: Server | None = None) -> None:
        self.server = server
        self.folder = Path(tempfile.mkdtemp(prefix="machine-"))
        self.empty = self.folder / "empty.db"
        if server is None:
            database = open_database(self.empty)
            with database.engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
            database.close()

    def run(self, steps: Sequence[Step], *, every: bool = False) -> Told:
        """A history on an empty database."""
        place = self.server.emptied() if self.server else shutil.copy(self.empty, self.folder / "one.db")
        database = open_database(place)
        try:
            return run(database, steps, every=every)
        finally:
            database.close()
            for each in self.folder.glob("one.db*"):
                each.unlink()

    def close(self) -> None:
        """Leave nothing behind."""
        with suppress(OSError):
            shutil.rmtree(self.folder)

    def shrunk(self, steps: Sequence[Step], fault: BaseException, tries: int = 60) -> list[Step]:
        """Fewer steps that end in a fault of the same kind, halves, quarters and single steps left out in turn."""
        kept, size = list(steps), max(1, len(steps) // 2)
        while size and tries:
            at = 0
            while at < len(kept) and tries:
                fewer, tries = kept[:at] + kept[at + size :], tries - 1
                again = self.run(fewer, every=False)
                if again.fault is not None and _alike(again.fault, fault):
                    kept = fewer[: again.steps]
                else:
                    at += size
            size //= 2
        return kept


def _alike(one: BaseException, other: BaseException) -> bool:
    return type(one) is type(other) and _words(one) == _words(other)


def _words(fault: BaseException) -> Any:
    """The kind of a fault, without tags, keys and figures."""
    return "".join(each for each in str(fault)[:60] if each.isalpha() or each == " ").split("although")[0][:30]
