"""Until when a cell's calibrations say that it meets a limit, in plain Python over every pair of calibrations.

Slope: the median of all pairwise slopes, its 95 % interval by ranks with the correction for ties (Theil 1950; Sen,
J. Am. Stat. Assoc. 63 (1968) 1379, section 3). The bound runs from the median day with the slope's low end, less twice
the scatter (1.4826 times the median absolute residual). Never from fewer than 4 calibrations or 30 days, never beyond
1095 days after the last: common practice, no published source. The same of the later half and of the last five
calibrations, where those are fewer than all and span 30 days; the earliest day counts.
"""

import datetime as dt
import math
import statistics
from collections import Counter
from collections.abc import Sequence

Z = statistics.NormalDist().inv_cdf(0.975)


def low_slope(days: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """The median slope and the low end of its interval."""
    pairs = [(a, b) for a in range(len(days)) for b in range(a + 1, len(days)) if days[a] != days[b]]
    slopes = sorted((values[b] - values[a]) / (days[b] - days[a]) for a, b in pairs)

    def ties(listed: Sequence[float]) -> float:
        return sum(k * (k - 1) * (2 * k + 5) for k in Counter(listed).values())

    n = len(days)
    variance = (n * (n - 1) * (2 * n + 5) - ties(days) - ties(values)) / 18
    if variance < 0:
        return statistics.median(slopes), slopes[0]
    sigma = math.sqrt(variance)
    rank = max(round((len(slopes) - Z * sigma) / 2) - 1, 0)
    return statistics.median(slopes), slopes[rank]


def last_good_day(on: Sequence[dt.date], values: Sequence[float], limit: float) -> dt.date | None:
    """Last day on which every lower bound still meets the limit; None where nothing is forecast."""
    if len(on) < 4 or (on[-1] - on[0]).days < 30:
        return None
    spells = {len(on)} | {k for k in (5, max(5, len(on) // 2)) if k < len(on) and (on[-1] - on[-k]).days >= 30}
    days = [of_one_line(on[-k:], values[-k:], limit) for k in spells]
    return min((day for day in days if day is not None), default=None)


def of_one_line(on: Sequence[dt.date], values: Sequence[float], limit: float) -> dt.date | None:
    """Last day on which the lower bound of the line through all of these meets the limit."""
    days = [float((day - on[0]).days) for day in on]
    slope, low = low_slope(days, values)
    middle = statistics.median(days)
    rest = [value - slope * (day - middle) for day, value in zip(days, values, strict=True)]
    level = statistics.median(rest)
    scatter = 1.4826 * statistics.median(abs(each - level) for each in rest)
    bound = level - 2 * scatter + low * (days[-1] - middle)
    if bound < limit or values[-1] < limit:
        return on[-1]
    if low >= 0:
        return None
    ahead = math.floor((bound - limit) / -low + 1e-9)
    return on[-1] + dt.timedelta(days=ahead) if ahead <= 1095 else None


def foretold(
    seen: Sequence[tuple[dt.date, float, float | None]], linearity_low: float, air_low: float
) -> dt.date | None:
    """The earlier of both: linearity in percent and mV in air against their lower limits; None where neither crosses.

    seen: date, linearity and normalised mV in air of each workshop calibration of a cell, oldest first; of one day the
    last counts, as the one that was made again.
    """
    seen = list({day: (day, linear, mv) for day, linear, mv in seen}.values())
    in_air = [(day, mv) for day, _, mv in seen if mv is not None]
    days = (
        last_good_day([day for day, _, _ in seen], [linear for _, linear, _ in seen], linearity_low),
        last_good_day([day for day, _ in in_air], [mv for _, mv in in_air], air_low),
    )
    return min((day for day in days if day is not None), default=None)
