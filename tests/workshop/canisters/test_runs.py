"""Runs of a fill: what is taken, what is refused, whose the fill is, and how a slip is put right."""

from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from fleetbench.calc.readiness.limits import HandoverKind
from fleetbench.records.canisters.reads import read_runs_of_last_fills
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.reads import read_run_use
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.history import canister_story, fill_label
from fleetbench.workshop.canisters.list import list_canisters
from fleetbench.workshop.canisters.packing import discard_fill, pack_canister, pack_choices
from fleetbench.workshop.canisters.runs import RunEntry, correct_run, log_run
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.ready import assess_unit
from tests.centres.absorbent_centre import CANISTER, SPARE, AbsorbentKeys, write_absorbent
from tests.centres.kept_centres import kept
from tests.centres.sound_unit import write_turned_round


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> AbsorbentKeys:
    """The small centre with absorbent, written."""
    return write_absorbent(workplace, clock)


@pytest.fixture
@kept
def bench(workplace: Workplace, keys: AbsorbentKeys, clock: Any) -> Workplace:
    """The workplace with the technician at the bench and a canister packed for today's hire three hours ago."""
    made = workplace.as_person(keys.centre.technician)
    pack_canister(made, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3740.0, looked_at=True, line_id=keys.line)
    clock.advance(hours=3)
    return made


def canister(bench: Workplace) -> Any:
    return next(each for each in list_canisters(bench) if each.part.label == CANISTER)


def test_a_run_uses_up_its_share_of_the_rated_minutes(bench: Workplace, keys: AbsorbentKeys) -> None:
    log_run(bench, CANISTER, RunEntry(minutes=60, coldest_c=12, deepest_m=18))
    # Invented table: 180 min at 12 C or warmer down to 20 m, so an hour is a third of the fill; at the centre's usual
    # 12 C and 30 m 150 min are rated, and two thirds of those are left.
    assert canister(bench).left.used_share == pytest.approx(60 / 180)
    assert canister(bench).left.minutes == pytest.approx(100.0)


def test_a_run_whose_figures_were_doubted_says_so_where_it_is_told(bench: Workplace, keys: AbsorbentKeys) -> None:
    log_run(bench, CANISTER, RunEntry(minutes=20, coldest_c=12, deepest_m=18))
    log_run(bench, CANISTER, RunEntry(minutes=5, coldest_c=12, deepest_m=120))
    part_id = pack_choices(bench, CANISTER).part_id
    plain, doubted = (each.words for each in canister_story(bench, part_id).fills[0].lines if each.what == "run")
    assert "typed twice" not in plain
    assert "120 m, minutes typed twice: 5 min; deepest typed twice: 120 m" in doubted


def test_dive_minutes_have_ten_a_dive_added_and_unknown_water_is_the_coldest_row(bench: Workplace) -> None:
    log_run(bench, CANISTER, RunEntry(minutes=30, clock="dive", dives=2))
    assert canister(bench).left.loop_minutes == 50.0
    assert canister(bench).left.used_share == pytest.approx(50 / 120)


def test_the_first_run_makes_the_fill_its_divers(bench: Workplace, keys: AbsorbentKeys, clock: Any) -> None:
    pack_canister(bench, SPARE, keys.open_one, tare_g=0.0, filled_g=2400.0)
    clock.advance(hours=2)
    with pytest.raises(Refused, match="unit: the canister sits in none"):
        log_run(bench, SPARE, RunEntry(minutes=30, diver_id=keys.other))
    with pytest.raises(Refused, match="diver: is missing"):
        log_run(bench, SPARE, RunEntry(minutes=30, unit="LK-02"))
    log_run(bench, SPARE, RunEntry(minutes=30, unit="LK-02", diver_id=keys.other))
    with bench.database.read_session() as session:
        fill = session.scalars(select(Fill).order_by(Fill.id.desc())).first()
        assert fill is not None and fill.diver_id == keys.other


def test_a_run_by_a_second_diver_is_recorded_and_spends_the_fill(bench: Workplace, keys: AbsorbentKeys) -> None:
    log_run(bench, CANISTER, RunEntry(minutes=20, coldest_c=15, deepest_m=10))
    now = bench.clock()
    early = RunEntry(minutes=20, diver_id=keys.other, started_at=now - timedelta(hours=2))
    log_run(bench, CANISTER, early)
    found = canister(bench)
    assert (found.state, found.left.minutes, found.left.reason) == ("spent", 0.0, "a run of it was another diver's")


def test_a_try_days_divers_share_one_fill_only_where_the_centre_says_so(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    # Try sessions on one day under one instructor, minutes summed: common practice, no published source.
    with bench.transaction("enter", "try day") as act:
        act.change(act.get(Booking, act.get(BookingUnit, keys.line, "line").booking_id, "booking"),
                   kind="try day", instructor_id=keys.centre.technician)  # fmt: skip
    log_run(bench, CANISTER, RunEntry(minutes=20, coldest_c=12, deepest_m=18))
    second = RunEntry(minutes=25, coldest_c=12, deepest_m=18, diver_id=keys.other,
                      started_at=clock() - timedelta(hours=2))  # fmt: skip
    log_run(bench, CANISTER, second)
    assert canister(bench).left.reason == "a run of it was another diver's"
    assert not fill_label(bench, canister(bench).part.part_id).shared
    with bench.transaction("enter", "centre's rule") as act:
        act.add(Limit(name="fills shared on try days", amount=1, unit="yes or no", source="the centre's own rule",
                      maker=False))  # fmt: skip
    found = canister(bench)
    assert (found.state, found.left.loop_minutes, found.left.used_share) == ("in use", 45.0, pytest.approx(45 / 180))
    assert fill_label(bench, found.part.part_id).shared
    clock.advance(hours=20)
    assert "serves that day alone" in (canister(bench).left.reason or "")


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (RunEntry(minutes=0), "minutes: 0 is outside"),
        (RunEntry(minutes=float("nan")), "minutes"),
        (RunEntry(minutes=60, clock="wrist"), "clock: 'wrist' is not known"),
        (RunEntry(minutes=60, dives=0), "dives: 0 is outside"),
        (RunEntry(minutes=60, coldest_c=-40), "coldest water"),
        (RunEntry(minutes=60, deepest_m=900), "deepest"),
        (RunEntry(minutes=60, started_at=datetime(2026, 5, 4, 7, 0, tzinfo=UTC)), "lies before FILL-1 was packed"),
        (RunEntry(minutes=60, started_at=datetime(2026, 5, 4, 10, 0, tzinfo=UTC)), "would end after now"),
        (RunEntry(minutes=60, started_at=datetime(2026, 5, 4, 12, 0, tzinfo=UTC)), "started at: lies ahead"),
        (RunEntry(minutes=60, unit="LK-09"), "unit LK-09: no unit has this tag"),
    ],
)
def test_a_run_out_of_reason_is_refused_with_its_field(bench: Workplace, entry: RunEntry, said: str) -> None:
    with pytest.raises(Refused, match=said):
        log_run(bench, CANISTER, entry)
    assert canister(bench).left.loop_minutes == 0.0


def test_two_runs_of_one_fill_cannot_overlap(bench: Workplace, clock: Any) -> None:
    log_run(bench, CANISTER, RunEntry(minutes=60, started_at=clock() - timedelta(minutes=60)))
    with pytest.raises(Refused, match="overlaps the run of 60 min"):
        log_run(bench, CANISTER, RunEntry(minutes=30, started_at=clock() - timedelta(minutes=30)))


def test_the_days_log_may_be_typed_in_after_the_fill_was_thrown_away(bench: Workplace, clock: Any) -> None:
    discard_fill(bench, CANISTER, "used up")
    clock.advance(hours=1)
    dived = bench.clock() - timedelta(hours=3)
    with pytest.raises(Refused, match="holds no such fill"):
        log_run(bench, CANISTER, RunEntry(minutes=45, started_at=dived))
    log_run(bench, CANISTER, RunEntry(minutes=45, started_at=dived), fill_id=1)
    late = RunEntry(minutes=5, started_at=bench.clock() - timedelta(minutes=30))
    with pytest.raises(Refused, match="after FILL-1 was discarded"):
        log_run(bench, CANISTER, late, fill_id=1)


def test_a_slip_is_corrected_by_a_run_in_its_place_and_both_are_kept(bench: Workplace) -> None:
    wrong = log_run(bench, CANISTER, RunEntry(minutes=6, coldest_c=12, deepest_m=18))
    right = correct_run(
        bench, CANISTER, wrong, reason="typing", instead=RunEntry(minutes=60, coldest_c=12, deepest_m=18)
    )
    assert canister(bench).left.loop_minutes == 60.0
    with bench.database.reading() as connection:
        assert [minutes for _, _, _, minutes, _, _ in read_run_use(connection)] == [60.0]
        assert [run.run_id for run in read_runs_of_last_fills(connection)] == [right]
    with bench.database.read_session() as session:
        assert len(session.scalars(select(Run)).all()) == 2
    with pytest.raises(Refused, match="was corrected before"):
        correct_run(bench, CANISTER, wrong, reason="typing")
    assert verify(bench.database).first_break is None


def test_a_run_that_never_was_is_taken_out_with_a_reason(bench: Workplace) -> None:
    wrong = log_run(bench, CANISTER, RunEntry(minutes=60))
    with pytest.raises(Refused, match="reason: is empty"):
        correct_run(bench, CANISTER, wrong, reason=" ")
    assert correct_run(bench, CANISTER, wrong, reason="entered on the wrong canister") is None
    assert canister(bench).state == "fresh"


def test_hours_since_first_use_run_through_midnight_and_a_clock_change(workplace: Workplace, clock: Any) -> None:
    # The night to 25 October 2026 has an hour more in central Europe (EU directive 2000/84/EC): 24 h from 22:30
    # summer time end at 21:30 winter time.
    clock.now = datetime(2026, 10, 24, 18, 0, tzinfo=UTC)
    keys = write_absorbent(workplace, clock)
    bench = workplace.as_person(keys.centre.technician)
    pack_canister(bench, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3740.0, line_id=keys.line)
    clock.now = datetime(2026, 10, 24, 22, 10, tzinfo=UTC)
    log_run(bench, CANISTER, RunEntry(minutes=40, started_at=datetime(2026, 10, 24, 20, 30, tzinfo=UTC)))
    clock.now = datetime(2026, 10, 25, 20, 10, tzinfo=UTC)
    assert canister(bench).left.minutes == pytest.approx(20.0)
    assert "24 h end at 2026-10-25" in (canister(bench).left.reason or "")
    clock.now = datetime(2026, 10, 25, 20, 30, tzinfo=UTC)
    assert canister(bench).state == "spent"


def only_run(bench: Workplace) -> Run:
    with bench.database.read_session() as session:
        (run,) = session.scalars(select(Run))
        session.expunge_all()
        return run


def test_a_run_without_a_start_has_none_and_the_fills_clock_takes_the_earliest_it_can_have_been(
    bench: Workplace, clock: Any
) -> None:
    """Twenty-four hours from first use: the canister type's own limit in this invented centre."""
    packed = clock() - timedelta(hours=3)
    clock.advance(hours=22)
    log_run(bench, CANISTER, RunEntry(minutes=40, coldest_c=12, deepest_m=18))
    assert (only_run(bench).started_at, only_run(bench).ended_by) == (packed, clock())
    assert "first use" in str(canister(bench).left.reason)


def test_a_run_of_which_the_day_alone_is_known_counts_from_the_start_of_that_day(bench: Workplace, clock: Any) -> None:
    clock.advance(days=2)
    day = bench.today() - timedelta(days=1)
    with pytest.raises(Refused, match=r"day: .* does not lie between"):
        log_run(bench, CANISTER, RunEntry(minutes=40, on=day - timedelta(days=9), coldest_c=12, deepest_m=18))
    log_run(bench, CANISTER, RunEntry(minutes=40, on=day, coldest_c=12, deepest_m=18))
    midnight = datetime.combine(day, time(), tzinfo=ZoneInfo("Europe/Berlin"))
    assert (only_run(bench).started_at, only_run(bench).ended_by) == (midnight, midnight + timedelta(days=1))
    with pytest.raises(Refused, match=r"minutes: 1460 min do not fit into the 24\.0 h"):
        log_run(bench, CANISTER, RunEntry(minutes=1420, on=day, coldest_c=12, deepest_m=18))


def test_a_dive_outside_any_booking_asks_for_a_new_disinfection_even_where_its_start_is_not_known(
    bench: Workplace, keys: AbsorbentKeys, clock: Any
) -> None:
    """Disinfected since the last diver: common practice, no published source."""
    with bench.transaction("write", "test") as act:
        write_turned_round(act, keys.centre.unit_type, keys.centre.units[0], clock(), keys.centre.technician)
    log_staff_run(bench, keys, clock, started=None)
    answer = assess_unit(bench, "LK-01", bench.today(), bench.today(), HandoverKind.KIT)
    found = next(each for each in answer.checks if each.check == "disinfected and dry")
    assert (found.result, "not disinfected since the last diver" in found.evidence) == ("stop", True)


def log_staff_run(bench: Workplace, keys: AbsorbentKeys, clock: Any, started: Any) -> None:
    """A dive of the instructor's own fill, on no booking."""
    discard_fill(bench, CANISTER, "test")
    pack_canister(bench, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3740.0, looked_at=True,
                  diver_id=keys.other)  # fmt: skip
    clock.advance(hours=3)
    log_run(bench, CANISTER, RunEntry(minutes=40, started_at=started, coldest_c=12, deepest_m=18))
