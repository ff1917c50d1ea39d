"""What calibrations tell of one cell: the straight line through their points, and the drift with the calendar.

How far points above 1 bar fall from the line (current limiting), whether sensitivity jumped, and until when a cell
may be trusted.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from fleetbench.calc.cells.uncertainty import COVERAGE, Array, Standing, standing
from fleetbench.calc.core.languages import say

LINE_TOP_BAR = 1.05
"""Oxygen partial pressure up to which points make the line; points above are held against it."""


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A fitted line y = intercept + slope * (x - origin) with standard uncertainties and their covariance.

    residual_sd is the standard deviation of the residuals (unweighted fit), chi_squared their weighted sum of squares.
    """

    origin: float
    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    residual_sd: float
    chi_squared: float
    degrees: int

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line at x and its standard uncertainty (JCGM 100:2008, H.3.4)."""
        step = x - self.origin
        variance = self.u_intercept**2 + (step * self.u_slope) ** 2 + 2.0 * step * self.covariance
        return self.intercept + self.slope * step, float(np.sqrt(max(variance, 0.0)))


def fit_line(x: ArrayLike, y: ArrayLike, u_y: ArrayLike | None = None, *, origin: float = 0.0) -> FittedLine:
    """Least-squares line through points, with uncertainties from u_y or, without it, from the scatter.

    Given u_y (a standard uncertainty a point) the fit is weighted (ISO/TS 28037:2010, 6.2); without it all weights are
    equal and the uncertainties follow from the residuals, which needs three points (JCGM 100:2008, H.3.2). Raises
    ValueError for fewer than two different x, unequal lengths or values that are not numbers.
    """
    xs, ys = np.asarray(x, dtype=float) - origin, np.asarray(y, dtype=float)
    if xs.shape != ys.shape or xs.ndim != 1:
        raise ValueError(say("points: give as many y as x"))
    if not (np.all(np.isfinite(xs)) and np.all(np.isfinite(ys))):
        raise ValueError(say("points: a value is not a number; leave that point out"))
    if xs.size < 2 or float(np.ptp(xs)) == 0.0:
        raise ValueError(say("points: a line needs two points at different places"))
    if u_y is None and xs.size < 3:
        raise ValueError(say("points: scatter cannot be seen in two points; give their uncertainty"))
    weight = np.ones_like(xs) if u_y is None else 1.0 / np.asarray(u_y, dtype=float) ** 2 * np.ones_like(xs)
    if not np.all(np.isfinite(weight)):
        raise ValueError(say("u_y: an uncertainty is zero or not a number; give every point one"))
    total = float(np.sum(weight))
    centre = float(np.sum(weight * xs)) / total
    mean = float(np.sum(weight * ys)) / total
    spread = float(np.sum(weight * (xs - centre) ** 2))
    slope = float(np.sum(weight * (xs - centre) * (ys - mean))) / spread
    residuals = ys - mean - slope * (xs - centre)
    chi_squared = float(np.sum(weight * residuals**2))
    degrees = int(xs.size) - 2
    variance = chi_squared / degrees if u_y is None else 1.0
    return FittedLine(
        origin=origin,
        intercept=mean - slope * centre,
        slope=slope,
        u_intercept=float(np.sqrt(variance * (1.0 / total + centre**2 / spread))),
        u_slope=float(np.sqrt(variance / spread)),
        covariance=-variance * centre / spread,
        residual_sd=float(np.sqrt(np.sum(residuals**2) / degrees)) if degrees else 0.0,
        chi_squared=chi_squared,
        degrees=degrees,
    )


@dataclass(frozen=True, slots=True)
class PotPoint:
    """A point above 1 bar held against the line: percent of the line's value, expanded uncertainty, standing."""

    po2_bar: float
    mv: float
    percent_of_line: float
    expanded_u: float
    standing: Standing


@dataclass(frozen=True, slots=True)
class PotFinding:
    """What pot points say: the line, each point above it, the worst standing, and up to where the cell holds the line.

    largest_departure is in percent of the line, negative where the cell falls short; verified_up_to_bar is None where
    no point above 1 bar stands inside the limits.
    """

    line: FittedLine
    points: tuple[PotPoint, ...]
    standing: Standing
    largest_departure: float | None
    verified_up_to_bar: float | None


_WORST_LAST = (Standing.INSIDE, Standing.ACROSS, Standing.ABOVE, Standing.UNKNOWN, Standing.BELOW)


def hold_against_line(
    po2_bar: Sequence[float],
    mv: Sequence[float],
    u_mv: Sequence[float],
    u_po2_bar: Sequence[float],
    *,
    low: float,
    high: float,
    ordinary: int = 0,
) -> PotFinding:
    """Departure of every point above ``LINE_TOP_BAR`` from the straight line through those under it.

    ordinary: how many of the first points make the line wherever they lie, as air and oxygen at the bench do: a high
    barometer and a head not quite vented put the oxygen point above ``LINE_TOP_BAR``.

    Points in bar and mV with their standard uncertainties; low and high are limits in percent of the line, as for
    linearity. A cell that reads air and oxygen rightly and falls short above 1 bar is current-limited: common practice,
    no published source. Raises ValueError where fewer than two points make the line.
    """
    x, y = np.asarray(po2_bar, dtype=float), np.asarray(mv, dtype=float)
    slope_guess = float(np.max(y) / np.max(x))
    u: Array = np.hypot(np.asarray(u_mv, dtype=float), slope_guess * np.asarray(u_po2_bar, dtype=float))
    under = (x <= LINE_TOP_BAR) | (np.arange(x.size) < ordinary)
    line = fit_line(x[under], y[under], u[under])
    points = tuple(
        _against(line, (float(x[i]), float(y[i]), float(u[i])), low, high) for i in np.argsort(x) if not under[i]
    )
    held = [point.po2_bar for point in points]
    for place, point in enumerate(points):
        if point.standing is not Standing.INSIDE:
            held = held[:place]
            break
    worst = max((point.standing for point in points), key=_WORST_LAST.index, default=Standing.INSIDE)
    departures = [point.percent_of_line - 100.0 for point in points]
    return PotFinding(
        line=line,
        points=points,
        standing=worst,
        largest_departure=max(departures, key=abs, default=None),
        verified_up_to_bar=held[-1] if held else None,
    )


def _against(line: FittedLine, point: tuple[float, float, float], low: float, high: float) -> PotPoint:
    po2_bar, mv, u = point
    expected, u_expected = line.at(po2_bar)
    if expected <= 0.0:
        return PotPoint(
            po2_bar, mv=mv, percent_of_line=float("nan"), expanded_u=float("nan"), standing=Standing.UNKNOWN
        )
    percent = 100.0 * mv / expected
    relative = float(np.hypot(u / mv if mv > 0 else 0.0, u_expected / expected))
    expanded = COVERAGE * percent * relative
    return PotPoint(
        po2_bar,
        mv=mv,
        percent_of_line=percent,
        expanded_u=expanded,
        standing=Standing(int(standing(percent, expanded, low, high))),
    )


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
