"""Addresses and ranges of meters that are read by themselves, and which figures came from which meter.

Revision 0029, after 0028.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0029"
down_revision: str | Sequence[str] | None = "0028"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room; whatever was recorded before was typed."""
    with op.batch_alter_table("test_equipment") as batch_op:
        for column, kind in (
            ("address", sa.String(length=120)),
            ("query", sa.String(length=80)),
            ("answer_unit", sa.String(length=12)),
            ("range_low", sa.Float(precision=53)),
            ("range_high", sa.Float(precision=53)),
            ("idn", sa.String(length=256)),
        ):
            batch_op.add_column(sa.Column(column, kind, nullable=True))
    op.create_table(
        "meter_reading",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("made_of", sa.String(length=40), nullable=False),
        sa.Column("made_id", sa.Integer(), nullable=False),
        sa.Column("figure", sa.String(length=40), nullable=False),
        sa.Column("equipment_id", sa.Integer(), nullable=False),
        sa.Column("idn", sa.String(length=256), nullable=False),
        sa.Column("answer", sa.String(length=80), nullable=False),
        sa.Column("unit", sa.String(length=12), nullable=False),
        sa.Column("value", sa.Float(precision=53), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["equipment_id"], ["test_equipment.id"], name=op.f("fk_meter_reading_equipment_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meter_reading")),
    )
    for column in ("made_of", "equipment_id"):
        op.create_index(op.f(f"ix_meter_reading_{column}"), "meter_reading", [column], unique=False)
