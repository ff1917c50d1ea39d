"""A booking may ask for bailout and state its diluent.

Revision 0010, after 0009.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0010"
down_revision: str | Sequence[str] | None = "0009"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add what was never asked before; of earlier bookings it stays unsaid."""
    with op.batch_alter_table("booking_terms") as batch_op:
        batch_op.add_column(sa.Column("bailout", sa.Boolean(), nullable=True))
        batch_op.add_column(sa.Column("diluent_oxygen", sa.Float(53), nullable=True))
        batch_op.add_column(sa.Column("diluent_helium", sa.Float(53), nullable=True))
