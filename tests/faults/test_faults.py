"""The table of faults in its short form: a few of each kind, nothing lost, every fault told in a sentence."""

import os
import tempfile
from collections.abc import Iterator
from copy import copy
from pathlib import Path
from random import Random

import pytest

from fleetbench.records.tickets.photographs import ENVIRONMENT
from tests.conftest import Server
from tests.faults.__main__ import counted, sums, tried
from tests.faults.broken import broken
from tests.faults.disks import FAULTS, OF_ROOT, _full, _tried, disks
from tests.faults.kills import KILLS, kills
from tests.faults.places import Places
from tests.faults.table import Outcome
from tests.faults.tamperings import kinds_of, tamperings


@pytest.fixture(scope="module")
def places() -> Iterator[Places]:
    """A folder with a small centre in it that another user may enter, no server."""
    with tempfile.TemporaryDirectory(prefix="fleetbench-faults-") as folder:
        Path(folder).chmod(0o755)
        yield Places(Path(folder), None)


@pytest.fixture
def on_both(places: Places, server: Server, monkeypatch: pytest.MonkeyPatch) -> Places:
    """The same with a server."""
    monkeypatch.setenv(ENVIRONMENT, str(places.folder / "photographs"))
    monkeypatch.setenv("XDG_DATA_HOME", str(places.folder / "data-of-the-user"))
    both = copy(places)
    both.server = server
    return both


def lost(found: list[Outcome]) -> list[str]:
    return [f"{each.fault}: {line}" for each in found for line in each.lost]


def test_a_kill_at_any_moment_loses_nothing_on_either_database(on_both: Places) -> None:
    found = kills(on_both, 1, 1)
    assert (len(found), lost(found)) == (len(KILLS), [])


def test_every_fault_of_a_disk_or_file_is_told_and_leaves_nothing(places: Places) -> None:
    found = disks(places, 1, 2)
    assert len(found) == len(FAULTS) + 3 and lost(found) == []
    assert [each.fault for each in found if each.tries and not each.told and each.fault not in MAY_PASS] == []


MAY_PASS = ("quota", "a damaged page")
"""Where the one try may not meet the fault."""


def test_every_kind_of_tampering_is_found_on_both_databases(on_both: Places) -> None:
    found = tamperings(on_both, 20, 3)
    assert (len(found), lost(found)) == (2 + len(kinds_of(server=False)) + len(kinds_of(server=True)), [])


def test_broken_files_are_read_or_refused_and_brought_in_whole_or_not_at_all(on_both: Places) -> None:
    found = broken(on_both, 99, 4)
    assert sum(each.tries for each in found) > 80
    assert lost(found) == []


def test_a_run_goes_on_where_it_was_ended_and_its_counts_are_summed(places: Places, tmp_path: Path) -> None:
    begun = tried(places, "clocks", 2, 5, tmp_path)
    next(begun)
    begun.close()  # as a run that is ended after its first round
    assert [each.tries for each in tried(places, "clocks", 2, 5, tmp_path)] == [1]
    assert list(tried(places, "clocks", 2, 5, tmp_path)) == []
    lines = counted(tmp_path)
    assert [(each["kind"], each["seed"], each["database"]) for each in lines] == [
        ("clocks", 5, "SQLite"),
        ("clocks", 6, "SQLite"),
    ]
    (total,) = sums(lines)
    assert (total.tries, total.lost) == (2, [])


def test_what_needs_root_is_named_as_not_tried_by_another_user(places: Places, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "getuid", lambda: 1000)
    found = [_tried(places, name, 3, Random(1)) for name in sorted(OF_ROOT)] + [_full(places, 3)]
    assert [(each.tries, each.how.rpartition("; ")[2]) for each in found] == 3 * [(0, "not tried: needs root")]
