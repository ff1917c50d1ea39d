"""What one hand-over sheet says: the workshop's facts, and what of them becomes a sentence, a stop or a remark."""

from dataclasses import dataclass

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Check
from fleetbench.paper.cells.table import CalibrationBlock
from fleetbench.paper.core.document import Letterhead
from fleetbench.workshop.hires.list import HandoverFacts
from fleetbench.workshop.units.schematic import Schematic

NOT_FOR_DIVING = say("not for diving")
DIVER_CHECK = "diver"
"""The check of readiness that asks for the diver's training."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverSheet:
    """One renter's page: what the workshop states of unit and hire, its moments as wall-clock times of the site.

    schematic: loop and gas sides with their states; also_do: what the diver does besides the usual, in sentences.
    only_shows: it shows how the unit stands, and nothing is signed on it.
    """

    facts: HandoverFacts
    letterhead: Letterhead
    schematic: Schematic | None = None
    also_do: tuple[str, ...] = ()
    only_shows: bool = False

    @property
    def language(self) -> str | None:
        """The code of the diver's language; None is English."""
        return self.facts.language

    @property
    def training_seen(self) -> bool:
        """Whether readiness found the diver's training on this type, or a current instructor, on record."""
        found = [check.result for check in self.facts.assessment.checks if check.check == DIVER_CHECK]
        return bool(found) and Result.STOP not in found

    @property
    def record(self) -> str:
        """What the sheet is named by: the hire, else the unit and the day."""
        return self.facts.record or f"{self.facts.tag} {self.facts.today.isoformat()}"

    @property
    def for_diving(self) -> bool:
        """Whether it goes out to be dived; no check of fitness speaks on the other sheets."""
        return self.facts.hand_over != NOT_FOR_DIVING

    @property
    def diver(self) -> str | None:
        """Who takes it."""
        return self.facts.diver or self.facts.renter

    @property
    def stops(self) -> tuple[str, ...]:
        """Why the unit is on hold, in sentences: with one of them the page says so before anything else."""
        if not self.for_diving:
            return ()
        return tuple(f"{check.check}: {check.evidence}" for check in self.facts.assessment.stops)

    @property
    def remarks(self) -> tuple[str, ...]:
        """Known faults, then recommendations.

        Work at the desk is done or shown by its own part of the sheet, as a gas that is not analysed is.
        """
        return (*self.facts.known_faults, *map(_advice, self.advised))

    @property
    def advised(self) -> tuple[Check, ...]:
        """The recommendations among the remarks."""
        advised = self.facts.assessment.advises if self.for_diving else ()
        return tuple(check for check in advised if check.to_do_minutes is None)

    @property
    def calibration(self) -> CalibrationBlock | None:
        """The cells with their last calibration; None for a unit without cells."""
        facts = self.facts
        if not facts.cells:
            return None
        return CalibrationBlock(
            cells=facts.cells, at=facts.calibrated_at, by=facts.calibrated_by, conditions=facts.conditions
        )

    @property
    def along(self) -> tuple[tuple[str, int], ...]:
        """What goes along with how many, by the type's list, else the number that was counted."""
        if self.facts.accessories:
            return tuple((each.name, each.count if each.sent is None else each.sent) for each in self.facts.accessories)
        counted = self.facts.accessories_counted
        return () if counted is None else ((say("accessories counted in all"), counted),)


def _advice(check: Check) -> str:
    accepted = f" ({check.accepted})" if check.accepted else ""
    return f"{check.result}: {check.check}: {check.evidence}{accepted}"
