"""Figures as a person gives them, checked where they enter: one clear refusal that names field and remedy."""

import math

from fleetbench.calc.core.plausible import Quantity
from fleetbench.records.core.errors import Refused


def figure(field: str, value: float | None, low: float, high: float, remedy: str) -> float:
    """The value where it is a number from low to high; Refused otherwise, and where it is not given."""
    if value is None:
        raise Refused(f"{field}: is missing; {remedy}")
    if isinstance(value, bool) or not math.isfinite(value) or not low <= value <= high:
        raise Refused(f"{field}: {value:g} is outside {low:g} to {high:g}; {remedy}")
    return float(value)


def figure_or_none(field: str, value: float | None, low: float, high: float, remedy: str) -> float | None:
    """The value where it is a number from low to high, None for not known; Refused otherwise."""
    return None if value is None else figure(field, value, low, high, remedy)


def measured(quantity: Quantity, value: float | None, field: str | None = None) -> float:
    """The value where this quantity can be that; Refused otherwise, and where it is not given."""
    return figure(field or quantity.name, value, quantity.low, quantity.high, quantity.remedy)


def measured_or_none(quantity: Quantity, value: float | None, field: str | None = None) -> float | None:
    """The value where this quantity can be that, None for not known; Refused otherwise."""
    return None if value is None else measured(quantity, value, field)


def one_word(field: str, word: str, words: tuple[str, ...]) -> str:
    """The word where it is one of those known; Refused otherwise."""
    if word not in words:
        raise Refused(f"{field}: {word!r} is not known; choose one of {', '.join(words)}")
    return word
