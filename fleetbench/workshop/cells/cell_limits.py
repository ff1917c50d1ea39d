"""Limits of a cell's readings, as its part type states them."""

from collections import defaultdict
from collections.abc import Sequence

from fleetbench.calc.cells.judge import DEFAULT_LIMITS, CellLimits
from fleetbench.records.places.reads import LimitRecord, read_limits
from fleetbench.records.places.tables import Limit
from fleetbench.records.upkeep.table_facts import Connection

LIMIT_NAMES = (
    "cell air low", "cell air high", "cell oxygen floor", "linearity low", "linearity high", "temperature residual",
)  # fmt: skip


def cell_limits(rows: Sequence[Limit] | Sequence[LimitRecord]) -> CellLimits:
    """Limits of one cell part type from its limit rows; what is not stated keeps the common-practice default."""
    named = {row.name: row for row in rows}

    def amount(name: str, default: float, factor: float = 1.0) -> float:
        return named[name].amount * factor if name in named else default

    known = [named[name] for name in LIMIT_NAMES if name in named]
    sources = dict.fromkeys(row.source for row in known)
    if len(known) < len(LIMIT_NAMES) - 1:
        sources[DEFAULT_LIMITS.source] = None
    return CellLimits(
        air_low_mv=amount("cell air low", DEFAULT_LIMITS.air_low_mv),
        air_high_mv=amount("cell air high", DEFAULT_LIMITS.air_high_mv),
        oxygen_floor_mv=amount("cell oxygen floor", DEFAULT_LIMITS.oxygen_floor_mv),
        linearity_low=amount("linearity low", DEFAULT_LIMITS.linearity_low),
        linearity_high=amount("linearity high", DEFAULT_LIMITS.linearity_high),
        makers_floor="cell oxygen floor" in named and named["cell oxygen floor"].maker,
        compensation_u_per_k=amount("temperature residual", DEFAULT_LIMITS.compensation_u_per_k, 0.01),
        source="; ".join(sources),
    )


def limits_of_cells(connection: Connection) -> dict[int, CellLimits]:
    """Limits of readings by part type; what states none has the common-practice defaults. One statement."""
    found: dict[int, list[LimitRecord]] = defaultdict(list)
    for limit in read_limits(connection):
        if limit.part_type_id is not None:
            found[limit.part_type_id].append(limit)
    return {key: cell_limits(rows) for key, rows in found.items()}
