"""Readiness after a turn-round: each fact broken alone, from the records; nothing missing passes."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.readiness.judge import Check, HandoverKind
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.tickets.tables import Disinfection
from fleetbench.records.turn_rounds.tables import ApprovedFirmware, TurnRound
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.readiness.ready import assess_unit
from fleetbench.workshop.turn_rounds.baths import disinfect, mark_dry
from fleetbench.workshop.turn_rounds.card import finish_cards, flood_found
from fleetbench.workshop.turn_rounds.handsets import (
    approve_firmware,
    handset_desk,
    load_firmware,
    previous_data_told,
)
from tests.centres.bench_centre import _type, fit, part
from tests.centres.turn_round_bench import TurnRoundBench
from tests.conftest import Clock

HANDSETS = "firmware and settings"


@pytest.fixture
def bench(sqlite_database: Any, clock: Clock) -> TurnRoundBench:
    """Units fit to leave, LK-01 turned round."""
    made = TurnRoundBench(Workplace(sqlite_database, clock), clock)
    made.centre.make_fit("LK-01")
    return made


def check(bench: TurnRoundBench, name: str, ahead: int = 0) -> Check:
    day = bench.centre.today + timedelta(days=ahead)
    answer = assess_unit(bench.workplace, "LK-01", day, day, HandoverKind.KIT)
    return next(each for each in answer.checks if each.check == name)


def said(bench: TurnRoundBench, name: str, ahead: int = 0) -> str:
    found = check(bench, name, ahead)
    return f"{found.result}: {found.evidence}"


def with_handset(bench: TurnRoundBench, firmware: str | None) -> None:
    """Give the unit type a handset slot and the unit a handset in it."""
    with bench.workplace.transaction("write", "test") as act:
        kind = _type(act, "HSET-L", "handset")
        act.add(Slot(unit_type_id=bench.centre.keys.centre.unit_type, name="handset 1", kind="handset", ordinal=9))
        row = part(act, kind.code, "HS-1", bench.centre.keys.centre.owner, firmware=firmware)
        fit(act, row, "handset 1", unit_id=bench.centre.units["LK-01"], at=bench.clock() - timedelta(days=90))


def test_the_loop_must_be_disinfected_since_the_last_diver(bench: TurnRoundBench) -> None:
    assert check(bench, "disinfected and dry").result == "ok"
    bench.out_and_back("LK-01")
    assert "not disinfected since the last diver's return" in said(bench, "disinfected and dry")
    bench.clock.advance(minutes=20)
    bench.bath("LK-01")
    assert said(bench, "disinfected and dry").startswith("stop: the loop is damp")
    assert said(bench, "disinfected and dry", ahead=2).startswith("advise: not marked dry")
    bench.clock.advance(hours=14)
    assert said(bench, "disinfected and dry").startswith("advise: not marked dry")
    mark_dry(bench.workplace, ["LK-01"])
    assert check(bench, "disinfected and dry").result == "ok"
    bench.clock.advance(hours=24 * 31)
    assert said(bench, "disinfected and dry").startswith("advise: disinfected")


def test_a_bath_not_rinsed_off_is_no_disinfection(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01")
    bench.clock.advance(minutes=20)
    bench.bath("LK-01", rinsed=False)
    assert "not disinfected since" in said(bench, "disinfected and dry")


def test_a_later_bath_that_was_not_rinsed_off_counts_before_an_earlier_one_that_was(bench: TurnRoundBench) -> None:
    def bath(rinsed: bool) -> None:
        mixed = bench.clock() - timedelta(hours=1)
        disinfect(bench.workplace, ["LK-01"], bench.agent, mixed_at=mixed, contact_minutes=10.0, rinsed=rinsed)

    assert check(bench, "disinfected and dry").result == "ok"
    bath(rinsed=False)
    assert said(bench, "disinfected and dry").endswith("the agent of the bath on 2026-05-04 was not rinsed off")
    bench.clock.advance(hours=30)
    assert check(bench, "disinfected and dry").result == "stop", "time rinses nothing off"
    bath(rinsed=True)
    bench.clock.advance(hours=14)
    mark_dry(bench.workplace, ["LK-01"])
    assert check(bench, "disinfected and dry").result == "ok"


def test_a_disinfection_travels_with_its_loop_set_and_a_dirty_set_brings_its_diver(bench: TurnRoundBench) -> None:
    bench.out_and_back("LK-01", "LK-02")
    bench.clock.advance(minutes=20)
    bench.bath("LK-02")
    bench.clock.advance(hours=14)
    mark_dry(bench.workplace, ["LK-02"])
    bench.clock.advance(minutes=1)
    with bench.workplace.transaction("write", "test") as act:
        for fitting in act.session.scalars(select(Fitting).where(Fitting.removed_at.is_(None))):
            if act.get(Part, fitting.part_id, "part").serial in ("LOOP-L-LK-01", "LOOP-L-LK-02"):
                act.change(fitting, removed_at=act.at, why_removed="moved")
        clean = act.session.scalars(select(Part).where(Part.serial == "LOOP-L-LK-02")).one()
        dirty = act.session.scalars(select(Part).where(Part.serial == "LOOP-L-LK-01")).one()
        fit(act, clean, "loop set", unit_id=bench.centre.units["LK-01"], at=act.at)
        fit(act, dirty, "loop set", unit_id=bench.centre.units["LK-02"], at=act.at)
    assert check(bench, "disinfected and dry").result == "ok"
    day = bench.centre.today
    other = assess_unit(bench.workplace, "LK-02", day, day, HandoverKind.KIT)
    found = next(each for each in other.checks if each.check == "disinfected and dry")
    assert found.result == "stop"


def test_a_flood_stops_the_unit_until_its_card_is_finished(bench: TurnRoundBench) -> None:
    assert said(bench, "flood") == "ok: no flood on record"
    flood_found(bench.workplace, "LK-01")
    bench.clock.advance(minutes=5)
    assert said(bench, "flood").startswith("stop: flooded")
    bench.do_everything("LK-01")
    bench.clock.advance(hours=24)
    bench.calibrate("LK-01")
    assert said(bench, "flood").startswith("stop: flooded"), "not before it is signed"
    finish_cards(bench.workplace, [bench.card()], signer_id=bench.technician, pin="1357")
    assert said(bench, "flood").startswith("ok: fully tested")


def test_firmware_must_stand_on_the_types_list_and_a_change_asks_for_new_calibrations(bench: TurnRoundBench) -> None:
    with_handset(bench, None)
    assert "firmware not known" in said(bench, HANDSETS)
    load_firmware(bench.workplace, "LK-01", {"handset 1": "3.1"})
    assert "firmware 3.1 is not on the type's list" in said(bench, HANDSETS)
    assert check(bench, "workshop calibration").result == "stop", "calibrated before the firmware changed"
    approve_firmware(bench.boss, "TYPE-L", "3.1", "invented manual")
    assert check(bench, HANDSETS).result == "ok"
    assert [row.version for row in bench.rows(ApprovedFirmware)] == ["3.1"]
    assert handset_desk(bench.workplace, "LK-01").handsets[0].on_list


def test_settings_and_the_last_divers_data_are_asked_for_after_each_diver(bench: TurnRoundBench) -> None:
    with_handset(bench, "3.1")
    approve_firmware(bench.boss, "TYPE-L", "3.1", "invented manual")
    bench.out_and_back("LK-01")
    bench.clock.advance(minutes=5)
    words = said(bench, HANDSETS)
    assert words.startswith("advise: not known whether settings were reset; previous diver's data not looked at")
    bench.tick(Step.SETTINGS)
    bench.tick(Step.PREVIOUS_DATA, "stated")
    assert said(bench, HANDSETS) == "advise: previous diver's data present", "stated is told, not gone"
    bench.clock.advance(minutes=5)
    bench.out("LK-01")
    receive(bench.workplace, "LK-01", wet=True, flooded=False, fault=False)
    assert check(bench, HANDSETS).result == "advise", "the next diver's return asks for it again"
    bench.clock.advance(minutes=5)
    bench.tick(Step.SETTINGS)
    bench.tick(Step.PREVIOUS_DATA, "cleared")
    assert check(bench, HANDSETS).result == "ok"


def test_alarms_are_tested_since_a_handset_or_its_firmware_changed(bench: TurnRoundBench) -> None:
    with_handset(bench, "3.1")
    name = "alarms, displays and set-point"
    assert said(bench, name).startswith("stop: alarms: no test on record")
    bench.clock.advance(minutes=5)
    bench.works("alarms")
    assert check(bench, name).result == "ok"
    bench.clock.advance(minutes=5)
    load_firmware(bench.workplace, "LK-01", {"handset 1": "3.2"})
    assert check(bench, name).result == "stop"


def test_a_unit_long_unused_is_advised_until_it_is_turned_round(bench: TurnRoundBench) -> None:
    assert check(bench, "idle").result == "ok"
    bench.clock.advance(hours=24 * 61)
    assert said(bench, "idle").startswith("advise: last turned round")
    bench.out("LK-01")
    assert check(bench, "idle").result == "ok", "out now"


def test_a_unit_without_any_record_of_a_turn_round_never_passes(bench: TurnRoundBench) -> None:
    day = bench.centre.today
    answer = assess_unit(bench.workplace, "LK-02", day, day, HandoverKind.KIT)
    found = {each.check: each.result for each in answer.checks}
    assert (found["disinfected and dry"], found["periodic service"]) == ("stop", "stop")
    assert found["idle"] == "advise"
    assert not [row for row in bench.rows(Disinfection) if row.unit_id == bench.centre.units["LK-02"]]
    assert not [row for row in bench.rows(TurnRound) if row.unit_id == bench.centre.units["LK-02"]]


def test_a_part_fitted_anew_opens_the_loop_and_asks_for_nothing_of_the_bath(bench: TurnRoundBench) -> None:
    fit_part(bench.workplace, "V-NEW", "LK-01", "inhale one-way valve", why_old="age")
    assert check(bench, "disinfected and dry").result == "ok"


def test_data_left_in_the_handsets_is_told_to_the_next_diver(bench: TurnRoundBench) -> None:
    with_handset(bench, "3.1")
    assert previous_data_told(bench.workplace, "LK-01") == ()
    bench.out_and_back("LK-01")
    bench.clock.advance(minutes=5)
    bench.tick(Step.PREVIOUS_DATA, "stated")
    assert "still hold the last diver's" in previous_data_told(bench.workplace, "LK-01")[0]
