"""Whether a reading has settled, how far it still has to go and how long a flush takes.

Times in seconds from any origin, readings in mV. Hand-stamped readings are bounded by their rounding, logs by
regression; both refuse to call a tail settled that is still seen to move.

Saturating exponential through timed readings: end value, amplitude and time constant with their uncertainties.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fleetbench.calc.core.languages import say

Array = NDArray[np.float64]

SLOWEST_TAIL_S = 600.0
"""Slowest tail that a settled reading is asked about: what it could still hide is told. Common practice, no published
source."""

HIDDEN_PART = 0.025
"""Largest part of the reading that such a tail may hide when it is called settled, so that a minute of equal digits of
0.1 mV settles a linear cell of the least output (38.2 mV in oxygen): common practice, no published source."""

_SQRT12 = 12.0**0.5


@dataclass(frozen=True, slots=True)
class Exponential:
    """Fit of v_inf - a * exp(-t / tau): values with standard uncertainties, residual standard deviation, its
    squares."""

    v_inf: float
    a: float
    tau: float
    u_v_inf: float
    u_a: float
    u_tau: float
    residual_sd: float
    sum_of_squares: float

    def gap(self, time_s: float) -> float:
        """How far under its end value the fitted reading is at a time, in mV."""
        return float(self.a * np.exp(-time_s / self.tau))


def fit_exponential(
    times_s: Sequence[float], values: Sequence[float], *, start: float | None = None, resolution: float = 0.0
) -> Exponential:
    """Least-squares fit of v_inf - a * exp(-t / tau), or with a known start value at t = 0 (then a = v_inf - start).

    Needs four readings, three with a start. Standard uncertainties from the residuals, not under resolution / sqrt(12).
    Raises ValueError for too few readings or where no time constant can be found in them.
    """
    t, v = np.asarray(times_s, dtype=float), np.asarray(values, dtype=float)
    parameters = 3 if start is None else 2
    if t.size <= parameters or t.shape != v.shape:
        raise ValueError(say("values: the fit needs more than {parameters} readings; take more", parameters=parameters))
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(v))) or float(np.ptp(t)) == 0.0:
        raise ValueError(say("values: a time or reading is not a number, or all times are equal"))
    tau = _best_tau(t, v, start)
    v_inf, a = _amplitudes(t, v, tau, start)
    residuals = v - v_inf + a * np.exp(-t / tau)
    squares = float(np.sum(residuals**2))
    sd = float(np.sqrt(squares / (t.size - parameters)))
    jacobian = _jacobian(t, a, tau, start)
    try:
        covariance = np.linalg.inv(jacobian.T @ jacobian) * max(sd, resolution / _SQRT12) ** 2
    except np.linalg.LinAlgError as error:
        raise ValueError(say("values: no time constant can be found in these readings; take more")) from error
    u = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
    u_tau = float(u[-1])
    return Exponential(
        v_inf,
        a=a,
        tau=tau,
        u_v_inf=float(u[0]),
        u_a=float(u[1] if start is None else u[0]),
        u_tau=u_tau,
        residual_sd=sd,
        sum_of_squares=squares,
    )


def _amplitudes(t: Array, v: Array, tau: float, start: float | None) -> tuple[float, float]:
    """End value and amplitude that fit best for a time constant: the model is linear in them."""
    shape = np.exp(-t / tau)
    if start is not None:
        rise = -np.expm1(-t / tau)
        v_inf = start + float(np.sum(rise * (v - start)) / np.sum(rise**2))
        return v_inf, v_inf - start
    design = np.column_stack([np.ones_like(t), -shape])
    solution = np.linalg.lstsq(design, v, rcond=None)[0]
    return float(solution[0]), float(solution[1])


def _jacobian(t: Array, a: float, tau: float, start: float | None) -> Array:
    shape = np.exp(-t / tau)
    by_tau = -a * shape * t / tau**2
    if start is not None:
        return np.column_stack([-np.expm1(-t / tau), by_tau])
    return np.column_stack([np.ones_like(t), -shape, by_tau])


def _best_tau(t: Array, v: Array, start: float | None) -> float:
    """Time constant of least squares: a scan over its logarithm, then a bounded search in the best bracket."""
    # scipy is slow to import and only a fit needs it
    from scipy import optimize

    def squares(log_tau: float) -> float:
        tau = float(np.exp(log_tau))
        v_inf, a = _amplitudes(t, v, tau, start)
        return float(np.sum((v - v_inf + a * np.exp(-t / tau)) ** 2))

    span = float(np.ptp(t))
    shortest = float(np.min(np.diff(np.sort(t))[np.diff(np.sort(t)) > 0.0]))
    grid = np.linspace(np.log(shortest / 5.0), np.log(20.0 * max(span, float(np.max(np.abs(t))))), 80)
    scanned = [squares(float(x)) for x in grid]
    best = int(np.argmin(scanned))
    bracket = (float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)]))
    found = optimize.minimize_scalar(squares, bounds=bracket, method="bounded", options={"xatol": 1e-10})
    return float(np.exp(_polished(t, v, float(found.x), start)))


def _polished(t: Array, v: Array, log_tau: float, start: float | None) -> float:
    """Logarithm of tau after Gauss-Newton steps, which reach digits that a search on the squares alone cannot."""
    for _ in range(20):
        tau = float(np.exp(log_tau))
        v_inf, a = _amplitudes(t, v, tau, start)
        residuals = v - v_inf + a * np.exp(-t / tau)
        step = float(np.linalg.lstsq(_jacobian(t, a, tau, start), residuals, rcond=None)[0][-1]) / tau
        if not np.isfinite(step) or abs(step) > 0.1:
            break
        log_tau += step
        if abs(step) < 1e-14:
            break
    return log_tau


SETTLED_PART = 0.005
"""Largest part of the reading that may still be missing when it is called settled: common practice, no published
source."""

REGRESSION_READINGS = 12
"""From this many readings on a regression interval says more than a rounding bound (found by simulation)."""

LEAST_WINDOW_S = 60.0
"""Shortest last stretch over which a slope can settle a reading: common practice, no published source."""

_NOISY_DIGITS = 3.0
_NEEDED = 3


class SettlingState(StrEnum):
    """State of a reading in words."""

    RISING = "rising"
    SETTLED = "settled"
    FALLING = "falling"
    NOISY = "noisy"
    UNPROVEN = "not yet proven"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """State of one cell on one reader: slopes in mV/min (both ends), tau in s, gap to the end value in mV.

    seconds_left is the expected time until it can be called settled if nothing changes, 0 when it is, None if unknown.
    method is ``rounding``, ``regression`` or ``none``.
    """

    state: SettlingState
    method: str
    slope_low: float | None
    slope_high: float | None
    tau_s: float | None
    v_inf: float | None
    gap_mv: float | None
    seconds_left: float | None
    readings: int
    sentence: str


def _checked(times_s: Sequence[float], mv: Sequence[float]) -> tuple[Array, Array]:
    t, v = np.asarray(times_s, dtype=float), np.asarray(mv, dtype=float)
    if t.shape != v.shape or t.ndim != 1:
        raise ValueError(say("times_s and mv: give one time for each reading"))
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(v))):
        raise ValueError(say("mv: a time or reading is not a number; leave that row out"))
    if np.any(v < 0.0):
        raise ValueError(say("mv: a reading is negative; check polarity and contacts"))
    if np.any(np.diff(t) <= 0.0):
        raise ValueError(say("times_s: times must rise from row to row; sort them and drop doubles"))
    return t, v


def rounding_slopes(times_s: Sequence[float], mv: Sequence[float], resolution_mv: float) -> tuple[float, float] | None:
    """Least and greatest slope in mV/s of a straight line within half a digit of every reading; None if there is none.

    Exact: a line passes all half digits if and only if it passes every pair of them.
    """
    t, v = _checked(times_s, mv)
    if t.size < 2:
        return None
    first, second = np.triu_indices(t.size, k=1)
    span, step = t[second] - t[first], v[second] - v[first]
    # Digits are typed as decimals: a hair of width keeps 0.3 - 0.2 from being more than one digit of 0.1.
    digit = resolution_mv * (1.0 + 1e-9)
    low, high = float(np.max((step - digit) / span)), float(np.min((step + digit) / span))
    return (low, high) if low <= high else None


def regression_slope(times_s: Sequence[float], mv: Sequence[float], resolution_mv: float) -> tuple[float, float, float]:
    """Slope in mV/s with its 95 % interval, and the residual standard deviation in mV, from three readings on.

    Student's t with n - 2 degrees of freedom (JCGM 100:2008, G.3); the variance is never taken under that of rounding,
    resolution / sqrt(12), so that equal digits give no interval of no width.
    """
    t, v = _checked(times_s, mv)
    if t.size < _NEEDED:
        raise ValueError(say("mv: a regression needs three readings; take more"))
    # scipy is slow to import and only long logs need it
    from scipy import stats

    centred = t - t.mean()
    slope = float(np.sum(centred * v) / np.sum(centred**2))
    residuals = v - v.mean() - slope * centred
    sd = float(np.sqrt(np.sum(residuals**2) / (t.size - 2)))
    half = float(stats.t.ppf(0.975, t.size - 2)) * max(sd, resolution_mv / _SQRT12) / float(np.sqrt(np.sum(centred**2)))
    return slope - half, slope + half, sd


def current_phase(times_s: Sequence[float], mv: Sequence[float], resolution_mv: float) -> int:
    """Index where the phase that is still going on begins: the start of its steepest step, after the last turn back.

    A step against the trend of the last readings of more than two digits ends an earlier phase.
    """
    t, v = _checked(times_s, mv)
    if t.size < _NEEDED:
        return 0
    steps = np.diff(v)
    turn = 2.5 * resolution_mv
    large = np.flatnonzero(np.abs(steps) > turn)
    if large.size == 0:
        return 0
    sign = np.sign(steps[large[-1]])
    against = [int(i) for i in large if np.sign(steps[i]) != sign]
    begin = against[-1] + 1 if against else 0
    if begin >= t.size - 1:
        return begin
    return begin + int(np.argmax(sign * steps[begin:] / np.diff(t)[begin:]))


def assess(
    times_s: Sequence[float], mv: Sequence[float], resolution_mv: float, *, tau_s: float | None = None
) -> Settling:
    """State of a reading from its timed values, and what is still to wait for.

    tau_s is the time constant of the flush (head volume over flow), used beside the fitted one: the longer of the two
    counts. Settled means that no movement is seen, and the steepest slope that the readings allow, times that time
    constant, is at most 0.5 % of the reading: a small slope alone settles no slow tail. A tail slower than that cannot
    be ruled out: what one of 600 s could still hide is told, and over 2.5 % none is settled. Few readings are bounded
    by their rounding, twelve and more by regression. Raises ValueError for times out of order or readings that are not
    numbers.
    """
    t, v = _checked(times_s, mv)
    if tau_s is not None and not (np.isfinite(tau_s) and tau_s > 0.0):
        raise ValueError(say("tau_s: enter head volume over flush flow, in seconds, above zero"))
    if not resolution_mv > 0.0:
        raise ValueError(say("resolution_mv: enter the last digit of the display, in mV"))
    if t.size < _NEEDED:
        return _unproven(t.size, say("Fewer than three readings: nothing can be said yet."))
    if _jumps_about(v, resolution_mv):
        return _state(SettlingState.NOISY, "none", None, t.size, say("The readings jump about: check the contacts."))
    begin = current_phase(times_s, mv, resolution_mv)
    t, v = t[begin:], v[begin:]
    if t.size < _NEEDED:
        return _turned(t, v)
    fitted = _trusted_fit(t - t[0], v, resolution_mv)
    slopes = _slopes(t, v, resolution_mv)
    if slopes is None:
        return _moving_or_noisy(t, v, resolution_mv, fitted)
    low, high, method, window, noisy = slopes
    if noisy:
        return _state(
            SettlingState.NOISY, method, (low, high), t.size, say("The readings jump about: check the contacts.")
        )
    tau = max([x for x in (tau_s, fitted.tau if fitted else None) if x is not None], default=None)
    last, elapsed = float(v[-1]), float(t[-1] - t[0])
    stretch = _Stretch(low, high, method, window, last_mv=last, elapsed_s=elapsed, readings=t.size)
    return _with_gap(stretch, tau, fitted, resolution_mv)


@dataclass(frozen=True, slots=True)
class _Stretch:
    low: float
    high: float
    method: str
    window_s: float
    last_mv: float
    elapsed_s: float
    readings: int


def _slopes(t: Array, v: Array, resolution_mv: float) -> tuple[float, float, str, float, bool] | None:
    """Slope interval in mV/s over the last stretch, its method and length, and whether it is noisy; None if no line.

    By rounding it is the tightest bound of all last stretches of a minute or more, else of the longest that is
    straight: a tail that slows down is at its end no steeper than over any stretch before.
    """
    if t.size >= REGRESSION_READINGS:
        window = t >= t[-1] - max(LEAST_WINDOW_S, float(t[-1] - t[0]) / 4.0)
        if np.count_nonzero(window) < REGRESSION_READINGS:
            window = np.arange(t.size) >= t.size - REGRESSION_READINGS
        low, high, sd = regression_slope(list(t[window]), list(v[window]), resolution_mv)
        noisy = sd > _NOISY_DIGITS * resolution_mv and low < 0.0 < high
        return low, high, "regression", float(np.ptp(t[window])), noisy
    best: tuple[float, float, str, float, bool] | None = None
    for begin in range(t.size - _NEEDED + 1):
        bounds = rounding_slopes(list(t[begin:]), list(v[begin:]), resolution_mv)
        window = float(t[-1] - t[begin])
        if bounds is None or (best is not None and window < LEAST_WINDOW_S):
            continue
        if best is None or max(map(abs, bounds)) < max(abs(best[0]), abs(best[1])):
            best = (bounds[0], bounds[1], "rounding", window, False)
    return best


def _trusted_fit(t: Array, v: Array, resolution_mv: float) -> Exponential | None:
    """The exponential through a phase where it moved enough and its time constant is known to better than a half."""
    if t.size < 5 or float(np.ptp(v)) < 5.0 * resolution_mv:
        return None
    try:
        fitted = fit_exponential(list(t), list(v), resolution=resolution_mv)
    except ValueError:
        return None
    return fitted if fitted.u_tau < 0.5 * fitted.tau else None


def _with_gap(stretch: _Stretch, tau: float | None, fitted: Exponential | None, resolution_mv: float) -> Settling:
    slopes = (stretch.low, stretch.high)
    steepest = max(abs(stretch.low), abs(stretch.high))
    allowed = SETTLED_PART * stretch.last_mv
    gap = fitted.gap(stretch.elapsed_s) if fitted else None
    moving = stretch.low > 0.0 or stretch.high < 0.0
    if moving:
        state = SettlingState.RISING if stretch.low > 0.0 else SettlingState.FALLING
        left = _until_small(fitted, gap)
        words = say(
            "Still {state} by {what:.2f} mV/min or more.",
            state=state.value,
            what=60 * min(abs(stretch.low), abs(stretch.high)),
        )
        return _state(state, stretch.method, slopes, stretch.readings, words, tau, fitted, gap, left)
    if tau is None:
        words = say("Steady so far; without the flush's flow and volume a slow tail cannot be ruled out.")
        return _state(SettlingState.UNPROVEN, stretch.method, slopes, stretch.readings, words, None, fitted, gap, None)
    within = gap is None or abs(gap) <= max(allowed, resolution_mv / 2.0)
    # Digits that do not change say no more than this, however many of them there are: their errors are alike.
    unseen = resolution_mv / stretch.window_s
    hidden = hidden_by_a_slow_tail(max(steepest, unseen), stretch.window_s)
    long_enough = stretch.window_s >= LEAST_WINDOW_S and hidden <= HIDDEN_PART * stretch.last_mv
    if steepest * tau <= allowed and within and long_enough:
        whole = max(stretch.last_mv, 1e-9)
        words = say(
            "Settled: at most {what:.2f} mV/min; at most {what_2:.2f} % to go at a time constant of "
            "{tau:.0f} s, and {what_3:.1f} % where a tail is as slow as {slowest_tail_s:.0f} s.",
            what=60 * steepest,
            what_2=100.0 * steepest * tau / whole,
            tau=tau,
            what_3=100.0 * hidden / whole,
            slowest_tail_s=SLOWEST_TAIL_S,
        )
        return _state(SettlingState.SETTLED, stretch.method, slopes, stretch.readings, words, tau, fitted, gap, 0.0)
    left = None
    if allowed > 0.0:
        slow = SLOWEST_TAIL_S * float(np.log1p(resolution_mv / (HIDDEN_PART * stretch.last_mv)))
        left = max(max(resolution_mv * tau / allowed, slow, LEAST_WINDOW_S) - stretch.window_s, 1.0)
        left = max(left, _until_small(fitted, gap) or 0.0)
    words = say("Steady so far, not long enough to prove it.")
    return _state(SettlingState.UNPROVEN, stretch.method, slopes, stretch.readings, words, tau, fitted, gap, left)


def hidden_by_a_slow_tail(steepest: float, window_s: float) -> float:
    """Most that a tail of 600 s can still have to go in mV, whose mean slope over the last window is at most steepest.

    A tail with R to go at the window's end had R e^(W/tau) at its beginning, so that R (e^(W/tau) - 1) = slope W; every
    faster tail leaves less.
    """
    return steepest * window_s / float(np.expm1(window_s / SLOWEST_TAIL_S))


def _moving_or_noisy(t: Array, v: Array, resolution_mv: float, fitted: Exponential | None) -> Settling:
    """State where the last three readings lie on no line: still bending upward or downward, or jumping about."""
    steps = np.diff(v[-_NEEDED:])
    one_way = bool(np.all(steps >= 0.0) or np.all(steps <= 0.0))
    if not one_way and np.min(np.abs(steps)) > resolution_mv:
        return _state(
            SettlingState.NOISY, "rounding", None, t.size, say("The readings jump about: check the contacts.")
        )
    state = SettlingState.RISING if v[-1] >= v[-_NEEDED] else SettlingState.FALLING
    gap = fitted.gap(float(t[-1] - t[0])) if fitted else None
    tau = fitted.tau if fitted else None
    left = _until_small(fitted, gap)
    return _state(state, "rounding", None, t.size, say("Still {state}.", state=state.value), tau, fitted, gap, left)


def _jumps_about(v: Array, resolution_mv: float) -> bool:
    """Whether the last steps, all of more than two digits, go to and fro at least twice."""
    steps = np.diff(v[-5:])
    large = steps[np.abs(steps) > 2.5 * resolution_mv]
    return bool(large.size == steps.size and np.count_nonzero(np.diff(np.sign(large))) >= 2)


def _turned(t: Array, v: Array) -> Settling:
    """State just after a new phase began, which its one step alone can tell."""
    if t.size < 2:
        return _unproven(t.size, say("A new phase has just begun."))
    state = SettlingState.RISING if v[-1] > v[0] else SettlingState.FALLING
    return _state(state, "rounding", None, t.size, say("Still {state}.", state=state.value))


def _until_small(fitted: Exponential | None, gap: float | None) -> float | None:
    """Seconds until a fitted gap has shrunk to what is allowed, None without a fit or where it has already."""
    if fitted is None or gap is None:
        return None
    allowed = SETTLED_PART * fitted.v_inf
    if allowed <= 0.0 or abs(gap) <= allowed:
        return None
    return fitted.tau * float(np.log(abs(gap) / allowed))


def _unproven(readings: int, sentence: str) -> Settling:
    return _state(SettlingState.UNPROVEN, "none", None, readings, sentence)


def _state(
    state: SettlingState,
    method: str,
    slopes: tuple[float, float] | None,
    readings: int,
    sentence: str,
    tau: float | None = None,
    fitted: Exponential | None = None,
    gap: float | None = None,
    left: float | None = None,
) -> Settling:
    return Settling(
        state=state,
        method=method,
        slope_low=60.0 * slopes[0] if slopes else None,
        slope_high=60.0 * slopes[1] if slopes else None,
        tau_s=tau,
        v_inf=fitted.v_inf if fitted else None,
        gap_mv=gap,
        seconds_left=left,
        readings=readings,
        sentence=sentence,
    )


def flush_time_s(volume_l: float, flow_l_per_min: float, *, supplied: float, at_start: float, wanted: float) -> float:
    """Seconds to flush a well-mixed volume until its oxygen fraction reaches ``wanted``: V/Q * ln((Fin-F0)/(Fin-F)).

    Mass balance of a stirred volume with constant inflow: of what was there, exp(-Q t / V) is left (Levenspiel,
    Chemical Reaction Engineering, 3rd ed. 1999, chapter 11, mixed flow; from memory). Fractions of one. Raises
    ValueError for volumes or flows that are not above zero and for a fraction that the supplied gas can never reach.
    """
    for name, value in (("volume_l", volume_l), ("flow_l_per_min", flow_l_per_min)):
        if not (np.isfinite(value) and value > 0.0):
            raise ValueError(say("{name}: {value} must be above zero; enter it in litres", name=name, value=value))
    for name, value in (("supplied", supplied), ("at_start", at_start), ("wanted", wanted)):
        if not 0.0 <= value <= 1.0:
            raise ValueError(say("{name}: {value} must lie between 0 and 1; 99.5 % is 0.995", name=name, value=value))
    if not min(at_start, supplied) <= wanted <= max(at_start, supplied) or wanted == supplied:
        raise ValueError(
            say("wanted: the supplied gas never reaches this fraction; ask for one between start and supply")
        )
    return 60.0 * volume_l / flow_l_per_min * float(np.log((supplied - at_start) / (supplied - wanted)))
