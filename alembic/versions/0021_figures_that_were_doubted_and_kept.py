"""An analysis, a fill of a cylinder and a run keep what was asked about their figures and kept all the same.

Revision 0021, after 0020.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0021"
down_revision: str | Sequence[str] | None = "0020"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Make room for the remark; of earlier rows none was kept."""
    for table in ("gas_analysis", "cylinder_fill", "run"):
        with op.batch_alter_table(table) as batch_op:
            batch_op.add_column(sa.Column("note", sa.String(length=300), nullable=True))
