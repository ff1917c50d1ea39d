"""The centre keeps its address, which stands on its papers, and the currency of its prices.

Revision 0024, after 0023.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0024"
down_revision: str | Sequence[str] | None = "0023"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room for both; of earlier centres neither is known."""
    with op.batch_alter_table("centre") as batch_op:
        batch_op.add_column(sa.Column("address", sa.String(length=300), nullable=True))
        batch_op.add_column(sa.Column("currency", sa.String(length=3), nullable=True))
