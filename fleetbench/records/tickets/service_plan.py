"""The service plan of a unit type: what is to do how often, what each task needs, and where one was done."""

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.tickets.service_plan import BASES
from fleetbench.records.bench.tables import TESTS
from fleetbench.records.core.schema import Base, Key, Ref, one_of, to


class ServiceTask(Base):
    """One task of a unit type's plan; amount is of the basis' unit, None for what every event asks for.

    roles: words with commas between, None for whoever may test. qualification: its kind, None for none.
    """

    __tablename__ = "service_task"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    ordinal: Mapped[int]
    text: Mapped[str] = mapped_column(String(200))
    basis: Mapped[str] = mapped_column(String(10))
    amount: Mapped[float | None]
    minutes: Mapped[float | None]
    roles: Mapped[str | None] = mapped_column(String(120))
    qualification: Mapped[str | None] = mapped_column(String(40))
    second_person: Mapped[bool] = mapped_column(default=False)
    critical: Mapped[bool] = mapped_column(default=True)
    source: Mapped[str] = mapped_column(String(300))
    __table_args__ = (one_of("basis", BASES),)


class ServiceNeed(Base):
    """What one task of the plan needs: a kind of test, or parts of a type."""

    __tablename__ = "service_need"
    id: Mapped[Key]
    ref: Mapped[Ref]
    service_task_id: Mapped[int] = to("service_task")
    test: Mapped[str | None] = mapped_column(String(24))
    part_type_id: Mapped[int | None] = to("part_type", nullable=True)
    quantity: Mapped[float] = mapped_column(default=1.0)
    __table_args__ = (one_of("test", TESTS),)


class ServiceWork(Base):
    """A ticket's task that is a task of the service plan."""

    __tablename__ = "service_work"
    id: Mapped[Key]
    ref: Mapped[Ref]
    task_id: Mapped[int] = to("task", unique=True)
    service_task_id: Mapped[int] = to("service_task")
