"""A centre from nothing: the first unit from a start point, more like it, and what becomes of a unit."""

from datetime import date

import pytest

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import PART_KINDS
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.lives import rebuild_lives
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.register import register_rows
from fleetbench.workshop.places.setting_up import (
    FirstUnit,
    bring_back,
    copy_unit,
    first_unit,
    mark_parts,
    move_unit,
    next_tag,
    rename_unit,
    retire_unit,
    send_away,
    start_points,
    tags_from,
)
from fleetbench.workshop.units.list import Fit, Where, list_units, unit_page
from tests.conftest import Clock

SINCE = MarkedDate(date(2024, 3, 1))


@pytest.fixture
def workplace(database: Database, clock: Clock) -> Workplace:
    """A centre that entered its first unit and nothing else."""
    empty = Workplace(database, clock, attended=True)
    first_unit(
        empty,
        FirstUnit(
            start="back_mounted", tag="B-01", serial="1001", in_service_on=SINCE, centre="Invented Lake",
            user="Mo Tarn", timezone="Europe/Berlin", manual="invented manual, edition 2",
        ),
    )  # fmt: skip
    return empty.as_person(list_people(empty)[0].person_id)


def test_the_first_unit_brings_the_centre_its_first_user_and_every_slot_filled(workplace: Workplace) -> None:
    assert (read_centre(workplace).name, read_centre(workplace).timezone) == ("Invented Lake", "Europe/Berlin")
    assert [(each.code, each.role, each.name) for each in list_people(workplace)] == [("M1", "manager", "Mo Tarn")]
    page = unit_page(workplace, "B-01")
    assert {each.slot for each in page.fitted if each.part_id is None} == {"wing", "mouthpiece"}  # need not be filled
    assert [cell.position for cell in page.cells] == ["cell 1", "cell 2", "cell 3"]
    assert page.row.fit is Fit.HOLD  # nothing is known of its cells yet, and what is not known never passes
    assert verify(workplace.database).whole and rebuild_lives(workplace) == []


def test_more_units_are_like_the_first_and_only_what_is_said_to_be_the_same_is_copied(workplace: Workplace) -> None:
    first = unit_page(workplace, "B-01").row.unit_id
    mark_parts(
        workplace, first, "cell", lot="L-7", made=MarkedDate.parse("2026-01"), opened=MarkedDate.parse("2026-02-01")
    )
    said = copy_unit(workplace, first, "B-02", ["1002", "1003"], SINCE, same_delivery=True)
    assert said == "B-02, B-03: entered like B-01."
    copy_unit(workplace, first, "B-04", ["1004"], SINCE, same_delivery=False)
    assert [(row.tag, row.serial) for row in list_units(workplace)] == [
        ("B-01", "1001"), ("B-02", "1002"), ("B-03", "1003"), ("B-04", "1004"),
    ]  # fmt: skip
    assert {(cell.part and cell.part.lot) for cell in unit_page(workplace, "B-03").cells} == {"L-7"}
    assert {(cell.part and cell.part.lot) for cell in unit_page(workplace, "B-04").cells} == {None}
    assert list_due(workplace, within_days=None, on=workplace.today()) is not None
    assert rebuild_lives(workplace) == []


@pytest.mark.parametrize(
    ("tag", "follows"), [("B-01", "B-02"), ("B-09", "B-10"), ("99", "100"), ("KITE", "KITE-2"), ("7a", "8a")]
)
def test_the_next_tag(tag: str, follows: str) -> None:
    assert next_tag(tag) == follows


def test_tags_that_are_taken_are_left_out() -> None:
    assert tags_from("B-02", 2, {"B-01", "B-03"}) == ["B-02", "B-04"]
    with pytest.raises(Refused, match="tag: B-01 is recorded already"):
        tags_from("B-01", 1, {"B-01"})


def test_a_unit_is_renamed_moved_sent_away_brought_back_and_retired(workplace: Workplace) -> None:
    unit = unit_page(workplace, "B-01").row.unit_id
    rename_unit(workplace, unit, "K-01")
    assert unit_page(workplace, "B-01").row.tag == "K-01"  # found by its former tag
    with pytest.raises(Refused, match="nothing was changed"):
        move_unit(workplace, unit, None)
    send_away(workplace, unit, None, "yearly service", date(2026, 6, 1))
    assert list_units(workplace)[0].where is Where.AWAY
    with pytest.raises(Refused, match="is away already"):
        send_away(workplace, unit, None, "again", None)
    bring_back(workplace, unit)
    assert list_units(workplace)[0].where is Where.SHELF
    retire_unit(workplace, unit, date(2026, 5, 4), "sold")
    assert list_units(workplace)[0].where is Where.RETIRED
    assert verify(workplace.database).whole


@pytest.mark.parametrize("start", start_points())
def test_a_start_point_names_kinds_that_the_program_owns_and_states_no_limit(start: object) -> None:
    slots = [*start.slots, *(each for inner in start.assemblies.values() for each in inner)]  # type: ignore[attr-defined]
    assert {kind for _name, kind, *_ in slots} <= set(PART_KINDS)


def test_a_start_point_leaves_lives_limits_and_the_service_plan_to_the_makers_manual(workplace: Workplace) -> None:
    assert [register_rows(workplace, name) for name in ("part_type_lives", "limits", "service_tasks")] == [(), (), ()]


def test_a_day_that_lies_ahead_or_a_tag_that_is_taken_leaves_nothing(workplace: Workplace) -> None:
    before = len(register_rows(workplace, "part_types"))
    ahead = {"in_service_on": MarkedDate(date(2030, 1, 1))}
    for given, fault in (({"tag": "B-01"}, "tag: B-01 is recorded already"), (ahead, "lies ahead")):
        told = {"start": "chest_mounted", "tag": "C-01", "serial": "1", "in_service_on": SINCE, **given}
        with pytest.raises(Refused, match=fault):
            first_unit(workplace, FirstUnit(**told))  # type: ignore[arg-type]
    assert len(register_rows(workplace, "part_types")) == before
