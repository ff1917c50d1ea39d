"""Parts on order, plans that were accepted and may be undone, and since when a booking had waited.

Revision 0026, after 0025.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0026"
down_revision: str | Sequence[str] | None = "0025"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room; nothing was on order before, and no earlier plan can be undone."""
    _create(
        "part_order",
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("ordered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ordered_by_id", sa.Integer(), nullable=False),
        sa.Column("expected_on", sa.Date(), nullable=False),
        sa.Column("made_for", sa.String(length=60), nullable=True),
        sa.Column("arrived", sa.Integer(), nullable=False),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=True),
        part_type_id="part_type",
        ordered_by_id="person",
    )
    _create(
        "accepted_plan",
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("undone_for", sa.String(length=200), nullable=True),
        sa.UniqueConstraint("code", name=op.f("uq_accepted_plan_code")),
        person_id="person",
    )
    with op.batch_alter_table("booking_unit") as batch_op:
        batch_op.add_column(sa.Column("put_on_for", sa.String(length=60), nullable=True))
    with op.batch_alter_table("booking_terms") as batch_op:
        batch_op.add_column(sa.Column("waited_since", sa.DateTime(timezone=True), nullable=True))


def _create(table: str, *columns: "sa.schema.SchemaItem", **links: str) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        *columns,
        sa.Column("version", sa.Integer(), nullable=False),
        *(sa.ForeignKeyConstraint([each], [f"{to}.id"], name=op.f(f"fk_{table}_{each}")) for each, to in links.items()),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}")),
        sa.UniqueConstraint("ref", name=op.f(f"uq_{table}_ref")),
    )
    for column in links:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column], unique=False)
