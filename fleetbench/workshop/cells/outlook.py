"""What a cell's own calibrations say of its days to come, and what the cells of one head share.

The day that a fitted cell's own calibrations foretell, kept on its fitting by every act that can move it.

It hangs on the calibrations in force and the limits alone, never on today, so that it can be kept and compared.

refresh_forecasts(act, cells)       after a calibration, a fitting or an import, in the same act
calculate_forecasts(connection, cells) what the records say of every fitted cell

What each handset showed of each cell, and the room in which it was read, for the pages that print it.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fleetbench.calc.cells.drift import EwmaChart, Forecast, ewma_chart, forecast
from fleetbench.calc.cells.judge import DEFAULT_LIMITS, CellLimits
from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.cells.spread import NEAR_AGE_DAYS
from fleetbench.calc.core.languages import say, strung
from fleetbench.records.cells.reads import ConditionsRecord, ShownRecord, TrendRecord, read_trends
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.reads import FittingRecord, PartRecord, read_fitted
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.cells.judging import limits_of_cells

LINEARITY, IN_AIR = say("linearity"), say("mV in air")
"""What is foretold to cross its lower limit."""

LEAST_OF_CHART = 6
SCATTER_PERCENT = 0.4
"""Least scatter of linearity that the chart of sudden change allows for, so that three alike do not make the fourth an
alarm: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One workshop calibration of a cell: the site's date, linearity in percent, normalised mV in air."""

    on: date
    linearity: float
    air_mv: float | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """Forecasts of linearity and of output in air against their lower limits, and a sudden change in words.

    day is the earlier of both forecasts' last good days, measure which of them it is; None where there is no forecast
    or no crossing.
    """

    linearity: Forecast
    air: Forecast
    day: date | None
    measure: str | None
    words: str
    sudden: str | None


@dataclass(frozen=True, slots=True)
class HeadCell:
    """A cell among those of its head: lot and the first day of the month or day it was made, None where unknown."""

    part_id: int
    position: str
    lot: str | None
    made: date | None


def outlook_of(seen: Sequence[Seen], limits: CellLimits) -> Outlook:
    """What the workshop's calibrations of a cell, oldest first, say of when it will be under a limit.

    Diver's calibrations are left out by the caller: what a diver's room adds is no drift.
    """
    linear = forecast([each.on for each in seen], [each.linearity for each in seen], limits.linearity_low)
    in_air = [(each.on, each.air_mv) for each in seen if each.air_mv is not None]
    air = forecast([on for on, _ in in_air], [mv for _, mv in in_air], limits.air_low_mv)
    days = [(each.last_good_day, name) for each, name in ((linear, LINEARITY), (air, IN_AIR))
            if each.last_good_day is not None]  # fmt: skip
    if not days:
        return Outlook(linear, air=air, day=None, measure=None, words=linear.sentence, sudden=sudden_change(seen))
    day, name = min(days)
    words = strung(": ", (name, (linear if name == LINEARITY else air).sentence))
    return Outlook(linear, air=air, day=day, measure=name, words=words, sudden=sudden_change(seen))


def sudden_change(seen: Sequence[Seen]) -> str | None:
    """Whether the last calibration stands outside what the cell's own history allows, in words."""
    if len(seen) < LEAST_OF_CHART:
        return None
    values = [each.linearity for each in seen]
    plain = ewma_chart(values)
    sigma = max((plain.high - plain.centre) / (3.0 * (0.3 / 1.7) ** 0.5), SCATTER_PERCENT)
    chart: EwmaChart = ewma_chart(values, centre=plain.centre, sigma=sigma)
    if not chart.points[-1].out:
        return None
    moved = chart.points[-1].mean - chart.centre
    return say(
        "It has moved {moved:+.1f} % from its own first calibrations, more than its scatter explains.", moved=moved
    )


def shared_in_head(cells: Iterable[HeadCell]) -> dict[int, str]:
    """By cell, which others of its head are of its lot or near its age; cells that share nothing are left out.

    Cells of one lot or age can fail of one cause at one time: common practice, no published source. An unknown lot
    or date shares nothing that could be named; the age limits hold it already.
    """
    mates = tuple(cells)
    found: dict[int, str] = {}
    for one in mates:
        others = [each for each in mates if each.part_id != one.part_id]
        same = [each.position for each in others if one.lot is not None and each.lot == one.lot]
        near = [
            each.position
            for each in others
            if each.position not in same
            and one.made is not None
            and each.made is not None
            and abs((one.made - each.made).days) <= NEAR_AGE_DAYS
        ]
        words = [say("same lot as {same}", same=strung(", ", same))] if same else []
        words += [say("made within {days} days of {near}", days=NEAR_AGE_DAYS, near=strung(", ", near))] if near else []
        if words:
            found[one.part_id] = strung("; ", words)
    return found


Foretold = tuple[date | None, str | None]
"""Last good day that is foretold, and of which measure; nothing where there is no forecast or no crossing."""


def seen_at_the_bench(points: Iterable[TrendRecord], zone: ZoneInfo) -> tuple[Seen, ...]:
    """The workshop's calibrations of one cell, the last of each day, oldest first.

    A diver's room would add what is no drift, and so would one that was made again on the same day, flushed better.
    """
    of_day = {each.at.astimezone(zone).date(): each for each in points if each.made == MadeBy.WORKSHOP}
    return tuple(Seen(on, each.linearity, each.air_mv) for on, each in of_day.items())


def calculate_forecasts(
    connection: Connection, cells: Iterable[int] | None = None
) -> tuple[tuple[FittingRecord, PartRecord, Foretold], ...]:
    """Each fitted cell that was ever calibrated, or those of the given ones, with what is foretold; four statements."""
    zone, limits = ZoneInfo(centre_timezone(connection) or "UTC"), limits_of_cells(connection)
    points: dict[int, list[TrendRecord]] = defaultdict(list)
    for point in read_trends(connection, None if cells is None else tuple(sorted(set(cells)))):
        points[point.part_id].append(point)
    found = []
    for fitting, part in read_fitted(connection, parts=None if cells is None else tuple(points)):
        if part.part_id in points:
            seen = seen_at_the_bench(points[part.part_id], zone)
            ahead = outlook_of(seen, limits.get(part.part_type_id, DEFAULT_LIMITS))
            found.append((fitting, part, (ahead.day, ahead.measure)))
    return tuple(found)


def refresh_forecasts(act: Transaction, cells: Iterable[int] | None = None) -> int:
    """How many fittings of these cells, or of all, got another day foretold, noted in the act."""
    changed = 0
    for fitting, _, (day, measure) in calculate_forecasts(act.session.connection(), cells):
        row = act.get(Fitting, fitting.fitting_id, "fitting")
        if (row.forecast_day, row.forecast_of) != (day, measure):
            act.change(row, forecast_day=day, forecast_of=measure)
            changed += 1
    return changed


@dataclass(frozen=True, slots=True)
class ReaderShown:
    """What one reader showed of one cell in air and in oxygen: mV, or bar where `in_bar`; None is not taken."""

    reader: str
    ordinal: int
    air: float | None
    oxygen: float | None
    in_bar: bool = False


@dataclass(frozen=True, slots=True)
class CalibrationConditions:
    """Room and gas of one calibration: mbar, degrees C, percent humidity, percent oxygen as the analyser showed it."""

    pressure_mbar: float
    temperature_c: float
    humidity_percent: float | None
    oxygen_percent: float | None


Shown = Mapping[tuple[int, int], tuple[ReaderShown, ...]]
"""Readings by calibration and cell, in the order of the readers."""


def shown_by_cell(records: Iterable[ShownRecord]) -> Shown:
    """Readings of each cell at each calibration; of one point read twice the last stands."""
    points: dict[tuple[int, int], dict[tuple[int, str], dict[str, ShownRecord]]] = defaultdict(dict)
    for each in records:
        of_cell = points[each.calibration_id, each.part_id]
        of_cell.setdefault((each.ordinal, each.reader), {})[each.point] = each
    return {key: tuple(_reader(*who, taken) for who, taken in of_cell.items()) for key, of_cell in points.items()}


def conditions_by_calibration(records: Iterable[ConditionsRecord]) -> dict[int, CalibrationConditions]:
    """Room and gas by calibration."""
    return {
        each.calibration_id: CalibrationConditions(
            each.pressure_mbar,
            each.temperature_c,
            None if each.humidity is None else 100 * each.humidity,
            each.oxygen_shown_percent,
        )
        for each in records
    }


def _reader(ordinal: int, reader: str, taken: Mapping[str, ShownRecord]) -> ReaderShown:
    in_bar = all(each.mv is None for each in taken.values()) and any(
        each.po2_shown_bar is not None for each in taken.values()
    )

    def figure(point: str) -> float | None:
        row = taken.get(point)
        return None if row is None else row.po2_shown_bar if in_bar else row.mv

    return ReaderShown(reader, ordinal=ordinal, air=figure("air"), oxygen=figure("oxygen"), in_bar=in_bar)
