"""A figure that an instrument gave by itself, with the instrument and its own words."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class MeterSource:
    """Where a figure comes from: the piece of equipment, its answer to *IDN?, its answer as it came, and when.

    unit: of the answer as it came.
    """

    equipment_id: int
    idn: str
    answer: str
    unit: str
    at: datetime


class Metered(float):
    """A figure with its source; it counts as its number everywhere, and whatever is reckoned from it has no source.

    An act that records it keeps the source beside the row (`Transaction`).
    """

    __slots__ = ("source",)
    source: MeterSource

    def __new__(cls, value: float, source: MeterSource) -> "Metered":  # noqa: D102
        made = super().__new__(cls, value)
        made.source = source
        return made

    def __getnewargs__(self) -> Any:
        return float(self), self.source


def source_content(value: float | None) -> dict[str, Any] | None:
    """The source of a figure as plain values for a draft file; None for a typed one."""
    if not isinstance(value, Metered):
        return None
    each = value.source
    return {"equipment_id": each.equipment_id, "idn": each.idn, "answer": each.answer, "unit": each.unit,
            "at": each.at.isoformat()}  # fmt: skip


def with_source(value: float | None, content: dict[str, Any] | None) -> float | None:
    """The figure with the source that a draft file holds, or as it is; ValueError or KeyError for a torn one."""
    if value is None or content is None:
        return value
    return Metered(value, MeterSource(**{**content, "at": datetime.fromisoformat(content["at"])}))
