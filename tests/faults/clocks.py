"""A clock that is set back and forward between a test that passed and one that failed: the later record counts."""

import random
import time
from contextlib import closing
from datetime import datetime, timedelta

from sqlalchemy import select

from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.database import Database
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from tests.faults.places import Places, keys_of, moment, opened
from tests.faults.table import Outcome


def clocks(places: Places, tries: int, seed: int) -> list[Outcome]:
    """Clocks that jump up to forty days either way before each of three tests."""
    return [_jumped(places, kind, tries, seed) for kind in places.kinds]


def _jumped(places: Places, kind: str, tries: int, seed: int) -> Outcome:
    outcome, chance = (
        Outcome(f"clock set back and forward, {kind}", "up to 40 days before each act"),
        random.Random(seed),
    )
    begun = time.monotonic()
    for _ in range(tries):
        with places.database(kind) as where, closing(Database(where)) as database:
            now = [moment(5)]
            workplace = Workplace(database, lambda now=now: now[0]).as_person(keys_of(database)["T1"])
            recorded: list[bool] = []
            for held in (True, False, chance.random() < 0.5):
                now[0] = _jump(now[0], chance)
                with outcome.telling("act"):
                    record_test(workplace, "LK-01", "loop negative", held=held, watched_minutes=3 if held else 0)
                    recorded.append(held)
            with database.reading() as connection:
                found = connection.execute(select(BenchTest.held, BenchTest.at).order_by(BenchTest.id)).all()
            outcome.hold([row.held for row in found] == recorded, f"{recorded} recorded, {found} there")
            times = [row.at for row in found]
            outcome.hold(times == sorted(times), "a later record is dated before an earlier one")
            with opened(outcome, where):
                pass
    outcome.tries, outcome.seconds = tries, time.monotonic() - begun
    return outcome


def _jump(now: datetime, chance: random.Random) -> datetime:
    return now + timedelta(minutes=chance.choice((-1, 1)) * chance.choice((1, 5, 60, 1440, 57_600)))
