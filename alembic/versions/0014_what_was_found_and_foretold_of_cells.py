"""Why a cell got its verdict is kept with it, and the day its calibrations foretell with its fitting.

Revision 0014, after 0013.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0014"
down_revision: str | Sequence[str] | None = "0013"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_REASONS = (
    "within_limits", "low_output", "across_limit", "cannot_decide", "above_limit", "below_limit", "mv_out_of_limits",
    "current_limited", "not_vented", "shifted_up", "common_low", "readers_differ", "not_settled", "gas_not_analysed",
    "missing", "head_damp", "equipment", "limited_before", "pot_undecided", "rejected_before",
)  # fmt: skip


def upgrade() -> None:
    """Bring the tables up to this revision; what was judged before keeps no reason, and foretells at its next visit."""
    reasons = ", ".join(f"'{word}'" for word in _REASONS)
    with op.batch_alter_table("calibration_outcome") as batch_op:
        batch_op.add_column(sa.Column("reason", sa.String(length=20), nullable=True))
        batch_op.add_column(sa.Column("limited_from_bar", sa.Float(53), nullable=True))
        batch_op.add_column(sa.Column("limited_proven", sa.Boolean(), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_calibration_outcome_reason_word"), f"reason IS NULL OR reason IN ({reasons})"
        )
    with op.batch_alter_table("fitting") as batch_op:
        batch_op.add_column(sa.Column("forecast_day", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("forecast_of", sa.String(length=20), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_fitting_forecast_of_word"), "forecast_of IS NULL OR forecast_of IN ('linearity', 'mV in air')"
        )
