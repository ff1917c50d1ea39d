"""A ticket may be withdrawn before any of its work is done, and a booking says its price terms.

Revision 0023, after 0022.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0023"
down_revision: str | Sequence[str] | None = "0022"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room for both; no earlier ticket is withdrawn, and no earlier booking says a price."""
    with op.batch_alter_table("ticket") as batch_op:
        batch_op.add_column(sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("booking_terms") as batch_op:
        batch_op.add_column(sa.Column("price_terms", sa.String(length=400), nullable=True))
