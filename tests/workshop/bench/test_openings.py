"""A routine opening is the diver's to follow up: a line on the sheet until valves and loop are tested again."""

from typing import Any

import pytest

from fleetbench.records.bench.tables import Opening
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.transaction import transaction
from fleetbench.workshop.bench.tests import WatchedLoop, after_routine_openings, record_release
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import write_centre


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> Workplace:
    """The small centre with its technician at the bench."""
    return workplace.as_person(write_centre(workplace.database, clock()).technician)


def opened(bench: Workplace, kind: str, what: str) -> None:
    with transaction(bench.database, bench.clock, bench.person_id, "open", what) as act:
        act.add(Opening(unit_id=1, at=act.at, kind=kind, what=what, person_id=bench.person_id, ticket_id=None))


def test_a_routine_opening_leaves_a_line_until_the_next_test(bench: Workplace, clock: Any) -> None:
    # One-way valves are tested at every assembly: common practice, no published source.
    assert after_routine_openings(bench, "LK-01") == ()
    opened(bench, "routine", "canister out")
    clock.advance(minutes=5)
    opened(bench, "routine", "canister in")
    (line,) = after_routine_openings(bench, "LK-01")
    assert line == "canister in on 2026-05-04: test the one-way valves and the loop again before the dive"
    assert after_routine_openings(bench, "LK-02") == ()
    clock.advance(minutes=5)
    held = WatchedLoop(held=True, minutes=3.0)
    record_release(bench, "LK-01", inhale=True, exhale=True, negative=held, positive=held)
    assert after_routine_openings(bench, "LK-01") == ()


def test_a_workshop_opening_is_not_left_to_the_diver(bench: Workplace) -> None:
    opened(bench, "workshop", "head off")
    assert after_routine_openings(bench, "LK-01") == ()


def test_a_unit_that_is_not_recorded_is_said_to_be_so(bench: Workplace) -> None:
    with pytest.raises(NotFound, match=r"^unit U-99: "):
        after_routine_openings(bench, "U-99")
