"""The journal's time never runs back: what was recorded last is last, whatever the desks' clocks say."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace, clock_in_doubt
from fleetbench.workshop.parts.lives import correct_clock
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.units.holds import note_near_miss
from tests.centres.bench_centre import Keys, write_centre

LOOP = "loop negative"


@pytest.fixture
def keys(database: Database, clock: Any) -> Keys:
    """The small centre."""
    return write_centre(database, clock())


@pytest.fixture
def desks(database: Database, clock: Any, keys: Keys) -> tuple[Workplace, Workplace]:
    """Two desks whose clocks are five minutes apart, the technician at both: the fast one, then the right one."""
    right = Workplace(database, clock, keys.technician)
    return Workplace(database, lambda: clock() + timedelta(minutes=5), keys.technician), right


def loop_evidence(workplace: Workplace) -> str:
    day = workplace.today()
    found = assess_unit(workplace, "LK-01", day, day, HandoverKind("assembled"))
    return " ".join(f"{check.result} {check.evidence}" for check in found.checks if LOOP in check.evidence)


def test_a_failed_test_is_not_outranked_by_a_pass_of_a_fast_clock(
    desks: tuple[Workplace, Workplace], clock: Any
) -> None:
    fast, right = desks
    record_test(fast, "LK-01", LOOP, held=True, watched_minutes=60)
    clock.advance(minutes=2)
    record_test(right, "LK-01", LOOP, held=False, watched_minutes=0.5)
    with right.database.read_session() as session:
        rows = list(session.scalars(select(BenchTest).order_by(BenchTest.at, BenchTest.id)))
        assert [row.result for row in rows][-1] == "reject"
    clock.advance(hours=1)
    assert f"{LOOP}: failed 2026-05-04" in loop_evidence(right)


def test_what_the_clock_said_stands_in_the_journal_and_verify_tells_it_from_a_break(
    desks: tuple[Workplace, Workplace], clock: Any
) -> None:
    fast, right = desks
    note_near_miss(fast, "LK-01", "Seen at the fast desk")
    clock.advance(minutes=2)
    note_near_miss(right, "LK-02", "Seen at the right desk")
    with right.database.read_session() as session:
        first, second = session.scalars(select(Journal).order_by(Journal.id.desc()).limit(2)).all()[::-1]
        assert second.at > first.at
        assert '"clock":"2026-05-04T07:32' in second.content
    report = verify(right.database)
    assert report.whole
    assert any("clock" in note and str(report.entries) in note for note in report.notes)


def test_a_clock_set_back_by_days_is_told_before_anything_is_recorded(
    desks: tuple[Workplace, Workplace], clock: Any
) -> None:
    _, right = desks
    clock.advance(days=-2)
    with pytest.raises(Refused, match=r"clock: this computer says 2026-05-02 .* the last entry is of 2026-05-04"):
        record_test(right, "LK-01", LOOP, held=True, watched_minutes=60)
    assert "2026-05-04" in str(clock_in_doubt(right))


def test_a_clock_far_ahead_is_told_and_goes_on_once_a_manager_confirms_it(
    database: Database, clock: Any, keys: Keys
) -> None:
    bench = Workplace(database, clock, keys.technician)
    clock.advance(days=800)
    with pytest.raises(Refused, match="800 days after the last entry"):
        note_near_miss(bench, "LK-01", "After a long winter")
    with pytest.raises(Refused, match="ask a manager"):
        correct_clock(bench)
    correct_clock(bench.as_person(keys.manager))
    note_near_miss(bench, "LK-01", "After a long winter")
    assert verify(database).whole


def test_a_record_of_a_clock_that_ran_ahead_holds_a_unit_only_until_it_is_corrected(
    database: Database, clock: Any, keys: Keys
) -> None:
    bench = Workplace(database, clock, keys.technician)
    ahead = Workplace(database, lambda: clock() + timedelta(days=40), keys.technician)
    record_test(ahead, "LK-01", LOOP, held=False, watched_minutes=0.5)
    clock.advance(hours=1)
    with pytest.raises(Refused, match="correct"):
        record_test(bench, "LK-01", LOOP, held=True, watched_minutes=60)
    moved = correct_clock(bench.as_person(keys.manager))
    assert moved == 1
    with database.read_session() as session:
        (row,) = session.scalars(select(BenchTest))
        assert row.at <= clock()
    clock.advance(minutes=5)
    record_test(bench, "LK-01", LOOP, held=True, watched_minutes=60)
    assert "still to come" not in loop_evidence(bench)
    assert verify(database).whole
    assert clock_in_doubt(bench) is None


def test_an_entry_holds_nothing_but_rows_and_what_the_clock_said(database: Database, keys: Keys) -> None:
    from fleetbench.records.core.journal import canonical_text, entry_hash

    with database.writing() as session:
        last = session.scalars(select(Journal).order_by(Journal.id.desc()).limit(1)).one()
        content = canonical_text({"rows": [], "z": "a nonce nobody reads"})
        row = (last.id + 1, last.at, None, "note", "x", content, last.hash)
        session.add(Journal(id=row[0], at=row[1], person_id=None, act="note", subject="x", content=content,
                            previous=last.hash, hash=entry_hash(*row)))  # fmt: skip
        session.commit()
    assert "z" in str(verify(database).first_break)
