"""A run says when its start is not known, and between which moments it was.

Revision 0017, after 0016.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0017"
down_revision: str | Sequence[str] | None = "0016"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add what was never asked before; earlier runs keep the start they were recorded with."""
    with op.batch_alter_table("run") as batch_op:
        batch_op.add_column(sa.Column("ended_by", sa.DateTime(timezone=True), nullable=True))
