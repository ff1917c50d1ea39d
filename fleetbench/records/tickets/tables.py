"""Service tickets from opening to sign-off with the time worked, and the disinfection between two divers.

The service plan of a unit type: what is to do how often, what each task needs, and where one was done.
"""

from datetime import datetime

from sqlalchemy import ColumnElement, UniqueConstraint, or_
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.verdict import LINE_STATES, TASK_STATES, WorkState
from fleetbench.calc.tickets.service_plan import ServiceBasis
from fleetbench.calc.tickets.steps import SEALS_DONE, StepKind
from fleetbench.records.bench.tables import TESTS
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, built_once, one_of, to

CAUSES = ("due item", "hold", "hand-back", "failed test", "course", "by hand", "turn-round", "near miss")
"""Why a ticket is opened."""


class Ticket(Base):
    """One service job on one unit; numbered per centre and year without gaps; closed by a signature.

    withdrawn_at: what it was opened for was cancelled before any of its work was done.
    """

    __tablename__ = "ticket"
    id: Mapped[Key]
    ref: Mapped[Ref]
    year: Mapped[int]
    number: Mapped[int]
    unit_id: Mapped[int] = to("unit")
    cause: Mapped[str] = mapped_column(OwnWord(20))
    reason: Mapped[str]
    critical: Mapped[bool] = mapped_column(default=True)
    opened_at: Mapped[datetime]
    opened_by_id: Mapped[int] = to("person")
    minutes: Mapped[float] = mapped_column(default=0.0)
    refers_to_id: Mapped[int | None] = to("ticket", nullable=True)
    signed_at: Mapped[datetime | None]
    signed_by_id: Mapped[int | None] = to("person", nullable=True)
    second_id: Mapped[int | None] = to("person", nullable=True)
    withdrawn_at: Mapped[datetime | None]
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (
        UniqueConstraint("year", "number", name="uq_ticket_year_number"),
        one_of("cause", CAUSES),
    )
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


@built_once
def still_open() -> ColumnElement[bool]:
    """That a ticket is neither signed nor withdrawn."""
    return Ticket.signed_at.is_(None) & Ticket.withdrawn_at.is_(None)


class Finding(Base):
    """Something seen under a ticket; an error is corrected by another finding that takes its place."""

    __tablename__ = "finding"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    text: Mapped[str]
    supersedes_id: Mapped[int | None] = to("finding", nullable=True)
    supersedes_reason: Mapped[str | None] = mapped_column(Words(120))


class Task(Base):
    """One thing to do under a ticket: to do, done, or put off with a reason; some ask for a second person's look."""

    __tablename__ = "task"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    ordinal: Mapped[int]
    text: Mapped[str] = mapped_column(Words(300))
    critical: Mapped[bool] = mapped_column(default=True)
    state: Mapped[str] = mapped_column(OwnWord(8), default=WorkState.TO_DO)
    minutes: Mapped[float | None]
    settled_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    put_off_reason: Mapped[str | None]
    times_put_off: Mapped[int] = mapped_column(default=0)
    second_person: Mapped[bool | None]
    __table_args__ = (one_of("state", TASK_STATES),)


class TicketTime(Base):
    """Time that one person worked under a ticket: a clock that runs (minutes None) or ran, or minutes given by hand."""

    __tablename__ = "ticket_time"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    person_id: Mapped[int | None] = to("person", nullable=True)
    began_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]
    minutes: Mapped[float | None]
    supersedes_id: Mapped[int | None] = to("ticket_time", nullable=True)
    supersedes_reason: Mapped[str | None] = mapped_column(Words(120))


class Disinfection(Base):
    """A loop was cleaned and disinfected between two divers."""

    __tablename__ = "disinfection"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    at: Mapped[datetime]
    agent: Mapped[str] = mapped_column(Words(80))
    strength: Mapped[str] = mapped_column(Words(40))
    contact_minutes: Mapped[float]
    rinsed: Mapped[bool]
    dry_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)


class ServiceTask(Base):
    """One task of a unit type's plan; amount is of the basis' unit, None for what every event asks for.

    roles: words with commas between, None for whoever may test. qualification: its kind, None for none.
    """

    __tablename__ = "service_task"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    ordinal: Mapped[int]
    text: Mapped[str] = mapped_column(Words(200))
    basis: Mapped[str] = mapped_column(OwnWord(10))
    amount: Mapped[float | None]
    minutes: Mapped[float | None]
    roles: Mapped[str | None] = mapped_column(Words(120))
    qualification: Mapped[str | None] = mapped_column(Words(40))
    second_person: Mapped[bool] = mapped_column(default=False)
    critical: Mapped[bool] = mapped_column(default=True)
    source: Mapped[str] = mapped_column(Words(300))
    __table_args__ = (one_of("basis", ServiceBasis),)


class ServiceNeed(Base):
    """What one task of the plan needs: a kind of test, or parts of a type.

    A correction takes the place of the row, which ends: a ticket keeps what was in force when it was opened.
    """

    __tablename__ = "service_need"
    id: Mapped[Key]
    ref: Mapped[Ref]
    service_task_id: Mapped[int] = to("service_task")
    test: Mapped[str | None] = mapped_column(OwnWord(24))
    part_type_id: Mapped[int | None] = to("part_type", nullable=True)
    quantity: Mapped[float] = mapped_column(default=1.0)
    began_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    supersedes_id: Mapped[int | None] = to("service_need", nullable=True)
    __table_args__ = (one_of("test", TESTS),)


def need_in_force(at: datetime | None = None) -> ColumnElement[bool]:
    """That a need of a plan is in force now, or was at that moment."""
    if at is None:
        return ServiceNeed.ended_at.is_(None)
    began = or_(ServiceNeed.began_at.is_(None), ServiceNeed.began_at <= at)
    return began & or_(ServiceNeed.ended_at.is_(None), ServiceNeed.ended_at > at)


class ServiceStep(Base):
    """One step of a task of the plan, as the manual has it; see PlanStep for what each column says.

    A correction takes the place of the row, which ends: what a ticket holds of it never changes.
    """

    __tablename__ = "service_step"
    id: Mapped[Key]
    ref: Mapped[Ref]
    service_task_id: Mapped[int] = to("service_task")
    ordinal: Mapped[int]
    kind: Mapped[str] = mapped_column(OwnWord(16))
    text: Mapped[str] = mapped_column(Words(200))
    what: Mapped[str | None] = mapped_column(Words(80))
    size: Mapped[str | None] = mapped_column(Words(40))
    unit: Mapped[str | None] = mapped_column(Words(20))
    low: Mapped[float | None]
    high: Mapped[float | None]
    amount: Mapped[float | None]
    tolerance: Mapped[float | None]
    before: Mapped[bool] = mapped_column(default=False)
    replace: Mapped[bool] = mapped_column(default=False)
    oxygen: Mapped[bool] = mapped_column(default=False)
    part_type_id: Mapped[int | None] = to("part_type", nullable=True)
    source: Mapped[str] = mapped_column(Words(300))
    began_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    supersedes_id: Mapped[int | None] = to("service_step", nullable=True)
    __table_args__ = (one_of("kind", StepKind),)


class StepResult(Base):
    """One step of a ticket's task, which was in force when the ticket was opened, and what was recorded of it.

    after: the figure after the work, or the torque. photograph: the SHA-256 of a photograph of the ticket. second_id:
    who looked at it and gave their PIN.
    """

    __tablename__ = "step_result"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    task_id: Mapped[int] = to("task")
    service_step_id: Mapped[int] = to("service_step")
    state: Mapped[str] = mapped_column(OwnWord(8), default=WorkState.TO_DO)
    settled_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    before: Mapped[float | None]
    after: Mapped[float | None]
    seal: Mapped[str | None] = mapped_column(OwnWord(10))
    lubricant: Mapped[str | None] = mapped_column(Words(80))
    lot: Mapped[str | None] = mapped_column(Words(60))
    oxygen_compatible: Mapped[bool | None]
    photograph: Mapped[str | None] = mapped_column(Words(64))
    second_id: Mapped[int | None] = to("person", nullable=True)
    reason: Mapped[str | None] = mapped_column(Words(300))
    __table_args__ = (
        UniqueConstraint("task_id", "service_step_id", name="uq_step_result_task_service_step"),
        one_of("state", LINE_STATES),
        one_of("seal", SEALS_DONE),
    )


class ServiceWork(Base):
    """A ticket's task that is a task of the service plan."""

    __tablename__ = "service_work"
    id: Mapped[Key]
    ref: Mapped[Ref]
    task_id: Mapped[int] = to("task", unique=True)
    service_task_id: Mapped[int] = to("service_task")
