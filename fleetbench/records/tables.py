"""Every table, loaded, so that migrations and checks see the whole schema."""

from fleetbench.records import (
    canisters,
    cells,
    equipment,
    gas,
    handsets,
    hires,
    journal,
    notices,
    oxygen_side,
    part_events,
    parts,
    people,
    photographs,
    pins,
    places,
    retention,
    service_plan,
    tickets,
    turn_rounds,
    units,
    valves,
)
from fleetbench.records.schema import Base

SUBJECTS = (
    people, pins, places, units, parts, part_events, cells, canisters, valves, gas, oxygen_side, equipment, notices,
    tickets, photographs, hires, retention, service_plan, turn_rounds, handsets, journal,
)  # fmt: skip
"""The modules that hold tables."""

metadata = Base.metadata
