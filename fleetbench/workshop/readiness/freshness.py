"""Limits of readiness: the trade's defaults, replaced by what the centre or a unit type states as its own."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from fleetbench.calc.readiness.judge import Freshness, ReadinessLimits
from fleetbench.records.places.reads import LimitRecord

FIELDS = {
    "workshop calibration": "calibration",
    "one-way valves and loop": "valves_and_loop",
    "intermediate pressure and gas addition": "gas_side_tests",
    "bailout or mouthpiece valve": "mouthpiece_tests",
    "alarms, displays and set-point": "alarm_tests",
    "disinfected and dry": "disinfected",
}
"""A limit in days that carries a check's name sets when the check stops; with ` advise` after it, when it advises."""

DAYS = ("days", "d")

FIGURES = {
    "handset back in air, minimum": ("air_least_bar", "bar"),
    "handset back in air, maximum": ("air_most_bar", "bar"),
    "handset back in air, advise off": ("air_off_advise", "%"),
}
"""Other figures that a limit of this name and unit replaces; those of the air at 1013 mbar, dry."""


def _known(limit: LimitRecord) -> bool:
    """Whether a limit's name and unit are among those that readiness goes by."""
    if limit.name in FIGURES:
        return limit.unit == FIGURES[limit.name][1]
    return limit.unit in DAYS and limit.name.removesuffix(" advise") in FIELDS


class FreshnessBook:
    """Freshness limits of each unit type: its own, else the centre's, else the trade's."""

    def __init__(self, limits: Iterable[LimitRecord]) -> None:
        self._stated = {
            (each.unit_type_id, each.name): each for each in limits if each.part_type_id is None and _known(each)
        }
        self._reckoned: dict[int, ReadinessLimits] = {}

    def of(self, unit_type_id: int) -> ReadinessLimits:
        """The limits in force for a unit type."""
        if unit_type_id not in self._reckoned:
            default = ReadinessLimits()
            own: dict[str, Any] = {
                field: self._one(unit_type_id, name, getattr(default, field)) for name, field in FIELDS.items()
            }
            self._reckoned[unit_type_id] = replace(default, **own, **self._figures(unit_type_id, default))
        return self._reckoned[unit_type_id]

    def _one(self, unit_type_id: int, name: str, default: Freshness) -> Freshness:
        stop, advise = self._find(unit_type_id, name), self._find(unit_type_id, f"{name} advise")
        if stop is None and advise is None:
            return default
        stops = int(stop.amount) if stop is not None else default.stop_over_days
        advises = int(advise.amount) if advise is not None else default.advise_over_days
        if stops is not None and advises is not None:
            advises = min(advises, stops)
        sources = dict.fromkeys(each.source for each in (stop, advise) if each is not None)
        return Freshness(stops, advises, "; ".join(sources))

    def _figures(self, unit_type_id: int, default: ReadinessLimits) -> dict[str, Any]:
        """The stated figures that are no days, and where they come from."""
        found = {name: limit for name in FIGURES if (limit := self._find(unit_type_id, name)) is not None}
        if not found:
            return {}
        own = {FIGURES[name][0]: each.amount / (100 if each.unit == "%" else 1) for name, each in found.items()}
        return {**own, "air_source": "; ".join(dict.fromkeys(each.source for each in found.values()))}

    def _find(self, unit_type_id: int, name: str) -> LimitRecord | None:
        return self._stated.get((unit_type_id, name)) or self._stated.get((None, name))
