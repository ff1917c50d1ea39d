"""Units of measure: what a centre types and reads, beside the units in which every figure is stored.

Stored is always bar, °C, m, kg and g. One pressure is another matter: oxygen partial pressure and the room's pressure
stay in bar and mbar, as the trade reads them, and are given a plain sign in place of a `Measure`.

Conversions are exact by definition: inch 0.0254 m, foot 0.3048 m, pound 0.45359237 kg, ounce a sixteenth of it,
standard gravity 9.80665 m/s², t/°F = 1.8 t/°C + 32 (NIST Special Publication 811, 2008, appendix B; BIPM, The
International System of Units, 9th edition).
"""

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

METRIC, IMPERIAL = "metric", "imperial"


class UnitOfMeasure(NamedTuple):
    """One unit: its sign, its name, how much of the stored unit one of it is, and its own figure where that is zero."""

    sign: str
    word: str
    size: Fraction = Fraction(1)
    at_zero: Fraction = Fraction(0)


_INCH, POUND, _GRAVITY = Fraction("0.0254"), Fraction("0.45359237"), Fraction("9.80665")
PSI = POUND * _GRAVITY / _INCH**2 / 100_000
_EXACT = 1e-9
"""How near, of itself, a stored figure lies to what it was typed as: far over the error of two conversions."""
_MOST_DECIMALS = 4


@dataclass(frozen=True, slots=True)
class Measure:
    """A measured quantity whose unit a centre chooses. As text it is the sign of the unit in use."""

    kind: str
    units: tuple[UnitOfMeasure, ...]

    def __str__(self) -> str:
        return self.unit.sign

    @property
    def unit(self) -> UnitOfMeasure:
        """The unit in use."""
        return self.units[_IN_USE.get(self.kind, 0)]

    @property
    def is_stored(self) -> bool:
        """Whether the unit in use is the one that is stored."""
        return self.unit is self.units[0]

    @property
    def word(self) -> str:
        """The unit in use in words, as after 'enter'."""
        return self.unit.word

    def shown(self, value: float) -> float:
        """A stored figure in the unit in use."""
        unit = self.unit
        return value if self.is_stored else value / float(unit.size) + float(unit.at_zero)

    def typed(self, value: float) -> float:
        """A figure of the unit in use as it is stored."""
        unit = self.unit
        return value if self.is_stored else (value - float(unit.at_zero)) * float(unit.size)

    @property
    def difference(self) -> "Measure":
        """The same for differences and uncertainties, which have no zero point of their own."""
        return Measure(self.kind, tuple(each._replace(at_zero=Fraction(0)) for each in self.units))

    def decimals(self, stored: int) -> int:
        """Digits after the sign that tell as much as so many of the stored unit do."""
        return max(0, math.ceil(stored + math.log10(float(self.unit.size)) - 1e-9))

    def number(self, value: float, decimals: int | None = None) -> str:
        """A stored figure as it is read, without its unit.

        decimals: of the stored unit. Without them what was typed in the unit in use comes back as it was typed, and any
        other figure has the digits that tell as much as its own.
        """
        if self.is_stored:
            return f"{value:g}" if decimals is None else f"{value:.{decimals}f}"
        figure = self.shown(value)
        if decimals is None:
            for places in range(_MOST_DECIMALS + 1):
                if math.isclose(self.typed(round(figure, places)), value, rel_tol=_EXACT, abs_tol=_EXACT):
                    return _fixed(figure, places)
            decimals = len(f"{value:.6f}".rstrip("0").partition(".")[2])
        return _fixed(figure, self.decimals(min(decimals, _MOST_DECIMALS)))

    def words(self, value: float, decimals: int | None = None) -> str:
        """A stored figure as it is read, with its unit."""
        return f"{self.number(value, decimals)} {self}"

    def spread(self, value: float, style: str = ".2g") -> str:
        """A stored difference or uncertainty as it is read, without its unit."""
        return f"{value / float(self.unit.size):{style}}"

    def within(self, value: float, expanded: float) -> str:
        """'2500 ± 4 g': a stored figure with its uncertainty."""
        return f"{self.number(value)} ± {self.spread(expanded)} {self}"

    def span(self, low: float, high: float) -> str:
        """'4 to 20 bar'; in another unit rounded inwards, so that both ends of what is told may be typed."""
        return _span(*self.ends(low, high), str(self))

    def ends(self, low: float, high: float) -> tuple[str, str]:
        """Both figures without the unit, in another unit rounded inwards."""
        return (f"{low:g}", f"{high:g}") if self.is_stored else (self.least(low), self.most(high))

    def least(self, value: float) -> str:
        """A minimum without its unit, rounded up to digits that tell as much as its own."""
        return self._towards(value, math.ceil)

    def most(self, value: float) -> str:
        """A maximum without its unit, rounded down: rounding up would allow what the figure does not."""
        return self._towards(value, math.floor)

    def whole(self, value: float, *, up: bool = False) -> str:
        """'40 m': rounded down to a whole one of the unit in use, or up."""
        figure = self.shown(value)
        return f"{math.ceil(figure - _EXACT) if up else math.floor(figure + _EXACT)} {self}"

    def _towards(self, value: float, way: Callable[[float], int]) -> str:
        if self.is_stored:
            return f"{value:g}"
        near = self.number(value)
        places = len(near.partition(".")[2])
        steps = self.shown(value) * 10**places
        exact = round(steps)
        rounded = exact if math.isclose(steps, exact, rel_tol=_EXACT, abs_tol=1e-6) else way(steps)
        return _fixed(rounded / 10**places, places)


def _fixed(figure: float, places: int) -> str:
    return f"{round(figure, places) + 0.0:.{places}f}"


BAR = Measure("pressure", (UnitOfMeasure("bar", "bar"), UnitOfMeasure("psi", "psi", PSI)))
CELSIUS = Measure(
    "temperature", (UnitOfMeasure("°C", "degrees C"), UnitOfMeasure("°F", "degrees F", Fraction(5, 9), Fraction(32)))
)
METRE = Measure("length", (UnitOfMeasure("m", "metres"), UnitOfMeasure("ft", "feet", Fraction("0.3048"))))
KILOGRAM = Measure("mass", (UnitOfMeasure("kg", "kilograms"), UnitOfMeasure("lb", "pounds", POUND)))
GRAM = Measure("mass", (UnitOfMeasure("g", "grams"), UnitOfMeasure("oz", "ounces", POUND * 1000 / 16)))

SIGNS: Mapping[str, Measure] = {"bar": BAR, "°C": CELSIUS, "m": METRE, "kg": KILOGRAM, "g": GRAM}
"""Stored signs of what a centre may read in another unit. What a test measured in "C" is a difference of two probes,
and stays as its thermometer states it."""

CHOICES: Mapping[str, tuple[str, str]] = {
    "pressure": ("bar", "psi"), "temperature": ("°C", "°F"), "length": ("m", "ft"), "mass": ("kg", "lb"),
}  # fmt: skip
"""The words by which a centre states each unit by itself: the metric one first."""

_IN_USE: dict[str, int] = {}


class StatedUnits(NamedTuple):
    """What a centre states: all metric or all imperial, and each by itself where it is another; None as all."""

    measures: str | None = METRIC
    pressure: str | None = None
    temperature: str | None = None
    length: str | None = None
    mass: str | None = None

    def chosen(self) -> dict[str, int]:
        """The place of the unit in use in each kind of measure."""
        usual = int(self.measures == IMPERIAL)
        own = {kind: getattr(self, kind) for kind in CHOICES}
        return {kind: usual if own[kind] not in CHOICES[kind] else CHOICES[kind].index(own[kind]) for kind in CHOICES}


METRIC_ALL = StatedUnits()
"""What a centre states that has stated nothing."""


def use(stated: StatedUnits) -> None:
    """Type and read in these units from now on, in this whole process, which serves one centre."""
    _IN_USE.update(stated.chosen())


def in_use() -> tuple[str, ...]:
    """The signs of the units in use: words that were made in others are not the same words."""
    return tuple(signs[_IN_USE.get(kind, 0)] for kind, signs in CHOICES.items())


@contextmanager
def using(stated: StatedUnits) -> Iterator[None]:
    """These units for a while."""
    before = dict(_IN_USE)
    use(stated)
    try:
        yield
    finally:
        _IN_USE.clear()
        _IN_USE.update(before)


def measured_in(sign: str | None) -> Measure | str:
    """The measure of a stored sign, for instance of a gauge's pressure; any other sign as it is."""
    return SIGNS.get(sign or "", sign or "")


def in_unit(value: float, unit: Measure | str, decimals: int | None = None) -> str:
    """A stored figure with its unit: of a measure in the unit in use, of a plain sign as it is stored."""
    if isinstance(unit, Measure):
        return unit.words(value, decimals)
    number = f"{value:g}" if decimals is None else f"{value:.{decimals}f}"
    return f"{number} {unit}".rstrip()


def span_in(low: float, high: float, unit: Measure | str) -> str:
    """'4 to 20 bar', in the unit in use."""
    return unit.span(low, high) if isinstance(unit, Measure) else _span(f"{low:g}", f"{high:g}", unit)


def span_without_unit(low: float, high: float, unit: Measure | str) -> str:
    """'4 to 20', in the unit in use."""
    return _span(*(unit.ends(low, high) if isinstance(unit, Measure) else (f"{low:g}", f"{high:g}")), "")


def _span(low: str, high: str, unit: str) -> str:
    from fleetbench.calc.core.languages import say  # which reads this module

    return (
        say("{low} to {high} {unit}", low=low, high=high, unit=unit)
        if unit
        else say("{low} to {high}", low=low, high=high)
    )


def within_in(value: float, expanded: float, unit: Measure | str) -> str:
    """A stored figure with its uncertainty and unit."""
    return unit.within(value, expanded) if isinstance(unit, Measure) else f"{value:g} ± {expanded:g} {unit}"


def result_in(value: float, expanded: float | None, sign: str | None) -> str:
    """A stored result with its uncertainty, as 9.42 ± 0.1 bar; in another unit as it was typed."""
    unit = measured_in(sign)
    if not isinstance(unit, Measure):
        within = f" ± {expanded:.2g}" if expanded is not None else ""
        return f"{value:.3g}{within} {unit}".rstrip()
    within = f" ± {unit.spread(expanded)}" if expanded is not None else ""
    return f"{f'{value:.3g}' if unit.is_stored else unit.number(value)}{within} {unit}"
