"""Verdict of a value with its uncertainty against limits: guard bands of JCGM 106 and the ladder of visits.

Works on numpy arrays elementwise, so that the judgement of one cell and a simulation of many are the same code.
"""

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetbench.calc.core.verdict import Verdict

Codes = NDArray[np.int8]


class Standing(IntEnum):
    """Where a value with its interval stands to a pair of limits."""

    INSIDE = 0
    ACROSS = 1
    ABOVE = 2
    BELOW = 3
    UNKNOWN = 4


_VERDICTS = tuple(Verdict)
PASS, WATCH, REPEAT, REJECT = (verdict.severity for verdict in Verdict)

LADDER = np.array(
    [
        # first, second, third and later visit; common practice, no published source
        [PASS, PASS, PASS],
        [REPEAT, WATCH, REJECT],
        [REPEAT, REJECT, REJECT],
        [REJECT, REJECT, REJECT],
        [REPEAT, REPEAT, REPEAT],
    ],
    dtype=np.int8,
)
"""Severity by standing (row) and by how many consecutive visits before ended with the same standing (column)."""


def standing(value: ArrayLike, expanded: ArrayLike, low: ArrayLike, high: ArrayLike = np.inf) -> Codes:
    """Standing of value ± expanded against limits: inside only if the whole interval is (JCGM 106:2012, 8.3.2).

    A value itself under the lower limit stands below and one over the upper limit above, whatever its interval; a value
    inside whose interval crosses a limit stands across; a value or interval that is not a number is unknown.
    """
    v, u, lo, hi = (np.asarray(a, dtype=float) for a in (value, expanded, low, high))
    whole = (v - u >= lo) & (v + u <= hi)
    code = np.where(whole, Standing.INSIDE, Standing.ACROSS)
    code = np.where(v > hi, Standing.ABOVE, code)
    code = np.where(v < lo, Standing.BELOW, code)
    return np.asarray(np.where(np.isnan(v) | np.isnan(u), Standing.UNKNOWN, code), dtype=np.int8)


def by_ladder(standings: ArrayLike, undecided_before: ArrayLike = 0, above_before: ArrayLike = 0) -> Codes:
    """Severity of each standing: undecided first repeats, then watches, then rejects; above repeats, then rejects."""
    codes = np.asarray(standings, dtype=np.int8)
    visits = np.where(codes == Standing.ABOVE, np.asarray(above_before), np.asarray(undecided_before))
    return np.asarray(LADDER[codes, np.minimum(np.maximum(visits, 0), 2)], dtype=np.int8)


def floor_severity(standings: ArrayLike, makers_floor: ArrayLike, undecided_before: ArrayLike = 0) -> Codes:
    """Severity against the floor in oxygen: a maker's floor guards like any limit, a common-practice one only watches.

    Under the default floor a linear cell is weak, not faulty: common practice, no published source.
    """
    codes = np.asarray(standings, dtype=np.int8)
    strict = by_ladder(codes, undecided_before)
    lenient = np.where(codes == Standing.INSIDE, PASS, np.where(codes == Standing.UNKNOWN, REPEAT, WATCH))
    return np.asarray(np.where(np.asarray(makers_floor, dtype=bool), strict, lenient), dtype=np.int8)


def can_never_decide(expanded: ArrayLike, low: ArrayLike, high: ArrayLike) -> NDArray[np.bool_]:
    """Whether an interval is so wide that no value at all could lie inside the limits with it."""
    wide = 2.0 * np.asarray(expanded, dtype=float) > np.asarray(high, dtype=float) - np.asarray(low, dtype=float)
    return np.asarray(wide, dtype=bool)


def margin(value: float, expanded: float, low: float, high: float) -> float:
    """Distance of the interval's nearer end to its limit, in the value's unit: negative where the interval crosses."""
    return min(value - expanded - low, high - value - expanded)


def verdict_of(severity: int) -> Verdict:
    """The word for a severity from 0 (pass) to 3 (reject)."""
    return _VERDICTS[severity]
