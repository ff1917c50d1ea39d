"""Every table, loaded, so that migrations and checks see the whole schema."""

from fleetbench.records.bench import equipment
from fleetbench.records.bench import tables as valves
from fleetbench.records.canisters import tables as canisters
from fleetbench.records.cells import tables as cells
from fleetbench.records.core import journal
from fleetbench.records.core.schema import Base
from fleetbench.records.gas import oxygen_side
from fleetbench.records.gas import tables as gas
from fleetbench.records.hires import tables as hires
from fleetbench.records.notices import tables as notices
from fleetbench.records.parts import part_events
from fleetbench.records.parts import tables as parts
from fleetbench.records.people import pins, retention
from fleetbench.records.people import tables as people
from fleetbench.records.places import tables as places
from fleetbench.records.tickets import photographs, service_plan
from fleetbench.records.tickets import tables as tickets
from fleetbench.records.turn_rounds import handsets
from fleetbench.records.turn_rounds import tables as turn_rounds
from fleetbench.records.units import tables as units

SUBJECTS = (
    people, pins, places, units, parts, part_events, cells, canisters, valves, gas, oxygen_side, equipment, notices,
    tickets, photographs, hires, retention, service_plan, turn_rounds, handsets, journal,
)  # fmt: skip
"""The modules that hold tables."""

metadata = Base.metadata
