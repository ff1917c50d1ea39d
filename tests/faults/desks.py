"""Several writers at once, and a server that stops in the middle of their acts and starts again."""

import os
import random
import time
from contextlib import closing
from functools import partial
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import DBAPIError

from fleetbench.records.core.database import Database, readable
from fleetbench.records.core.errors import Refused
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from tests.faults.places import SERVER, Places, keys_of, opened, tests_in, wall
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
    """The server is stopped at once (as by a kill) in mid-act and started again; the desk tries on by itself."""
    if places.server is None:
        return []
    outcome, chance = Outcome("stopped in mid-act, PostgreSQL", ""), random.Random(seed)
    begun, met = time.monotonic(), 0
    for _ in range(tries):
        with places.database(SERVER) as where:
            with closing(Database(where)) as database:
                before = tests_in(database)
            stopper = os.fork()
            if stopper == 0:
                _stop_and_start(places, chance.uniform(0.05, 0.6), chance.uniform(0, 0.5))
            said = heard(outcome, forked(partial(_try_on, where)))
            outcome.hold(os.waitpid(stopper, 0)[1] == 0, "the server was not stopped and started")
            places.start_server()
            met += "cut" in said
            done = sum(line.isdigit() for line in said)
            with opened(outcome, where) as database:
                there = tests_in(database) - before if database is not None else -1
                outcome.hold(there == done == ACTS, f"{done} of {ACTS} acts acknowledged, {there} there")
    outcome.how = f"pg_ctl stop -m immediate, then started again; {met} times an act was cut"
    outcome.hold(met > tries // 3, f"the desk met {met} stops only")
    outcome.tries, outcome.seconds = tries, time.monotonic() - begun
    return [outcome]


ACTS = 40
"""Of a desk whose server stops meanwhile."""
KEEPS = "was recorded before"
"""Said of an act whose answer was lost, and which is there all the same."""


def _try_on(where: str | Path, say: Say) -> None:
    """Record every test once: what was told as not recorded is repeated, what was told as recorded is not."""
    workplace: Workplace | None = None
    number = 0
    while number < ACTS:
        try:
            if workplace is None:
                database = open_database(where, create=False)
                workplace = Workplace(database, wall).as_person(keys_of(database)["T1"])
            record_test(workplace, "LK-01", "loop negative", held=True, watched_minutes=3)
        except (Refused, DBAPIError) as fault:
            refusal = fault if isinstance(fault, Refused) else readable(fault)
            if not isinstance(refusal, Refused):
                raise
            say(f"refused {refusal}")
            say("cut")
            if KEEPS not in str(refusal):
                time.sleep(0.05)
                continue
        say(str(number))
        number += 1


def _stop_and_start(places: Places, after: float, pause: float) -> None:
    code = 1
    try:
        time.sleep(after)
        places.stop_server()
        time.sleep(pause)
        places.start_server()
        code = 0
    finally:
        os._exit(code)
