"""Turn-rounds: the card in bench order, what ticks it, the bath, drying, a flood, findings and the signature."""

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from fleetbench.calc.readiness.limits import HandoverKind
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.places.tables import Limit
from fleetbench.records.tickets.tables import Disinfection, Ticket
from fleetbench.records.turn_rounds.tables import BathLoop, TurnRound, TurnRoundLine
from fleetbench.records.units.tables import Hold, Slot, Unit
from fleetbench.records.upkeep.migrate import open_database
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import WatchedLoop, record_release, record_test
from fleetbench.workshop.canisters.packing import discard_fill
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.fills import record_pressures
from fleetbench.workshop.gas.oxygen_side import clean_parts
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.turn_rounds.baths import bath_desk, disinfect, enter_agent, hanging, mark_dry
from fleetbench.workshop.turn_rounds.card import (
    card_finding,
    correct_line,
    finish_cards,
    flood_found,
    leave_out,
    line_done,
    open_card,
    reasons_against_finishing,
)
from fleetbench.workshop.turn_rounds.handsets import record_batteries
from fleetbench.workshop.turn_rounds.page import list_turn_rounds, turn_round_desk
from fleetbench.workshop.turn_rounds.ticks import tick_calibration
from tests.centres.bench_centre import _type, fit, part
from tests.centres.pins import give_pin
from tests.centres.turn_round_bench import TurnRoundBench
from tests.conftest import Clock

BENCH_ORDER = [
    "cylinders", "batteries out", "absorbent", "head", "strip", "rinse", "disinfect", "rinse again", "dry", "valves",
    "assemble", "tests", "batteries", "calibrate", "settings", "previous data",
]  # fmt: skip
"""The bench order of a turn-round: common practice, no published source."""


@pytest.fixture(scope="module")
def made(empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, TurnRoundBench]:
    """The bench, written once for the module."""
    path = tmp_path_factory.mktemp("turn-rounds") / "bench.db"
    database, clock = open_database(shutil.copy(empty_file, path)), Clock()
    bench = TurnRoundBench(Workplace(database, clock), clock)
    with database.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    return path, bench


@pytest.fixture
def bench(made: tuple[Path, TurnRoundBench], tmp_path: Path, clock: Clock) -> Iterator[TurnRoundBench]:
    """A copy of it, with a clock of its own."""
    database = open_database(shutil.copy(made[0], tmp_path / "bench.db"))
    yield made[1].moved(database, clock)
    database.close()


def test_a_whole_turn_round_after_a_flood_on_either_database(workplace: Workplace, clock: Clock) -> None:
    bench = TurnRoundBench(workplace, clock)
    bench.out_and_back("LK-01", flooded=True)
    bench.clock.advance(minutes=5)
    bench.do_everything("LK-01")
    bench.clock.advance(hours=24)
    bench.calibrate("LK-01")
    finish_cards(bench.workplace, [bench.card()], signer_id=bench.technician, pin="1357")
    assert bench.rows(Hold)[0].lift_reason == "turn-round finished"
    assert verify(workplace.database).first_break is None


def test_receiving_puts_the_unit_on_hold_with_a_card_in_bench_order(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    assert [line.step for line in bench.lines()] == BENCH_ORDER
    assert [(hold.kind, hold.lifted_at) for hold in bench.rows(Hold)] == [("received", None)]


def test_a_bath_of_two_loops_is_one_act_that_ticks_both_cards(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01", "LK-02")
    assert [each.unit for each in bath_desk(bench.workplace).waiting] == ["LK-01", "LK-02"]
    for tag in ("LK-01", "LK-02"):
        bench.tick(Step.STRIP, tag=tag)
    bench.clock.advance(minutes=10)
    before = bench.entries()
    done = bench.bath("LK-01", "LK-02")
    assert bench.entries() == before + 1
    assert [row.agent for row in bench.rows(Disinfection)] == ["Agent A", "Agent A"]
    assert {loop.part_id for loop in bench.rows(BathLoop)} == {bench.part("LOOP-L-LK-01"), bench.part("LOOP-L-LK-02")}
    assert done.dry_from == bench.clock() + timedelta(hours=12)  # common practice, no published source
    assert all(bench.state(tag, Step.DISINFECT) == "done" for tag in ("LK-01", "LK-02"))
    assert all(bench.state(tag, Step.RINSE_AGAIN) == "done" for tag in ("LK-01", "LK-02"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"contact_minutes": 9.0}, "Agent A 1 % asks for 10 min"),
        ({"mixed_at": -30}, "last valid time: the bath was past it"),
        ({"mixed_at": 1}, "mixed at: is after the loops went in"),
        ({"in_at": -0.05}, "the loops are in until"),
    ],
)
def test_what_is_no_disinfection_by_the_agents_figures_is_not_recorded(
    bench: TurnRoundBench, changed: dict[str, float], said: str
) -> None:
    bench.out_and_back("LK-01")
    now = bench.clock()
    more: dict[str, Any] = {
        key: now + timedelta(hours=value) if key.endswith("_at") else value for key, value in changed.items()
    }
    with pytest.raises(Refused, match=said):
        bench.bath("LK-01", **more)
    assert bench.rows(Disinfection) == []


def test_nine_loops_in_one_bath_are_refused(bench: TurnRoundBench) -> None:
    with pytest.raises(Refused, match="put 1 to 8 in it"):
        disinfect(bench.workplace, (), bench.agent, mixed_at=bench.clock() - timedelta(hours=1), contact_minutes=10,
                  rinsed=True)  # fmt: skip


def test_an_agent_that_a_types_maker_names_stands_above_the_centres_own(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    own = enter_agent(bench.boss, "Agent M", "2 %", 15, "invented manual", unit_type="TYPE-L")
    with pytest.raises(Refused, match="Agent A is not for its type; use Agent M 2 %"):
        bench.bath("LK-01")
    bench.clock.advance(minutes=5)
    bench.bath("LK-01", agent=own, contact_minutes=15.0)


def test_a_loop_hangs_to_dry_as_time_until_somebody_finds_it_dry(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    with pytest.raises(Refused, match="disinfect the loop first"):
        mark_dry(bench.workplace, ["LK-01"])
    bench.bath("LK-01")
    bathed = bench.clock()
    (hung,) = hanging(bench.workplace)
    assert (hung.dry_from, hung.dry_by) == (bathed + timedelta(hours=12), bathed + timedelta(hours=24))
    bench.clock.advance(hours=13)
    mark_dry(bench.workplace, ["LK-01"], dry=False)
    (hung,) = hanging(bench.workplace)
    assert hung.dry_from == bathed + timedelta(hours=25)
    assert bench.state("LK-01", Step.DRY) == "to do"
    bench.clock.advance(hours=12)
    mark_dry(bench.workplace, ["LK-01"])
    assert hanging(bench.workplace) == ()
    assert bench.state("LK-01", Step.DRY) == "done"


def test_an_agent_not_rinsed_off_keeps_the_loop_from_drying_until_it_is(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.bath("LK-01", rinsed=False)
    with pytest.raises(Refused, match="the agent was not rinsed off"):
        mark_dry(bench.workplace, ["LK-01"])
    bench.tick(Step.RINSE_AGAIN)
    assert bench.rows(Disinfection)[0].rinsed
    bench.clock.advance(hours=12)
    mark_dry(bench.workplace, ["LK-01"])


def test_stripping_is_a_workshop_opening_after_which_the_tests_must_follow(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.release()
    assert bench.state("LK-01", Step.TESTS) == "done"
    bench.clock.advance(minutes=5)
    bench.tick(Step.STRIP)
    assert bench.rows(Opening)[-1].kind == "workshop"
    assert bench.state("LK-01", Step.TESTS) == "to do"
    bench.clock.advance(minutes=5)
    bench.release()
    assert bench.state("LK-01", Step.TESTS) == "done"
    bench.clock.advance(minutes=5)
    record_test(bench.workplace, "LK-01", "loop negative", held=False, watched_minutes=3)
    assert bench.state("LK-01", Step.TESTS) == "to do", "what was seen last counts"


def test_a_battery_reading_and_a_calibration_tick_their_lines_and_nobody_else_can(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    for step in (Step.BATTERIES, Step.CALIBRATE, Step.TESTS, Step.DISINFECT):
        with pytest.raises(Refused, match="is ticked by its own record"):
            bench.tick(step)
    record_batteries(bench.workplace, "LK-01", {"handset 1 battery": 3.2})
    assert bench.state("LK-01", Step.BATTERIES) == "to do", "under the replace voltage"
    record_batteries(bench.workplace, "LK-01", {"handset 1 battery": 3.9})
    bench.calibrate("LK-01")
    assert bench.state("LK-01", Step.BATTERIES) == "done"
    assert bench.state("LK-01", Step.CALIBRATE) == "done"


def test_a_finished_card_lifts_the_hold_under_a_pin_and_cannot_change(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    card = bench.card()
    assert "Head wiped, never in the bath: still to do" in reasons_against_finishing(bench.workplace, card)
    bench.do_everything("LK-01")
    assert reasons_against_finishing(bench.workplace, card) == ()
    with pytest.raises(Refused, match="PIN"):
        finish_cards(bench.workplace, [card], signer_id=bench.technician, pin="0000")
    finish_cards(bench.workplace, [card], signer_id=bench.technician, pin="1357")
    (hold,) = bench.rows(Hold)
    assert (hold.lift_reason, hold.lifted_by_id) == ("turn-round finished", bench.technician)
    assert bench.rows(Ticket) == [], "a card without findings is its own ticket"
    with pytest.raises(Refused, match="finished and signed"):
        correct_line(bench.workplace, bench.lines()[0].id)


def test_an_instructor_may_tick_lines_and_not_finish_the_card(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    give_pin(bench.workplace, bench.centre.instructor, "8642")
    line_done(bench.workplace.as_person(bench.centre.instructor), bench.line(Step.HEAD).id)
    with pytest.raises(Refused, match="finish turn-round"):
        finish_cards(bench.workplace, [bench.card()], signer_id=bench.centre.instructor, pin="8642")


def test_a_finding_opens_one_ticket_that_holds_the_unit_beside_the_card(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    first = card_finding(bench.workplace, bench.card(), "mouthpiece torn")
    second = card_finding(bench.workplace, bench.card(), "clip missing", critical=False)
    assert first == second
    (ticket,) = bench.rows(Ticket)
    assert (ticket.cause, ticket.critical) == ("turn-round", True)
    bench.do_everything("LK-01")
    finish_cards(bench.workplace, [bench.card()], signer_id=bench.technician, pin="1357")
    assert bench.rows(Ticket)[0].signed_at is None, "the ticket stays and holds the unit"


def test_only_some_lines_may_be_left_out_and_each_with_a_reason(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    with pytest.raises(Refused, match="reason: is empty"):
        leave_out(bench.workplace, bench.line(Step.CALIBRATE).id, "  ")
    leave_out(bench.workplace, bench.line(Step.CALIBRATE).id, "calibrated yesterday")
    for step in (Step.ABSORBENT, Step.STRIP, Step.DISINFECT, Step.DRY, Step.TESTS, Step.VALVES):
        with pytest.raises(Refused, match="cannot be left out"):
            leave_out(bench.workplace, bench.line(step).id, "no time")


def test_a_slip_is_corrected_within_ten_minutes(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.tick(Step.HEAD)
    correct_line(bench.workplace, bench.line(Step.HEAD).id)
    assert bench.state("LK-01", Step.HEAD) == "to do"
    bench.tick(Step.HEAD)
    bench.clock.advance(minutes=11)
    with pytest.raises(Refused, match="over ten minutes ago"):
        correct_line(bench.workplace, bench.line(Step.HEAD).id)


def test_after_a_flood_cells_need_two_different_days_before_the_card_is_finished(bench: TurnRoundBench) -> None:
    """Common practice, no published source; the maker's manual stands above it."""
    bench.out_and_back("LK-01", flooded=True)
    steps = [line.step for line in bench.lines()]
    assert steps[2:6] == ["absorbent", "cells out", "opened up", "head"]
    bench.clock.advance(minutes=5)
    with pytest.raises(Refused, match="cannot be left out after a flood"):
        leave_out(bench.workplace, bench.line(Step.CALIBRATE).id, "later")
    bench.do_everything("LK-01")
    assert bench.state("LK-01", Step.CALIBRATE_AGAIN) == "to do"
    card = bench.card()
    assert "flood: the cells need calibrations on two different days" in "; ".join(
        reasons_against_finishing(bench.workplace, card)
    )
    bench.clock.advance(minutes=30)
    bench.calibrate("LK-01")
    assert bench.state("LK-01", Step.CALIBRATE_AGAIN) == "to do", "twice on one day is one day"
    bench.clock.advance(hours=24)
    bench.calibrate("LK-01")
    assert reasons_against_finishing(bench.workplace, card) == ()


def test_a_flood_found_at_the_bench_turns_the_card_and_opens_its_lines_again(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.tick(Step.HEAD)
    bench.tick(Step.BATTERIES_OUT)
    flood_found(bench.workplace, "LK-01")
    (card,) = bench.rows(TurnRound)
    assert card.flooded_at == bench.clock()
    assert bench.state("LK-01", Step.HEAD) == "to do"
    assert bench.state("LK-01", Step.BATTERIES_OUT) == "done"
    assert bench.state("LK-01", Step.CELLS_OUT) == "to do"
    with pytest.raises(Refused, match="says already"):
        flood_found(bench.workplace, "LK-01")


def test_a_flood_found_after_the_unit_was_out_again_is_another_flood(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01", flooded=True)
    bench.clock.advance(minutes=5)
    bench.out_and_back("LK-01")
    bench.tick(Step.HEAD)
    bench.clock.advance(minutes=5)
    flood_found(bench.workplace, "LK-01")
    (card,) = bench.rows(TurnRound)
    assert card.flooded_at == bench.clock()
    assert bench.state("LK-01", Step.HEAD) == "to do"
    with pytest.raises(Refused, match="says already"):
        flood_found(bench.workplace, "LK-01")


def test_a_calibration_with_an_empty_position_is_no_calibration_of_the_cells_after_a_flood(
    bench: TurnRoundBench,
) -> None:
    """Every cell is calibrated on two days after a flood: common practice, no published source."""
    bench.out_and_back("LK-01", flooded=True)
    with bench.workplace.transaction("write", "test") as act:
        for number in (1, 2):
            bench.clock.advance(hours=24)
            row = act.add(Calibration(
                unit_id=bench.centre.units["LK-01"], person_id=bench.technician, made="workshop", at=bench.clock(),
                pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0, head="dry", vented="yes",
                settled="yes", oxygen_shown_percent=99.6))  # fmt: skip
            for cell in (1, 2):
                act.add(CalibrationOutcome(
                    calibration_id=row.id, part_id=bench.part(f"C-LK-01-{cell}"), verdict="pass",
                    slot_id=bench.centre.keys.centre.cell_slots[cell - 1], finding=f"day {number}: invented",
                    next_step="none", linearity=100.0, expanded_u=1.1, margin=3.0, air_mv=10.0, oxygen_mv=50.0,
                    reader_gap_bar=0.01, verified_up_to_bar=1.0))  # fmt: skip
            tick_calibration(act, act.get(Unit, bench.centre.units["LK-01"], "unit"))
    assert [bench.state("LK-01", step) for step in (Step.CALIBRATE, Step.CALIBRATE_AGAIN)] == ["to do", "to do"]


def test_a_unit_that_is_here_gets_a_card_by_hand_and_one_that_is_out_does_not(bench: TurnRoundBench) -> None:
    open_card(bench.workplace, "LK-02")
    with pytest.raises(Refused, match="open already"):
        open_card(bench.workplace, "LK-02")
    bench.out("LK-01")
    for act in (open_card, flood_found):
        with pytest.raises(Refused, match="is out"):
            act(bench.workplace, "LK-01")


def test_settings_and_previous_data_are_noted_for_the_handsets(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.tick(Step.SETTINGS)
    line_done(bench.workplace, bench.line(Step.PREVIOUS_DATA).id, "stated")
    assert [(row.settings_reset, row.previous_data) for row in bench.looks()] == [(True, None), (None, "stated")]


def test_lines_of_all_cards_hold_the_person_and_the_time(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.tick(Step.CYLINDERS, "oxygen 80 bar")
    line: TurnRoundLine = bench.line(Step.CYLINDERS)
    assert (line.how, line.person_id, line.settled_at) == ("oxygen 80 bar", bench.technician, bench.clock())


def test_what_is_seen_of_valves_and_loop_in_one_act_ticks_the_card(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    record_release(bench.workplace, "LK-01", inhale=True, exhale=True, negative=WatchedLoop(held=True, minutes=3),
                   positive=WatchedLoop(held=True, minutes=3))  # fmt: skip
    assert bench.state("LK-01", Step.TESTS) == "done"


def test_gauges_read_and_parts_cleaned_tick_their_lines_once_all_are_done(bench: TurnRoundBench) -> None:
    with bench.workplace.transaction("write", "test") as act:
        kind = _type(act, "CYL-L", "oxygen cylinder", ("test_interval", 15, "months", "oxygen clean"))
        act.add(Slot(unit_type_id=bench.centre.keys.centre.unit_type, name="oxygen cylinder", kind="oxygen cylinder",
                     ordinal=8, oxygen_side=True))  # fmt: skip
        cylinder = part(act, kind.code, "OX-1", bench.centre.keys.centre.owner)
        act.add(Cylinder(part_id=cylinder.id, role="oxygen", size_l=3.0, working_bar=200.0, material="steel"))
        fit(act, cylinder, "oxygen cylinder", unit_id=bench.centre.units["LK-01"], at=bench.clock())
    bench.out_and_back("LK-01", flooded=True)
    record_pressures(bench.workplace, {cylinder.id: 80.0})
    assert bench.state("LK-01", Step.CYLINDERS) == "done"
    assert bench.state("LK-01", Step.OXYGEN_CLEAN) == "to do"
    bench.clock.advance(minutes=5)
    clean_parts(bench.workplace, [cylinder.id], "bath 2, clean bench")
    assert bench.state("LK-01", Step.OXYGEN_CLEAN) == "done"


def test_a_fill_thrown_away_anywhere_ticks_its_line(bench: TurnRoundBench) -> None:
    bench.centre.make_fit("LK-01", pack=True)
    bench.out_and_back("LK-01")
    bench.clock.advance(minutes=5)
    discard_fill(bench.workplace, "CAN-L-LK-01", "back from a diver")
    assert bench.state("LK-01", Step.ABSORBENT) == "done"


def test_absorbent_out_on_the_card_throws_the_fill_away(bench: TurnRoundBench) -> None:
    bench.centre.make_fit("LK-01", pack=True)
    bench.out_and_back("LK-01")
    bench.tick(Step.ABSORBENT)
    assert bench.rows(Fill)[-1].why_discarded == "turn-round"


def test_a_loop_is_not_found_dry_two_seconds_after_its_bath(bench: TurnRoundBench) -> None:
    """Twelve hours at the least: common practice, no published source."""
    bench.out_and_back("LK-01")
    bench.bath("LK-01")
    bench.clock.advance(seconds=2)
    for act in (lambda: mark_dry(bench.workplace, ["LK-01"]), lambda: bench.tick(Step.DRY)):
        with pytest.raises(Refused, match=r"hung 0.0 h, 12 h at the least .*; let it hang, or write down how"):
            act()
    assert bench.state("LK-01", Step.DRY) == "to do"
    bench.clock.advance(hours=3)
    bench.tick(Step.DRY, "blown out with cold dry air for an hour")
    line = bench.line(Step.DRY)
    assert (line.state, line.how) == ("left out", "found dry after 3.0 h: blown out with cold dry air for an hour")


def limit_hours(bench: TurnRoundBench, hours: float) -> None:
    with bench.workplace.transaction("write", "test") as act:
        act.add(Limit(name="drying hours", amount=hours, unit="h", source="invented manual", maker=True))


def test_the_centres_drying_hours_hold_for_the_bath_the_card_and_the_look(bench: TurnRoundBench) -> None:
    limit_hours(bench, 18)
    bench.out_and_back("LK-01")
    bathed = bench.bath("LK-01")
    begins = bench.clock()
    assert bathed.dry_from == begins + timedelta(hours=18)
    assert hanging(bench.workplace)[0].dry_from == begins + timedelta(hours=18)
    (row,) = list_turn_rounds(bench.workplace)
    card = turn_round_desk(bench.workplace, "LK-01").card
    assert card is not None
    assert card.drying is not None
    assert row.dry_from == card.drying.dry_from == begins + timedelta(hours=18)
    bench.clock.advance(hours=13)
    with pytest.raises(Refused, match=r"hung 13.0 h, 18 h at the least \(invented manual\)"):
        mark_dry(bench.workplace, ["LK-01"])
    assert "damp" in dryness(bench)
    bench.clock.advance(hours=5)
    mark_dry(bench.workplace, ["LK-01"])
    assert "at the least" not in dryness(bench)


def dryness(bench: TurnRoundBench) -> str:
    today = bench.workplace.today()
    checks = assess_unit(bench.workplace, "LK-01", today, today, HandoverKind.KIT).checks
    return next(f"{each.result.value}: {each.evidence}" for each in checks if each.check == "disinfected and dry")


def test_a_loop_found_dry_before_its_hours_is_not_passed_without_a_word(bench: TurnRoundBench) -> None:
    """Twelve hours at the least: common practice, no published source."""
    bench.out_and_back("LK-01")
    bench.bath("LK-01")
    bench.clock.advance(hours=3)
    mark_dry(bench.workplace, ["LK-01"], reason="blown out with cold dry air")
    told = dryness(bench)
    assert told.startswith("advise: ")
    assert "found dry after 3.0 h: blown out with cold dry air; 12 h at the least" in told
    bench.clock.advance(hours=10)
    mark_dry(bench.workplace, ["LK-01"])
    assert dryness(bench).startswith("ok: "), "looked at again after its hours"


def test_a_loop_that_is_not_stripped_yet_did_not_lie_in_the_bath(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    with pytest.raises(Refused, match="LK-01: its loop is not stripped yet"):
        disinfect(
            bench.workplace,
            ["LK-01"],
            bench.agent,
            mixed_at=bench.clock() - timedelta(hours=1),
            contact_minutes=10,
            rinsed=True,
        )
    bench.tick(Step.STRIP)
    bench.clock.advance(minutes=3)
    with pytest.raises(Refused, match=r"its loop was stripped at \d\d:\d\d, after the bath began"):
        bench.bath("LK-01")
    bench.clock.advance(minutes=7)
    bench.bath("LK-01")


def test_noting_a_return_does_not_say_that_anybody_took_the_absorbent_out(bench: TurnRoundBench) -> None:
    bench.centre.make_fit("LK-01", pack=True)
    bench.out_and_back("LK-01")
    line = max(row.id for row in bench.rows(BookingUnit))
    hand_back(bench.workplace, [HandBackEntry(line_id=line, loop_minutes=60, dives=1)])
    assert bench.rows(Fill)[-1].discarded_at is not None, "the next diver gets none of it"
    assert bench.state("LK-01", Step.ABSORBENT) == "to do"


def test_a_head_opened_after_the_tests_opens_their_line_again_and_the_card_says_so(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.do_everything("LK-01")
    assert turn_round_desk(bench.workplace, "LK-01").against == ()
    bench.clock.advance(hours=48)
    fit_part(bench.workplace, "V-NEW", "LK-01", "inhale one-way valve", why_old="age")
    assert bench.state("LK-01", Step.TESTS) == "to do"
    desk = turn_round_desk(bench.workplace, "LK-01")
    assert desk.card is not None and desk.card.next is not None
    assert desk.card.next.step is Step.TESTS
    assert "No passed test since the loop was opened: one-way valve" in desk.card.next.lacks[0]
    assert desk.against[0] == "One-way valves and loop tested: still to do"
    (row,) = list_turn_rounds(bench.workplace)
    assert row.next == "One-way valves and loop tested"
    bench.clock.advance(minutes=5)
    bench.release()
    desk = turn_round_desk(bench.workplace, "LK-01")
    assert desk.against == () and desk.card is not None and desk.card.next is None


def test_a_cell_fitted_after_the_calibration_opens_its_line_again(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.do_everything("LK-01")
    bench.clock.advance(minutes=5)
    fit_part(bench.workplace, "C-NEW", "LK-01", "cell 1", why_old="age")
    desk = turn_round_desk(bench.workplace, "LK-01")
    assert desk.card is not None
    line = next(line for line in desk.card.lines if line.step is Step.CALIBRATE)
    assert line.state == "to do" and "cell 1: no calibration since" in line.lacks[0]
    assert "Cells calibrated: still to do" in desk.against


def test_a_bath_from_before_the_last_diver_dries_no_loop_of_the_next_card(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.bath("LK-01")
    bench.clock.advance(hours=18)
    mark_dry(bench.workplace, ["LK-01"])
    bench.out_and_back("LK-01")
    with pytest.raises(Refused, match="no disinfection since it came back"):
        mark_dry(bench.workplace, ["LK-01"])
    assert bench.state("LK-01", Step.DRY) == "to do"


def test_a_loop_that_is_found_damp_or_bathed_again_is_to_dry_again(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.bath("LK-01")
    bench.clock.advance(hours=18)
    mark_dry(bench.workplace, ["LK-01"])
    mark_dry(bench.workplace, ["LK-01"], dry=False)
    assert bench.state("LK-01", Step.DRY) == "to do"
    bench.clock.advance(hours=18)
    mark_dry(bench.workplace, ["LK-01"])
    bench.bath("LK-01", rinsed=False)
    assert [bench.state("LK-01", step) for step in (Step.RINSE_AGAIN, Step.DRY)] == ["to do", "to do"]


def test_a_bath_from_before_a_flood_counts_no_longer_once_it_is_found(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.bath("LK-01")
    bench.clock.advance(hours=18)
    flood_found(bench.workplace, "LK-01")
    with pytest.raises(Refused, match="no disinfection since"):
        mark_dry(bench.workplace, ["LK-01"])
    for step in (Step.RINSE_AGAIN, Step.DRY):
        with pytest.raises(Refused, match="no disinfection since"):
            bench.tick(step)


def test_calibrations_after_a_flood_count_no_longer_once_the_unit_was_out_again(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01", flooded=True)
    bench.calibrate("LK-01")
    assert bench.state("LK-01", Step.CALIBRATE) == "done"
    bench.out_and_back("LK-01")
    bench.clock.advance(days=1)
    bench.calibrate("LK-01")
    assert bench.state("LK-01", Step.CALIBRATE) == "done"
    assert bench.state("LK-01", Step.CALIBRATE_AGAIN) == "to do"


def test_a_figure_taken_though_it_is_unusual_says_so_in_its_remark(bench: TurnRoundBench) -> None:
    record_batteries(bench.workplace, "LK-01", {"handset 1 battery": 41.0})
    record_test(bench.workplace, "LK-01", "intermediate pressure", value=30.0, note="gauge 2")
    record_test(bench.workplace, "LK-01", "intermediate pressure", value=9.5)
    notes = [test.note for test in bench.rows(BenchTest)][-3:]
    assert notes == ["typed twice: 41 V", "gauge 2; typed twice: 30 bar", None]
    with pytest.raises(Refused, match="value: 95 is outside 0 to 50 bar; enter the gauge pressure in bar"):
        record_test(bench.workplace, "LK-01", "intermediate pressure", value=95.0)
