"""The centre states in which units its people type and read: metric or imperial, and each by itself.

Revision 0027, after 0026.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0027"
down_revision: str | Sequence[str] | None = "0026"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_WORDS = {
    "measures": ("metric", "imperial"), "pressure_unit": ("bar", "psi"), "temperature_unit": ("°C", "°F"),
    "length_unit": ("m", "ft"), "mass_unit": ("kg", "lb"),
}  # fmt: skip


def upgrade() -> None:
    """Make room; where nothing is stated all units are metric, as they were."""
    with op.batch_alter_table("centre") as batch_op:
        for column, words in _WORDS.items():
            batch_op.add_column(sa.Column(column, sa.String(length=10), nullable=True))
            listed = ", ".join(f"'{word}'" for word in words)
            batch_op.create_check_constraint(
                op.f(f"ck_centre_{column}_word"), f"{column} IS NULL OR {column} IN ({listed})"
            )
