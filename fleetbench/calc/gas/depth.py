"""What a gas is at depth: partial pressures, operating depths, equivalent depths, density, and a diluent flush.

Depth in metres of sea water by the trade's convention: ambient pressure in bar is surface pressure plus depth/10, with
1 bar at the surface, as published depth tables calculate. Figures help to check a plan; training, tables and the
maker's manual stand above them.
"""

import math
from dataclasses import dataclass

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import METRE
from fleetbench.calc.core.plausible import require_between
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.real import Mixture, density_g_l, pressure_bar

METRES_PER_BAR = 10.0
FEET_PER_ATMOSPHERE = 33.0
# Anthony and Mitchell, in Rebreathers and Scientific Diving, NPS/NOAA workshop 2015; the two figures from memory.
DENSITY_ADVISED_G_L = 5.2
DENSITY_MOST_G_L = 6.2
# Common practice, no published source: under 16 % oxygen a gas is not breathed at the surface.
LEAST_SURFACE_OXYGEN = 0.16
_DEEPEST_M = 300.0
# Nitrogen in air as depth tables take it: US Navy Diving Manual Rev 4, para 2-10.1.
_TABLE_NITROGEN = 0.79


def ambient_bar(depth_m: float, surface_bar: float = 1.0) -> float:
    """Ambient pressure in bar at a depth in metres of sea water."""
    require_between("depth_m", depth_m, 0.0, 350.0)
    require_between("surface_bar", surface_bar, 0.5, 1.1)
    return surface_bar + depth_m / METRES_PER_BAR


def oxygen_pressure_bar(mixture: Mixture, depth_m: float, surface_bar: float = 1.0) -> float:
    """Oxygen partial pressure in bar of a gas breathed at a depth."""
    return mixture.oxygen * ambient_bar(depth_m, surface_bar)


def maximum_operating_depth_m(oxygen: float, limit_bar: float, surface_bar: float = 1.0) -> float:
    """Depth in m, not rounded, at which the oxygen partial pressure reaches the limit: (limit/fraction - 1) * 10.

    oxygen: fraction, at the upper end of the analysis where its uncertainty is known. Show it rounded down. Raises
    ValueError where the gas is over the limit at the surface.
    """
    _require_oxygen(oxygen, limit_bar)
    depth = (limit_bar / oxygen - surface_bar) * METRES_PER_BAR
    if depth < 0.0:
        raise ValueError(
            say(
                "oxygen: {oxygen:.1%} is over {limit_bar:g} bar at the surface; it has no operating depth",
                oxygen=oxygen,
                limit_bar=limit_bar,
            )
        )
    return depth


def maximum_operating_depth_ft(oxygen: float, limit_ata: float) -> float:
    """Depth in feet of sea water, not rounded: (limit/fraction - 1) * 33, limit in atmospheres."""
    return maximum_operating_depth_m(oxygen, limit_ata) / METRES_PER_BAR * FEET_PER_ATMOSPHERE


def breathable_at_surface(oxygen: float) -> bool:
    """Whether a gas holds enough oxygen for the surface (16 %, common practice, no published source)."""
    Mixture(oxygen)
    return oxygen >= LEAST_SURFACE_OXYGEN


def equivalent_air_depth_m(mixture: Mixture, depth_m: float) -> float:
    """Depth on air with the same nitrogen pressure, metres: (depth + 10) * nitrogen/0.79 - 10; never under 0."""
    require_between("depth_m", depth_m, 0.0, 350.0)
    return max(0.0, (depth_m + METRES_PER_BAR) * mixture.nitrogen / _TABLE_NITROGEN - METRES_PER_BAR)


def equivalent_narcotic_depth_m(mixture: Mixture, depth_m: float) -> float:
    """Depth on air as narcotic, metres, oxygen counted like nitrogen: (depth + 10) * (1 - helium) - 10; never under 0.

    Common practice, no published source.
    """
    require_between("depth_m", depth_m, 0.0, 350.0)
    return max(0.0, (depth_m + METRES_PER_BAR) * (1.0 - mixture.helium) - METRES_PER_BAR)


def loop_mixture(diluent: Mixture, set_point_bar: float, depth_m: float) -> Mixture:
    """The gas on the loop at a set-point: oxygen as set, or as the diluent brings it where that is more.

    Carbon dioxide and water vapour are left out. At a depth shallower than the set-point it is pure oxygen.
    """
    require_between("set_point_bar", set_point_bar, 0.16, 1.6)
    ambient = ambient_bar(depth_m)
    oxygen = min(1.0, max(set_point_bar / ambient, diluent.oxygen))
    inert = 1.0 - diluent.oxygen
    helium = 0.0 if inert <= 0.0 else (1.0 - oxygen) * diluent.helium / inert
    return Mixture(oxygen, helium)


def density_at_depth_g_l(mixture: Mixture, depth_m: float, temperature_c: float = 0.0) -> float:
    """Gas density in g/L at depth, dry, at a temperature that is 0 C unless given.

    The limits of 5.2 and 6.2 g/L are commonly worked with gas at 0 C; warmer gas is thinner (7 % at 20 C), so 0 C is
    the cautious choice. Show the temperature beside the figure.
    """
    return density_g_l(mixture, ambient_bar(depth_m), temperature_c)


def depth_of_density_m(mixture: Mixture, limit_g_l: float, temperature_c: float = 0.0) -> float | None:
    """Depth in m at which a gas reaches a density, not rounded; 0 where it is over it at the surface already.

    Dry, at 0 C unless given, as the limits are worked with. None where the gas stays under it to 300 m.
    """
    require_between("limit_g_l", limit_g_l, 0.1, 100.0)
    pressure = pressure_bar(mixture, limit_g_l / mixture.molar_mass_g_mol, temperature_c)
    depth = (pressure - ambient_bar(0.0)) * METRES_PER_BAR
    return None if depth > _DEEPEST_M else max(0.0, depth)


@dataclass(frozen=True, slots=True)
class DepthLimit:
    """How deep a gas goes, m, not rounded, and whether its density or its oxygen is what limits it."""

    depth_m: float
    by_density: bool


def depth_limit(oxygen_depth_m: float | None, density_depth_m: float | None) -> DepthLimit | None:
    """The smaller of the depth that the oxygen of a gas allows and the one at which it reaches the density advised.

    density_depth_m: None where the gas stays under that density to 300 m. None where the oxygen's depth is not known,
    since the density says nothing of a gas that was not analysed. That the smaller one counts is common practice, no
    published source.
    """
    if oxygen_depth_m is None:
        return None
    if density_depth_m is not None and density_depth_m < oxygen_depth_m:
        return DepthLimit(density_depth_m, by_density=True)
    return DepthLimit(oxygen_depth_m, by_density=False)


def density_result(density: float) -> Result:
    """Advise above 5.2 g/L, stop above 6.2 g/L, both with gas at 0 C."""
    require_between("density", density, 0.0, 100.0)
    if density > DENSITY_MOST_G_L:
        return Result.STOP
    return Result.ADVISE if density > DENSITY_ADVISED_G_L else Result.OK


@dataclass(frozen=True, slots=True)
class Flush:
    """What a diluent flush does at depth: oxygen pressure of the diluent against set-point and limit, bar."""

    diluent_bar: float
    set_point_bar: float
    result: Result
    words: str


def diluent_flush(
    diluent: Mixture, *, depth_m: float, set_point_bar: float, limit_bar: float, margin_bar: float = 0.1
) -> Flush:
    """Whether a flush at depth lowers the loop's oxygen pressure.

    Stop where the diluent itself is over the limit; advise where it is within margin_bar of the set-point or over it,
    for then a flush cannot bring a loop that has run high down. Common practice, no published source.
    """
    require_between("set_point_bar", set_point_bar, 0.16, 1.6)
    require_between("limit_bar", limit_bar, 0.16, 2.0)
    require_between("margin_bar", margin_bar, 0.0, 1.0)
    pressure = oxygen_pressure_bar(diluent, depth_m)
    at = say("diluent has {pressure:.2f} bar oxygen at {depth_m}", pressure=pressure, depth_m=METRE.words(depth_m))
    if pressure > limit_bar:
        return Flush(
            pressure,
            set_point_bar,
            Result.STOP,
            say("{at}, over the limit of {limit_bar:g} bar", at=at, limit_bar=limit_bar),
        )
    if pressure > set_point_bar - margin_bar:
        words = say(
            "{at}, set-point {set_point_bar:g} bar: a flush cannot lower the loop well below it",
            at=at,
            set_point_bar=set_point_bar,
        )
        return Flush(pressure, set_point_bar, Result.ADVISE, words)
    return Flush(
        pressure,
        set_point_bar,
        Result.OK,
        say("{at}, set-point {set_point_bar:g} bar: a flush lowers the loop", at=at, set_point_bar=set_point_bar),
    )


def open_circuit_use_l_min(breathing_l_min: float, depth_m: float) -> float:
    """Gas breathed on open circuit at depth, litres a minute at surface pressure: breathing rate times pressure.

    C = (D + 33)/33 * RMV in the US Navy Diving Manual Rev 4, p. 7-14, here in metres.
    """
    require_between("breathing_l_min", breathing_l_min, 1.0, 200.0)
    return breathing_l_min * ambient_bar(depth_m)


def _require_oxygen(oxygen: float, limit_bar: float) -> None:
    if not math.isfinite(oxygen) or not 0.0 < oxygen <= 1.0:
        raise ValueError(
            say(
                "oxygen: {oxygen!r} is not a fraction of a gas with an operating depth; give above 0 to 1",
                oxygen=oxygen,
            )
        )
    require_between("limit_bar", limit_bar, 0.16, 3.0)
