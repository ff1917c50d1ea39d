"""The small invented centre with absorbent: a rated canister type, limits, two containers, a renter and a hire."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.canisters.lookups import canister_by_serial
from fleetbench.records.canisters.tables import Container, RatingRow
from fleetbench.records.core.transaction import transaction
from fleetbench.records.hires.tables import Booking, BookingDiver, BookingUnit
from fleetbench.records.parts.tables import PartType
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Limit
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import MANUAL, Keys, write_centre
from tests.centres.kept_centres import kept

CANISTER = "CAN-L-LK-01"
SPARE = "CAN-SPARE"


@dataclass(slots=True)
class AbsorbentKeys:
    """Keys of what was written; the open container holds 6 kg, the sealed one 20 kg, the expired one 5 kg."""

    centre: Keys
    renter: int
    other: int
    line: int
    open_one: int
    sealed: int
    expired: int
    coarse: int
    undated: int
    scale: int


@kept
def write_absorbent(workplace: Workplace, clock: Any) -> AbsorbentKeys:
    """Write the centre and its absorbent as they stand on the clock's morning."""
    now = clock()
    today = now.date()
    keys = write_centre(workplace.database, now)
    with transaction(workplace.database, lambda: now, keys.technician, "begin", "absorbent") as act:
        canister = canister_by_serial(act.session, CANISTER)[1].id
        fine = act.add(PartType(code="LIME-F", name="Absorbent, fine", kind="absorbent", grade="fine",
                                stocked_in="kg", source=MANUAL)).id  # fmt: skip
        coarse = act.add(PartType(code="LIME-C", name="Absorbent, coarse", kind="absorbent", grade="coarse",
                                  stocked_in="kg", source=MANUAL)).id  # fmt: skip
        for water, depth, minutes in ((20, 20, 210), (20, 40, 180), (12, 20, 180), (12, 40, 150), (4, 40, 120)):
            act.add(RatingRow(part_type_id=canister, grade="fine", water_c=water, depth_m=depth, co2_l_min=1.35,
                              minutes=minutes, source=MANUAL))  # fmt: skip
        for name, amount, unit in (("full mass", 2500, "g"), ("minimum mass", 2300, "g"),
                                   ("hours since opened", 336, "h"), ("hours since first use", 24, "h")):  # fmt: skip
            act.add(Limit(part_type_id=canister, name=name, amount=amount, unit=unit, source=MANUAL, maker=True))
        people = []
        for code, name in (("R1", "Ines Quell"), ("R2", "Odo Brandt")):
            person = act.add(Person(code=code, role="renter", erased_at=None))
            act.add(PersonPrivate(person_id=person.id, name=name, contact=None, note=None))
            people.append(person.id)
        booking = act.add(Booking(kind="hire", code="H-7", unit_type_id=keys.unit_type, starts_on=today,
                                  ends_on=today + timedelta(days=2), units_wanted=1, renter_id=people[0],
                                  planned_minutes=60.0, planned_depth_m=18.0, planned_water_c=12.0))  # fmt: skip
        act.add(BookingDiver(booking_id=booking.id, person_id=people[0], ordinal=1,
                             last_dive_on=today - timedelta(days=30)))  # fmt: skip
        line = act.add(BookingUnit(booking_id=booking.id, unit_id=keys.units[0], diver_id=people[0])).id

        def container(kind: int, lot: str, kg: float, last: date | None, opened: Any = None) -> int:
            return act.add(Container(part_type_id=kind, lot=lot, received_kg=20.0, left_kg=kg, last_good_day=last,
                                     received_on=today - timedelta(days=30), opened_at=opened)).id  # fmt: skip

        later = today + timedelta(days=700)
        return AbsorbentKeys(
            keys, people[0], people[1], line,
            open_one=container(fine, "F-1", 6.0, later, now - timedelta(days=2)),
            sealed=container(fine, "F-2", 20.0, later + timedelta(days=90)),
            expired=container(fine, "F-0", 5.0, today - timedelta(days=1), now - timedelta(days=3)),
            coarse=container(coarse, "C-1", 20.0, later),
            undated=container(fine, "F-X", 20.0, None),
            scale=act.add(TestEquipment(kind="scale", name="Packing scale", serial="SC-1", uncertainty=2.0, unit="g",
                                        digit=1.0, last_good_day=today + timedelta(days=200))).id,
        )  # fmt: skip
