"""A booking says how and why it ended, and keeps what was taken off it.

Revision 0018, after 0017.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0018"
down_revision: str | Sequence[str] | None = "0017"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add what was never asked before; earlier bookings keep no reason."""
    with op.batch_alter_table("booking") as batch_op:
        batch_op.add_column(sa.Column("ended_as", sa.String(length=12), nullable=True))
        batch_op.add_column(sa.Column("ended_for", sa.String(length=200), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_booking_ended_as_word"), "ended_as IS NULL OR ended_as IN ('cancelled', 'no-show')"
        )
    with op.batch_alter_table("booking_unit") as batch_op:
        batch_op.add_column(sa.Column("taken_off_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("taken_off_for", sa.String(length=200), nullable=True))
    with op.batch_alter_table("booking_diver") as batch_op:
        batch_op.add_column(sa.Column("left_at", sa.DateTime(timezone=True), nullable=True))
