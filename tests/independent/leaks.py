"""A rigid volume whose leak dies with the pressure that drives it, worked out from the gas laws alone.

Laminar flow through a gap is proportional to the pressure difference (law of Hagen and Poiseuille), and an ideal gas at
constant temperature has dp/dt = p0 q / V (40 CFR 1065.644, its two temperatures equal): the difference dies
exponentially.
A turbulent gap (square root of the difference, ISO 5167-1:2003 for an orifice, from memory) dies in a finite time.
"""

import math
import random

STANDARD_MBAR = 1013.25
STANDARD_KELVIN = 293.15


def time_constant_s(volume_l: float, ml_min: float, at_mbar: float, kelvin: float = STANDARD_KELVIN) -> float:
    """Seconds in which the pressure difference falls to 1/e where ml_min (20 C, 1013.25 mbar) leak at at_mbar."""
    mbar_l_a_second = ml_min / 60.0 / 1000.0 * STANDARD_MBAR * kelvin / STANDARD_KELVIN
    return volume_l * at_mbar / mbar_l_a_second


def laminar(start_mbar: float, seconds: float, *, volume_l: float, ml_min: float, at_mbar: float) -> float:
    """Pressure difference after a time, of a leak of ml_min at at_mbar, in proportion to the difference."""
    return start_mbar * math.exp(-seconds / time_constant_s(volume_l, ml_min, at_mbar))


def turbulent(start_mbar: float, seconds: float, *, volume_l: float, ml_min: float, at_mbar: float) -> float:
    """The same for a leak as the square root of the difference: d(sqrt p)/dt is constant until nothing is left."""
    per_second = math.sqrt(at_mbar) / (2.0 * time_constant_s(volume_l, ml_min, at_mbar))
    return max(0.0, math.sqrt(start_mbar) - per_second * seconds) ** 2


def at_the_start(start_mbar: float, *, ml_min: float, at_mbar: float) -> float:
    """The laminar leak at the starting difference, mL/min."""
    return ml_min * start_mbar / at_mbar


def shown(value: float, digit: float, zero: float = 0.0) -> float:
    """What a manometer shows: its zero's error added, rounded to its digit, never under zero."""
    return max(0.0, round((value + zero) / digit) * digit)


def bounded(chance: random.Random, standard: float) -> float:
    """A draw from the rectangle of that standard uncertainty (JCGM 100:2008, 4.3.7)."""
    half = standard * math.sqrt(3.0)
    return chance.uniform(-half, half)
