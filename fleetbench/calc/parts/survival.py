"""Life of parts from what failed and what still serves: the Kaplan-Meier curve with its interval."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

_Z95 = 1.959963984540054

Group = TypeVar("Group", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Life:
    """One part's service in days: how long, whether it ended by failure (else still in use or taken out for another
    reason), and from which day of its life on it was under observation."""

    days: float
    failed: bool
    entered_days: float = 0.0


@dataclass(frozen=True, slots=True)
class SurvivalStep:
    """One step of the curve at a failure time: survivors' share after it, Greenwood's error, 95 % log-log interval."""

    days: float
    at_risk: int
    failures: int
    survival: float
    standard_error: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LifeCurve:
    """Kaplan-Meier curve of a group of parts: its steps in order of time, how many parts and failures it rests on."""

    steps: tuple[SurvivalStep, ...]
    parts: int
    failures: int
    longest_days: float

    def at(self, days: float) -> float | None:
        """Share expected to serve beyond an age in days, None beyond the longest life seen."""
        if days > self.longest_days:
            return None
        share = 1.0
        for step in self.steps:
            if step.days > days:
                break
            share = step.survival
        return share

    @property
    def median_days(self) -> float | None:
        """Age in days by which half have failed, None if fewer than half have."""
        return next((step.days for step in self.steps if step.survival <= 0.5 + 1e-12), None)


def kaplan_meier(lives: Sequence[Life]) -> LifeCurve:
    """Kaplan-Meier curve with Greenwood's error and the 95 % log(-log) interval.

    Sources: Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457; Greenwood 1926; interval by Kalbfleisch and Prentice,
    The Statistical Analysis of Failure Time Data. Parts that came under observation late count from then (delayed
    entry). Raises ValueError for no lives at all, or for days that are negative, not numbers, or before the part's
    entry.
    """
    if not lives:
        raise ValueError("lives: none given; a curve needs at least one part")
    for life in lives:
        if not (np.isfinite(life.days) and np.isfinite(life.entered_days) and 0.0 <= life.entered_days <= life.days):
            raise ValueError(f"days: {life.days} from {life.entered_days} is no life; check the fitting dates")
    days = np.array([life.days for life in lives])
    entered = np.array([life.entered_days for life in lives])
    failed = np.array([life.failed for life in lives])
    steps, share, greenwood = [], 1.0, 0.0
    for time in np.unique(days[failed]):
        at_risk = int(np.count_nonzero((days >= time) & ((entered < time) | (entered == 0.0))))
        failures = int(np.count_nonzero(failed & (days == time)))
        share *= 1.0 - failures / at_risk
        greenwood += failures / (at_risk * (at_risk - failures)) if at_risk > failures else np.inf
        low, high = _log_log(share, greenwood)
        error = share * float(np.sqrt(greenwood)) if share > 0.0 else 0.0
        steps.append(SurvivalStep(float(time), at_risk, failures, share, error, low, high))
    return LifeCurve(tuple(steps), len(lives), int(np.count_nonzero(failed)), float(days.max()))


def _log_log(share: float, greenwood: float) -> tuple[float, float]:
    if not 0.0 < share < 1.0:
        return share, share
    centre, half = np.log(-np.log(share)), _Z95 * np.sqrt(greenwood) / abs(np.log(share))
    return float(np.exp(-np.exp(centre + half))), float(np.exp(-np.exp(centre - half)))


def life_by_group(lives: Mapping[Group, Sequence[Life]], *, least_failures: int = 3) -> dict[Group, LifeCurve]:
    """Curves of those groups (lots, part types) that hold enough failures to say anything; the rest are left out."""
    return {
        group: kaplan_meier(members)
        for group, members in lives.items()
        if sum(life.failed for life in members) >= least_failures
    }
