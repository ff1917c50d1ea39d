"""A unit may lack its serial and its first day; a date may be known to the year; a fitting may have begun any time.

Revision 0019, after 0018.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0019"
down_revision: str | Sequence[str] | None = "0018"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_PRECISIONS = ("day", "month", "quarter", "year")
_BUILDS = ("back-mounted", "chest-mounted", "side-mounted", "not known")


def upgrade() -> None:
    """Make room for what is not known; every earlier row keeps what it states."""
    with op.batch_alter_table("unit") as batch_op:
        batch_op.alter_column("serial", existing_type=sa.String(length=60), nullable=True)
        batch_op.alter_column("in_service_on", existing_type=sa.Date(), nullable=True)
        batch_op.add_column(sa.Column("in_service_precision", sa.String(length=10), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_unit_in_service_precision_word"), _words("in_service_precision", _PRECISIONS)
        )
    _allow("unit_type", "build", _BUILDS)
    for column in ("made_precision", "opened_precision", "fixed_precision"):
        _allow("part", column, _PRECISIONS)
    _allow("part_test", "precision", _PRECISIONS)
    with op.batch_alter_table("fitting") as batch_op:
        batch_op.add_column(sa.Column("since_unknown", sa.Boolean(), nullable=True))


def _allow(table: str, column: str, words: tuple[str, ...]) -> None:
    name = op.f(f"ck_{table}_{column}_word")
    with op.batch_alter_table(table) as batch_op:
        batch_op.drop_constraint(name, type_="check")
        batch_op.create_check_constraint(name, _words(column, words))


def _words(column: str, words: tuple[str, ...]) -> str:
    listed = ", ".join(f"'{word}'" for word in words)
    return f"{column} IS NULL OR {column} IN ({listed})"
