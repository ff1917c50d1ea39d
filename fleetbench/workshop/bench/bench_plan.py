"""What the bench needs to know of a unit before a test."""

from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.bench.leak import LoopLimit
from fleetbench.calc.tickets.signing import RELEASE_TESTS, TestFact, released
from fleetbench.records.bench.bench_limits import type_facts
from fleetbench.records.upkeep.lookups import last_workshop_opening, tests_since, unit_by_tag
from fleetbench.workshop.bench.equipment import EquipmentRow, equipment_in_use, list_equipment
from fleetbench.workshop.bench.offers import TestOffer, loop_limit, offers_of, one_way_slot
from fleetbench.workshop.bench.sessions import current_session, standard_pressure
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """What the bench needs to know of a unit before a test.

    negative, positive: how long the loop must hold. opened_at: its last workshop opening; wanting: release tests that
    have not passed since. ambient_mbar: pressure of the room, measured in the bench session that holds, else from the
    altitude. in_use: keys of the equipment used in this session, the last one first.
    """

    tag: str
    unit_type: str
    manual: str
    loop_volume_l: float | None
    negative: LoopLimit | None
    positive: LoopLimit | None
    inhale_slot: str | None
    exhale_slot: str | None
    opened_at: datetime | None
    wanting: tuple[str, ...]
    ambient_mbar: float
    ambient_source: str
    barometer_id: int | None
    temperature_c: float | None
    offers: tuple[TestOffer, ...]
    equipment: tuple[EquipmentRow, ...]
    in_use: tuple[int, ...]


def bench_plan(shop: Shop, tag: str) -> BenchPlan:
    """What can be tested on a unit, by its tag or former tag; NotFound for another text."""
    bench = current_session(shop) if shop.person_id is not None else None
    equipment, in_use = list_equipment(shop), equipment_in_use(shop)
    with shop.database.looking() as session:
        unit = unit_by_tag(session, tag)
        facts = type_facts(session, unit)
        opened = last_workshop_opening(session, unit.id)
        done = tests_since(session, unit.id, opened) if opened is not None else ()
        ambient, source = (
            (bench.pressure_mbar, bench.pressure_source)
            if bench is not None
            else (standard_pressure(session), "altitude")
        )
        passed = tuple(TestFact(row.kind, row.direction, row.at, row.result in ("pass", "watch")) for row in done)
        return BenchPlan(
            tag=unit.tag,
            unit_type=facts.kind.name,
            manual=facts.kind.manual,
            loop_volume_l=facts.kind.loop_volume_l,
            negative=loop_limit(facts.of_type, "loop negative"),
            positive=loop_limit(facts.of_type, "loop positive"),
            inhale_slot=one_way_slot(facts, "inhale"),
            exhale_slot=one_way_slot(facts, "exhale"),
            opened_at=opened,
            wanting=() if opened is None else tuple(k for k in RELEASE_TESTS if not released(k, opened, passed)),
            ambient_mbar=ambient,
            ambient_source=source,
            barometer_id=bench.barometer.equipment_id if bench is not None and bench.barometer is not None else None,
            temperature_c=bench.temperature_c if bench is not None else None,
            offers=tuple(offers_of(facts)),
            equipment=equipment,
            in_use=in_use,
        )


def unit_offers(shop: Shop, tag: str) -> tuple[TestOffer, ...]:
    """The tests of one unit with their limits; NotFound for an unknown tag."""
    with shop.database.looking() as session:
        return tuple(offers_of(type_facts(session, unit_by_tag(session, tag))))
