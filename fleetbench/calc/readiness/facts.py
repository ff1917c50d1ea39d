"""What is known of a unit when somebody asks whether it may go out: plain facts, no judgement.

Two kinds of None are told apart. A whole field of `UnitFacts` that is None means that such records cannot exist yet:
its check is left out and named. A None inside a fact means that the record is missing: that never passes.
Times are aware; days are the site's calendar days, calculated in `UnitFacts.zone`.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from enum import StrEnum

from fleetbench.calc.canisters.fill import CanisterLimits, FillFacts, PlannedUse, RatingTable, RunFacts
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.parts.life import Governing


class HoldKind(StrEnum):
    """What placed a hold, which says what lifts it."""

    MANUAL = "manual"
    INCIDENT = "incident"
    NOTICE = "notice"
    CELL = "cell"
    RECEIVED = "received"


@dataclass(frozen=True, slots=True)
class HoldFact:
    """One open hold: manual, frozen or incident."""

    reason: str
    kind: str = say("manual hold")
    since: date | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class OutFact:
    """Where the unit is: the booking on which it is out (None is here), and the day on which it should be back.

    stays: what is asked is whether it may go on with that diver, so that its return does not matter.
    """

    booking: str | None = None
    back_on: date | None = None
    stays: bool = False


@dataclass(frozen=True, slots=True)
class CellFact:
    """One cell slot and the cell in it.

    serial: None where the slot is empty. verdict, calibrated_at: of the last calibration since the cell was fitted
    there; None where there is none. life: its limits of age, the forecast's date among them. verified_up_to_bar: the
    highest oxygen partial pressure at which those calibrations showed it sound, None where that is not recorded.
    """

    position: str
    serial: str | None
    verdict: Verdict | None
    calibrated_at: datetime | None = None
    why: str = ""
    lot: str | None = None
    life: Governing | None = None
    record: str = ""
    verified_up_to_bar: float | None = None


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
    fitted: since when the part that a kind speaks of sits where it sits, by kind; that kind starts anew with it.
    """

    __test__ = False

    required: tuple[str, ...]
    done: tuple[TestFact, ...]
    opened_at: datetime | None = None
    fitted: tuple[ChangeFact, ...] = ()


def joined_tests(first: TestsFact | None, more: TestsFact | None) -> TestsFact | None:
    """Two subjects judged as one: what is asked for of either, after the opening of the first."""
    if first is None or more is None:
        return first or more
    return TestsFact(
        (*first.required, *more.required), (*first.done, *more.done), first.opened_at, (*first.fitted, *more.fitted)
    )


@dataclass(frozen=True, slots=True)
class AbsorbentFact:
    """The canister's fill (None is no fill), its runs, the type's table and limits, and the plan of the hire.

    plan: None where no dives are planned; then only the fill itself is judged, and the missing plan is named.
    pack_minutes, discard_minutes: time to pack a canister and to empty it, for work asked for ahead.
    """

    fill: FillFacts | None
    runs: tuple[RunFacts, ...]
    table: RatingTable | None
    limits: CanisterLimits | None
    plan: PlannedUse | None
    pack_minutes: int = 15
    record: str = ""
    discard_minutes: int = 2


@dataclass(frozen=True, slots=True)
class AbsorbentKitFact:
    """Absorbent sent along with a kit, kilograms: needed for the plan, and sent in date through the last day.

    pack_minutes: time to weigh it out, for work asked for ahead.
    """

    needed_kg: float | None
    sent_in_date_kg: float | None
    pack_minutes: int = 5


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
class NoticeFact:
    """A safety notice that concerns the unit and is not done on it; mandatory is None where nobody has judged."""

    number: str
    title: str
    mandatory: bool | None
    by: date | None = None


@dataclass(frozen=True, slots=True)
class HandsetFact:
    """The calibration stored in a handset itself.

    stored_at: None where none is on record. air_bar: oxygen pressure that it showed back in air, None not recorded.
    pressure_mbar, temperature_c, humidity (a fraction): of the room at that calibration, None not recorded.
    """

    handset: str
    stored_at: datetime | None
    air_bar: float | None = None
    pressure_mbar: float | None = None
    temperature_c: float | None = None
    humidity: float | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class HandsetsFact:
    """Every handset of the unit, and the changes of a cell, head, handset or firmware after which they start anew."""

    handsets: tuple[HandsetFact, ...]
    changes: tuple[ChangeFact, ...] = ()


@dataclass(frozen=True, slots=True)
class HighPointFact:
    """The last point above 1 bar of one cell; None where there is none since it was fitted."""

    position: str
    taken_at: datetime | None
    record: str = ""


@dataclass(frozen=True, slots=True)
class SpreadFact:
    """How far the handsets that read one cell lie apart in oxygen, bar; None where it was not recorded."""

    position: str
    spread_bar: float | None
    record: str = ""


@dataclass(frozen=True, slots=True)
class GasCylinderFact:
    """A cylinder that leaves filled.

    role: oxygen, diluent, bailout or drive gas. booked: the gas asked for, None where anything goes.
    gauge_bar at temperature_c; working_bar at 15 C. unread: why the pressure is not known; unanalysed: why the gas is
    not. against: what else stops its gas, each with its remedy, for instance a certificate that fails.
    """

    serial: str
    role: str
    filled_at: datetime | None
    analysed_at: datetime | None
    analysed: Mixture | None
    booked: Mixture | None = None
    gauge_bar: float | None = None
    working_bar: float | None = None
    temperature_c: float = 20.0
    unread: str = ""
    unanalysed: str = ""
    against: tuple[tuple[str, str], ...] = ()
    record: str = ""


@dataclass(frozen=True, slots=True)
class DiluentFact:
    """The diluent and the planned depth in m, with the set-point and the limit of oxygen pressure in bar."""

    diluent: Mixture | None
    depth_m: float | None
    set_point_bar: float
    limit_bar: float


@dataclass(frozen=True, slots=True)
class CylinderStateFact:
    """A cylinder's tests and, on the oxygen side, its oxygen-clean status.

    tests: all its test intervals. oxygen_clean: None not known. visual_at, cleaned_at: None not known.
    clean_words: the status in words, with what ended it.
    """

    serial: str
    tests: Governing
    oxygen_side: bool
    oxygen_clean: bool | None = None
    visual_at: datetime | None = None
    cleaned_at: datetime | None = None
    clean_words: str = ""


@dataclass(frozen=True, slots=True)
class OxygenCleanFact:
    """The oxygen-clean status of a part other than a cylinder; clean None is not known, words say what ended it."""

    part: str
    clean: bool | None
    cleaned_at: datetime | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class BailoutSetFact:
    """A bailout cylinder and its regulator: life of tests and of service, and whether analysed since the fill."""

    serial: str
    tests: Governing
    service: Governing
    analysed: bool


@dataclass(frozen=True, slots=True)
class BailoutFact:
    """Bailout on the hire: asked for or not, and the sets that go along."""

    asked_for: bool
    sets: tuple[BailoutSetFact, ...]


@dataclass(frozen=True, slots=True)
class BatteryFact:
    """The battery of one device: volts read and when, the type's replace voltage, when it was fitted.

    own_life: its type states how long it may stay fitted, and that stands above the general limit of days.
    """

    device: str
    volts: float | None
    replace_volts: float | None
    read_at: datetime | None
    fitted_at: datetime | None
    own_life: bool = False


@dataclass(frozen=True, slots=True)
class DisinfectionFact:
    """The loop's last disinfection against the last diver's return; dry: True, damp False, None not marked.

    early: how it was found dry before its hours had passed, in words. unrinsed_at: the last bath not rinsed off.
    """

    disinfected_at: datetime | None
    last_diver_back_at: datetime | None
    dry: bool | None
    early: str | None = None
    unrinsed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class FirmwareFact:
    """Firmware by handset (None not known), the type's list, and whether settings and dive data were reset."""

    versions: tuple[tuple[str, str | None], ...]
    allowed: tuple[str, ...]
    settings_reset: bool | None
    previous_data_present: bool | None


@dataclass(frozen=True, slots=True)
class FloodFact:
    """The last flood and the last full test, each None where there is none."""

    flooded_at: datetime | None
    full_test_at: datetime | None


@dataclass(frozen=True, slots=True)
class IdleFact:
    """When the unit last was in use or looked after, and what that was; None where there is nothing on record."""

    last_used_at: datetime | None
    what: str = say("last used")


@dataclass(frozen=True, slots=True)
class SignerFact:
    """Who signed the last workshop release and whether qualified for the type at the time; None not known."""

    name: str
    qualified: bool | None
    record: str = ""


@dataclass(frozen=True, slots=True)
class ServiceFact:
    """The life of the periodic service; not_counted: signed tickets that leave out a test of it, in words."""

    life: Governing
    not_counted: str = ""


@dataclass(frozen=True, slots=True)
class EquipmentFact:
    """Test equipment used for a record in force; in_date is None where its last good day was not known.

    uncertainty_known: whether how well it measures is recorded.
    """

    name: str
    for_cells: bool
    in_date: bool | None
    uncertainty_known: bool


@dataclass(frozen=True, slots=True)
class DiverFact:
    """Who takes the unit.

    qualified: for this unit type, seen; None not seen. under_instruction: a student, whose instructor counts instead.
    last_dive_on_type: None not known. instructor: who instructs, in words. record: the booking.
    """

    qualified: bool | None
    under_instruction: bool = False
    instructor_current: bool | None = None
    last_dive_on_type: date | None = None
    instructor: str = ""
    record: str = ""


@dataclass(frozen=True, slots=True)
class AccessoryFact:
    """One accessory, part of the kit, or the harness size; present is None where it was not looked for.

    words: what was seen instead, where something was. to_do_minutes: set where looking is hand-over work not yet done.
    """

    name: str
    present: bool | None
    words: str = ""
    to_do_minutes: int | None = None
    record: str = ""


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """All that is known of one unit; a field that is None is left out of the answer and named.

    parts: every slot but the cells', whose age stands with the cell. gas_side_tests: intermediate pressure, solenoid,
    addition valves, relief. mouthpiece_tests: bailout or mouthpiece valve. alarm_tests: alarms, displays and the
    set-point held 5 minutes on the bench, opened_at being the last head or firmware change.
    """

    tag: str
    zone: tzinfo = field(default=UTC)
    out: OutFact | None = None
    holds: tuple[HoldFact, ...] | None = None
    cells: tuple[CellFact, ...] | None = None
    calibration: CalibrationFact | None = None
    parts: tuple[PartFact, ...] | None = None
    valves_and_loop: TestsFact | None = None
    absorbent: AbsorbentFact | None = None
    absorbent_kit: AbsorbentKitFact | None = None
    tickets: tuple[TicketFact, ...] | None = None
    notices: tuple[NoticeFact, ...] | None = None
    handsets: HandsetsFact | None = None
    high_points: tuple[HighPointFact, ...] | None = None
    spreads: tuple[SpreadFact, ...] | None = None
    gas: tuple[GasCylinderFact, ...] | None = None
    diluent: DiluentFact | None = None
    cylinders: tuple[CylinderStateFact, ...] | None = None
    oxygen_side: tuple[OxygenCleanFact, ...] | None = None
    bailout: BailoutFact | None = None
    batteries: tuple[BatteryFact, ...] | None = None
    disinfection: DisinfectionFact | None = None
    gas_side_tests: TestsFact | None = None
    mouthpiece_tests: TestsFact | None = None
    alarm_tests: TestsFact | None = None
    firmware: FirmwareFact | None = None
    flood: FloodFact | None = None
    idle: IdleFact | None = None
    signer: SignerFact | None = None
    service: ServiceFact | None = None
    equipment: tuple[EquipmentFact, ...] | None = None
    diver: DiverFact | None = None
    accessories: tuple[AccessoryFact, ...] | None = None
