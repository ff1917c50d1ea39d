"""Real gases in cylinders: density, compressibility and content of oxygen, helium and nitrogen mixtures.

Method: multi-fluid Helmholtz model in the form of GERG-2008 (Kunz and Wagner 2012), without departure functions, over
the published equations of state of the pure gases (`gas_equations`). Argon and the traces of air count as nitrogen.
Stated range -20 to 65 C, up to 350 bar absolute; compared with CoolProp from 0 to 50 C up to 300 bar, where it stays
within 1 %. Stretching of the cylinder's wall under pressure is left out.
Pressures are absolute unless the name says gauge; litres of gas are real gas at a stated reference condition.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fleetbench.calc.core.languages import say
from fleetbench.calc.gas.equations import GASES, MIXING_RULES, EquationOfState

# CODATA 2018, exact; J/(mol K).
GAS_CONSTANT = 8.314462618
ATMOSPHERE_BAR = 1.01325
_LEAST_C, _MOST_C, _MOST_BAR = -20.0, 65.0, 350.0
# Further than any content in range, and still on the branch where pressure rises with density.
_DENSEST_MOL_L = 40.0


@dataclass(frozen=True, slots=True)
class Mixture:
    """Fractions by amount, 0 to 1; nitrogen is what is left. Raises ValueError for what cannot be a mixture."""

    oxygen: float
    helium: float = 0.0

    def __post_init__(self) -> None:
        """Refuse fractions outside 0 to 1, a sum over 1, and percentages typed for fractions."""
        for name in ("oxygen", "helium"):
            value = getattr(self, name)
            if not math.isfinite(value) or not 0.0 <= value <= 1.0:
                raise ValueError(
                    say("{name}: {value!r} is not a fraction; give 0 to 1, so 32 % is 0.32", name=name, value=value)
                )
        if self.oxygen + self.helium > 1.0 + 1e-9:
            raise ValueError(say("helium: oxygen and helium together are over 100 %; analyse again"))

    @property
    def nitrogen(self) -> float:
        """What is neither oxygen nor helium."""
        return max(0.0, 1.0 - self.oxygen - self.helium)

    @property
    def fractions(self) -> tuple[float, float, float]:
        """Oxygen, helium, nitrogen."""
        return (self.oxygen, self.helium, self.nitrogen)

    @property
    def molar_mass_g_mol(self) -> float:
        """Molar mass in g/mol."""
        return sum(share * gas.molar_mass_g_mol for share, gas in zip(self.fractions, GASES, strict=True))


# CIPM-2007 fraction of oxygen in dry air; second-hand.
AIR = Mixture(0.20939)
OXYGEN = Mixture(1.0)


class Reference(NamedTuple):
    """Conditions at which litres of free gas are stated: degrees C and bar absolute."""

    temperature_c: float
    pressure_bar: float


STPD = Reference(0.0, ATMOSPHERE_BAR)
FREE_15_C = Reference(15.0, ATMOSPHERE_BAR)
FREE_20_C = Reference(20.0, ATMOSPHERE_BAR)


def density_mol_l(mixture: Mixture, pressure_bar: float, temperature_c: float) -> float:
    """Amount density in mol/L at an absolute pressure in bar and a temperature in degrees C.

    Raises ValueError outside -20 to 65 C or 0 to 350 bar.
    """
    _require_state(pressure_bar, temperature_c)
    if pressure_bar == 0.0:
        return 0.0
    return _density_of(mixture, pressure_bar, temperature_c)


@lru_cache(4096)
def _density_of(mixture: Mixture, pressure_bar: float, temperature_c: float) -> float:
    return _root(lambda density: _pressure(mixture, density, temperature_c) - pressure_bar)


def compressibility(mixture: Mixture, pressure_bar: float, temperature_c: float) -> float:
    """Compressibility factor Z, dimensionless, at an absolute pressure in bar above 0 and degrees C."""
    if pressure_bar <= 0.0:
        raise ValueError(f"pressure_bar: {pressure_bar!r}; give an absolute pressure above 0")
    density = density_mol_l(mixture, pressure_bar, temperature_c)
    return pressure_bar * 100.0 / (density * GAS_CONSTANT * (temperature_c + 273.15))


def density_g_l(mixture: Mixture, pressure_bar: float, temperature_c: float) -> float:
    """Mass density in g/L (kg/m3) at an absolute pressure in bar and degrees C."""
    return density_mol_l(mixture, pressure_bar, temperature_c) * mixture.molar_mass_g_mol


def pressure_bar(mixture: Mixture, amount_mol_l: float, temperature_c: float) -> float:
    """Absolute pressure in bar of an amount density in mol/L at a temperature in degrees C."""
    _require_state(0.0, temperature_c)
    if not math.isfinite(amount_mol_l) or not 0.0 <= amount_mol_l <= _DENSEST_MOL_L:
        raise ValueError(f"amount_mol_l: {amount_mol_l!r} is out of range; give 0 to {_DENSEST_MOL_L:g} mol/L")
    return _pressure(mixture, amount_mol_l, temperature_c)


def content_l(
    mixture: Mixture,
    *,
    water_volume_l: float,
    gauge_bar: float,
    temperature_c: float = 20.0,
    reference: Reference = FREE_15_C,
    ambient_bar: float = ATMOSPHERE_BAR,
) -> float:
    """Free gas in a cylinder, litres at the reference condition, all that it holds down to vacuum.

    gauge_bar: as a gauge shows it, above ambient. Raises ValueError for a volume, pressure or temperature out of
    reason.
    """
    _require_volume(water_volume_l)
    amount = density_mol_l(mixture, _absolute(gauge_bar, ambient_bar), temperature_c)
    return water_volume_l * amount / density_mol_l(mixture, reference.pressure_bar, reference.temperature_c)


def usable_l(
    mixture: Mixture,
    *,
    water_volume_l: float,
    gauge_bar: float,
    reserve_gauge_bar: float,
    temperature_c: float = 20.0,
    reference: Reference = FREE_15_C,
) -> float:
    """Free gas between a gauge pressure and the reserve, litres at the reference condition; 0 at or under it."""
    full = content_l(
        mixture,
        water_volume_l=water_volume_l,
        gauge_bar=gauge_bar,
        temperature_c=temperature_c,
        reference=reference,
    )
    kept = content_l(
        mixture,
        water_volume_l=water_volume_l,
        gauge_bar=reserve_gauge_bar,
        temperature_c=temperature_c,
        reference=reference,
    )
    return max(0.0, full - kept)


def gauge_after_temperature(
    mixture: Mixture, *, gauge_bar: float, from_c: float, to_c: float, ambient_bar: float = ATMOSPHERE_BAR
) -> float:
    """Gauge pressure in bar after the gas of a closed cylinder went from one temperature to another."""
    amount = density_mol_l(mixture, _absolute(gauge_bar, ambient_bar), from_c)
    return pressure_bar(mixture, amount, to_c) - ambient_bar


def gauge_after_use(
    mixture: Mixture,
    *,
    water_volume_l: float,
    gauge_bar: float,
    used_l: float,
    temperature_c: float = 20.0,
    reference: Reference = FREE_15_C,
    ambient_bar: float = ATMOSPHERE_BAR,
) -> float:
    """Gauge pressure in bar after `used_l` litres at the reference condition left, back at the same temperature.

    Raises ValueError where more is taken than flows out against ambient pressure.
    """
    _require_volume(water_volume_l)
    if not math.isfinite(used_l) or used_l < 0.0:
        raise ValueError(f"used_l: {used_l!r}; give litres from 0 up")
    amount = density_mol_l(mixture, _absolute(gauge_bar, ambient_bar), temperature_c)
    taken = used_l * density_mol_l(mixture, reference.pressure_bar, reference.temperature_c) / water_volume_l
    left = amount - taken
    if left < density_mol_l(mixture, ambient_bar, temperature_c):
        raise ValueError(f"used_l: {used_l:g} L is more than the cylinder gives; check the pressure and the use")
    return pressure_bar(mixture, left, temperature_c) - ambient_bar


def endurance_min(usable_litres: float, use_l_min: float) -> float:
    """Minutes that usable gas lasts at a use in L/min, both at one reference condition.

    For oxygen on the loop the use is the diver's uptake (STPD), whatever the depth; for open circuit it is breathing
    rate times ambient pressure in atmospheres.
    """
    if not math.isfinite(usable_litres) or usable_litres < 0.0:
        raise ValueError(f"usable_litres: {usable_litres!r}; give litres from 0 up")
    if not math.isfinite(use_l_min) or use_l_min <= 0.0:
        raise ValueError(f"use_l_min: {use_l_min!r}; give a use above 0")
    return usable_litres / use_l_min


def oxygen_endurance_min(
    *,
    water_volume_l: float,
    gauge_bar: float,
    reserve_gauge_bar: float,
    uptake_l_min: float,
    temperature_c: float = 20.0,
    mixture: Mixture = OXYGEN,
) -> float:
    """Minutes of oxygen on the loop at an uptake in L/min STPD, down to a reserve; 0 at or under the reserve."""
    usable = usable_l(
        mixture,
        water_volume_l=water_volume_l,
        gauge_bar=gauge_bar,
        reserve_gauge_bar=reserve_gauge_bar,
        temperature_c=temperature_c,
        reference=STPD,
    )
    return endurance_min(usable, uptake_l_min)


def _absolute(gauge_bar: float, ambient_bar: float) -> float:
    if not math.isfinite(gauge_bar) or gauge_bar < 0.0:
        raise ValueError(f"gauge_bar: {gauge_bar!r}; give the gauge's reading in bar from 0 up")
    if not math.isfinite(ambient_bar) or not 0.4 <= ambient_bar <= 1.2:
        raise ValueError(f"ambient_bar: {ambient_bar!r} is no ambient pressure; give 0.4 to 1.2 bar")
    return gauge_bar + ambient_bar


def _require_volume(water_volume_l: float) -> None:
    if not math.isfinite(water_volume_l) or not 0.0 < water_volume_l <= 1000.0:
        raise ValueError(f"water_volume_l: {water_volume_l!r} is out of range; give litres of water above 0")


def _require_state(pressure: float, temperature_c: float) -> None:
    if not math.isfinite(pressure) or not 0.0 <= pressure <= _MOST_BAR:
        raise ValueError(f"pressure_bar: {pressure!r} is out of range; give bar from 0 to {_MOST_BAR:g}")
    if not math.isfinite(temperature_c) or not _LEAST_C <= temperature_c <= _MOST_C:
        words = f"give degrees C from {_LEAST_C:g} to {_MOST_C:g}"
        raise ValueError(f"temperature_c: {temperature_c!r} is out of range; {words}")


def _root(excess: Callable[[float], float]) -> float:
    """Density at which the excess pressure is nought; it only rises with density this far above the critical point."""
    low, high = 0.0, _DENSEST_MOL_L
    at_low, at_high = excess(low), excess(high)
    density = high * -at_low / (at_high - at_low)
    # Illinois variant of false position: no derivative to get wrong, and it always keeps the bracket.
    side = 0
    for _ in range(200):
        value = excess(density)
        if abs(value) < 1e-9 or high - low < 1e-13:
            return density
        if value > 0.0:
            high, at_high = density, value
            at_low = at_low / 2.0 if side == 1 else at_low
            side = 1
        else:
            low, at_low = density, value
            at_high = at_high / 2.0 if side == -1 else at_high
            side = -1
        density = (low * at_high - high * at_low) / (at_high - at_low)
    raise ArithmeticError("no density found for this pressure")


def _pressure(mixture: Mixture, density: float, temperature_c: float) -> float:
    """Absolute pressure in bar from p = rho R T (1 + d * dalpha/dd), rho in mol/L."""
    temperature = temperature_c + 273.15
    reducing_temperature, reducing_density = _reducing(mixture)
    reduced = density / reducing_density
    inverse = reducing_temperature / temperature
    slope = sum(
        share * _residual_slope(place, reduced, inverse) for place, share in enumerate(mixture.fractions) if share > 0.0
    )
    return density * GAS_CONSTANT * temperature * (1.0 + reduced * slope) / 100.0


@cache
def _reducing(mixture: Mixture) -> tuple[float, float]:
    """Reducing temperature in K and density in mol/L of a mixture (GERG-2008 equations 7.9 and 7.10)."""
    shares = mixture.fractions
    temperature = sum(share**2 * gas.temperature_k for share, gas in zip(shares, GASES, strict=True))
    volume = sum(share**2 / gas.density_mol_l for share, gas in zip(shares, GASES, strict=True))
    for rule in MIXING_RULES:
        first, second = GASES[rule.first], GASES[rule.second]
        one, two = shares[rule.first], shares[rule.second]
        if one == 0.0 or two == 0.0:
            continue
        both = 2.0 * one * two * (one + two)
        temperature += (
            both
            * rule.beta_t
            * rule.gamma_t
            / (rule.beta_t**2 * one + two)
            * math.sqrt(first.temperature_k * second.temperature_k)
        )
        edge = first.density_mol_l ** (-1.0 / 3.0) + second.density_mol_l ** (-1.0 / 3.0)
        volume += both * rule.beta_v * rule.gamma_v / (rule.beta_v**2 * one + two) * edge**3 / 8.0
    return temperature, 1.0 / volume


@cache
def _columns(place: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The power and the Gaussian rows of an equation of state as arrays, one entry a row."""
    gas: EquationOfState = GASES[place]
    return np.array(gas.power, dtype=np.float64).T, np.array(gas.gaussian, dtype=np.float64).reshape(-1, 7).T


def _residual_slope(place: int, reduced: float, inverse: float) -> float:
    """Derivative of a pure gas's residual Helmholtz energy by reduced density."""
    if reduced == 0.0:
        return 0.0
    power, gaussian = _columns(place)
    amount, density_power, inverse_power, order = power
    fade = np.where(order > 0, reduced**order, 0.0)
    slope = amount * inverse**inverse_power * reduced ** (density_power - 1) * np.exp(-fade)
    total = float(np.sum(slope * (density_power - order * fade)))
    amount, density_power, inverse_power, eta, epsilon, beta, gamma = gaussian
    bell = np.exp(-eta * (reduced - epsilon) ** 2 - beta * (inverse - gamma) ** 2)
    slope = amount * inverse**inverse_power * reduced ** (density_power - 1) * bell
    return total + float(np.sum(slope * (density_power - 2.0 * eta * reduced * (reduced - epsilon))))
