"""The small invented centre with a gas side, first stage to relief valve, and what to measure with."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sqlalchemy import select

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import transaction
from fleetbench.records.parts.tables import PartType
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Slot, Unit, UnitType
from tests.centres.bench_centre import MANUAL, Keys, fit, part, write_centre
from tests.centres.kept_centres import kept

TOOLS = (
    ("gauge", "IG-1", 0.02, "bar", 0.01), ("manometer", "LM-1", 0.1, "mbar", 0.1),
    ("thermometer", "TH-1", 0.1, "C", 0.1),
    ("flow meter", "FM-1", 0.01, "L/min", 0.01), ("flow meter", "FV-1", 1.0, "mL", 1.0),
)  # fmt: skip
GAS_SIDE = (
    ("oxygen first stage", "oxygen first stage", True), ("injector", "injector", True), ("solenoid", "solenoid", True),
    ("relief valve", "relief valve", False), ("addition valve", "addition valve", False),
)  # fmt: skip
LIMITS = (
    ("opening pressure low", 20, "mbar"), ("opening pressure high", 30, "mbar"), ("injector flow", 0.8, "L/min"),
    ("injector pressure", 9.0, "bar"), ("injector tolerance", 10, "%"), ("solenoid pulse low", 40, "mL"),
    ("solenoid pulse high", 60, "mL"),
)  # fmt: skip


@dataclass(slots=True)
class ValveKeys:
    """Keys of the centre, and of the equipment by kind and by serial."""

    centre: Keys
    tools: dict[str, int] = field(default_factory=dict)
    by_serial: dict[str, int] = field(default_factory=dict)


@kept
def write_valve_centre(database: Database, now: datetime, *, limits: bool = True, blocked: bool = True) -> ValveKeys:
    """Write the centre with a gas side on both units, all parts fitted for ninety days."""
    keys = ValveKeys(write_centre(database, now))
    with transaction(database, lambda: now, None, "begin", "gas side") as act:
        act.change(act.get(UnitType, keys.centre.unit_type, "type"), first_stage_blocked=blocked)
        for kind, serial, u, unit, digit in TOOLS:
            row = TestEquipment(kind=kind, name=f"Bench {kind}", serial=serial, uncertainty=u, unit=unit, digit=digit,
                                last_good_day=now.date() + timedelta(days=90))  # fmt: skip
            keys.by_serial[serial] = act.add(row).id
            keys.tools.setdefault(kind, keys.by_serial[serial])
        for number, (name, kind, oxygen) in enumerate(GAS_SIDE):
            code = f"X{number}-L"
            act.add(PartType(code=code, name=kind, kind=kind, assembly=False, source=MANUAL))
            act.add(Slot(unit_type_id=keys.centre.unit_type, name=name, kind=kind, critical=True, ordinal=20 + number,
                         oxygen_side=oxygen))  # fmt: skip
            for each in act.session.scalars(select(Unit).order_by(Unit.tag)):
                new = part(act, code, f"{code}-{each.tag}", keys.centre.owner)
                fit(act, new, name, unit_id=each.id, at=now - timedelta(days=90))
        for name, amount, in_unit in LIMITS if limits else ():
            act.add(Limit(unit_type_id=keys.centre.unit_type, name=name, amount=amount, unit=in_unit, source=MANUAL,
                          maker=True))  # fmt: skip
    return keys
