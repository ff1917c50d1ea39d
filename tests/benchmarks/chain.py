"""What a chain of centres asks of one PostgreSQL server: `python -m tests.benchmarks.chain [--centres 8] [--desks 2]`.

A centre is a database with the invented centre's records, and a desk a process of its own with two connections, as the
window has them. Told are: disk a centre; connections a desk and what each holds of the server's memory; CPU seconds of
the server and of the desk for each look and act; the same of a centre with four times the history, which says whether
readings ask for partitions; desks of all centres at work at once beside one alone; a backup; and the heads of all
centres behind row-level security. CPU seconds, so that what else the machine does says little.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import psycopg

from fleetbench.records.core.database import Database, as_url
from fleetbench.records.core.watch import Watch
from fleetbench.records.upkeep.backup import backup
from fleetbench.shipped import shipped
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.holds import place_hold
from fleetbench.workshop.units.list import list_units, unit_page
from fleetbench.workshop.units.today import today_page
from tests.benchmarks import fleets
from tests.benchmarks.__main__ import server_of
from tests.conftest import Server

UNITS, MONTHS, LONGER = 14, 26, 104
CENTRE, OLDER, CHAIN = "centre", "older_centre", "chain"
HEADS_A_YEAR = 365
"""A desk keeps a head a day, so that a centre of one desk brings so many a year."""

AT_WORK = 20
"""Rounds of looks and an act that each desk goes through when all are at work."""


def of_server(folder: Path) -> float:
    """CPU seconds that the server and all its processes have spent, those that ended too."""
    postmaster = int((folder / "postmaster.pid").read_text().split()[0])
    ticks = _ticks(postmaster, of_ended=True) + sum(_ticks(child, of_ended=False) for child in _children(postmaster))
    return ticks / os.sysconf("SC_CLK_TCK")


def _children(process: int) -> list[int]:
    return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def _ticks(process: int, *, of_ended: bool) -> int:
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except FileNotFoundError:
        return 0
    return sum(map(int, fields[11 : 15 if of_ended else 13]))


def private_mb(process: int) -> float:
    """Megabytes that one process of the server holds for itself alone."""
    found = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    return sum(int(line.split()[1]) for line in found if line.startswith("Private")) / 1024


def looks_and_acts(workplace: Workplace) -> dict[str, Callable[[], object]]:
    """What a desk does all day, by name."""
    with workplace.database.reading() as connection:
        person = connection.exec_driver_sql("SELECT min(id) FROM person WHERE role = 'manager'").scalar()
    hand, tag = workplace.as_person(person), list_units(workplace)[-1].tag

    def first_look() -> object:
        forget(workplace.database)
        return today_page(workplace)

    return {
        "Today, first": first_look,
        "Today, after an act": lambda: (place_hold(hand, tag, "measured"), today_page(workplace)),
        "Today, again": lambda: today_page(workplace),
        "page of a unit": lambda: unit_page(workplace, tag),
        "a hold placed": lambda: place_hold(hand, tag, "measured"),
    }


def each_look(where: str, folder: Path, tries: int) -> Iterator[tuple[str, float, float]]:
    """CPU seconds of the server and of the desk for each look and act, a middle of so many."""
    with closing(Database(where)) as database:
        for name, work in looks_and_acts(Workplace(database)).items():
            work()
            server, desk = of_server(folder), time.process_time()
            for _ in range(tries):
                work()
            yield name, (of_server(folder) - server) / tries, (time.process_time() - desk) / tries


def day_of_a_desk(where: str, rounds: int) -> None:
    """One desk that looks and acts without a pause, and prints the seconds of the wall that each act took."""
    acts = []
    with closing(Database(where)) as database:
        work = looks_and_acts(Workplace(database))
        work["Today, first"]()
        print("ready", flush=True)
        sys.stdin.readline()
        for _ in range(rounds):
            began = time.perf_counter()
            work["a hold placed"]()
            acts.append(time.perf_counter() - began)
            work["Today, again"]()
            work["page of a unit"]()
    print(json.dumps(acts), flush=True)


def at_work(where: list[str], folder: Path, rounds: int) -> tuple[list[float], float, float]:
    """Desks of these databases at once: seconds of each act, the server's CPU seconds a round, and the desks'."""
    code = "import sys; from tests.benchmarks.chain import day_of_a_desk; day_of_a_desk(sys.argv[1], int(sys.argv[2]))"
    desks = [
        subprocess.Popen([sys.executable, "-c", code, each, str(rounds)], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        for each in where
    ]
    for desk in desks:
        assert desk.stdout is not None and desk.stdout.readline() == b"ready\n"
    server, spent = of_server(folder), os.times()
    for desk in desks:
        assert desk.stdin is not None
        desk.stdin.write(b"\n")
        desk.stdin.flush()
    told = [json.loads(desk.communicate()[0]) for desk in desks]
    ended = os.times()
    ours = ended.children_user + ended.children_system - spent.children_user - spent.children_system
    return [each for desk in told for each in desk], (of_server(folder) - server) / (rounds * len(desks)), ours


def connections(where: str, server: Server) -> tuple[int, float]:
    """How many connections one desk holds open, and the megabytes of the server's memory that each is."""
    with closing(Database(where)) as database:
        watch = Watch(database)
        for work in looks_and_acts(Workplace(database)).values():
            work()
        with psycopg.connect(_plain(server.url("postgres")), autocommit=True) as connection:
            asked = "SELECT pid FROM pg_stat_activity WHERE datname = %s"
            name = _plain(where).partition("?")[0].rpartition("/")[2]
            processes = [row[0] for row in connection.execute(asked, (name,)).fetchall()]
        found = len(processes), statistics.mean(map(private_mb, processes))
        watch.stop()
        watch.close()
    return found


def _plain(where: str) -> str:
    return as_url(where).replace("postgresql+psycopg://", "postgresql://")


def heads_of_all(server: Server, folder: Path, centres: int) -> Iterator[str]:
    """A year's heads of so many centres, added and seen through row-level security."""
    server.fresh(CHAIN, template=None)
    script = shipped("resources") / "server" / "chain_of_centres.sql"
    with psycopg.connect(_plain(server.url(CHAIN)), autocommit=True) as owner:
        owner.execute(script.read_text(encoding="utf-8"))
        for number in range(centres):
            owner.execute(f"CREATE ROLE chain_{number:03d} LOGIN IN ROLE chain_centre")
        began = of_server(folder)
        for number in range(centres):
            owner.execute(f"SET SESSION AUTHORIZATION chain_{number:03d}")
            rows = [(json.dumps(_head(number, day)),) for day in range(HEADS_A_YEAR)]
            owner.cursor().executemany("INSERT INTO witnessed_head (line) VALUES (%s) ON CONFLICT DO NOTHING", rows)
            owner.execute("RESET SESSION AUTHORIZATION")
        added = (of_server(folder) - began) / (centres * HEADS_A_YEAR)
        owner.execute("SET SESSION AUTHORIZATION chain_007")
        began = of_server(folder)
        for _ in range(50):
            seen = len(owner.execute("SELECT line FROM witnessed_head").fetchall())
        looked = (of_server(folder) - began) / 50
        owner.execute("RESET SESSION AUTHORIZATION")
        size = owner.execute("SELECT pg_total_relation_size('witnessed_head')").fetchone()
    yield (
        f"heads of {centres} centres, a year: {1000 * added:.2f} ms a head added, "
        f"{1000 * looked:.1f} ms to see {seen} of one's own among {centres * HEADS_A_YEAR}, "
        f"{(size or (0,))[0] / 1e6:.0f} MB"
    )


def _head(centre: int, day: int) -> dict[str, object]:
    return {"at": f"day {day}", "database": f"{centre:064x}", "entry": day, "hash": f"{day:064x}", "key": "0" * 64,
            "signature": f"{centre * HEADS_A_YEAR + day:0128x}"}  # fmt: skip


def measure(server: Server, room: Path, centres: int, desks: int, tries: int) -> Iterator[str]:
    """A line for each thing measured; sheets of the centres stand in the room, or are made there."""
    folder = Path(str(server.run("SHOW data_directory")))
    for name, months in ((CENTRE, MONTHS), (OLDER, LONGER)):
        fleets.build(room / name, UNITS, months, server.fresh(name))
    empty, kept = (server.run(f"SELECT pg_database_size('{name}')") / 1e6 for name in ("fleetbench_template", CENTRE))
    years = [server.run("SELECT count(*) FROM calibration_reading", name) for name in (CENTRE, OLDER)]
    yield f"disk: {empty:.0f} MB an empty centre, {kept:.0f} MB with {MONTHS} months of {UNITS} units"
    held, each = connections(server.url(CENTRE), server)
    yield f"a desk holds {held} connections, each {each:.1f} MB of the server's memory of its own"
    for name, where in ((f"{years[0]} readings", CENTRE), (f"{years[1]} readings", OLDER)):
        for look, of_the_server, of_the_desk in each_look(server.url(where), folder, tries):
            yield f"{look:<20} {name:>16}: server {1000 * of_the_server:7.1f} ms, desk {1000 * of_the_desk:7.1f} ms"
    several = [f"{CENTRE}_{number}" for number in range(centres)]
    for name in several:
        server.fresh(name, CENTRE)
    for said, names in (("one desk alone", several[:1]), (f"{centres} centres of {desks} desks", several * desks)):
        acts, of_the_server, ours = at_work([server.url(each) for each in names], folder, AT_WORK)
        acts.sort()
        middle, late = statistics.median(acts), acts[-1 - len(acts) // 20]
        yield (
            f"{said}: an act {1000 * middle:.0f} ms in the middle, {1000 * late:.0f} ms for 19 of 20; a round "
            f"{1000 * of_the_server:.0f} ms CPU of the server, {1000 * ours / len(names) / AT_WORK:.0f} of the desk"
        )
    with closing(Database(server.url(CENTRE))) as database:
        began, on_the_server = time.process_time(), of_server(folder)
        target = Path(tempfile.mkdtemp()) / "centre.backup"
        backup(database, target)
        yield (
            f"backup of a centre: desk {time.process_time() - began:.1f} s CPU, "
            f"server {of_server(folder) - on_the_server:.1f} s, {target.stat().st_size / 1e6:.0f} MB"
        )
    yield from heads_of_all(server, folder, 200)


def main() -> None:
    """Print a line for each thing measured."""
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks.chain", description=__doc__)
    words.add_argument("--centres", type=int, default=8)
    words.add_argument("--desks", type=int, default=2, help="desks of a centre, all at work at once")
    words.add_argument("--tries", type=int, default=20)
    words.add_argument(
        "--fleets", type=Path, help="a folder that keeps the sheets made, for later runs of the same day"
    )
    chosen = words.parse_args()
    with tempfile.TemporaryDirectory() as passing, server_of("postgresql") as server:
        assert server is not None
        print(f"{datetime.now(UTC):%Y-%m-%d}, {os.cpu_count()} cores, {server.run('SHOW server_version')}", flush=True)
        for line in measure(server, chosen.fleets or Path(passing), chosen.centres, chosen.desks, chosen.tries):
            print(line, flush=True)


if __name__ == "__main__":
    main()
