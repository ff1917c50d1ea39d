"""Pressures and mV of renters' logs as figures.

Revision 0030, after 0029.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0030"
down_revision: str | Sequence[str] | None = "0029"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_QUANTITIES = (
    "oxygen bar before",
    "oxygen bar after",
    "diluent bar before",
    "diluent bar after",
    "air mV",
    "oxygen mV",
)
_KEYS = {"booking_unit_id": False, "unit_id": False, "run_id": True, "part_id": True}


def upgrade() -> None:
    """Make room; what a log said before stays in the words of its run or hire."""
    listed = ", ".join(f"'{word}'" for word in _QUANTITIES)
    op.create_table(
        "log_reading",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        *(sa.Column(name, sa.Integer(), nullable=nullable) for name, nullable in _KEYS.items()),
        sa.Column("dive", sa.Integer(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=True),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("quantity", sa.String(length=20), nullable=False),
        sa.Column("handset", sa.String(length=60), nullable=True),
        sa.Column("position", sa.String(length=60), nullable=True),
        sa.Column("value", sa.Float(precision=53), nullable=False),
        sa.Column("note", sa.String(length=120), nullable=True),
        sa.CheckConstraint(f"quantity IS NULL OR quantity IN ({listed})", name=op.f("ck_log_reading_quantity_word")),
        *(
            sa.ForeignKeyConstraint([name], [f"{name.removesuffix('_id')}.id"], name=op.f(f"fk_log_reading_{name}"))
            for name in _KEYS
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_reading")),
        sa.UniqueConstraint("ref", name=op.f("uq_log_reading_ref")),
    )
    for name in _KEYS:
        op.create_index(op.f(f"ix_log_reading_{name}"), "log_reading", [name], unique=False)
