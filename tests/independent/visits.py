"""One cell on one handset at a time, visit after visit to the bench, worked out in plain Python.

Oxygen in dry air: CIPM-2007 (Picard et al., Metrologia 45 (2008) 149, table 1); vapour: WMO-No. 8 (2008), annex 4.B.
Uncertainties combined by JCGM 100:2008, 5.1.2 and 4.3.7, k = 2; in limits only with the whole interval (guarded
acceptance, JCGM 106:2012, 8.3.2). What an instrument without a recorded uncertainty may be wrong by, the figures for
an over-pressure and moist air that nobody measured, and the ladder of visits (undecided: repeat, then watch, then
reject, but a visit that the fault of the one before fits as well is no further rung): common practice, no published
source.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

OXYGEN_IN_DRY_AIR = 0.20939
LOW, HIGH = 95.0, 105.0
USABLE = ("pass", "watch")


@dataclass(frozen=True, slots=True)
class Room:
    """Pressure in mbar, degrees C, relative humidity and oxygen fraction; standard uncertainties, None not recorded."""

    mbar: float = 1001.5
    celsius: float = 19.5
    humidity: float = 0.55
    fraction: float = 0.997
    mbar_u: float | None = 0.5
    celsius_u: float | None = None
    humidity_u: float | None = None
    fraction_u: float | None = 0.0025


@dataclass(frozen=True, slots=True)
class Visit:
    """What was read and said at one visit: mV of one handset, over-pressure in mbar, hours since the visit before."""

    handset: str
    air: float
    oxygen: float
    zero: float | None = None
    over: float | None = 0.0
    hours: float | None = None


@dataclass(frozen=True, slots=True)
class Truth:
    """A cell and what is wrong at its visits: linearity in percent, mV each bar in air, an offset of every reading in
    mV, an over-pressure in mbar, and whether the air at the cell was saturated."""

    linearity: float
    gain: float
    offset: float = 0.0
    over: float = 0.0
    moist: bool = False

    def reads(self, room: Room, chance: random.Random) -> tuple[float, float]:
        """What a handset of 0.1 mV shows in air and in oxygen."""
        damp = 1.0 if self.moist else room.humidity
        in_air = OXYGEN_IN_DRY_AIR * (room.mbar - damp * vapour(room.celsius)) / 1000.0
        in_oxygen = room.fraction * (room.mbar + self.over) / 1000.0
        air, oxygen = self.gain * in_air, self.gain * self.linearity / 100.0 * in_oxygen
        return tuple(round(mv + self.offset + chance.gauss(0.0, 0.02), 1) for mv in (air, oxygen))  # type: ignore[return-value]


def vapour(celsius: float) -> float:
    """Saturation pressure over water, mbar."""
    return 6.112 * math.exp(17.62 * celsius / (243.12 + celsius))


def linearity(room: Room, visit: Visit) -> tuple[float, float]:
    """Linearity in percent and its expanded uncertainty."""
    es, zero = vapour(room.celsius), visit.zero or 0.0
    air, oxygen = visit.air - zero, visit.oxygen - zero
    dry = room.mbar - room.humidity * es
    rich = room.mbar + (visit.over or 0.0)
    value = 100.0 * (oxygen / (room.fraction * rich)) / (air / (OXYGEN_IN_DRY_AIR * dry))
    slope = es * 17.62 * 243.12 / (243.12 + room.celsius) ** 2
    root3 = math.sqrt(3.0)
    digit = math.hypot(0.1 / math.sqrt(12.0), 0.02)
    terms = (
        _or(room.mbar_u, 15.0) * (1.0 / dry - 1.0 / rich),
        room.humidity * slope * _or(room.celsius_u, 1.0) / dry,
        room.humidity * es * 0.002 / dry,
        es * _or(room.humidity_u, 0.10 / root3) / dry,
        _or(room.fraction_u, 0.02 / root3) / room.fraction,
        (5.0 / root3 if visit.over is None else 1.0) / rich,
        (0.1 / root3 if visit.zero is None else digit) * (1.0 / air - 1.0 / oxygen),
        digit / air,
        digit / oxygen,
        0.002 * 2.0 / root3,
    )
    return value, 2.0 * value * math.sqrt(sum(term * term for term in terms))


def _or(stated: float | None, otherwise: float) -> float:
    return otherwise if stated is None else stated


def verdicts(room: Room, visits: Sequence[Visit]) -> list[str]:
    """The verdict of each visit in turn."""
    said: list[str] = []
    rungs, handsets, above, rejected = 0, set[str](), 0, False
    for visit in visits:
        value, u = linearity(room, visit)
        across = LOW <= value <= HIGH and (value - u < LOW or value + u > HIGH)
        new = _new(room, visit, value, handsets)
        if value < LOW:
            now = "reject"
        elif value > HIGH:
            now = "repeat" if not above else "reject"
        elif across:
            now = ("repeat", "watch", "reject")[min(rungs, 2)] if new else "repeat"
        else:
            now = "repeat" if _by_word(room, visit, value - u) else "pass"
        said.append("repeat" if rejected and now in USABLE else now)
        rejected = (now == "reject" and not across) or (rejected and (across or now not in USABLE))
        above = above + 1 if value > HIGH else 0
        rungs = max(1, rungs + new) if across else 0
        handsets = handsets | {visit.handset} if across else set()
    return said


def _new(room: Room, visit: Visit, value: float, handsets: set[str]) -> bool:
    """Whether no fault of the undecided visits before is sure to be in this one as well, where it could matter."""
    zero = visit.zero is not None or visit.handset not in handsets
    vented = visit.over is not None or value * (1.0 - 20.0 / room.mbar) >= LOW
    dried = (visit.hours or 0.0) >= 12.0 or value * (1.0 - _moist(room)) >= LOW
    return zero and vented and dried


def _moist(room: Room) -> float:
    """By how much saturated air at the cell makes linearity too high, relative."""
    es = vapour(room.celsius)
    return (1.0 - room.humidity) * es / (room.mbar - room.humidity * es)


def _by_word(room: Room, visit: Visit, low_end: float) -> bool:
    """Whether the interval is in limits only if the head was as vented and as dry as was said."""
    share = max(20.0 / room.mbar if visit.over is None else 0.0, 0.0 if (visit.hours or 0.0) >= 12.0 else _moist(room))
    return low_end >= LOW > low_end * (1.0 - share)
