"""The uncertainty of a meter as it was when a figure was read from it, and analysers of helium.

Revision 0032, after 0031.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0032"
down_revision: str | Sequence[str] | None = "0031"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

KINDS = (
    "analyser", "barometer", "hygrometer", "thermometer", "bench meter", "gauge", "manometer", "scale", "pressure pot",
    "flow meter", "reference cell", "analyser cell", "helium analyser",
)  # fmt: skip


def upgrade() -> None:
    """Make room; of readings so far it is not known, since the register alone held it and may have moved on."""
    with op.batch_alter_table("meter_reading") as batch_op:
        batch_op.add_column(sa.Column("u", sa.Float(precision=53), nullable=True))
        batch_op.add_column(sa.Column("u_unit", sa.String(length=12), nullable=True))
    words = ", ".join(f"'{each}'" for each in KINDS)
    with op.batch_alter_table("test_equipment") as batch_op:
        batch_op.drop_constraint(op.f("ck_test_equipment_kind_word"), type_="check")
        batch_op.create_check_constraint(op.f("ck_test_equipment_kind_word"), f"kind IS NULL OR kind IN ({words})")
