"""How a cell's normalised sensitivity drifts with the calendar, whether it jumped, and until when it may be trusted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import NormalDist

import numpy as np

from fleetbench.calc.cells.atmosphere import Array
from fleetbench.calc.core.languages import say

LEAST_CALIBRATIONS = 4
LEAST_DAYS = 30
"""Under these no forecast is made: common practice, no published source."""

LATER_CALIBRATIONS = 5
"""Fewest of the last calibrations that make a trend of their own beside the whole: fewer take noise for a bend (found
by simulation; common practice, no published source)."""

HORIZON_DAYS = 1095
"""How far ahead a crossing is looked for; no cell serves as long: common practice, no published source."""

STRAIGHT = say("if its drift goes on in a straight line")
"""What every forecast assumes; a cell near its end may fall faster."""

_D2 = 1.128
_NORMAL_95 = NormalDist().inv_cdf(0.975)
_BASELINE = 5


@dataclass(frozen=True, slots=True)
class TheilSen:
    """Median slope per day with its 95 % interval, the level at the middle day, and the scatter about the line."""

    slope: float
    slope_low: float
    slope_high: float
    middle_day: float
    level: float
    scatter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """Outlook of one cell: last_good_day is the last date on which the lower bound still meets the limit.

    A straight line is taken to go on, which the sentence says; trend, days and band are those of the line that crosses
    first, of all calibrations or of the later ones.

    None for no forecast, with the reason in the sentence, or for no crossing within the horizon (then crosses is False
    and known True). expected_day is where the middle line crosses, latest_day where the upper bound does, None beyond
    the horizon. band holds (date, low, middle, high) for the plot.
    """

    known: bool
    crosses: bool
    last_good_day: date | None
    expected_day: date | None
    latest_day: date | None
    trend: TheilSen | None
    band: tuple[tuple[date, float, float, float], ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class EwmaPoint:
    """One point of the chart: its exponentially weighted mean, and whether it lies outside the control limits."""

    value: float
    mean: float
    out: bool


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """EWMA control chart: centre, control limits and points; ``sudden`` is the first point outside, None if none is."""

    centre: float
    low: float
    high: float
    points: tuple[EwmaPoint, ...]

    @property
    def sudden(self) -> int | None:
        """Index of the first value that took the mean outside the limits."""
        return next((place for place, point in enumerate(self.points) if point.out), None)


def theil_sen(days: Sequence[float], values: Sequence[float]) -> TheilSen:
    """Theil-Sen line through values over days, with the 95 % interval of its slope by Sen's ranks.

    Sources: Theil 1950; Sen, J. Am. Stat. Assoc. 63 (1968) 1379. Scatter is 1.4826 times the median absolute residual.
    Where the correction for ties leaves no variance, the interval is that of every pair. Raises ValueError for fewer
    than three points, unequal lengths or one day only.
    """
    t, v = np.asarray(days, dtype=float), np.asarray(values, dtype=float)
    if t.shape != v.shape or t.size < 3:
        raise ValueError(say("values: a trend needs at least three values, one a day given"))
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(v))):
        raise ValueError(say("values: a day or value is not a number; leave that calibration out"))
    if float(np.ptp(t)) == 0.0:
        raise ValueError(say("days: all values are of one day; a trend needs several"))
    later, earlier = np.nonzero(t[:, None] > t[None, :])
    slopes = np.sort((v[later] - v[earlier]) / (t[later] - t[earlier]))
    slope = float(np.median(slopes))
    low, high = _interval(slopes, t, v)
    middle = float(np.median(t))
    residuals = v - slope * (t - middle)
    level = float(np.median(residuals))
    scatter = 1.4826 * float(np.median(np.abs(residuals - level)))
    return TheilSen(slope, slope_low=low, slope_high=high, middle_day=middle, level=level, scatter=scatter)


def _interval(slopes: Array, t: Array, v: Array) -> tuple[float, float]:
    """Ends of the 95 % interval among the slopes in order: Sen 1968, equation 2.6, with the correction for ties.

    With nearly all values tied, ranks leave no interval to state: then the least and the greatest slope of any pair.
    """
    tied = sum(_ordered_pairs(int(count)) for each in (t, v) for count in np.unique(each, return_counts=True)[1])
    variance = (_ordered_pairs(t.size) - tied) / 18.0
    if variance < 0.0:
        return float(slopes[0]), float(slopes[-1])
    half = _NORMAL_95 * math.sqrt(variance)
    low, high = round((slopes.size - half) / 2.0) - 1, round((slopes.size + half) / 2.0)
    return float(slopes[max(low, 0)]), float(slopes[min(high, slopes.size - 1)])


def _ordered_pairs(count: int) -> int:
    """What values of one rank take from 18 times the variance of Kendall's score, and all values together give it."""
    return count * (count - 1) * (2 * count + 5)


def ewma_chart(
    values: Sequence[float], *, centre: float | None = None, sigma: float | None = None, weight: float = 0.3
) -> EwmaChart:
    """EWMA control chart of values in order of time, limits centre ± 3 sigma * sqrt(weight / (2 - weight)).

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4. Without centre and sigma the first values (five at
    most) give the centre and the mean moving range over 1.128 gives sigma (6.3.2.2). Raises ValueError for fewer than
    two values or a weight outside 0 to 1.
    """
    v = np.asarray(values, dtype=float)
    if v.size < 2 or not np.all(np.isfinite(v)):
        raise ValueError(say("values: a control chart needs two or more values, all of them numbers"))
    if not 0.0 < weight <= 1.0:
        raise ValueError(say("weight: enter a number over 0 and up to 1"))
    base = v[:_BASELINE]
    middle = float(np.mean(base)) if centre is None else centre
    spread = float(np.mean(np.abs(np.diff(base)))) / _D2 if sigma is None else sigma
    half = 3.0 * spread * float(np.sqrt(weight / (2.0 - weight)))
    mean, points = middle, []
    for value in v:
        mean = weight * float(value) + (1.0 - weight) * mean
        points.append(EwmaPoint(float(value), mean, abs(mean - middle) > half))
    return EwmaChart(middle, middle - half, middle + half, tuple(points))


def too_little(on: Sequence[date]) -> str | None:
    """Why calibrations on these dates, in order, are too few or too close for a forecast; None where they suffice."""
    if len(on) < LEAST_CALIBRATIONS:
        return say(
            "No forecast: {count} calibrations, and {least_calibrations} are needed.",
            count=len(on),
            least_calibrations=LEAST_CALIBRATIONS,
        )
    span = (on[-1] - on[0]).days
    return (
        say(
            "No forecast: calibrations span {span} days, and {least_days} are needed.", span=span, least_days=LEAST_DAYS
        )
        if span < LEAST_DAYS
        else None
    )


def forecast(on: Sequence[date], values: Sequence[float], limit: float) -> Forecast:
    """Last date on which the lower bound of a cell's trend still meets its limit, or why there is no forecast.

    on are the calibrations' dates in order, values the normalised sensitivity or reading in any unit, limit in the
    same. The bounds run from the Theil-Sen line at the middle day with the ends of the slope's 95 % interval, less or
    plus twice the scatter. A cell near its end bends downward, so the later half and the last calibrations make lines
    of their own, and the line whose lower bound crosses first counts: it can only shorten. A rising lower bound never
    makes a life longer: it only finds no crossing. Raises ValueError for dates out of order or a limit that is not a
    number.
    """
    if len(on) != len(values):
        raise ValueError(say("values: give one value for each date"))
    if any(later < earlier for earlier, later in pairwise(on)):
        raise ValueError(say("on: dates must be in order; sort the calibrations"))
    if not np.isfinite(limit):
        raise ValueError(say("limit: it is not a number; enter the part type's limit"))
    if (lacking := too_little(on)) is not None:
        return _none(lacking)
    span = (on[-1] - on[0]).days
    days = [(day - on[0]).days for day in on]
    found = {count: theil_sen(days[-count:], values[-count:]) for count in _spells(days)}

    def lowest(count: int) -> float:
        day = _last_day(found[count], found[count].slope_low, -2.0 * found[count].scatter, limit, span)
        return np.inf if day is None else day

    counted = min(found, key=lowest)
    trend = found[counted]
    low = None if lowest(counted) == np.inf else int(lowest(counted))
    # What was measured last counts more than any line through it: under the limit now, there is nothing to forecast.
    low = span if values[-1] < limit else low
    middle = _last_day(trend, trend.slope, 0.0, limit, span)
    high = _last_day(trend, trend.slope_high, 2.0 * trend.scatter, limit, span)

    def dated(days: int | None) -> date | None:
        return None if days is None else on[0] + timedelta(days=days)

    if low is None:
        words = say(
            "No crossing of {limit:g} within {horizon_days} years of the last calibration, {straight}.",
            limit=limit,
            horizon_days=HORIZON_DAYS // 365,
            straight=STRAIGHT,
        )
    else:
        monthly = 100.0 * trend.slope * 30.44 / trend.level
        crossed = (
            say("is under {limit:g} already at the last calibration", limit=limit)
            if low == span
            else say("meets {limit:g} until", limit=limit)
        )
        until = "" if low == span else f" {dated(low)}, {STRAIGHT}"
        words = say(
            "Lower bound {crossed}{until}; the trend is {monthly:+.1f} % a month",
            crossed=crossed,
            until=until,
            monthly=monthly,
        )
        words += (
            "."
            if counted == len(on)
            else say(" over the last {counted} calibrations, which fall faster than all.", counted=counted)
        )
    return Forecast(
        known=True,
        crosses=low is not None,
        last_good_day=dated(low),
        expected_day=dated(middle),
        latest_day=dated(high),
        trend=trend,
        band=_band(trend, on[0], span, span + 180),
        sentence=words,
    )


def _spells(days: Sequence[int]) -> list[int]:
    """How many calibrations each line takes, counted from the last: all, the later half, the fewest that make one.

    Those too close together make none: their noise would be a slope.
    """
    whole = len(days)
    later = {max(LATER_CALIBRATIONS, whole // 2), LATER_CALIBRATIONS}
    return [whole, *sorted(count for count in later if count < whole and days[-1] - days[-count] >= LEAST_DAYS)]


def _none(sentence: str) -> Forecast:
    return Forecast(
        known=False,
        crosses=False,
        last_good_day=None,
        expected_day=None,
        latest_day=None,
        trend=None,
        band=(),
        sentence=sentence,
    )


def _last_day(trend: TheilSen, slope: float, shift: float, limit: float, last_day: int) -> int | None:
    """Last day, counted from the first calibration, on which a bound meets the limit; not before the last calibration.

    None where it meets it throughout the horizon. A bound already under the limit gives the last calibration's day.
    """
    here = trend.level + shift + slope * (last_day - trend.middle_day)
    if here < limit:
        return last_day
    if slope >= 0.0:
        return None
    ahead = int(np.floor((here - limit) / -slope + 1e-9))
    return last_day + ahead if ahead <= HORIZON_DAYS else None


def _band(trend: TheilSen, first: date, begin: int, end: int) -> tuple[tuple[date, float, float, float], ...]:
    days = np.unique(np.linspace(begin, end, 25).astype(int))
    rows = []
    for day in days:
        step = float(day) - trend.middle_day
        middle = trend.level + trend.slope * step
        low = trend.level - 2.0 * trend.scatter + trend.slope_low * step
        high = trend.level + 2.0 * trend.scatter + trend.slope_high * step
        rows.append((first + timedelta(days=int(day)), low, middle, high))
    return tuple(rows)
