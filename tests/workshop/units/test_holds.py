"""Holds by hand, and a unit frozen after an incident to which nothing may be done but add notes."""

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.gas.tables import CylinderFill
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.units.tables import Hold, Slot, Unit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.acts import quarantine_part
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.tickets.page import add_minutes
from fleetbench.workshop.tickets.work import add_finding, add_task, open_ticket
from fleetbench.workshop.units.holds import Frozen, freeze_unit, lift_hold, place_hold
from tests.centres.bench_centre import Keys, write_centre
from tests.centres.kept_centres import kept


@pytest.fixture
def workplace(database: Database, clock: Any) -> Workplace:
    """An empty workplace on either database."""
    return Workplace(database, clock)


@pytest.fixture
@kept
def keys(workplace: Workplace, clock: Any) -> Keys:
    """The small centre, written, with three oxygen cylinders, two of them of one batch."""
    keys = write_centre(workplace.database, clock())
    with workplace.transaction("write", "cylinders") as act:
        kind = act.add(PartType(code="OX-L", name="Oxygen cylinder", kind="oxygen cylinder", source="invented"))
        slot = act.add(Slot(unit_type_id=keys.unit_type, name="oxygen cylinder", kind="oxygen cylinder", critical=True,
                            ordinal=9))  # fmt: skip
        for serial, batch in (("OX-1", "B7"), ("OX-2", "B7"), ("OX-3", "B8"), ("OX-4", "B7")):
            part = act.add(Part(part_type_id=kind.id, serial=serial, owner_id=keys.owner, state="stock"))
            act.add(CylinderFill(part_id=part.id, at=act.at, oxygen_asked=100, helium_asked=0, end_bar=200,
                                 batch=batch))  # fmt: skip
            if serial == "OX-1":
                act.add(Fitting(part_id=part.id, slot_id=slot.id, unit_id=keys.units[0], fitted_at=act.at))
            if serial == "OX-4":  # filled again since, from another batch
                act.add(CylinderFill(part_id=part.id, at=act.at, oxygen_asked=100, helium_asked=0, end_bar=200,
                                     batch="B9"))  # fmt: skip
    return keys


@pytest.fixture
def bench(workplace: Workplace, keys: Keys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.technician)


@pytest.fixture
@kept
def frozen(bench: Workplace) -> Frozen:
    """The first unit, frozen."""
    return freeze_unit(bench, "LK-01", "Diver felt unwell at 12 m")


def holds(bench: Workplace) -> list[tuple[str, str, bool]]:
    with bench.database.read_session() as session:
        rows = session.scalars(select(Hold).order_by(Hold.id))
        return [(row.kind, row.reason, row.lifted_at is None) for row in rows]


def test_a_hold_by_hand_is_placed_with_a_reason_and_lifted_with_one(bench: Workplace) -> None:
    key = place_hold(bench, "LK-01", " Strap torn ")
    for refused in (
        lambda: place_hold(bench, "LK-01", " "),
        lambda: lift_hold(bench, key, ""),
    ):
        with pytest.raises(Refused, match=r"^reason: is empty"):
            refused()
    with pytest.raises(NotFound):
        place_hold(bench, "LK-99", "torn")
    assert holds(bench) == [("manual", "Strap torn", True)]
    lift_hold(bench, key, "New strap")
    assert holds(bench) == [("manual", "Strap torn", False)]
    with pytest.raises(Refused, match="is lifted already"):
        lift_hold(bench, key, "again")


@pytest.mark.parametrize(("kind", "said"), [("received", "finish the turn-round"), ("notice", "action as done")])
def test_what_a_hold_asks_for_is_done_and_not_lifted_away(bench: Workplace, keys: Keys, kind: str, said: str) -> None:
    with bench.transaction("write", "hold") as act:
        row = Hold(unit_id=keys.units[0], kind=kind, reason="x", placed_at=act.at, placed_by_id=keys.technician)
        key = act.add(row).id
    with pytest.raises(Refused, match=said):
        lift_hold(bench, key, "in a hurry")


def test_an_incident_freezes_the_unit_and_what_was_filled_from_the_same_batch(bench: Workplace, frozen: Frozen) -> None:
    # What to preserve: common practice, no published source.
    assert (frozen.unit, frozen.cylinders, frozen.same_batch) == ("LK-01", ("OX-1",), ("OX-2",))
    assert any("OX-2" in line for line in frozen.preserve) and any("handset" in line for line in frozen.preserve)
    assert [kind for kind, _reason, _open in holds(bench)] == ["incident", "incident"]
    with pytest.raises(Refused, match="is frozen already"):
        freeze_unit(bench, "LK-01", "again")


TRIES: tuple[Callable[[Workplace, int], object], ...] = (
    lambda bench, _ticket: fit_part(bench, "V-NEW", "LK-01", "inhale one-way valve", why_old="fault"),
    lambda bench, _ticket: fit_part(bench, "C-NEW", "LK-01", "cell 1", why_old="age"),
    lambda bench, _ticket: remove_part(bench, "LK-01", "head", why="fault"),
    lambda bench, _ticket: record_test(bench, "LK-01", "loop negative", held=True, watched_minutes=3),
    lambda bench, ticket: add_task(bench, ticket, "rinse it"),
    lambda bench, ticket: add_minutes(bench, ticket, 5),
)


@pytest.mark.parametrize("work", TRIES)
def test_nothing_is_done_to_a_frozen_unit_until_a_manager_lifts_it(
    bench: Workplace, keys: Keys, work: Callable[[Workplace, int], object]
) -> None:
    ticket = open_ticket(bench, "LK-01", cause="hold", reason="Incident")
    frozen = freeze_unit(bench, "LK-01", "Diver felt unwell")
    with pytest.raises(Refused, match=r"^(unit LK-01|part [\w-]+): is frozen after an incident; only notes"):
        work(bench, ticket)
    with pytest.raises(Refused, match="'lift incident hold' is not for the role technician; ask a manager"):
        lift_hold(bench, frozen.hold_id, "looks fine")
    lift_hold(bench.as_person(keys.manager), frozen.hold_id, "Investigation closed")
    work(bench, ticket)


def test_notes_are_added_to_a_frozen_unit_and_another_unit_is_free(bench: Workplace, frozen: Frozen) -> None:
    ticket = open_ticket(bench, "LK-01", cause="hold", reason="Incident")
    add_finding(bench, ticket, "Handset 2 showed 1.31 bar when it came up")
    record_test(bench, "LK-02", "loop negative", held=True, watched_minutes=3)
    place_hold(bench, "LK-01", "Do not move")
    assert verify(bench.database).first_break is None


def test_a_cylinder_of_the_same_batch_is_frozen_on_its_own(bench: Workplace, frozen: Frozen) -> None:
    with bench.database.reading() as connection:
        part = {row.serial: row.id for row in connection.execute(select(Part.serial, Part.id))}
    with pytest.raises(Refused, match=r"^part OX-2: is frozen"):
        quarantine_part(bench, part["OX-2"], "dented")
    quarantine_part(bench, part["OX-3"], "dented")


def test_a_change_of_the_unit_itself_is_refused_too(bench: Workplace, keys: Keys, frozen: Frozen) -> None:
    with pytest.raises(Refused, match=r"^unit LK-01: is frozen"), bench.transaction("write", "unit") as act:
        act.change(act.get(Unit, keys.units[0], "unit"), harness="large")
