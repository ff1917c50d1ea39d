"""A slot names the part types that it is made for.

Revision 0016, after 0015.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0016"
down_revision: str | Sequence[str] | None = "0015"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add the list; of slots entered before it is not known, which is told where a part is fitted."""
    op.create_table(
        "slot_part_type",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("slot_id", sa.Integer(), nullable=False),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_slot_part_type_part_type_id")),
        sa.ForeignKeyConstraint(["slot_id"], ["slot.id"], name=op.f("fk_slot_part_type_slot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_slot_part_type")),
        sa.UniqueConstraint("ref", name=op.f("uq_slot_part_type_ref")),
        sa.UniqueConstraint("slot_id", "part_type_id", name="uq_slot_part_type_slot_part_type"),
    )
    with op.batch_alter_table("slot_part_type") as batch_op:
        batch_op.create_index(batch_op.f("ix_slot_part_type_part_type_id"), ["part_type_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_slot_part_type_slot_id"), ["slot_id"], unique=False)
