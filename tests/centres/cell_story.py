"""What the workshop's calibrations of each cell gave, by the record's number, for calculations of one's own."""

from datetime import date

from sqlalchemy import select

from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.parts.tables import Part
from fleetbench.workshop.core.workplace import Workplace

Story = dict[str, list[tuple[date, float, float | None]]]
"""Site's date, linearity in percent and normalised mV in air, oldest first."""


def bench_story(workplace: Workplace) -> Story:
    """The figures of every cell, those of a record that was put right left out."""
    replaced = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    query = (
        select(Part.ref, Calibration.at, CalibrationOutcome.linearity, CalibrationOutcome.air_mv)
        .join(CalibrationOutcome, CalibrationOutcome.part_id == Part.id)
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(Calibration.made == "workshop", Calibration.id.not_in(replaced))
        .where(CalibrationOutcome.linearity.is_not(None))
        .order_by(Calibration.at, Calibration.id)
    )
    found: Story = {}
    with workplace.database.reading() as connection:
        for ref, at, linearity, air_mv in connection.execute(query):
            assert ref is not None
            assert linearity is not None
            found.setdefault(ref, []).append((at.astimezone(workplace.zone()).date(), linearity, air_mv))
    return found
