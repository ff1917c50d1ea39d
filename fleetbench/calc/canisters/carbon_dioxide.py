"""Carbon dioxide made by work and bound by absorbent: litres at 0 C, 1013.25 mbar, dry, unless said otherwise."""

import math
from dataclasses import dataclass

from fleetbench.calc.core.languages import say

# IUPAC abridged standard atomic weights 2021, from memory; g/mol.
_CALCIUM, _CARBON, _OXYGEN, _HYDROGEN = 40.078, 12.011, 15.999, 1.008
CALCIUM_HYDROXIDE_G_PER_MOL = _CALCIUM + 2 * (_OXYGEN + _HYDROGEN)
CARBON_DIOXIDE_G_PER_MOL = _CARBON + 2 * _OXYGEN
# CODATA 2018 molar gas constant, exact; J/(mol K).
GAS_CONSTANT = 8.314462618


@dataclass(frozen=True, slots=True)
class WorkRate:
    """A grade of work: oxygen uptake in L/min STPD, respiratory quotient, where both come from."""

    name: str
    oxygen_l_min: float
    respiratory_quotient: float
    source: str

    @property
    def co2_l_min(self) -> float:
        """Carbon dioxide made, L/min in the terms of the uptake."""
        return co2_production_l_min(self.oxygen_l_min, self.respiratory_quotient)


_CFR_TABLE = "42 CFR 84.304 Table 2"
RESPIRATORY_STEPS: tuple[tuple[float, float, str], ...] = (
    (1.35, 1.15 / 1.35, _CFR_TABLE),
    (2.00, 1.80 / 2.00, _CFR_TABLE),
    (2.50, 2.50 / 2.50, _CFR_TABLE),
)


def _and_quotient(source: str) -> str:
    return say("{source}; quotient of the next harder step of {table}", source=source, table=_CFR_TABLE)


WORK_RATES: tuple[WorkRate, ...] = (
    WorkRate(say("rest"), 0.64, 1.15 / 1.35, _and_quotient("Knafelc, NEDU Report 1-89, 1989")),
    WorkRate(say("planning, 0.85 knot"), 1.4, 0.9, _and_quotient("US Navy Diving Manual Rev 4 Change A p. 17-11")),
    WorkRate(say("swim"), 1.5, 0.9, _and_quotient("Knafelc, NEDU Report 1-89, 1989")),
    WorkRate(say("finning, 0.7 knot"), 1.55, 0.9, _and_quotient("EUBS 2007 proceedings p. 77")),
    WorkRate(say("finning, 1.1 knot"), 2.70, 1.0, _and_quotient("EUBS 2007 proceedings p. 77")),
    WorkRate(say("capacity test 3"), 1.35, 1.15 / 1.35, _CFR_TABLE),
    WorkRate(say("capacity test 2"), 2.00, 0.9, _CFR_TABLE),
    WorkRate(say("capacity test 1"), 2.50, 1.0, _CFR_TABLE),
)


def respiratory_quotient(oxygen_l_min: float) -> float:
    """Quotient of the next harder step of 42 CFR 84.304 Table 2; 1.0 for uptake above its hardest step."""
    _require_positive("oxygen_l_min", oxygen_l_min, 10.0)
    return next((quotient for uptake, quotient, _ in RESPIRATORY_STEPS if oxygen_l_min <= uptake), 1.0)


def co2_production_l_min(oxygen_l_min: float, quotient: float | None = None) -> float:
    """Carbon dioxide made, L/min, from oxygen uptake and respiratory quotient (by work rate where none is given).

    Raises ValueError for an uptake outside 0 to 10 L/min or a quotient outside 0.6 to 1.3.
    """
    _require_positive("oxygen_l_min", oxygen_l_min, 10.0)
    used = respiratory_quotient(oxygen_l_min) if quotient is None else quotient
    if not 0.6 <= used <= 1.3:
        raise ValueError(f"respiratory_quotient: {used!r} is not a quotient of a working body; give 0.6 to 1.3")
    return oxygen_l_min * used


def co2_capacity_l(
    mass_g: float, *, purity: float = 1.0, temperature_c: float = 0.0, pressure_mbar: float = 1013.25
) -> float:
    """Most carbon dioxide that a mass of absorbent can bind, in litres of ideal gas at the stated conditions.

    Ca(OH)2 + CO2 -> CaCO3 + H2O, one mole a mole. purity: mass fraction of Ca(OH)2; the default of 1 is a ceiling
    that no product passes. Real canisters bind a third to a half of it (Harvey et al., Diving Hyperb Med 46(2) 2016).
    Raises ValueError for a mass, purity, temperature or pressure out of reason.
    """
    _require_positive("mass_g", mass_g, 100_000.0)
    _require_positive("purity", purity, 1.0)
    _require_positive("pressure_mbar", pressure_mbar, 100_000.0)
    if not -50.0 <= temperature_c <= 100.0:
        raise ValueError(f"temperature_c: {temperature_c!r} is out of range; give -50 to 100 C")
    moles = mass_g * purity / CALCIUM_HYDROXIDE_G_PER_MOL
    litres_per_mole = 1000.0 * GAS_CONSTANT * (temperature_c + 273.15) / (pressure_mbar * 100.0)
    return moles * litres_per_mole


def _require_positive(name: str, value: float, most: float) -> None:
    if not math.isfinite(value) or not 0.0 < value <= most:
        raise ValueError(f"{name}: {value!r} is out of range; give a number above 0, at most {most:g}")
