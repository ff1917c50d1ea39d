"""Several writers at once, and a server that stops in the middle of their acts and starts again."""

import os
import random
import time
from contextlib import closing
from functools import partial
from pathlib import Path

from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.places.tables import Owner, Place
from tests.faults.places import SERVER, Places, act_often, opened, tests_in
from tests.faults.table import Outcome, Say, forked, heard
from tests.records.writer import write


def writers(places: Places, tries: int, _seed: int) -> list[Outcome]:
    """Two and eight processes that write so many acts each."""
    return [_write(places, kind, many, tries) for kind in places.kinds for many in (2, 8)]


def _write(places: Places, kind: str, many: int, acts: int) -> Outcome:
    outcome = Outcome(f"{many} writers, {kind}", f"{many} processes, {acts} acts each, at once")
    begun = time.monotonic()
    with places.database(kind, filled=False) as where:
        children = []
        for number in range(many):
            if (child := os.fork()) == 0:
                _write_and_end(where, number, acts)
            children.append(child)
        ends = [os.waitpid(child, 0)[1] for child in children]
        outcome.hold(not any(ends), f"a writer ended with {ends}")
        with opened(outcome, where) as database:
            if database is not None:
                with database.reading() as connection:
                    owners, rooms = (
                        list(connection.scalars(select(each.name).order_by(each.id))) for each in (Owner, Place)
                    )
                wanted = sorted(f"desk {number} {act}" for number in range(many) for act in range(acts))
                outcome.hold(sorted(owners) == wanted and owners == rooms, f"{len(owners)} of {len(wanted)} acts")
    outcome.tries, outcome.seconds = many * acts, time.monotonic() - begun
    return outcome


def _write_and_end(where: str | Path, number: int, acts: int) -> None:
    code = 1
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        write(str(where).replace("+psycopg", ""), f"desk {number}", acts)
        code = 0
    finally:
        os._exit(code)


def servers(places: Places, tries: int, seed: int) -> list[Outcome]:
    """The server is stopped at once (as by a kill) in mid-act and started again; the desk tries on."""
    if places.server is None:
        return []
    outcome, chance = (
        Outcome("server stopped in mid-act", "pg_ctl stop -m immediate, then started again"),
        random.Random(seed),
    )
    begun = time.monotonic()
    for _ in range(tries):
        with places.database(SERVER) as where:
            with closing(Database(where)) as database:
                before = tests_in(database)
            stopper = os.fork()
            if stopper == 0:
                time.sleep(chance.uniform(0.05, 0.6))
                _end(partial(places.stop_server))
            said = forked(partial(_act, where))
            os.waitpid(stopper, 0)
            places.start_server()
            heard(outcome, said)
            done = sum(line.isdigit() for line in said)
            with opened(outcome, where) as database:
                there = tests_in(database) - before if database is not None else -1
                outcome.hold(there in (done, done + 1), f"{done} acts acknowledged, {there} there")
    outcome.tries, outcome.seconds = tries, time.monotonic() - begun
    return [outcome]


def _act(where: str | Path, say: Say) -> None:
    act_often(where, say, 200)


def _end(work: partial[None]) -> None:
    try:
        work()
    finally:
        os._exit(0)
