"""A fill keeps the scale on which it was weighed, and how well that scale told its mass.

Revision 0015, after 0014.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0015"
down_revision: str | Sequence[str] | None = "0014"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add what was never asked before; of earlier fills it stays unsaid."""
    with op.batch_alter_table("fill") as batch_op:
        batch_op.add_column(sa.Column("scale_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("mass_u_g", sa.Float(53), nullable=True))
        batch_op.create_foreign_key(op.f("fk_fill_scale_id"), "test_equipment", ["scale_id"], ["id"])
        batch_op.create_index(batch_op.f("ix_fill_scale_id"), ["scale_id"], unique=False)
