"""Figures that meters gave: which row and column of the records holds each, and what the meter said."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.metered import Metered
from fleetbench.records.core.schema import Base, Key, to


class MeterReading(Base):
    """One recorded figure that was read from a meter; a typed figure has none.

    made_of, made_id and figure: table, key and column of the figure. answer: as it came, in `unit`; value: as it was
    recorded. idn: what the meter answered to *IDN? just before.
    """

    __tablename__ = "meter_reading"
    id: Mapped[Key]
    made_of: Mapped[str] = mapped_column(String(40), index=True)
    made_id: Mapped[int]
    figure: Mapped[str] = mapped_column(String(40))
    equipment_id: Mapped[int] = to("test_equipment")
    idn: Mapped[str] = mapped_column(String(256))
    answer: Mapped[str] = mapped_column(String(80))
    unit: Mapped[str] = mapped_column(String(12))
    value: Mapped[float]
    at: Mapped[datetime]


def metered_in(values: Mapping[str, Any]) -> dict[str, Metered]:
    """The figures among a row's values that meters gave, by column."""
    return {name: value for name, value in values.items() if isinstance(value, Metered)}


def meter_row(table: str, key: int, figure: str, value: Metered) -> dict[str, Any]:
    """The row that keeps where a figure came from."""
    from_ = value.source
    return {
        "made_of": table, "made_id": key, "figure": figure, "equipment_id": from_.equipment_id, "idn": from_.idn,
        "answer": from_.answer, "unit": from_.unit, "value": float(value), "at": from_.at,
    }  # fmt: skip
