"""What is not known of a fleet is a list in the order of the shelf, and each answer settles what it can."""

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Fitting, Part, PartTypeLife
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.import_export.bring import bring
from fleetbench.workshop.import_export.spreadsheet import guessed, open_spreadsheet
from fleetbench.workshop.import_export.walk_round import MOST_USEFUL, WAITS, walk_round
from fleetbench.workshop.parts.lives import rebuild_lives, refresh_lives
from fleetbench.workshop.places.accept import answer
from fleetbench.workshop.units.list import Fit, Where, list_units

FILE = """Unit,Type,S/N,Place,Cell 1,Cell 1 lot,Cell 1 made,Cell 2,Cell 2 made,O2 tank,O2 tank hydro
R10,A,110,Shelf 2,c11,L1,2026-01,c12,?,T1,?
R2,A,?,Shelf 2,c21,?,?,?,2026-02,T2,2024-05
R3,A,103,Shelf 1,c31,L1,2026-01,c32,2026,T3,2025
"""


@pytest.fixture
def fleet(workplace: Workplace, tmp_path: Path) -> Workplace:
    """Three units of which some is known; a cell lasts 12 months from made, invented."""
    path = tmp_path / "fleet.csv"
    path.write_text(FILE, encoding="utf-8")
    (table,) = open_spreadsheet(path).tables
    bring(workplace, table, guessed(table), {}, name=path.name)
    with workplace.transaction("import", "a life") as act:
        kind = act.session.scalars(select(Part.part_type_id).where(Part.serial == "c11")).one()
        act.add(PartTypeLife(part_type_id=kind, basis="made", amount=12, unit="months", source="invented manual"))
        act.add(PartTypeLife(part_type_id=kind, basis="fitted", amount=10, unit="months", source="invented manual"))
        refresh_lives(act, act.session.scalars(select(Part.id)))
    return workplace


def test_the_list_stands_in_the_order_of_the_shelf_and_counts_what_is_known(fleet: Workplace) -> None:
    found = walk_round(fleet)
    units = list(dict.fromkeys(line.unit for line in found.lines))
    assert units == ["R3", "R2", "R10"]  # shelf 1 before shelf 2, R2 before R10
    asked = {line.key for line in found.lines}
    assert {("R10", "cell 2", "made_on"), ("R2", "", "serial"), ("R10", "oxygen cylinder", "hydrostatic")} <= asked
    assert ("R3", "cell 1", "made_on") not in asked
    assert len(found.most_useful) == MOST_USEFUL
    assert {line.field for line in found.most_useful[:9]} == {"made_on", "hydrostatic", "fitted_on"}
    assert found.known + len(found.lines) == found.total


def test_a_unit_that_is_out_with_a_diver_is_not_looked_for_on_a_shelf(sample_workplace: Workplace) -> None:
    out = {unit.tag for unit in list_units(sample_workplace) if unit.where is Where.OUT}
    assert out and not out & {line.unit for line in walk_round(sample_workplace).lines if line.field == "place"}


def test_an_answer_turns_not_known_into_a_day_at_once(fleet: Workplace) -> None:
    """12 months from 1 January 2026 end on 31 December 2026: the last valid day is the day before the anniversary."""
    before = walk_round(fleet)
    (said,) = answer(fleet, {("R10", "cell 2", "made_on"): "2026-01"})
    assert said == "R10, cell 2: last valid day 2026-12-31"
    after = walk_round(fleet)
    assert (after.known, after.total) == (before.known + 1, before.total)
    assert rebuild_lives(fleet) == []
    assert verify(fleet.database).first_break is None


def test_a_fitting_day_that_is_not_known_leaves_the_life_unknown_until_it_is_answered(fleet: Workplace) -> None:
    """A part that was found in its slot may have sat there for any time: its life from fitting is not known."""
    due = {(item.unit, item.slot): item for item in list_due(fleet) if item.basis == "fitted"}
    assert due[("R3", "cell 1")].last_good_day is None
    answer(fleet, {("R3", "cell 1", "fitted_on"): "2026-02"})
    with fleet.database.reading() as connection:
        query = (
            select(Fitting.last_good_day, Fitting.since_unknown)
            .join(Part, Part.id == Fitting.part_id)
            .where(Part.serial == "c31")
        )
        assert connection.execute(query).one() == (date(2026, 11, 30), None)
    assert rebuild_lives(fleet) == []


def test_an_answer_that_cannot_be_read_is_refused_and_nothing_is_written(fleet: Workplace) -> None:
    before = walk_round(fleet)
    with pytest.raises(Refused, match=r"R2: cell 1 made: 'spring' is no date"):
        answer(fleet, {("R2", "cell 1", "made_on"): "spring"})
    assert walk_round(fleet) == before


def test_an_empty_slot_is_filled_with_the_serial_that_is_read(fleet: Workplace) -> None:
    answer(fleet, {("R2", "cell 2", "part_serial"): "c22", ("R2", "", "serial"): "102"})
    with fleet.database.reading() as connection:
        assert connection.scalar(select(Part.lot).where(Part.serial == "c22")) is None
    assert next(unit for unit in list_units(fleet) if unit.tag == "R2").serial == "102"


def test_no_unit_is_ready_while_its_facts_are_not_known(fleet: Workplace) -> None:
    assert {unit.fit for unit in list_units(fleet)} == {Fit.HOLD}


def test_a_cylinders_two_figures_are_recorded_together(fleet: Workplace) -> None:
    size, pressure = ("R3", "oxygen cylinder", "size_l"), ("R3", "oxygen cylinder", "working_bar")
    assert answer(fleet, {size: "3"}) == (f"R3, oxygen cylinder: {WAITS}",)
    answer(fleet, {size: "3", pressure: "200"})
    assert not {size, pressure} & {line.key for line in walk_round(fleet).lines}
