"""Raw readings of measured bench tests, their uncertainty and ground, and the digit of test equipment.

Revision 0004, after 0003.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0004"
down_revision: str | Sequence[str] | None = "0003"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; a test made before keeps its figure and has no raw readings."""
    op.create_table(
        "bench_reading",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("bench_test_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("quantity", sa.String(length=24), nullable=False),
        sa.Column("value", sa.Float(53), nullable=False),
        sa.Column("unit", sa.String(length=12), nullable=False),
        sa.Column("equipment_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["bench_test_id"], ["bench_test.id"], name=op.f("fk_bench_reading_bench_test_id")),
        sa.ForeignKeyConstraint(["equipment_id"], ["test_equipment.id"], name=op.f("fk_bench_reading_equipment_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_reading")),
        sa.UniqueConstraint("bench_test_id", "ordinal", name=op.f("uq_bench_reading_bench_test_id")),
    )
    with op.batch_alter_table("bench_reading") as batch_op:
        batch_op.create_index(batch_op.f("ix_bench_reading_equipment_id"), ["equipment_id"], unique=False)

    with op.batch_alter_table("bench_test") as batch_op:
        batch_op.add_column(sa.Column("expanded_u", sa.Float(53), nullable=True))
        batch_op.add_column(sa.Column("finding", sa.String(length=600), nullable=True))

    with op.batch_alter_table("test_equipment") as batch_op:
        batch_op.add_column(sa.Column("digit", sa.Float(53), nullable=True))
