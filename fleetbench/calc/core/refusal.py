"""Refusing a figure out of reason with one error that names the field and the range that is taken."""

import math

from fleetbench.calc.core.languages import say


def require_between(name: str, value: float, least: float, most: float) -> None:
    """Nothing where least <= value <= most; ValueError naming the field and the range otherwise, for NaN too."""
    if not math.isfinite(value) or not least <= value <= most:
        raise ValueError(
            say(
                "{name}: {value!r} is out of range; give {least:g} to {most:g}",
                name=name,
                value=value,
                least=least,
                most=most,
            )
        )
