"""What a cell's own calibrations say of its days to come, and what the cells of one head share."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.cells.drift import EwmaChart, Forecast, ewma_chart, forecast
from fleetbench.calc.cells.judge import CellLimits
from fleetbench.calc.cells.spread import NEAR_AGE_DAYS

LINEARITY, IN_AIR = "linearity", "mV in air"
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
        return Outlook(linear, air, None, None, linear.sentence, sudden_change(seen))
    day, name = min(days)
    words = f"{name}: {(linear if name == LINEARITY else air).sentence}"
    return Outlook(linear, air, day, name, words, sudden_change(seen))


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
    return f"It has moved {moved:+.1f} % from its own first calibrations, more than its scatter explains."


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
        words = [f"same lot as {', '.join(same)}"] if same else []
        words += [f"made within {NEAR_AGE_DAYS} days of {', '.join(near)}"] if near else []
        if words:
            found[one.part_id] = "; ".join(words)
    return found
