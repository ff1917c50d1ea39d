"""An analyser's own oxygen cell stands in the register of test equipment, with a last good day of its own.

Revision 0009, after 0008.
"""

from collections.abc import Sequence

from alembic import op

revision: str = "0009"
down_revision: str | Sequence[str] | None = "0008"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_KINDS = (
    "analyser", "barometer", "hygrometer", "thermometer", "bench meter", "gauge", "manometer", "scale", "pressure pot",
    "flow meter", "reference cell", "analyser cell",
)  # fmt: skip


def upgrade() -> None:
    """Let the register hold one more kind; what stands in it stays as it is."""
    listed = ", ".join(f"'{kind}'" for kind in _KINDS)
    with op.batch_alter_table("test_equipment") as batch_op:
        batch_op.drop_constraint(op.f("ck_test_equipment_kind_word"), type_="check")
        batch_op.create_check_constraint(op.f("ck_test_equipment_kind_word"), f"kind IS NULL OR kind IN ({listed})")
