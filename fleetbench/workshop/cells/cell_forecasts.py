"""The day that a fitted cell's own calibrations foretell, kept on its fitting by every act that can move it.

It hangs on the calibrations in force and the limits alone, never on today, so that it can be kept and compared.

refresh_forecasts(act, cells)       after a calibration, a fitting or an import, in the same act
reckon_forecasts(connection, cells) what the records say of every fitted cell
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from zoneinfo import ZoneInfo

from fleetbench.calc.cells.judge import DEFAULT_LIMITS
from fleetbench.records.cells.reads import TrendRecord, read_trends
from fleetbench.records.core.act import Act
from fleetbench.records.parts.reads import FittingRecord, PartRecord, read_fitted
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.table_facts import Connection
from fleetbench.workshop.cells.cell_limits import limits_of_cells
from fleetbench.workshop.cells.outlook import Seen, outlook_of

Foretold = tuple[date | None, str | None]
"""Last good day that is foretold, and of which measure; nothing where there is no forecast or no crossing."""


def seen_at_the_bench(points: Iterable[TrendRecord], zone: ZoneInfo) -> tuple[Seen, ...]:
    """The workshop's calibrations of one cell, oldest first; a diver's room would add what is no drift."""
    return tuple(
        Seen(each.at.astimezone(zone).date(), each.linearity, each.air_mv) for each in points if each.made == "workshop"
    )


def reckon_forecasts(
    connection: Connection, cells: Iterable[int] | None = None
) -> tuple[tuple[FittingRecord, PartRecord, Foretold], ...]:
    """Each fitted cell that was ever calibrated, or those of the given ones, with what is foretold; four statements."""
    zone, limits = ZoneInfo(centre_timezone(connection) or "UTC"), limits_of_cells(connection)
    points: dict[int, list[TrendRecord]] = defaultdict(list)
    for point in read_trends(connection, cells):
        points[point.part_id].append(point)
    found = []
    for fitting, part in read_fitted(connection):
        if part.part_id in points:
            seen = seen_at_the_bench(points[part.part_id], zone)
            ahead = outlook_of(seen, limits.get(part.part_type_id, DEFAULT_LIMITS))
            found.append((fitting, part, (ahead.day, ahead.measure)))
    return tuple(found)


def refresh_forecasts(act: Act, cells: Iterable[int] | None = None) -> int:
    """How many fittings of these cells, or of all, got another day foretold, noted in the act."""
    changed = 0
    for fitting, _, (day, measure) in reckon_forecasts(act.session.connection(), cells):
        row = act.get(Fitting, fitting.fitting_id, "fitting")
        if (row.forecast_day, row.forecast_of) != (day, measure):
            act.change(row, forecast_day=day, forecast_of=measure)
            changed += 1
    return changed
