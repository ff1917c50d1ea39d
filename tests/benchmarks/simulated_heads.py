"""Heads with a hidden truth, and what a bench would have shown of them; imports nothing from the program.

Physics and errors are written anew here, with another vapour formula (Buck 1981) than the program's, so that a fault in
the program's own formulae cannot hide. Arrays are shaped (heads, cells, readers); invented data throughout.
"""

from dataclasses import dataclass, replace

import numpy as np

DRY_AIR_OXYGEN = 0.20939  # CIPM-2007, Picard et al., Metrologia 45 (2008) 149
STANDARD_MBAR = 1013.25  # ISO 2533:1975


@dataclass(frozen=True)
class Bench:
    """Standard uncertainties that the bench states for its equipment, and the display's last digit."""

    barometer_mbar: float = 1.0
    thermometer_c: float = 0.3
    hygrometer: float = 0.03
    analyser: float = 0.003
    resolution_mv: float = 0.1
    zero_half_width_mv: float = 0.1
    repeatability_mv: float = 0.02
    gain: float = 0.003
    compensation_per_k: float = 0.002


@dataclass(frozen=True)
class Heads:
    """Hidden truth: linearity in percent and air output in mV at standard conditions (heads, cells), handset zero in mV
    and relative gain (heads, readers)."""

    linearity: np.ndarray
    air_mv: np.ndarray
    zero_mv: np.ndarray
    gain: np.ndarray

    def read_on(self, readers: int) -> "Heads":
        """The same heads read on their first few handsets alone."""
        return replace(self, zero_mv=self.zero_mv[:, :readers], gain=self.gain[:, :readers])


@dataclass(frozen=True)
class Visit:
    """What happened: per head the room, the gas, air left in the head (fraction), over-pressure (mbar), humidity at the
    wet cells (fraction of saturation, NaN where the head was dry), whether the flush dried them, so that only the air
    point was moist, and slowness (heads, cells), the part of the oxygen reading not yet reached."""

    pressure: np.ndarray
    temperature: np.ndarray
    humidity: np.ndarray
    fraction: np.ndarray
    air_left: np.ndarray
    over_pressure: np.ndarray
    wet: np.ndarray
    slowness: np.ndarray
    flush_dries: bool = False


@dataclass(frozen=True)
class Seen:
    """What the bench saw: per head the instruments, per cell and reader the displays."""

    pressure: np.ndarray
    temperature: np.ndarray
    oxygen_temperature: np.ndarray
    humidity: np.ndarray
    fraction: np.ndarray
    air_mv: np.ndarray
    oxygen_mv: np.ndarray


def vapour_mbar(temperature_c: np.ndarray) -> np.ndarray:
    """Saturation pressure over water in mbar (Buck 1981, J. Appl. Meteorol. 20:1527; coefficients from memory)."""
    return 6.1121 * np.exp(17.502 * temperature_c / (240.97 + temperature_c))


def draw_heads(
    rng: np.random.Generator, heads: int, linearity: tuple[float, float], *, cells: int = 3, readers: int = 2
) -> Heads:
    """Heads whose cells have a uniform true linearity and an air output of 9 to 12.5 mV."""
    bench = Bench()
    return Heads(
        linearity=rng.uniform(*linearity, (heads, cells)),
        air_mv=rng.uniform(9.0, 12.5, (heads, cells)),
        zero_mv=rng.uniform(-bench.zero_half_width_mv, bench.zero_half_width_mv, (heads, readers)),
        gain=rng.normal(0.0, bench.gain, (heads, readers)),
    )


def draw_visit(rng: np.random.Generator, heads: Heads) -> Visit:
    """An ordinary visit: 780 to 1030 mbar, 5 to 35 C, 20 to 95 % humidity, at most 0.3 % air left, vented, dry."""
    n, cells = heads.linearity.shape
    return Visit(
        pressure=rng.uniform(780.0, 1030.0, n),
        temperature=rng.uniform(5.0, 35.0, n),
        humidity=rng.uniform(0.20, 0.95, n),
        fraction=rng.uniform(0.985, 0.9995, n),
        air_left=rng.uniform(0.0, 0.003, n),
        over_pressure=np.zeros(n),
        wet=np.full(n, np.nan),
        slowness=np.zeros((n, cells)),
    )


def another_visit(rng: np.random.Generator, heads: Heads, place: Visit) -> Visit:
    """A later visit at the same place: pressure within 20 mbar, everything else drawn anew."""
    fresh = draw_visit(rng, heads)
    return replace(fresh, pressure=place.pressure + rng.uniform(-20.0, 20.0, place.pressure.shape))


def observe(rng: np.random.Generator, heads: Heads, visit: Visit, bench: Bench) -> Seen:
    """Instruments and displays of a visit, each with an error of its stated uncertainty.

    Instrument errors are rectangular with the stated standard uncertainty, so that none exceeds 1.73 times it; the
    cell's noise is normal; a display rounds to its last digit.
    """
    n = visit.pressure.shape[0]

    def error(u: float) -> np.ndarray:
        return rng.uniform(-np.sqrt(3.0) * u, np.sqrt(3.0) * u, n)

    dry = np.isnan(visit.wet)
    air_humidity = np.where(dry, visit.humidity, visit.wet)
    gas_humidity = np.where(dry | visit.flush_dries, 0.0, visit.wet)
    oxygen_temperature = visit.temperature + rng.normal(0.0, 0.3, n)
    head_fraction = visit.fraction * (1.0 - visit.air_left) + DRY_AIR_OXYGEN * visit.air_left
    air_po2 = DRY_AIR_OXYGEN * (visit.pressure - air_humidity * vapour_mbar(visit.temperature))
    gas_po2 = head_fraction * (visit.pressure + visit.over_pressure - gas_humidity * vapour_mbar(oxygen_temperature))
    per_mbar = heads.air_mv / (DRY_AIR_OXYGEN * STANDARD_MBAR)
    residual = rng.normal(0.0, bench.compensation_per_k, heads.linearity.shape)
    residual = residual * (oxygen_temperature - visit.temperature)[:, None]
    air = per_mbar * air_po2[:, None]
    oxygen = per_mbar * heads.linearity / 100.0 * gas_po2[:, None] * (1.0 + residual)
    oxygen = oxygen - visit.slowness * (oxygen - air)
    return Seen(
        pressure=visit.pressure + error(bench.barometer_mbar),
        temperature=visit.temperature + error(bench.thermometer_c),
        oxygen_temperature=oxygen_temperature + error(bench.thermometer_c),
        humidity=np.clip(visit.humidity + error(bench.hygrometer), 0.0, 1.0),
        fraction=np.minimum(np.round(visit.fraction + error(bench.analyser), 3), 1.0),
        air_mv=_shown(rng, air, heads, bench),
        oxygen_mv=_shown(rng, oxygen, heads, bench),
    )


def _shown(rng: np.random.Generator, true_mv: np.ndarray, heads: Heads, bench: Bench) -> np.ndarray:
    volts = true_mv[:, :, None] * (1.0 + heads.gain[:, None, :]) + heads.zero_mv[:, None, :]
    volts = volts + rng.normal(0.0, bench.repeatability_mv, volts.shape)
    return np.round(volts / bench.resolution_mv) * bench.resolution_mv


def raw_millivolt_habit(seen: Seen) -> np.ndarray:
    """Whether each cell passes by fixed limits on raw mV, 8 to 13 in air and over 45 in oxygen, on every reader."""
    passes = (seen.air_mv >= 8.0) & (seen.air_mv <= 13.0) & (seen.oxygen_mv > 45.0)
    return np.all(passes, axis=-1)


def dry_air_habit(seen: Seen) -> np.ndarray:
    """Whether each cell passes by its air reading times 4.76 as the expected oxygen reading, 95 to 105 %."""
    percent = 100.0 * seen.oxygen_mv / (4.76 * seen.air_mv)
    return np.all((percent >= 95.0) & (percent <= 105.0), axis=-1)
