"""Straight line through calibration points and how far points above 1 bar fall from it (current limiting)."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from fleetbench.calc.cells.guard import Standing, standing
from fleetbench.calc.cells.uncertainty import COVERAGE
from fleetbench.calc.core.languages import say

if TYPE_CHECKING:
    from fleetbench.calc.cells.atmosphere import Array

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
