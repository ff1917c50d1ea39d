"""What is known of a unit when somebody asks whether it may go out: plain facts, no judgement.

Two kinds of None are told apart. A whole field of `UnitFacts` that is None means that such records cannot exist yet:
its check is left out and named. A None inside a fact means that the record is missing: that never passes.
Times are aware; days are the site's calendar days, reckoned in `UnitFacts.zone`.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from enum import StrEnum

from fleetbench.calc.absorbent import CanisterLimits, Fill, Plan, RatingTable, Run
from fleetbench.calc.life import Governing
from fleetbench.calc.verdict import Verdict


@dataclass(frozen=True, slots=True)
class HoldFact:
    """One open hold: manual, frozen or incident."""

    reason: str
    kind: str = "manual hold"
    since: date | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class CellFact:
    """One cell slot and the cell in it.

    serial: None where the slot is empty. verdict, calibrated_at: of the last calibration since the cell was fitted
    there; None where there is none. life: its limits of age, the forecast's date among them.
    """

    position: str
    serial: str | None
    verdict: Verdict | None
    calibrated_at: datetime | None = None
    why: str = ""
    lot: str | None = None
    life: Governing | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class ChangeFact:
    """Something changed on the unit after which a check starts anew, for instance 'cell 2 changed'."""

    what: str
    at: datetime


@dataclass(frozen=True, slots=True)
class CalibrationFact:
    """The last workshop calibration.

    done_at: None where there is none. changes: of a cell, head, handset or firmware, any time.
    pressure_mbar: ambient at the calibration; site_pressure_mbar: where the unit will be used; None is not known.
    """

    done_at: datetime | None
    changes: tuple[ChangeFact, ...] = ()
    pressure_mbar: float | None = None
    site_pressure_mbar: float | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class PartFact:
    """One slot other than a cell's, and the life of the part in it; part is None where the slot is empty."""

    slot: str
    part: str | None
    critical: bool
    life: Governing
    record: str = ""


@dataclass(frozen=True, slots=True)
class TestFact:
    """One bench test on record; passed is None where it was left undecided."""

    __test__ = False  # pytest collects classes by this name's beginning

    kind: str
    at: datetime
    passed: bool | None
    record: str = ""


@dataclass(frozen=True, slots=True)
class TestsFact:
    """Every test of one subject that the unit type asks for, and what was done.

    required: the kinds asked for. opened_at: last workshop opening, after which all of them start anew; None is none.
    """

    __test__ = False

    required: tuple[str, ...]
    done: tuple[TestFact, ...]
    opened_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class AbsorbentFact:
    """The canister's fill (None is no fill), its runs, the type's table and limits, and the plan of the hire.

    plan: None where no dives are planned; then only the fill itself is judged, and the missing plan is named.
    pack_minutes: time to pack a canister, for work asked for ahead.
    """

    fill: Fill | None
    runs: tuple[Run, ...]
    table: RatingTable | None
    limits: CanisterLimits | None
    plan: Plan | None
    pack_minutes: int = 15
    record: str = ""


@dataclass(frozen=True, slots=True)
class AbsorbentKitFact:
    """Absorbent sent along with a kit, kilograms: needed for the plan, and sent in date through the last day."""

    needed_kg: float | None
    sent_in_date_kg: float | None


class TicketSeverity(StrEnum):
    """How an open ticket bears on diving."""

    CRITICAL = "critical"
    COSMETIC = "cosmetic"


@dataclass(frozen=True, slots=True)
class TicketFact:
    """One open ticket or put-off task; a severity that nobody has judged (None) counts as critical."""

    number: str
    what: str
    severity: TicketSeverity | None
    put_off: int = 0


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """All that is known of one unit; a field that is None is left out of the answer and named."""

    tag: str
    zone: tzinfo = field(default=UTC)
    holds: tuple[HoldFact, ...] | None = None
    cells: tuple[CellFact, ...] | None = None
    calibration: CalibrationFact | None = None
    parts: tuple[PartFact, ...] | None = None
    valves_and_loop: TestsFact | None = None
    absorbent: AbsorbentFact | None = None
    absorbent_kit: AbsorbentKitFact | None = None
    tickets: tuple[TicketFact, ...] | None = None
