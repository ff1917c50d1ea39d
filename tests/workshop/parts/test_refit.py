"""Parts moved from unit to unit in one act, and fittings taken back: what changes, what is kept, what is refused."""

from datetime import UTC, datetime

import pytest
from sqlalchemy import func, select

from fleetbench.records.bench.tables import Opening
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import Journal
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import Place
from fleetbench.records.units.tables import Hold, Slot, Unit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.acts import scrap_part
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.list import part_page, part_story
from fleetbench.workshop.parts.lives import rebuild_lives, refresh_lives
from fleetbench.workshop.parts.refit import latest_change, move_fitted, undo_fitting
from fleetbench.workshop.parts.stock import list_shelf
from fleetbench.workshop.tickets.work import open_ticket
from fleetbench.workshop.units.list import unit_page
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.time_passes import let_pass
from tests.conftest import Clock


@pytest.fixture
def bench(sqlite_database: Database, clock: Clock) -> Workplace:
    """The small centre with the technician at the bench, an hour after it was written."""
    workplace = Workplace(sqlite_database, clock)
    keys: Keys = write_centre(workplace.database, clock())
    clock.advance(hours=1)
    with workplace.as_person(None).transaction("enter", "lives") as act:
        refresh_lives(act, act.session.scalars(select(Part.id)))
    return workplace.as_person(keys.technician)


def sits(workplace: Workplace, tag: str) -> dict[str, str | None]:
    """Slot to part of a unit, assemblies' slots too."""
    return {part.slot: part.part for part in unit_page(workplace, tag).fitted}


def state(workplace: Workplace, serial: str) -> str:
    with workplace.database.read_session() as session:
        return session.scalars(select(Part.state).where(Part.serial == serial)).one()


def key_of(workplace: Workplace, serial: str) -> int:
    with workplace.database.read_session() as session:
        return session.scalars(select(Part.id).where(Part.serial == serial)).one()


def entries(workplace: Workplace) -> int:
    with workplace.database.read_session() as session:
        return session.scalar(select(func.count()).select_from(Journal)) or 0


def sound(workplace: Workplace) -> bool:
    """Nothing kept differs from what the records say, and the chain holds."""
    return rebuild_lives(workplace) == [] and verify(workplace.database).first_break is None


def test_a_cell_goes_from_one_unit_into_the_other_in_one_act_and_the_old_one_comes_out(bench: Workplace) -> None:
    before, due = entries(bench), len([item for item in list_due(bench) if item.part_id])
    fitted = move_fitted(bench, "LK-01", "cell 2", "LK-02", "cell 3", why_old="low output")
    assert (fitted.part, fitted.slot, fitted.old_part, fitted.opening) == (
        "C-LK-01-2", "cell 3", "C-LK-02-3", "workshop",
    )  # fmt: skip
    assert entries(bench) == before + 1
    assert sits(bench, "LK-01")["cell 2"] is None and sits(bench, "LK-02")["cell 3"] == "C-LK-01-2"
    assert (state(bench, "C-LK-01-2"), state(bench, "C-LK-02-3")) == ("fitted", "quarantine")
    listed = [item.part_id for item in list_due(bench) if item.part_id]
    assert len(listed) == len(set(listed)) == due - 1, "one part left its unit, none is lost or doubled"
    with bench.database.read_session() as session:
        left, came = session.scalars(
            select(Fitting).where(Fitting.part_id == key_of(bench, "C-LK-01-2")).order_by(Fitting.id)
        ).all()
        opened = set(session.scalars(select(Opening.what).where(Opening.kind == "workshop")))
    assert (left.why_removed, left.removed_at) == ("moved", came.fitted_at)
    assert {"cell 2 moved to LK-02", "cell 3 replaced"} <= opened, "both units must be tested again"
    assert sound(bench)


def test_a_head_moves_with_its_cells_and_their_last_good_days(bench: Workplace) -> None:
    days = {item.part: item.last_good_day for item in list_due(bench) if (item.part or "").startswith("C-LK-01")}
    remove_part(bench, "LK-02", "head", why="service")
    move_fitted(bench, "LK-01", "head", "LK-02")
    assert [sits(bench, "LK-02")[f"cell {n}"] for n in (1, 2, 3)] == ["C-LK-01-1", "C-LK-01-2", "C-LK-01-3"]
    assert "cell 1" not in sits(bench, "LK-01")
    now = {i.part: (i.unit, i.last_good_day) for i in list_due(bench) if (i.part or "").startswith("C-LK-01")}
    assert now == {part: ("LK-02", day) for part, day in days.items()}


def test_a_life_from_fitting_goes_on_from_the_first_one_when_a_part_is_moved(bench: Workplace) -> None:
    before = next(item.last_good_day for item in list_due(bench) if item.part == "inh-LK-01")
    moved = move_fitted(bench, "LK-01", "inhale one-way valve", "LK-02", why_old="service")
    assert moved.last_good_day == before, "moving makes no part younger"
    assert sound(bench)


@pytest.mark.parametrize(("slot", "to", "to_slot", "why", "said"), [
    ("cell 1", "LK-01", "cell 1", None, "choose another slot"),
    ("cell 1", "LK-02", "cell 1", None, "say why C-LK-02-1 is removed"),
    ("cell 1", "LK-02", "inhale one-way valve", "age", "is a cell, the slot inhale one-way valve takes a one-way"),
])  # fmt: skip
def test_a_move_that_cannot_be_is_refused_and_changes_nothing(
    bench: Workplace, slot: str, to: str, to_slot: str, why: str | None, said: str
) -> None:
    before = entries(bench), sits(bench, "LK-01"), sits(bench, "LK-02")
    with pytest.raises(Refused, match=said):
        move_fitted(bench, "LK-01", slot, to, to_slot, why_old=why)
    assert (entries(bench), sits(bench, "LK-01"), sits(bench, "LK-02")) == before


def test_an_empty_slot_a_held_part_and_one_past_its_life_do_not_move(bench: Workplace, clock: Clock) -> None:
    remove_part(bench, "LK-01", "cell 1", why="age")
    with pytest.raises(Refused, match="nothing sits there"):
        move_fitted(bench, "LK-01", "cell 1", "LK-02")
    with bench.transaction("place hold", "part") as act:
        act.add(Hold(part_id=key_of(bench, "C-LK-01-2"), kind="manual", reason="drift seen", placed_at=act.at,
                     placed_by_id=bench.person_id or 0))  # fmt: skip
    with pytest.raises(Refused, match="C-LK-01-2: on hold: drift seen"):
        move_fitted(bench, "LK-01", "cell 2", "LK-02", why_old="age")
    let_pass(bench, clock, 400)
    with pytest.raises(Refused, match="C-LK-01-3: past its last valid day"):
        move_fitted(bench, "LK-01", "cell 3", "LK-02", why_old="age")


def test_a_ticket_of_either_unit_takes_its_side_of_the_move_and_of_a_third_is_refused(bench: Workplace) -> None:
    ticket = open_ticket(bench, "LK-01", cause="due item", reason="cell to the other unit")
    move_fitted(bench, "LK-01", "cell 1", "LK-02", why_old="age", ticket_id=ticket)
    with bench.database.read_session() as session:
        left, came = session.scalars(
            select(Fitting).where(Fitting.part_id == key_of(bench, "C-LK-01-1")).order_by(Fitting.id)
        ).all()
    assert (left.removal_ticket_id, came.ticket_id) == (ticket, None)


def test_a_part_fitted_by_mistake_goes_back_to_stock_and_the_old_one_sits_there_again(
    bench: Workplace, clock: Clock
) -> None:
    day = next(item.last_good_day for item in list_due(bench) if item.part == "C-LK-01-2")
    fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="low output")
    clock.advance(minutes=4)
    before = entries(bench)
    done = undo_fitting(bench, "LK-01", "cell 2", "scanned the wrong slot")
    assert (done.out, done.back_in, done.out_to) == ("C-NEW", "C-LK-01-2", None)
    assert entries(bench) == before + 1
    assert (state(bench, "C-NEW"), state(bench, "C-LK-01-2")) == ("stock", "fitted")
    assert next(item.last_good_day for item in list_due(bench) if item.part == "C-LK-01-2") == day
    words = [line.words for line in part_story(bench, key_of(bench, "C-NEW")).lines]
    assert "taken back: cell 2 of LK-01: scanned the wrong slot" in words
    assert sound(bench)


def test_a_part_taken_out_by_mistake_is_put_back_even_past_its_life(bench: Workplace, clock: Clock) -> None:
    remove_part(bench, "LK-01", "cell 2", why="age")
    let_pass(bench, clock, 400)
    assert undo_fitting(bench, "LK-01", "cell 2", "it never came out").back_in == "C-LK-01-2"
    item = next(item for item in list_due(bench) if item.part == "C-LK-01-2")
    assert item.days_left is not None and item.days_left < 0, "the correction says what is so; the checks stop it"


def test_a_move_taken_back_restores_both_units(bench: Workplace, clock: Clock) -> None:
    before = sits(bench, "LK-01"), sits(bench, "LK-02")
    move_fitted(bench, "LK-01", "cell 2", "LK-02", "cell 3", why_old="low output")
    clock.advance(minutes=1)
    done = undo_fitting(bench, "LK-02", "cell 3", "wrong unit")
    assert (done.out, done.back_in, done.out_to) == ("C-LK-01-2", "C-LK-02-3", "LK-01")
    assert (sits(bench, "LK-01"), sits(bench, "LK-02")) == before
    assert sound(bench)


def test_a_correction_is_not_taken_back_and_used_parts_stay_where_they_are(bench: Workplace, clock: Clock) -> None:
    fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="fault")
    clock.advance(minutes=1)
    scrap_part(bench.as_person(bench.person_id), key_of(bench, "C-LK-01-2"), "dead")
    with pytest.raises(Refused, match="C-LK-01-2: is scrapped and was handled since"):
        undo_fitting(bench, "LK-01", "cell 2", "slip")
    assert state(bench, "C-NEW") == "fitted"
    remove_part(bench, "LK-02", "cell 1", why="age")
    clock.advance(minutes=1)
    undo_fitting(bench, "LK-02", "cell 1", "slip")
    clock.advance(minutes=1)
    with pytest.raises(Refused, match="by a correction"):
        undo_fitting(bench, "LK-02", "cell 1", "slip again")


def test_an_instructor_may_put_a_cell_right_but_nothing_else(bench: Workplace, clock: Clock) -> None:
    with bench.as_person(None).transaction("enter", "person") as act:
        someone = act.add(Person(code="I1", role="instructor", erased_at=None)).id
    instructor = bench.as_person(someone)
    move_fitted(instructor, "LK-01", "cell 2", "LK-02", "cell 3", why_old="low output")
    clock.advance(minutes=1)
    undo_fitting(instructor, "LK-02", "cell 3", "slip")
    with pytest.raises(Refused, match="not for the role instructor"):
        move_fitted(instructor, "LK-01", "loop set", "LK-02", why_old="service")


def test_a_fitting_that_was_calibrated_since_is_not_taken_back(bench: Workplace, clock: Clock) -> None:
    fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="fault")
    clock.advance(hours=1)
    with bench.as_person(None).transaction("enter", "calibration") as act:
        unit = act.session.scalars(select(Unit).where(Unit.tag == "LK-01")).one()
        slot = act.session.scalars(select(Slot).where(Slot.name == "cell 2")).one()
        made = act.add(
            Calibration(unit_id=unit.id, at=datetime(2026, 5, 4, 9, 30, tzinfo=UTC), made="workshop",
                        pressure_mbar=1013.25, pressure_source="measured", temperature_c=20.0, head="dry",
                        vented="yes", settled="yes")
        )  # fmt: skip
        act.add(CalibrationOutcome(calibration_id=made.id, part_id=key_of(bench, "C-NEW"), slot_id=slot.id,
                                   verdict="pass", finding="sound", next_step="none"))  # fmt: skip
    with pytest.raises(Refused, match="C-NEW: was calibrated there since"):
        undo_fitting(bench, "LK-01", "cell 2", "slip")


def test_an_undone_fitting_leaves_a_sealed_cell_sealed_and_where_it_lay(bench: Workplace, clock: Clock) -> None:
    with bench.as_person(None).transaction("enter", "place") as act:
        shelf = act.add(Place(name="Shelf A", kind="shelf")).id
        act.change(act.session.scalars(select(Part).where(Part.serial == "C-NEW")).one(), place_id=shelf)
    clock.advance(minutes=1)
    fit_part(bench, "C-NEW", "LK-01", "cell 2", why_old="age")
    assert latest_change(bench, "LK-01") == "cell 2"
    clock.advance(minutes=1)
    undo_fitting(bench, "LK-01", "cell 2", "wrong cell")
    with bench.database.read_session() as session:
        cell = session.scalars(select(Part).where(Part.serial == "C-NEW")).one()
        assert (cell.state, cell.opened_on, cell.place_id) == ("stock", None, shelf)
        key = cell.id
    said = {
        "its page": part_page(bench, key).condition.state,
        "Cells": next(row for row in list_cells(bench) if row.part.part_id == key).condition.state,
        "Shelf": next(row for row in list_shelf(bench) if row.part.part_id == key).condition,
    }
    assert set(said.values()) == {"usable"}, "a fitting that was taken back never was"
    assert "not known" not in part_story(bench, key).why
    assert verify(bench.database).first_break is None
    clock.advance(minutes=1)
    remove_part(bench, "LK-01", "canister", why="service")
    assert latest_change(bench, "LK-01") == "canister"
