"""Steps of a service task, what was recorded of each on a ticket, and needs of the plan that a correction ends.

Revision 0028, after 0027.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0028"
down_revision: str | Sequence[str] | None = "0027"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_KINDS = ("work", "figure", "torque", "seal", "lubricant", "parts", "photograph", "second person")
_STATES = ("to do", "done", "left out")
_SEALS = ("inspected", "replaced")


def upgrade() -> None:
    """Make room; no ticket from before has a step, and every need is in force since ever."""
    op.create_table(
        "service_step",
        *_key_columns(),
        _to("service_task_id", nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("text", sa.String(length=200), nullable=False),
        sa.Column("what", sa.String(length=80), nullable=True),
        sa.Column("size", sa.String(length=40), nullable=True),
        sa.Column("unit", sa.String(length=20), nullable=True),
        *(sa.Column(name, sa.Float(53), nullable=True) for name in ("low", "high", "amount", "tolerance")),
        *(sa.Column(name, sa.Boolean(), nullable=False) for name in ("before", "replace", "oxygen")),
        _to("part_type_id"),
        sa.Column("source", sa.String(length=300), nullable=False),
        *(sa.Column(name, sa.DateTime(timezone=True), nullable=True) for name in ("began_at", "ended_at")),
        _to("supersedes_id"),
        sa.CheckConstraint(_words("kind", _KINDS), name=op.f("ck_service_step_kind_word")),
        *_keys("service_step", service_task_id="service_task", part_type_id="part_type", supersedes_id="service_step"),
    )
    op.create_table(
        "step_result",
        *_key_columns(),
        *(_to(name, nullable=False) for name in ("ticket_id", "task_id", "service_step_id")),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        _to("person_id"),
        *(sa.Column(name, sa.Float(53), nullable=True) for name in ("before", "after")),
        sa.Column("seal", sa.String(length=10), nullable=True),
        sa.Column("lubricant", sa.String(length=80), nullable=True),
        sa.Column("lot", sa.String(length=60), nullable=True),
        sa.Column("oxygen_compatible", sa.Boolean(), nullable=True),
        sa.Column("photograph", sa.String(length=64), nullable=True),
        _to("second_id"),
        sa.Column("reason", sa.String(length=300), nullable=True),
        sa.CheckConstraint(_words("state", _STATES), name=op.f("ck_step_result_state_word")),
        sa.CheckConstraint(_words("seal", _SEALS), name=op.f("ck_step_result_seal_word")),
        *_keys("step_result", ticket_id="ticket", task_id="task", service_step_id="service_step", person_id="person",
               second_id="person"),
        sa.UniqueConstraint("task_id", "service_step_id", name=op.f("uq_step_result_task_service_step")),
    )  # fmt: skip
    for table, columns in (
        ("service_step", ("service_task_id", "part_type_id", "supersedes_id")),
        ("step_result", ("ticket_id", "task_id", "service_step_id", "person_id", "second_id")),
    ):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)
    with op.batch_alter_table("service_need") as batch_op:
        batch_op.add_column(sa.Column("began_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(_to("supersedes_id"))
        batch_op.create_index(op.f("ix_service_need_supersedes_id"), ["supersedes_id"], unique=False)
        batch_op.create_foreign_key(op.f("fk_service_need_supersedes_id"), "service_need", ["supersedes_id"], ["id"])
    with op.batch_alter_table("part_event") as batch_op:
        batch_op.add_column(_to("step_result_id"))
        batch_op.create_index(op.f("ix_part_event_step_result_id"), ["step_result_id"], unique=False)
        batch_op.create_foreign_key(op.f("fk_part_event_step_result_id"), "step_result", ["step_result_id"], ["id"])


def _key_columns() -> "list[sa.Column[object]]":
    return [
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
    ]


def _words(column: str, words: tuple[str, ...]) -> str:
    listed = ", ".join(f"'{word}'" for word in words)
    return f"{column} IS NULL OR {column} IN ({listed})"


def _to(name: str, *, nullable: bool = True) -> "sa.Column[int]":
    return sa.Column(name, sa.Integer(), nullable=nullable)


def _keys(table: str, **links: str) -> list[sa.Constraint]:
    named = (
        sa.ForeignKeyConstraint([each], [f"{to}.id"], name=op.f(f"fk_{table}_{each}")) for each, to in links.items()
    )
    return [
        *named,
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("ref", name=op.f(f"uq_{table}_ref")),
    ]
