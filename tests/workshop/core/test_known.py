"""What is known once says after every act, at every moment and to every desk what a full calculation says."""

import random
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import update

from fleetbench.calc.readiness.judge import HandoverKind
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import State, state_of, written_between
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.workshop.bench.valves import list_valves
from fleetbench.workshop.cells.list import list_cells
from fleetbench.workshop.core import known
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.gas.list import list_cylinders
from fleetbench.workshop.hires.availability import read_availability
from fleetbench.workshop.hires.promises import judged_promises
from fleetbench.workshop.parts import stock
from fleetbench.workshop.parts.fit import remove_part
from fleetbench.workshop.units.fleet import Seat, whole_fleet
from fleetbench.workshop.units.holds import place_hold
from fleetbench.workshop.units.list import list_units
from fleetbench.workshop.units.today import today_page
from tests.benchmarks.reads import sent
from tests.centres.gas_centre import GasCentre
from tests.centres.ready_centre import Centre, assess_all
from tests.conftest import Clock
from tests.machine.histories import a_history, one_step
from tests.machine.scene import Scene

Read = Callable[[Workplace], Any]


def ready(kind: HandoverKind) -> Read:
    """Every unit's answer for the coming days."""
    return lambda workplace: assess_all(workplace, workplace.today(), workplace.today() + timedelta(days=4), kind)


READS: dict[str, Read] = {
    "units": list_units, "today": today_page, "due": list_due, "cells": list_cells, "valves": list_valves,
    "cylinders": list_cylinders, "stock": stock.list_stock,
    "availability": read_availability, "promises": judged_promises,
    "as assembled": ready(HandoverKind.ASSEMBLED),
    "as kit": ready(HandoverKind.KIT), "not for diving": ready(HandoverKind.NOT_FOR_DIVING),
}  # fmt: skip


def calculated(workplace: Workplace, read: Read) -> Any:
    """The answer of a desk that knows nothing yet."""
    other = Database(workplace.database.url)
    try:
        return read(Workplace(other, workplace.clock, workplace.person_id))
    finally:
        other.close()


def agrees(workplace: Workplace, names: tuple[str, ...] = tuple(READS)) -> None:
    for name in names:
        assert READS[name](workplace) == calculated(workplace, READS[name]), name


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[frozenset[str] | None]:
    """What was found to be written at each look after a change; None for anything."""
    found: list[frozenset[str] | None] = []

    def note(*given: Any) -> frozenset[str] | None:
        found.append(written_between(*given))
        return found[-1]

    monkeypatch.setattr(known, "written_between", note)
    return found


def test_after_every_act_of_a_random_history_what_is_known_is_what_is_calculated(
    database: Database, told: list[frozenset[str] | None]
) -> None:
    scene = Scene(database, Clock())
    for at, (name, chance) in enumerate(a_history(1, 14)):
        one_step(scene, name, random.Random(chance))
        more = tuple(READS.keys() - {"today", "stock"}) if at % 5 == 4 else ("valves", "cylinders")
        agrees(scene.workplace, ("units", "as assembled", "as kit", *more))
    assert any(told) or not database.is_sqlite, "everything was read again after every act: nothing was held"


def test_within_a_day_the_clock_alone_changes_what_it_ought_to_and_nothing_else(sample_workplace: Workplace) -> None:
    """What was first asked early on the day is asked again late on it, and on the next day."""
    now = sample_workplace.clock()
    midnight = now.astimezone(sample_workplace.zone()).replace(hour=0, minute=0)
    for moment in (midnight + timedelta(minutes=5), midnight + timedelta(hours=23.9), now + timedelta(days=1)):
        agrees(Workplace(sample_workplace.database, lambda moment=moment: moment, sample_workplace.person_id))


def test_a_loop_that_dries_within_the_day_is_not_held_to_be_damp_or_dry_by_what_was_known(
    workplace: Workplace, clock: Any
) -> None:
    centre = Centre(workplace, clock)
    for hours in (0, 3, 6, 9):
        clock.now += timedelta(hours=hours)
        agrees(centre.workplace, ("units", "as assembled"))


def test_a_hold_of_another_desk_is_seen_at_once(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    tag = centre.tag(centre.one)
    before = {row.tag: row.fit for row in list_units(centre.workplace)}
    other = Database(workplace.database.url)
    place_hold(Workplace(other, clock, centre.keys.centre.manager), tag, "dropped")
    after = {row.tag: row for row in list_units(centre.workplace)}
    assert before[tag] != "hold"
    assert after[tag].fit == "hold"
    assert any("dropped" in each for each in after[tag].reasons)
    other.close()


def test_a_change_without_a_journal_entry_is_doubt_enough(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    with centre.act() as act:
        hold = act.add(Hold(unit_id=centre.one, kind="manual", reason="cracked", placed_at=act.at,
                            placed_by_id=centre.keys.centre.technician))  # fmt: skip
    assert any("cracked" in each for each in list_units(centre.workplace)[0].reasons)
    with workplace.database.engine.begin() as connection:
        connection.execute(update(Hold).where(Hold.id == hold.id).values(reason="rusted"))
    assert any("rusted" in each for each in list_units(centre.workplace)[0].reasons)
    with workplace.database.engine.begin() as connection:
        connection.execute(update(Unit).where(Unit.id == centre.two).values(retired_on=centre.today))
    agrees(centre.workplace, ("units", "as kit", "availability"))


def test_a_change_without_an_entry_is_seen_beside_an_act_too(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    first, second = centre.tag(centre.one), centre.tag(centre.two)
    assert {row.fit for row in list_units(centre.workplace)} != {"hold"}
    hold = centre.add(Hold(unit_id=centre.one, kind="manual", reason="cracked", placed_at=clock(),
                           placed_by_id=centre.keys.centre.technician))  # fmt: skip
    with workplace.database.engine.begin() as connection:
        connection.execute(update(Unit).where(Unit.id == centre.two).values(harness="XXL"))
        connection.execute(update(Hold).where(Hold.id == hold).values(reason="rusted"))
    rows = {row.tag: row for row in list_units(centre.workplace)}
    assert any("rusted" in each for each in rows[first].reasons)
    assert rows[second].harness == "XXL"


def test_an_act_tells_what_it_wrote_and_what_else_was_written_is_doubt(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    database = workplace.database
    other = Database(database.url)

    def state() -> tuple[State | None, Callable[[State | None], frozenset[str] | None]]:
        with database.reading() as connection:
            now = state_of(database, connection)
        return now, lambda before: _between(database, before, now)

    begun, _ = state()
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    held, since = state()
    wrote = {"hold", "journal"}
    doubt = () if database.is_sqlite else (None,)  # a server's own upkeep counts as a change that nobody told of
    assert since(begun) in (wrote, *doubt)
    assert since(held) in (set(), *doubt)
    place_hold(Workplace(other, clock, centre.keys.centre.manager), centre.tag(centre.two), "dropped")
    assert state()[1](held) in (wrote, *doubt), "another desk's act tells too"
    with database.engine.begin() as connection:
        connection.execute(update(Hold).values(reason="rusted"))
    changed, since = state()
    assert since(held) is None
    assert since(begun) is None
    assert since(None) is None
    assert _between(database, changed, None) is None
    other.close()


def test_asking_for_the_state_lets_go_of_no_lock_of_sqlite(sqlite_database: Database) -> None:
    """Closing any handle on a file ends a process's locks on it: POSIX.1-2017, fcntl."""
    tried = (
        "import sqlite3, sys; connection = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None)\n"
        "try: connection.execute('BEGIN IMMEDIATE')\n"
        "except sqlite3.OperationalError as fault: print(fault)"
    )
    with closing(sqlite3.connect(str(sqlite_database.path), isolation_level=None)) as writing:
        writing.execute("BEGIN IMMEDIATE")
        for _ in range(3):
            with sqlite_database.reading() as connection:
                assert state_of(sqlite_database, connection) is not None
        ran = subprocess.run(
            [sys.executable, "-c", tried, str(sqlite_database.path)], capture_output=True, text=True, check=True
        )
        writing.rollback()
    assert ran.stdout.strip() == "database is locked"


def _between(database: Database, before: State | None, now: State | None) -> frozenset[str] | None:
    with database.reading() as connection:
        return written_between(database, connection, before, now)


def test_an_act_lets_only_what_it_wrote_be_read_and_its_unit_be_judged_again(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    before = {row.tag: row for row in list_units(centre.workplace)}
    due = list_due(centre.workplace)
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    with sent(workplace.database) as statements:
        after = {row.tag: row for row in list_units(centre.workplace)}
    read = [" ".join(words.split()) for words, _ in statements if "FROM" in words]
    assert after[centre.tag(centre.one)].fit == "hold"
    assert after[centre.tag(centre.two)] is before[centre.tag(centre.two)]
    assert [words for words in read if "FROM hold" in words]
    if not workplace.database.is_sqlite:
        return  # a server's own upkeep counts as a change that nobody told of, after which all is read again
    assert not [words for words in read if "bench_test" in words or " unit " in words or "fitting" in words]
    assert list_due(centre.workplace) is due, "a hold moves nothing of what is due"


def test_lives_are_taken_over_while_nothing_of_them_was_written_and_calculated_again_where_it_was(
    workplace: Workplace, clock: Any
) -> None:
    centre = Centre(workplace, clock)
    fill = centre.pack()
    before = whole_fleet(centre.workplace).book
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    held = whole_fleet(centre.workplace).book
    assert held is before, "a hold wears nothing"
    centre.run(centre.one, fill, 0.05, 40.0)
    worn = whole_fleet(centre.workplace).book
    assert worn.use.of_unit(centre.one).minutes == held.use.of_unit(centre.one).minutes + 40.0
    agrees(centre.workplace, ("units", "due", "availability"))
    centre.life("MPV-L", "made", 60, "months")
    shorter = whole_fleet(centre.workplace).book
    assert shorter is not worn
    assert shorter.use is worn.use, "a new limit wears nothing"
    agrees(centre.workplace, ("units", "due", "availability"))


def test_of_cells_only_those_that_an_act_reaches_are_described_again(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)

    def cells() -> dict[str, Any]:
        agrees(centre.workplace, ("cells",))
        return {row.part.label: row for row in list_cells(centre.workplace)}

    before = cells()
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    assert all(row is before[label] for label, row in cells().items()), "a hold on a unit says nothing of its cells"
    centre.calibrate(centre.one, 1, "reject")
    after = cells()
    moved = {label for label, row in after.items() if row is not before[label]}
    assert {label for label, row in after.items() if row.unit == centre.tag(centre.one)} >= moved
    assert after["C-LK-01-2"].verdict == "reject"
    assert "C-LK-01-2" in moved
    clock.now += timedelta(days=1)
    assert not [label for label, row in cells().items() if row is after[label]], "each is a day older"


def test_of_valves_only_those_of_units_that_an_act_reaches_are_described_again(
    workplace: Workplace, clock: Any
) -> None:
    centre = Centre(workplace, clock)

    def valves() -> dict[tuple[str, str], Any]:
        agrees(centre.workplace, ("valves",))
        return {(row.unit, row.slot): row for row in list_valves(centre.workplace)}

    def moved(before: dict[tuple[str, str], Any]) -> set[str]:
        return {unit for (unit, slot), row in valves().items() if row is not before[unit, slot]}

    before = valves()
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    assert moved(before) <= {centre.tag(centre.one)}
    before = valves()
    with centre.act() as act:
        person = act.add(Person(code="T9", role="technician", erased_at=None))
        private = act.add(PersonPrivate(person_id=person.id, name="Rill Oster", contact=None, note=None))
        act.add(BenchTest(unit_id=centre.two, kind="one-way valve", direction="inhale", at=act.at, held=False,
                          result="reject", person_id=person.id))  # fmt: skip
    assert moved(before) == {centre.tag(centre.two)}
    before = valves()
    with centre.act() as act:
        act.change(act.get(PersonPrivate, private.id, "person"), name="Rill Oster-Vane")
    assert moved(before) == {centre.tag(centre.two)}, "the name of who tested it stands in it"
    before = valves()
    clock.now += timedelta(days=1)
    assert moved(before) == {centre.tag(centre.one), centre.tag(centre.two)}, "each is a day older"


def test_of_cylinders_only_those_that_an_act_reaches_are_measured_again(workplace: Workplace, clock: Any) -> None:
    centre = GasCentre(workplace, clock)
    centre.make_ready()

    def cylinders() -> dict[int, Any]:
        agrees(centre.workplace, ("cylinders",))
        return {row.part.part_id: row.depths for row in list_cylinders(centre.workplace)}

    before = cylinders()
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    centre.hold(part_id=centre.cylinders["diluent"])
    assert all(depths is before[part] for part, depths in cylinders().items()), "a hold says nothing of a gas"
    clock.advance(minutes=20)
    centre.fill("bailout")
    centre.analyse("bailout", oxygen_percent=20.7)
    after = cylinders()
    assert {part for part in after if after[part] is not before[part]} == {centre.cylinders["bailout"]}
    for name, amount in (("depth po2 bailout", 1.3), ("oxygen uptake", 2.0)):
        centre.add(Limit(name=name, amount=amount, unit="bar", source="the centre's own"))
        cylinders()
    clock.now += timedelta(days=1)
    cylinders()


def test_a_unit_is_seated_again_where_something_was_taken_out_of_it_and_no_other(
    workplace: Workplace, clock: Any
) -> None:
    centre = Centre(workplace, clock)

    def seats(of: Workplace) -> dict[int, tuple[Seat, ...]]:
        fleet = whole_fleet(of)
        return {unit: fleet.seats(unit) for unit in (centre.one, centre.two)}

    before = seats(centre.workplace)
    remove_part(centre.workplace, centre.tag(centre.two), "head", why="service")
    after = seats(centre.workplace)
    assert after == calculated(centre.workplace, seats)
    assert after[centre.one] is before[centre.one]
    assert len(after[centre.two]) < len(before[centre.two]), "what sat in the head went with it"
    agrees(centre.workplace, ("units", "cells", "cylinders"))


def test_the_same_state_is_told_alike_and_another_one_otherwise(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)

    def state() -> Any:
        with workplace.database.reading() as connection:
            return state_of(workplace.database, connection)

    first = state()
    assert first is not None
    assert state() == first
    centre.test(centre.one, "loop positive", None, 1)
    assert state() != first


def test_what_was_read_is_not_read_again_while_nothing_is_written(sample_workplace: Workplace) -> None:
    rows, due = list_units(sample_workplace), list_due(sample_workplace)
    assert list_due(sample_workplace) is due
    assert all(one is other for one, other in zip(rows, list_units(sample_workplace), strict=True))
