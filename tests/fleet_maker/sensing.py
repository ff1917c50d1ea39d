"""What galvanic cells and handsets would show: a linear cell that ages, limits and dies, an offset, and rounding.

Air point: CIPM-2007 oxygen fraction 0.20939 of dry air; vapour pressure by WMO-No. 8 (2008), Annex 4.B.
"""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

import numpy as np

EPOCH = dt.date(2020, 1, 1)
HEALTHY_LIMIT_BAR = 2.9
KINDS = ("none", "low output", "not linear", "current-limited", "wet or corroded", "dead when new")


def day_number(moment: dt.date) -> float:
    """Days since the start of 2020, with the part of the day where it is known."""
    if isinstance(moment, dt.datetime):
        return (moment.date() - EPOCH).days + moment.hour / 24 + moment.minute / 1440
    return float((moment - EPOCH).days)


def vapour_mbar(temperature_c: np.ndarray) -> np.ndarray:
    """Saturation vapour pressure over water in mbar (WMO-No. 8, Annex 4.B)."""
    return 6.112 * np.exp(17.62 * temperature_c / (243.12 + temperature_c))


@dataclass
class Cell:
    """The hidden truth of one cell: what nobody at the bench can see but in its readings."""

    part: str
    opened: float
    sensitivity: float
    decline: float
    bend: float
    residual: float
    kind: str = "none"
    from_day: float = 1e9
    full_day: float = 1e9
    factor: float = 1.0
    limit_bar: float = HEALTHY_LIMIT_BAR


@dataclass
class Shot:
    """One calibration as it truly was, for the readings to be made from."""

    record: str
    cells: tuple[int, ...]
    readers: tuple[str, ...]
    offsets: tuple[float, ...]
    at: dt.datetime
    pressure_mbar: float
    air_c: float
    oxygen_c: float
    humidity: float
    fraction: float
    over_mbar: float = 0.0
    air_left: float = 0.0
    zero: bool = False
    pot: tuple[float, ...] = ()
    settling: tuple[int, ...] = ()
    bad_contact: tuple[int, int, float] | None = None
    only_air: bool = False
    extra: dict[str, Any] = field(default_factory=dict)


def make_cell(part: str, opened: dt.date, rng: np.random.Generator) -> Cell:
    """A new sound cell with its own sensitivity (mV per bar), yearly decline, bend and temperature residual."""
    return Cell(
        part,
        day_number(opened),
        float(np.clip(rng.normal(53.0, 1.5), 51, 57)),
        float(np.clip(rng.normal(0.06, 0.015), 0.03, 0.085)),
        float(np.clip(rng.normal(0.0, 0.004), -0.008, 0.008)),
        float(rng.normal(0, 0.0003)),
    )


_POINT_ORDER = {"zero": 0, "air": 1, "settling": 2, "oxygen": 3, "pot": 4}


def readings(shots: list[Shot], cells: list[Cell], rng: np.random.Generator) -> list[tuple[Any, ...]]:
    """Rows of the readings sheet for all calibrations at once, in the order of the calibrations given."""
    rows: dict[str, list[Any]] = {key: [] for key in ("shot", "slot", "cell", "reader", "point", "seconds", "pot")}
    for i, shot in enumerate(shots):
        for point, stamp, pot in _points(shot):
            for slot, cell in enumerate(shot.cells):
                for reader in range(len(shot.readers) if point != "settling" else 1):
                    for key, value in zip(rows, (i, slot, cell, reader, point, stamp, pot), strict=True):
                        rows[key].append(value)
    if not rows["shot"]:
        return []
    mv = _shown_mv(shots, cells, rows, rng)
    parts = [cell.part for cell in cells]
    records, names = [shot.record for shot in shots], [shot.readers for shot in shots]
    shown = [f"{value:.1f}" for value in mv]
    return [
        (
            records[i], f"cell {slot + 1}", parts[cell], names[i][reader], point, value, None,
            f"{pot:.3f}" if point == "pot" else None, stamp if point == "settling" else None,
        )
        for i, slot, cell, reader, point, stamp, pot, value in zip(*rows.values(), shown, strict=True)
    ]  # fmt: skip


def _points(shot: Shot) -> list[tuple[str, int, float]]:
    points = [("zero", 0, 0.0)] if shot.zero else []
    points.append(("air", 0, 0.0))
    if not shot.only_air:
        points += [("settling", seconds, 0.0) for seconds in shot.settling]
        points.append(("oxygen", 0, 0.0))
        points += [("pot", 0, bar) for bar in shot.pot]
    return points


def _shown_mv(shots: list[Shot], cells: list[Cell], rows: dict[str, list[Any]], rng: np.random.Generator) -> np.ndarray:
    which, slot, reader = (np.array(rows[key]) for key in ("shot", "slot", "reader"))
    point = np.array([_POINT_ORDER[name] for name in rows["point"]])
    stamp, pot = np.array(rows["seconds"], float), np.array(rows["pot"], float)

    def of(name: str) -> np.ndarray:
        return np.array([getattr(shot, name) for shot in shots], float)[which]

    pressure, air_c, oxygen_c = of("pressure_mbar"), of("air_c"), of("oxygen_c")
    air_bar = 0.20939 * (pressure - of("humidity") * vapour_mbar(air_c)) / 1000
    in_head = of("fraction") * (1 - of("air_left")) + 0.20939 * of("air_left")
    oxygen_bar = in_head * (pressure + of("over_mbar")) / 1000
    po2 = np.select([point == 0, point == 1, point == 4], [np.zeros_like(pot), air_bar, pot], oxygen_bar)
    at = np.array([day_number(shot.at) for shot in shots])[which]
    true_mv = _cell_mv(cells, np.array(rows["cell"]), at, po2, np.where(point >= 2, oxygen_c - air_c, 0.0))
    rising = np.where(point == 2, 1 - 0.8 * np.exp(-stamp / 14.0), 1.0)
    offset = np.array([(*shot.offsets, 0.0)[:2] for shot in shots])[which, reader]
    gain = np.ones(len(which))
    for i, shot in enumerate(shots):
        if shot.bad_contact is not None:
            bad_slot, bad_reader, factor = shot.bad_contact
            gain[(which == i) & (slot == bad_slot) & (reader == bad_reader)] = factor
    noise = rng.normal(0, 0.015, len(which)) + true_mv * rng.normal(0, 0.0003, len(which))
    noise = np.where(point == 0, noise * 0.5, noise)
    return np.round(true_mv * rising * gain + offset + noise, 1) + 0.0


def _cell_mv(cells: list[Cell], index: np.ndarray, at: np.ndarray, po2: np.ndarray, warmer: np.ndarray) -> np.ndarray:
    def of(name: str) -> np.ndarray:
        return np.array([getattr(cell, name) for cell in cells], float)[index]

    start, full = of("from_day"), of("full_day")
    gone = np.clip((at - start) / np.maximum(full - start, 0.01), 0, 1)
    sensitivity = of("sensitivity") * (1 - of("decline") * (at - of("opened")) / 365.25)
    sensitivity = sensitivity * (1 - (1 - of("factor")) * gone) * (1 + of("residual") * warmer)
    # The limit falls on a log scale: a cell that starves does so slowly at first and then all at once.
    limit = HEALTHY_LIMIT_BAR * (of("limit_bar") / HEALTHY_LIMIT_BAR) ** gone
    bent = sensitivity * po2 * (1 + of("bend") * (po2 - 0.21))
    return bent * (1 + (po2 / limit) ** 8) ** -0.125
