"""May this unit go out: facts and a span of days in; checks with their evidence and remedy, and a verdict, out.

The checks and their limits are common practice with no published source, each a default that the centre's own figure
replaces. The answer never says that a unit is safe to dive: it says what was recorded, which rule that meets or
breaks, and what is missing. The maker's manual, the training standard and local law stand above it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Literal

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness import bench, hire
from fleetbench.calc.readiness import unit as checks
from fleetbench.calc.readiness.facts import (
    AbsorbentFact,
    AbsorbentKitFact,
    AccessoryFact,
    BailoutFact,
    BailoutSetFact,
    BatteryFact,
    CalibrationFact,
    CellFact,
    ChangeFact,
    CylinderStateFact,
    DiluentFact,
    DisinfectionFact,
    DiverFact,
    EquipmentFact,
    FirmwareFact,
    FloodFact,
    GasCylinderFact,
    HandsetFact,
    HandsetsFact,
    HighPointFact,
    HoldFact,
    IdleFact,
    NoticeFact,
    OutFact,
    OxygenCleanFact,
    PartFact,
    ServiceFact,
    SignerFact,
    SpreadFact,
    TestFact,
    TestsFact,
    TicketFact,
    TicketSeverity,
    UnitFacts,
    joined_tests,
)
from fleetbench.calc.readiness.limits import USUAL_WAY, Asked, CheckFinding, Freshness, HandoverKind, ReadinessLimits

__all__ = [
    "CHECKS",
    "USUAL_WAY",
    "AbsorbentFact",
    "AbsorbentKitFact",
    "AcceptedAdvice",
    "AccessoryFact",
    "Assessment",
    "BailoutFact",
    "BailoutSetFact",
    "BatteryFact",
    "CalibrationFact",
    "CellFact",
    "ChangeFact",
    "Check",
    "CheckRow",
    "CylinderStateFact",
    "DiluentFact",
    "DisinfectionFact",
    "DiverFact",
    "EquipmentFact",
    "FirmwareFact",
    "FloodFact",
    "Freshness",
    "GasCylinderFact",
    "HandoverKind",
    "HandsetFact",
    "HandsetsFact",
    "HighPointFact",
    "HoldFact",
    "IdleFact",
    "Leaving",
    "Moment",
    "NoticeFact",
    "OutFact",
    "OxygenCleanFact",
    "PartFact",
    "ReadinessLimits",
    "ServiceFact",
    "SignerFact",
    "SpreadFact",
    "TestFact",
    "TestsFact",
    "TicketFact",
    "TicketSeverity",
    "UnitFacts",
    "asked_of",
    "assess",
    "joined_tests",
]

_RANK = {Result.OK: 0, Result.ADVISE: 1, Result.STOP: 2}


class Moment(StrEnum):
    """When a check has to hold."""

    RELEASE = "release"
    HAND_OVER = "hand-over"
    THROUGH_RETURN = "through return"


class Fitness(StrEnum):
    """Whether a unit may be counted on for days to come."""

    FIT = "fit"
    WITH_WORK = "fit with work"
    UNFIT = "unfit"


class Leaving(StrEnum):
    """The way on which a unit gets to a diver, or stays with one for longer than was agreed."""

    HAND_OVER = "hand-over"
    SWAP = "swap"
    EXTENSION = "extension"


@dataclass(frozen=True, slots=True)
class Check:
    """One row of the answer.

    evidence: what was recorded, worst first. remedy: what to do about it, empty where all is well.
    rule: the limit that was applied and its source. records: the records that the evidence stands on.
    accepted: by whom and why an advice was accepted; empty where it was not. to_do_minutes: how long the hand-over work
    takes, where all that is found is work not yet done; None where anything else is found. ordinary: a stop that
    ordinary turn-round or hand-over work clears; why_unfit: what of the evidence it does not clear.
    tests: the bench tests that put it right, by their names.
    """

    check: str
    moment: Moment
    result: Result
    evidence: str
    remedy: str
    rule: str = ""
    records: tuple[str, ...] = ()
    accepted: str = ""
    to_do_minutes: int | None = None
    ordinary: bool = False
    why_unfit: str = ""
    tests: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The result as it is shown: `ok`, `stop`, `advise`, or `advise: to do, 15 minutes`."""
        if self.result is Result.ADVISE and self.to_do_minutes is not None:
            return say("advise: to do, {to_do_minutes} minutes", to_do_minutes=self.to_do_minutes)
        return self.result.value


@dataclass(frozen=True, slots=True)
class AcceptedAdvice:
    """A manager's standing acceptance of one check's advice, through its end date inclusive; a stop stays a stop."""

    check: str
    until: date
    by: str
    reason: str

    def __post_init__(self) -> None:
        """Refuse an acceptance of nothing, or without a reason."""
        if self.check not in {row.check for row in CHECKS}:
            raise ValueError(say("check: {check!r} is not a check; name one from the list", check=self.check))
        if not self.by.strip() or not self.reason.strip():
            raise ValueError(say("reason: an acceptance needs a person and a reason"))


@dataclass(frozen=True, slots=True)
class Assessment:
    """The answer for one unit and one span of days.

    left_out: checks whose records cannot exist yet, which are therefore neither ok nor not.
    Of an answer in brief, a check that is ok tells nothing but that; what stops or advises is told whole.
    """

    verdict: Literal["ready", "hold"]
    kind: HandoverKind
    span: tuple[date, date]
    checks: tuple[Check, ...]
    left_out: tuple[str, ...] = ()

    @property
    def stops(self) -> tuple[Check, ...]:
        """The checks that stop the unit."""
        return tuple(check for check in self.checks if check.result is Result.STOP)

    @property
    def unfit(self) -> tuple[Check, ...]:
        """The stops of the unit itself that no ordinary turn-round or hand-over clears: nobody may count on it.

        What concerns only who dives it is no matter of the unit.
        """
        return tuple(check for check in self.stops if not check.ordinary and check.check not in OF_THE_DIVER)

    @property
    def stays_unfit(self) -> bool:
        """Whether the unit is unfit for any later days too, while nothing is written."""
        return any(check.moment is not Moment.HAND_OVER and check.check not in MAY_PASS for check in self.unfit)

    @property
    def fitness(self) -> Fitness:
        """Whether the unit may be counted on for these days."""
        if self.unfit:
            return Fitness.UNFIT
        return Fitness.WITH_WORK if self.stops or self.to_do else Fitness.FIT

    @property
    def advises(self) -> tuple[Check, ...]:
        """The checks that advise, work to do among them."""
        return tuple(check for check in self.checks if check.result is Result.ADVISE)

    @property
    def to_do(self) -> tuple[Check, ...]:
        """The checks that advise of nothing but hand-over work not yet done."""
        return tuple(check for check in self.advises if check.to_do_minutes is not None)

    @property
    def accepted(self) -> tuple[Check, ...]:
        """The checks whose advice a manager accepted through the last day."""
        return tuple(check for check in self.advises if check.accepted)


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One row of the table of checks: its name, moment, the hand-over kinds it concerns, and its function.

    judge: returns the findings, or None where such records cannot exist yet.
    """

    check: str
    moment: Moment
    judge: Callable[[UnitFacts, Asked, ReadinessLimits], tuple[CheckFinding, ...] | None]
    kinds: tuple[HandoverKind, ...] = (HandoverKind.ASSEMBLED, HandoverKind.KIT)


CHECKS: tuple[CheckRow, ...] = (
    CheckRow(say("return"), Moment.RELEASE, checks.back),
    CheckRow(say("holds"), Moment.RELEASE, checks.holds),
    CheckRow(say("notices"), Moment.RELEASE, checks.notices),
    CheckRow(say("cell outcome"), Moment.RELEASE, checks.cell_outcome),
    CheckRow(say("workshop calibration"), Moment.RELEASE, checks.calibration),
    CheckRow(say("handset calibration"), Moment.RELEASE, bench.handset_calibration),
    CheckRow(say("point above 1 bar"), Moment.RELEASE, bench.high_point),
    CheckRow(say("handset agreement"), Moment.RELEASE, bench.handset_spread),
    CheckRow(say("part life"), Moment.THROUGH_RETURN, checks.part_life),
    CheckRow(say("cell age"), Moment.THROUGH_RETURN, checks.cell_age),
    CheckRow(say("one-way valves and loop"), Moment.RELEASE, checks.valves_and_loop),
    CheckRow(say("absorbent"), Moment.HAND_OVER, hire.absorbent, (HandoverKind.ASSEMBLED,)),
    CheckRow(say("absorbent in the canister"), Moment.HAND_OVER, hire.absorbent_left_in, (HandoverKind.KIT,)),
    CheckRow(say("absorbent sent along"), Moment.HAND_OVER, hire.absorbent_kit, (HandoverKind.KIT,)),
    CheckRow(say("gas"), Moment.HAND_OVER, hire.gas),
    CheckRow(say("diluent at planned depth"), Moment.HAND_OVER, hire.diluent),
    CheckRow(say("cylinder test and oxygen-clean"), Moment.THROUGH_RETURN, hire.cylinders),
    CheckRow(say("bailout"), Moment.THROUGH_RETURN, hire.bailout),
    CheckRow(say("batteries"), Moment.HAND_OVER, bench.batteries),
    CheckRow(say("disinfected and dry"), Moment.RELEASE, bench.disinfection),
    CheckRow(say("intermediate pressure and gas addition"), Moment.RELEASE, bench.gas_side_tests),
    CheckRow(say("bailout or mouthpiece valve"), Moment.RELEASE, bench.mouthpiece_tests),
    CheckRow(say("alarms, displays and set-point"), Moment.RELEASE, bench.alarm_tests),
    CheckRow(say("firmware and settings"), Moment.RELEASE, bench.firmware),
    CheckRow(say("flood"), Moment.RELEASE, bench.flood),
    CheckRow(say("idle"), Moment.RELEASE, bench.idle),
    CheckRow(say("open tickets"), Moment.RELEASE, checks.tickets),
    CheckRow(say("signer"), Moment.RELEASE, bench.signer),
    CheckRow(say("periodic service"), Moment.THROUGH_RETURN, bench.service),
    CheckRow(say("test equipment"), Moment.RELEASE, bench.equipment),
    CheckRow(say("diver"), Moment.HAND_OVER, hire.diver),
    CheckRow(say("accessories"), Moment.HAND_OVER, hire.accessories),
)

OF_THE_DIVER = frozenset(("diver", "accessories"))
"""Checks of who dives and what goes along, not of the unit."""

AFTER_EVERY_DIVER = frozenset(
    (
        "one-way valves and loop",
        "absorbent",
        "absorbent in the canister",
        "gas",
        "diluent at planned depth",
        "batteries",
        "disinfected and dry",
    )
)
"""Checks whose records end with a hire: what the diver leaves is known only after the return; common practice, no
published source."""


MAY_PASS = frozenset(("return", "holds", "disinfected and dry"))
"""Checks of the unit itself whose stop may end by waiting alone: its return, an absence, drying.

Every other one goes by what is recorded, or by an age that only grows."""

MOVE_WITHIN_THE_DAY = frozenset(("absorbent", "absorbent in the canister", "disinfected and dry", "idle"))
"""Checks whose facts hang on the moment; every other one stands from midnight to midnight while nothing is written."""


def asked_of(answer: Assessment, way: Leaving) -> tuple[Check, ...]:
    """The checks of an answer that stand against a unit on this way, stops first; empty where it may go.

    A swap gives no advice again on its diver, who is on the hire already. When a hire is made longer nothing leaves, so
    that what is looked at as a unit leaves is not asked again; who dives it is, through the new last day. An advice
    that a manager accepted does not stand against it.
    """
    found = (*answer.stops, *answer.advises)
    return tuple(each for each in found if not each.accepted and not _left_aside(each, way))


def _left_aside(check: Check, way: Leaving) -> bool:
    if way is Leaving.SWAP:
        return check.result is Result.ADVISE and check.check == "diver"
    return way is Leaving.EXTENSION and check.moment is Moment.HAND_OVER and check.check != "diver"


def assess(
    facts: UnitFacts,
    *,
    on: date | datetime,
    span: tuple[date, date],
    kind: HandoverKind,
    at_act: bool,
    limits: ReadinessLimits | None = None,
    acceptances: tuple[AcceptedAdvice, ...] = (),
    earlier: Assessment | None = None,
    brief: bool = False,
) -> Assessment:
    """Whether the unit may go out for a span of days (first and last, inclusive), and why.

    on: today, or now with its zone. at_act: the hand-over is being done now, so that work undone stops instead of
    being listed as to do. acceptances: of advices; only those that last through the span count. earlier: the answer to
    the same question on the same day from the same records, of which only what moves with the moment is judged again.
    brief: the answer in brief, as lists of many units keep thousands.
    The verdict is `ready` only where nothing stops through the last day. Raises ValueError for a span that ends
    before it begins or lies wholly before today.
    """
    kind = HandoverKind(kind)
    asked = _asked(facts, on, span, at_act)
    if kind is HandoverKind.NOT_FOR_DIVING:
        words = say("leaves not for diving: no check of its fitness is made, and the sheet says so in large letters")
        return Assessment(
            "ready",
            kind,
            span,
            (Check(say("not for diving"), moment=Moment.HAND_OVER, result=Result.OK, evidence=words, remedy=""),),
        )
    answered: list[Check] = []
    left_out: list[str] = []
    stands = {each.check: each for each in earlier.checks} if earlier is not None else {}
    for row in CHECKS:
        if kind not in row.kinds:
            continue
        if earlier is not None and row.check not in MOVE_WITHIN_THE_DAY:
            (answered.append(stands[row.check]) if row.check in stands else left_out.append(row.check))
            continue
        findings = judged(row, facts, asked, limits or ReadinessLimits())
        if findings is None:
            left_out.append(row.check)
        elif brief and findings and all(each.result is Result.OK for each in findings):
            answered.append(_passed(row))
        else:
            answered.append(_accepted(_check(row, findings, asked), acceptances, asked))
    # An answer from no check at all would be a pass of what nobody looked at.
    stopped = not answered or any(check.result is Result.STOP for check in answered)
    return Assessment(
        "hold" if stopped else "ready", kind=kind, span=span, checks=tuple(answered), left_out=tuple(left_out)
    )


def judged(row: CheckRow, facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> tuple[CheckFinding, ...] | None:
    """What a check finds; of a unit that is out, nothing passes that its diver uses up or soils before its return."""
    findings = row.judge(facts, asked, limits)
    out = facts.out
    if findings is None or out is None or out.booking is None or out.stays or row.check not in AFTER_EVERY_DIVER:
        return findings
    return tuple(each if _stands(each) else _as_it_left(each, out) for each in findings)


def _stands(finding: CheckFinding) -> bool:
    return finding.result is Result.STOP and finding.to_do_minutes is None


def _as_it_left(finding: CheckFinding, out: OutFact) -> CheckFinding:
    words = say(
        "with a diver on {booking} and not known before its return; when it left: {evidence}",
        booking=out.booking,
        evidence=finding.evidence,
    )
    remedy = say("receive it and turn it round")
    return replace(finding, result=Result.STOP, evidence=words, remedy=remedy, to_do_minutes=None, ordinary=True)


def _asked(facts: UnitFacts, on: date | datetime, span: tuple[date, date], at_act: bool) -> Asked:
    if isinstance(on, datetime):
        if on.tzinfo is None:
            raise ValueError(say("on: a time without its zone; give an aware time or a date"))
        on = on.astimezone(facts.zone).date()
    first, last = span
    if isinstance(first, datetime) or isinstance(last, datetime):
        raise ValueError(say("span: give dates without a time"))
    if last < first:
        raise ValueError(say("span: the last day is before the first; give first and last day in order"))
    if last < on:
        raise ValueError(say("span: it ended before {on}; give days from today on", on=on))
    return Asked(today=on, first=max(first, on), last=last, at_act=at_act, zone=facts.zone)


@cache
def _passed(row: CheckRow) -> Check:
    """That a check is ok, without what shows it."""
    return Check(row.check, moment=row.moment, result=Result.OK, evidence="", remedy="")


def _check(row: CheckRow, findings: tuple[CheckFinding, ...], asked: Asked) -> Check:
    if not findings:
        raise AssertionError(f"the check {row.check!r} gave neither a finding nor None")
    settled = sorted((_at_this_moment(each, asked) for each in findings), key=lambda each: -_RANK[each.result])
    worst = settled[0].result
    telling = [each for each in settled if each.result is not Result.OK] or settled
    undone = [each.to_do_minutes for each in telling if each.to_do_minutes is not None]
    only_undone = worst is Result.ADVISE and not asked.at_act and len(undone) == len(telling)
    faults = [each.evidence for each in telling if each.result is Result.STOP and not each.ordinary]
    return Check(
        row.check,
        moment=row.moment,
        result=worst,
        evidence=strung("; ", dict.fromkeys(each.evidence for each in telling)),
        remedy=strung("; ", dict.fromkeys(each.remedy for each in telling if each.remedy)),
        rule=strung("; ", dict.fromkeys(each.rule for each in telling if each.rule)),
        records=tuple(dict.fromkeys(each.record for each in telling if each.record)),
        to_do_minutes=sum(undone) if only_undone else None,
        ordinary=worst is Result.STOP and not faults,
        why_unfit=strung("; ", dict.fromkeys(faults)),
        tests=tuple(each.test for each in telling if each.test),
    )


def _accepted(check: Check, acceptances: tuple[AcceptedAdvice, ...], asked: Asked) -> Check:
    if check.result is not Result.ADVISE:
        return check
    for each in acceptances:
        if each.check == check.check and each.until >= asked.last:
            return replace(check, accepted=f"accepted by {each.by} until {each.until}: {each.reason}")
    return check


def _at_this_moment(finding: CheckFinding, asked: Asked) -> CheckFinding:
    """A finding of work undone, as it reads ahead of the act."""
    if finding.to_do_minutes is None or asked.at_act or finding.result is Result.OK:
        return finding
    evidence = say(
        "to do, {to_do_minutes} minutes: {evidence}", to_do_minutes=finding.to_do_minutes, evidence=finding.evidence
    )
    return replace(finding, result=Result.ADVISE, evidence=evidence)
