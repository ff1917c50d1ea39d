"""Photographs beside a calibration or a bench test, as evidence of the figures that were typed.

Revision 0031, after 0030.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0031"
down_revision: str | Sequence[str] | None = "0030"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room; every photograph so far is a ticket's."""
    with op.batch_alter_table("photograph") as batch_op:
        batch_op.alter_column("ticket_id", existing_type=sa.Integer(), nullable=True)
        for of in ("calibration", "bench_test"):
            batch_op.add_column(sa.Column(f"{of}_id", sa.Integer(), nullable=True))
            batch_op.create_foreign_key(op.f(f"fk_photograph_{of}_id"), of, [f"{of}_id"], ["id"])
            batch_op.create_index(op.f(f"ix_photograph_{of}_id"), [f"{of}_id"], unique=False)
