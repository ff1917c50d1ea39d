"""Bench tests: what passes, what must be repeated, and which ticket lines a test ticks."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from fleetbench.calc.bench.leak import LoopLimit
from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.bench.tables import TESTS, BenchTest
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Part
from fleetbench.records.tickets.tables import Task
from fleetbench.workshop.bench.tests import MEASURED, MeasuredLimits, answer_of, record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import Keys, write_centre


@pytest.fixture
def workplace(sqlite_database: Database, clock: Any) -> Workplace:
    """An empty workplace on a SQLite file: the rules here are the same on either database."""
    return Workplace(sqlite_database, clock)


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> Workplace:
    """The small centre with its technician at the bench."""
    keys: Keys = write_centre(workplace.database, clock())
    return workplace.as_person(keys.technician)


def answer(kind: str, **given_: Any) -> Verdict:
    facts: dict[str, Any] = {
        "held": None,
        "watched_minutes": None,
        "value": None,
        "expanded_u": 0.0,
        "bounds": MeasuredLimits(),
        "loop_limit": None,
    }
    return answer_of(kind, **{**facts, **given_}).verdict


THREE_MINUTES = LoopLimit(3.0, "invented manual")
IN_BAR = MeasuredLimits(low=8.5, high=10.0, source="invented manual")


@pytest.mark.parametrize(
    ("given_", "expected"),
    [
        ({"held": True, "watched_minutes": 3.0}, Verdict.PASS),
        ({"held": True, "watched_minutes": 2.9}, Verdict.REPEAT),
        ({"held": True}, Verdict.REPEAT),
        ({"held": False, "watched_minutes": 0.2}, Verdict.REJECT),
        ({"watched_minutes": 10.0}, Verdict.REPEAT),
    ],
)
def test_a_loop_passes_by_eye_only_when_it_held_for_the_types_time(given_: dict[str, Any], expected: Verdict) -> None:
    # Loop by eye is full evidence: common practice, no published source.
    assert answer("loop negative", loop_limit=THREE_MINUTES, **given_) is expected


def test_a_loop_that_held_never_passes_where_no_time_is_recorded() -> None:
    assert answer("loop positive", held=True, watched_minutes=60.0) is Verdict.REPEAT


@pytest.mark.parametrize(
    ("value", "u", "held", "watched", "expected"),
    [
        (9.2, 0.1, True, 5.0, Verdict.PASS),
        (9.2, 0.1, None, 5.0, Verdict.REPEAT),
        (9.2, 0.1, True, 4.0, Verdict.REPEAT),
        (9.2, 0.1, False, 5.0, Verdict.REJECT),
        (10.05, 0.1, True, 5.0, Verdict.REJECT),
        (9.95, 0.1, True, 5.0, Verdict.REPEAT),
        (8.5, 0.1, True, 5.0, Verdict.REPEAT),
        (8.4, 0.0, True, 5.0, Verdict.REJECT),
        (None, 0.1, True, 5.0, Verdict.REPEAT),
    ],
)
def test_an_intermediate_pressure_is_guard_banded_and_watched(
    value: float | None, u: float, held: bool | None, watched: float, expected: Verdict
) -> None:
    # Acceptance only with the whole interval inside both limits: JCGM 106:2012, 8.3.2. Watching for five minutes after
    # lock-up: common practice, no published source.
    found = answer("intermediate pressure", value=value, expanded_u=u, held=held, watched_minutes=watched,
                   bounds=IN_BAR)  # fmt: skip
    assert found is expected


@given(kind=st.sampled_from(TESTS), watched=st.none() | st.floats(0, 1440))
def test_nothing_seen_and_nothing_measured_never_passes(kind: str, watched: float | None) -> None:
    assert answer(kind, watched_minutes=watched, loop_limit=THREE_MINUTES, bounds=IN_BAR) is Verdict.REPEAT


@given(kind=st.sampled_from(TESTS), value=st.none() | st.floats(0, 1000))
def test_what_did_not_hold_is_rejected_whatever_else_was_measured(kind: str, value: float | None) -> None:
    found = answer(kind, held=False, value=value, watched_minutes=1440.0, loop_limit=THREE_MINUTES, bounds=IN_BAR)
    assert found is Verdict.REJECT


def test_a_test_by_breath_in_both_directions_is_recorded_and_ticks_the_open_tickets_line(bench: Workplace) -> None:
    ticket = open_ticket(bench, "LK-01", cause="turn-round", reason="back from a course",
                         tasks=("Test one-way valve", "Replace the inhale one-way valve", "Loop negative"))  # fmt: skip
    first = record_test(bench, "LK-01", "one-way valve", held=True, direction="inhale")
    assert first.ticked == ()
    second = record_test(bench, "LK-01", "one-way valve", held=True, direction="exhale")
    assert second.ticked == ("Test one-way valve",)
    with bench.database.read_session() as session:
        states = {row.text: row.state for row in session.scalars(select(Task))}
        assert states["Replace the inhale one-way valve"] == "to do", "a test is no replacement"
        assert {row.ticket_id for row in session.scalars(select(BenchTest))} == {ticket}


def test_a_loop_that_fell_ticks_nothing(bench: Workplace) -> None:
    open_ticket(bench, "LK-01", cause="turn-round", reason="back", tasks=("Loop negative",))
    done = record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=1)
    assert (done.answer.verdict, done.ticked) == (Verdict.REJECT, ())


def test_the_valve_that_was_tested_is_found_by_its_direction(bench: Workplace) -> None:
    done = record_test(bench, "LK-01", "one-way valve", held=True, direction="exhale")
    with bench.database.read_session() as session:
        part = session.get_one(Part, session.get_one(BenchTest, done.test_id).part_id)
        assert part.serial == "exh-LK-01"


def test_a_slip_is_corrected_within_ten_minutes_and_not_later(bench: Workplace, clock: Any) -> None:
    wrong = record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=3)
    clock.advance(minutes=9)
    right = record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, supersedes=wrong.test_id)
    assert right.answer.verdict is Verdict.PASS
    with pytest.raises(Refused, match="was corrected already"):
        record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3, supersedes=wrong.test_id)
    clock.advance(minutes=11)
    with pytest.raises(Refused, match="older than ten minutes"):
        record_test(bench, "LK-01", "loop negative", held=False, supersedes=right.test_id)


@pytest.mark.parametrize(
    ("kind", "given_", "field"),
    [
        ("leaps", {}, "test"),
        ("one-way valve", {"held": True}, "direction"),
        ("loop negative", {"direction": "inhale"}, "direction"),
        ("loop negative", {"watched_minutes": -1.0}, "watched"),
        ("intermediate pressure", {"value": float("nan")}, "value"),
        ("loop negative", {"supply_bar": 900.0}, "supply"),
        ("one-way valve", {"direction": "both", "slot": "middle valve"}, "slot middle valve"),
    ],
)
def test_a_wrong_entry_is_refused_with_the_field_named(
    bench: Workplace, kind: str, given_: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused, match=f"^{field}: "):
        record_test(bench, "LK-01", kind, **given_)


def test_every_measured_test_has_its_unit() -> None:
    assert set(MEASURED) <= set(TESTS)
