"""Saturating exponential through timed readings: end value, amplitude and time constant with their uncertainties."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

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
        raise ValueError(f"values: the fit needs more than {parameters} readings; take more")
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(v))) or float(np.ptp(t)) == 0.0:
        raise ValueError("values: a time or reading is not a number, or all times are equal")
    tau = _best_tau(t, v, start)
    v_inf, a = _amplitudes(t, v, tau, start)
    residuals = v - v_inf + a * np.exp(-t / tau)
    squares = float(np.sum(residuals**2))
    sd = float(np.sqrt(squares / (t.size - parameters)))
    jacobian = _jacobian(t, a, tau, start)
    try:
        covariance = np.linalg.inv(jacobian.T @ jacobian) * max(sd, resolution / _SQRT12) ** 2
    except np.linalg.LinAlgError as error:
        raise ValueError("values: no time constant can be found in these readings; take more") from error
    u = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
    u_tau = float(u[-1])
    return Exponential(v_inf, a, tau, float(u[0]), float(u[1] if start is None else u[0]), u_tau, sd, squares)


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
