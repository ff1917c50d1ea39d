"""What earlier visits and other heads of the session say of a head's cells."""

from datetime import datetime

from sqlalchemy.orm import Session

from fleetbench.records.bench_reads import compared_in
from fleetbench.workshop.calibration_judge import Past
from fleetbench.workshop.calibration_plan import CalibrationPlan

USABLE = ("pass", "watch")


def past_of(
    session: Session, held: CalibrationPlan, session_id: int | None, at: datetime, replaces: int | None
) -> Past:
    """The past of a head's cells before a moment, leaving out the calibration that is being put right."""
    others = compared_in(session, session_id, held.unit_id, at) if session_id is not None else []
    in_limits = [key for key, verdicts in others if all(verdict in USABLE for verdict in verdicts)]
    return Past(
        comparison_passed=bool(in_limits) if others else None,
        comparison_id=in_limits[0] if in_limits else others[0][0] if others else None,
    )
