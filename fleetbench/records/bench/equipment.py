"""What measurements are made with."""

from datetime import date

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.schema import Base, Key, Ref, one_of

KINDS = (
    "analyser",
    "barometer",
    "hygrometer",
    "thermometer",
    "bench meter",
    "gauge",
    "manometer",
    "scale",
    "pressure pot",
    "flow meter",
    "reference cell",
    "analyser cell",
)


class TestEquipment(Base):
    """An analyser, barometer, gauge or scale with its uncertainty and last good day.

    uncertainty: standard, of one reading; digit: what the last place of its display stands for; both in `unit`.
    """

    __test__ = False
    __tablename__ = "test_equipment"
    id: Mapped[Key]
    ref: Mapped[Ref]
    kind: Mapped[str] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(120))
    serial: Mapped[str] = mapped_column(String(60), unique=True)
    uncertainty: Mapped[float | None]
    unit: Mapped[str | None] = mapped_column(String(12))
    last_good_day: Mapped[date | None]
    digit: Mapped[float | None]
    __table_args__ = (one_of("kind", KINDS),)
