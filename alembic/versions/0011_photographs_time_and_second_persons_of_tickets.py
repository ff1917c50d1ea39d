"""Photographs and time worked under tickets, second persons, findings put right, near misses, and medicals seen.

Revision 0011, after 0010.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0011"
down_revision: str | Sequence[str] | None = "0010"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_CAUSES = ("due item", "hold", "hand-back", "failed test", "course", "by hand", "turn-round", "near miss")
_SEEN = ("diver", "instructor", "technician", "medical")


def upgrade() -> None:
    """Bring the tables up to this revision; of what was recorded before, nobody is known to have been second."""
    op.create_table(
        "ticket_time",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("began_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("minutes", sa.Float(53), nullable=True),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("supersedes_reason", sa.String(length=120), nullable=True),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_ticket_time_ticket_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_ticket_time_person_id")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["ticket_time.id"], name=op.f("fk_ticket_time_supersedes_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticket_time")),
        sa.UniqueConstraint("ref", name=op.f("uq_ticket_time_ref")),
    )
    op.create_table(
        "photograph",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("wide", sa.Integer(), nullable=False),
        sa.Column("high", sa.Integer(), nullable=False),
        sa.Column("caption", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_photograph_ticket_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_photograph_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photograph")),
        sa.UniqueConstraint("ref", name=op.f("uq_photograph_ref")),
        sa.UniqueConstraint("ticket_id", "sha256", name="uq_photograph_ticket_sha256"),
    )
    for table, columns in (
        ("ticket_time", ("person_id", "supersedes_id", "ticket_id")),
        ("photograph", ("person_id", "ticket_id")),
    ):
        with op.batch_alter_table(table) as batch_op:
            for column in columns:
                batch_op.create_index(batch_op.f(f"ix_{table}_{column}"), [column], unique=False)

    with op.batch_alter_table("ticket") as batch_op:
        batch_op.add_column(sa.Column("second_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key(op.f("fk_ticket_second_id"), "person", ["second_id"], ["id"])
        batch_op.create_index(batch_op.f("ix_ticket_second_id"), ["second_id"], unique=False)
        batch_op.drop_constraint(op.f("ck_ticket_cause_word"), type_="check")
        batch_op.create_check_constraint(op.f("ck_ticket_cause_word"), _words("cause", _CAUSES))
    with op.batch_alter_table("finding") as batch_op:
        batch_op.add_column(sa.Column("supersedes_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("supersedes_reason", sa.String(length=120), nullable=True))
        batch_op.create_foreign_key(op.f("fk_finding_supersedes_id"), "finding", ["supersedes_id"], ["id"])
        batch_op.create_index(batch_op.f("ix_finding_supersedes_id"), ["supersedes_id"], unique=False)
    with op.batch_alter_table("task") as batch_op:
        batch_op.add_column(sa.Column("second_person", sa.Boolean(), nullable=True))
    with op.batch_alter_table("person") as batch_op:
        batch_op.add_column(sa.Column("named_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("qualification") as batch_op:
        batch_op.drop_constraint(op.f("ck_qualification_kind_word"), type_="check")
        batch_op.create_check_constraint(op.f("ck_qualification_kind_word"), _words("kind", _SEEN))


def _words(column: str, words: tuple[str, ...]) -> str:
    listed = ", ".join(f"'{word}'" for word in words)
    return f"{column} IS NULL OR {column} IN ({listed})"
