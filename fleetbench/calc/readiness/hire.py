"""The checks of what goes along with a hire: gas, cylinders, bailout, the diver and the accessories.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterator
from datetime import datetime

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.measures import BAR, CELSIUS
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import STAMP, GasRole, differences
from fleetbench.calc.gas.depth import diluent_flush
from fleetbench.calc.gas.real import gauge_after_temperature
from fleetbench.calc.readiness.facts import (
    BailoutSetFact,
    CylinderStateFact,
    DiverFact,
    GasCylinderFact,
    UnitFacts,
)
from fleetbench.calc.readiness.limits import Asked, CheckFinding, Freshness, ReadinessLimits, ok
from fleetbench.calc.readiness.unit import Findings, by_age, life_finding, or_ok


def gas(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Gas that leaves filled: analysed since the last fill, as booked, pure and full enough.

    An analysis undone is work to do before the act; one that found another gas stops at any time.
    """
    if facts.gas is None:
        return None
    if not facts.gas:
        return (
            CheckFinding(Result.ADVISE, "no filled cylinder goes along", "add the cylinders, or say why none is sent"),
        )
    findings = [finding for cylinder in facts.gas for finding in _gas_findings(cylinder, limits)]
    return or_ok(findings, f"{len(facts.gas)} cylinders analysed as booked")


def _gas_findings(cylinder: GasCylinderFact, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    name = f"{cylinder.role} {cylinder.serial}"
    analysed, minutes = cylinder.analysed, limits.analyse_minutes
    for words, remedy in cylinder.against:
        yield CheckFinding(Result.STOP, f"{name}: {words}", remedy, record=cylinder.record)
    if analysed is None or cylinder.analysed_at is None:
        words = f"{name}: {cylinder.unanalysed or 'not analysed'}"
        yield CheckFinding(Result.STOP, words, "analyse the gas", record=cylinder.record, to_do_minutes=minutes)
        return
    if cylinder.filled_at is None or cylinder.analysed_at <= cylinder.filled_at:
        words = f"{name}: {'last fill not known' if cylinder.filled_at is None else 'filled after it was analysed'}"
        yield CheckFinding(Result.STOP, words, "analyse the gas", to_do_minutes=minutes)
        return
    if cylinder.booked is not None:
        for found in differences(cylinder.booked, analysed, limits.gas):
            yield CheckFinding(Result.STOP, f"{name}: {found.words}", found.remedy)
    if cylinder.role == GasRole.OXYGEN and analysed.oxygen < limits.gas.wrong_oxygen:
        words = f"{name}: {analysed.oxygen:.1%} oxygen, which is another gas than oxygen"
        yield CheckFinding(Result.STOP, words, "empty it and fill it again")
    elif cylinder.role == GasRole.OXYGEN and analysed.oxygen < limits.gas.least_oxygen:
        words = f"{name}: {analysed.oxygen:.1%} oxygen, under {limits.gas.least_oxygen:.0%}"
        yield CheckFinding(Result.ADVISE, words, "look at the gas certificate, or fill again")
    yield from _pressure_findings(name, cylinder, limits)


def _pressure_findings(name: str, cylinder: GasCylinderFact, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    if cylinder.gauge_bar is None or cylinder.working_bar is None or cylinder.analysed is None:
        words = f"{name}: {cylinder.unread or 'pressure or working pressure not known'}"
        yield CheckFinding(Result.ADVISE, words, "read the gauge")
        return
    settled = gauge_after_temperature(
        cylinder.analysed, gauge_bar=cylinder.gauge_bar, from_c=cylinder.temperature_c, to_c=15.0
    )
    held, working = f"{name}: {BAR.words(settled, 0)} at {CELSIUS.words(15)}", BAR.words(cylinder.working_bar)
    if settled > cylinder.working_bar * 1.005:
        words = f"{held}, over the working pressure of {working}"
        yield CheckFinding(Result.STOP, words, "let it down to the working pressure", ordinary=True)
    elif settled < limits.gas.least_full * cylinder.working_bar:
        words = f"{held}, under {limits.gas.least_full:.0%} of {working}"
        yield CheckFinding(Result.ADVISE, words, "top it up and analyse")


def diluent(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Oxygen pressure of the diluent at the planned depth against limit and set-point."""
    fact = facts.diluent
    if fact is None:
        return None
    if fact.diluent is None:
        words = "diluent not analysed"
        return (CheckFinding(Result.STOP, words, "analyse the gas", to_do_minutes=limits.analyse_minutes),)
    if fact.depth_m is None:
        return (CheckFinding(Result.ADVISE, "planned depth not known", "ask for the planned depth"),)
    flush = diluent_flush(
        fact.diluent,
        depth_m=fact.depth_m,
        set_point_bar=fact.set_point_bar,
        limit_bar=fact.limit_bar,
        margin_bar=limits.flush_margin_bar,
    )
    remedy = "" if flush.result is Result.OK else "choose another diluent or a shallower plan"
    return (CheckFinding(flush.result, flush.words, remedy, ordinary=True),)


def cylinders(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Cylinder tests through the last day, and oxygen-clean status on the oxygen side."""
    if facts.cylinders is None and facts.oxygen_side is None:
        return None
    known = facts.cylinders or ()
    findings = [finding for cylinder in known for finding in _cylinder_findings(cylinder, asked, limits)]
    findings += [
        _clean_finding(part.part, part.clean, part.cleaned_at, part.words, asked, limits)
        for part in facts.oxygen_side or ()
    ]
    return or_ok(findings, f"{len(known)} cylinders in test through {asked.last}")


def _cylinder_findings(cylinder: CylinderStateFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    name = f"cylinder {cylinder.serial}"
    test = life_finding(name, cylinder.tests, asked, critical=True, margin_days=0, source=limits.source)
    if test is not None and test.result is Result.STOP:
        yield test
    elif cylinder.tests.first is None:
        yield CheckFinding(Result.STOP, f"{name}: no test on record", STAMP)
    visual = Freshness(None, limits.visual_advise_days, limits.source)
    if cylinder.visual_at is None:
        yield CheckFinding(Result.ADVISE, f"{name}: no internal visual on record", "have it looked into")
    else:
        what = f"{name}: internal visual"
        yield by_age(what, cylinder.visual_at, asked, visual, remedy="have it looked into")
    if cylinder.oxygen_side:
        status = cylinder.oxygen_clean, cylinder.cleaned_at, cylinder.clean_words
        yield _clean_finding(name, *status, asked, limits)


def _clean_finding(
    name: str, clean: bool | None, cleaned_at: datetime | None, words: str, asked: Asked, limits: ReadinessLimits
) -> CheckFinding:
    remedy = "clean it for oxygen on the clean bench"
    if clean is not True:
        known = words or ("lost" if clean is False else "not known")
        return CheckFinding(Result.STOP, f"{name}: oxygen-clean status {known}", remedy)
    if cleaned_at is None:
        return CheckFinding(Result.ADVISE, f"{name}: not known when it was cleaned for oxygen", remedy)
    freshness = Freshness(None, limits.clean_advise_days, limits.source)
    return by_age(f"{name}: cleaned for oxygen", cleaned_at, asked, freshness, remedy=remedy)


def bailout(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Bailout sets on the hire: in test and service, analysed, and there at all if asked for."""
    if facts.bailout is None:
        return None
    if not facts.bailout.sets:
        if facts.bailout.asked_for:
            return (CheckFinding(Result.ADVISE, "bailout asked for, none on the hire", "add a bailout set"),)
        return (ok("no bailout asked for"),)
    findings = [finding for each in facts.bailout.sets for finding in _bailout_findings(each, asked, limits)]
    return or_ok(findings, "bailout in test, in service and analysed")


def _bailout_findings(bailout_set: BailoutSetFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    for what, life in (("test", bailout_set.tests), ("regulator service", bailout_set.service)):
        name = f"bailout {bailout_set.serial} {what}"
        if life.first is None and not life.unknown:
            yield CheckFinding(Result.STOP, f"{name}: no interval on record", f"enter its interval {door('life')}")
            continue
        finding = life_finding(name, life, asked, critical=True, margin_days=0, source=limits.source)
        if finding is not None and finding.result is Result.STOP:
            yield finding
    if not bailout_set.analysed:
        words = f"bailout {bailout_set.serial}: not analysed since the last fill"
        yield CheckFinding(Result.STOP, words, "analyse the gas", to_do_minutes=limits.analyse_minutes)


def diver(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Qualification for this unit type seen, or an instructor current on it; the last dive on the type."""
    fact = facts.diver
    if fact is None:
        return None
    if fact.under_instruction:
        return (_instructor_finding(fact),)
    if fact.qualified is not True:
        known = "none for this type" if fact.qualified is False else "not seen"
        remedy, minutes = "see and record the qualification", limits.qualification_minutes
        # A qualification that the diver is known to lack is no work to be done before the hand-over.
        undone = minutes if fact.qualified is None else None
        return (CheckFinding(Result.STOP, f"qualification {known}", remedy, record=fact.record, to_do_minutes=undone),)
    return (_last_dive_finding(fact, asked, limits),)


def _instructor_finding(fact: DiverFact) -> CheckFinding:
    who = f"instructor {fact.instructor}".strip()
    if fact.instructor_current is True:
        return ok(f"under instruction: {who} is current on this type", fact.record)
    known = "not current" if fact.instructor_current is False else "not known to be current"
    remedy = "give the course a current instructor"
    return CheckFinding(Result.STOP, f"{who} {known} on this type", remedy, record=fact.record)


def _last_dive_finding(fact: DiverFact, asked: Asked, limits: ReadinessLimits) -> CheckFinding:
    last = fact.last_dive_on_type
    if last is None:
        words = "last dive on this type not known"
        return CheckFinding(Result.ADVISE, words, "ask, and offer a refresher", record=fact.record)
    days = (asked.first - last).days
    words = f"last dive on this type {last}, {days} days before hand-over"
    if days > limits.last_dive_days:
        rule = f"over {limits.last_dive_days} days ({limits.source})"
        return CheckFinding(Result.ADVISE, words, "offer a refresher", rule, fact.record)
    return ok(words, fact.record)


def accessories(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Accessories, kit and harness size: whatever is missing advises."""
    if facts.accessories is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.ADVISE,
                f"{each.name} {each.words or ('missing' if each.present is False else 'not looked for')}",
                "pack what is missing",
                record=each.record,
                to_do_minutes=each.to_do_minutes,
            )
            for each in facts.accessories
            if each.present is not True
        ),
        "everything is there",
    )
