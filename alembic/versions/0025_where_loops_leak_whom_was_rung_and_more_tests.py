"""Where a loop leaked, calls to divers who are out, and kinds of test for sensors, displays, batteries and flow.

Revision 0025, after 0024.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0025"
down_revision: str | Sequence[str] | None = "0024"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_TESTS = (
    "one-way valve", "loop negative", "loop positive", "intermediate pressure", "injector flow", "opening pressure",
    "bailout valve", "mouthpiece valve", "solenoid", "addition valve", "battery voltage", "alarms", "set-point held",
    "carbon dioxide zero", "carbon dioxide span", "temperature stick", "depth sensor", "handset screen",
    "head-up display", "battery under load", "charge cycles", "solenoid flow",
)  # fmt: skip
_METHODS = (
    "soapy water", "under water", "blanking off a section", "by ear", "by feel", "by eye", "trace gas", "other",
)  # fmt: skip
_ANSWERS = (
    "will not dive it", "will bring it back", "means to dive it", "message left", "no answer", "number does not work",
)  # fmt: skip


def upgrade() -> None:
    """Make room; nothing is known of what was before."""
    for table, column in (("bench_test", "kind"), ("service_need", "test")):
        with op.batch_alter_table(table) as batch_op:
            batch_op.drop_constraint(op.f(f"ck_{table}_{column}_word"), type_="check")
            batch_op.create_check_constraint(op.f(f"ck_{table}_{column}_word"), _words(column, _TESTS))
    op.create_table(
        "leak",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        _to("bench_test_id", nullable=False),
        _to("slot_id"),
        sa.Column("place", sa.String(length=120), nullable=True),
        sa.Column("method", sa.String(length=30), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        *(_to(column) for column in ("person_id", "ticket_id", "supersedes_id")),
        sa.CheckConstraint(_words("method", _METHODS), name=op.f("ck_leak_method_word")),
        *_keys("leak", bench_test_id="bench_test", slot_id="slot", person_id="person", ticket_id="ticket",
               supersedes_id="leak"),
    )  # fmt: skip
    op.create_table(
        "hire_call",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        _to("booking_unit_id", nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        _to("person_id", nullable=False),
        sa.Column("told", sa.String(length=120), nullable=False),
        sa.Column("answer", sa.String(length=30), nullable=False),
        sa.Column("again_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(_words("answer", _ANSWERS), name=op.f("ck_hire_call_answer_word")),
        *_keys("hire_call", booking_unit_id="booking_unit", person_id="person"),
    )
    for table, columns in (
        ("leak", ("bench_test_id", "slot_id", "person_id", "ticket_id", "supersedes_id")),
        ("hire_call", ("booking_unit_id", "person_id")),
    ):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)


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
