"""The checks of what goes along with a hire: gas, cylinders, bailout, absorbent, the diver and the accessories.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from fleetbench.calc.canisters.fill import Remaining, remaining
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR, CELSIUS, KILOGRAM
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import STAMP, GasRole, differences
from fleetbench.calc.gas.depth import diluent_flush
from fleetbench.calc.gas.real import gauge_after_temperature
from fleetbench.calc.readiness.facts import (
    AbsorbentFact,
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
            CheckFinding(
                Result.ADVISE, say("no filled cylinder goes along"), say("add the cylinders, or say why none is sent")
            ),
        )
    findings = [finding for cylinder in facts.gas for finding in _gas_findings(cylinder, limits)]
    return or_ok(findings, say("{count} cylinders analysed as booked", count=len(facts.gas)))


def _gas_findings(cylinder: GasCylinderFact, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    name = say("{role} {serial}", role=say(cylinder.role), serial=cylinder.serial)
    analysed, minutes = cylinder.analysed, limits.analyse_minutes
    for words, remedy in cylinder.against:
        yield CheckFinding(Result.STOP, say("{name}: {why}", name=name, why=words), remedy, record=cylinder.record)
    if analysed is None or cylinder.analysed_at is None:
        words = say("{name}: {why}", name=name, why=cylinder.unanalysed or say("not analysed"))
        yield CheckFinding(Result.STOP, words, say("analyse the gas"), record=cylinder.record, to_do_minutes=minutes)
        return
    if cylinder.filled_at is None or cylinder.analysed_at <= cylinder.filled_at:
        unsure = say("last fill not known") if cylinder.filled_at is None else say("filled after it was analysed")
        words = say("{name}: {why}", name=name, why=unsure)
        yield CheckFinding(Result.STOP, words, say("analyse the gas"), to_do_minutes=minutes)
        return
    if cylinder.booked is not None:
        for found in differences(cylinder.booked, analysed, limits.gas):
            yield CheckFinding(Result.STOP, say("{name}: {why}", name=name, why=found.words), found.remedy)
    if cylinder.role == GasRole.OXYGEN and analysed.oxygen < limits.gas.wrong_oxygen:
        words = say("{name}: {oxygen:.1%} oxygen, which is another gas than oxygen", name=name, oxygen=analysed.oxygen)
        yield CheckFinding(Result.STOP, words, say("empty it and fill it again"))
    elif cylinder.role == GasRole.OXYGEN and analysed.oxygen < limits.gas.least_oxygen:
        words = say(
            "{name}: {oxygen:.1%} oxygen, under {least_oxygen:.0%}",
            name=name,
            oxygen=analysed.oxygen,
            least_oxygen=limits.gas.least_oxygen,
        )
        yield CheckFinding(Result.ADVISE, words, say("look at the gas certificate, or fill again"))
    yield from _pressure_findings(name, cylinder, limits)


def _pressure_findings(name: str, cylinder: GasCylinderFact, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    if cylinder.gauge_bar is None or cylinder.working_bar is None or cylinder.analysed is None:
        unread = cylinder.unread or say("pressure or working pressure not known")
        words = say("{name}: {why}", name=name, why=unread)
        yield CheckFinding(Result.ADVISE, words, say("read the gauge"))
        return
    settled = gauge_after_temperature(
        cylinder.analysed, gauge_bar=cylinder.gauge_bar, from_c=cylinder.temperature_c, to_c=15.0
    )
    held, working = (
        say("{name}: {settled} at {what}", name=name, settled=BAR.words(settled, 0), what=CELSIUS.words(15)),
        BAR.words(cylinder.working_bar),
    )
    if settled > cylinder.working_bar * 1.005:
        words = say("{held}, over the working pressure of {working}", held=held, working=working)
        yield CheckFinding(Result.STOP, words, say("let it down to the working pressure"), ordinary=True)
    elif settled < limits.gas.least_full * cylinder.working_bar:
        words = say(
            "{held}, under {least_full:.0%} of {working}", held=held, least_full=limits.gas.least_full, working=working
        )
        yield CheckFinding(Result.ADVISE, words, say("top it up and analyse"))


def diluent(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Oxygen pressure of the diluent at the planned depth against limit and set-point."""
    fact = facts.diluent
    if fact is None:
        return None
    if fact.diluent is None:
        words = say("diluent not analysed")
        return (CheckFinding(Result.STOP, words, say("analyse the gas"), to_do_minutes=limits.analyse_minutes),)
    if fact.depth_m is None:
        return (CheckFinding(Result.ADVISE, say("planned depth not known"), say("ask for the planned depth")),)
    flush = diluent_flush(
        fact.diluent,
        depth_m=fact.depth_m,
        set_point_bar=fact.set_point_bar,
        limit_bar=fact.limit_bar,
        margin_bar=limits.flush_margin_bar,
    )
    remedy = "" if flush.result is Result.OK else say("choose another diluent or a shallower plan")
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
    return or_ok(findings, say("{count} cylinders in test through {last}", count=len(known), last=asked.last))


def _cylinder_findings(cylinder: CylinderStateFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    name = say("cylinder {serial}", serial=cylinder.serial)
    test = life_finding(name, cylinder.tests, asked, critical=True, margin_days=0, source=limits.source)
    if test is not None and test.result is Result.STOP:
        yield test
    elif cylinder.tests.first is None:
        yield CheckFinding(Result.STOP, say("{name}: no test on record", name=name), STAMP)
    visual = Freshness(None, limits.visual_advise_days, limits.source)
    if cylinder.visual_at is None:
        yield CheckFinding(
            Result.ADVISE, say("{name}: no internal visual on record", name=name), say("have it looked into")
        )
    else:
        what = say("{name}: internal visual", name=name)
        yield by_age(what, cylinder.visual_at, asked, visual, remedy=say("have it looked into"))
    if cylinder.oxygen_side:
        status = cylinder.oxygen_clean, cylinder.cleaned_at, cylinder.clean_words
        yield _clean_finding(name, *status, asked, limits)


def _clean_finding(
    name: str, clean: bool | None, cleaned_at: datetime | None, words: str, asked: Asked, limits: ReadinessLimits
) -> CheckFinding:
    remedy = say("clean it for oxygen on the clean bench")
    if clean is not True:
        known = words or ("lost" if clean is False else say("not known"))
        return CheckFinding(Result.STOP, say("{name}: oxygen-clean status {known}", name=name, known=known), remedy)
    if cleaned_at is None:
        return CheckFinding(Result.ADVISE, say("{name}: not known when it was cleaned for oxygen", name=name), remedy)
    freshness = Freshness(None, limits.clean_advise_days, limits.source)
    return by_age(say("{name}: cleaned for oxygen", name=name), cleaned_at, asked, freshness, remedy=remedy)


def bailout(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Bailout sets on the hire: in test and service, analysed, and there at all if asked for."""
    if facts.bailout is None:
        return None
    if not facts.bailout.sets:
        if facts.bailout.asked_for:
            return (CheckFinding(Result.ADVISE, say("bailout asked for, none on the hire"), say("add a bailout set")),)
        return (ok(say("no bailout asked for")),)
    findings = [finding for each in facts.bailout.sets for finding in _bailout_findings(each, asked, limits)]
    return or_ok(findings, say("bailout in test, in service and analysed"))


def _bailout_findings(bailout_set: BailoutSetFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    for what, life in (("test", bailout_set.tests), (say("regulator service"), bailout_set.service)):
        name = say("bailout {serial} {what}", serial=bailout_set.serial, what=what)
        if life.first is None and not life.unknown:
            yield CheckFinding(
                Result.STOP,
                say("{name}: no interval on record", name=name),
                say("enter its interval {what}", what=door("life")),
            )
            continue
        finding = life_finding(name, life, asked, critical=True, margin_days=0, source=limits.source)
        if finding is not None and finding.result is Result.STOP:
            yield finding
    if not bailout_set.analysed:
        words = say("bailout {serial}: not analysed since the last fill", serial=bailout_set.serial)
        yield CheckFinding(Result.STOP, words, say("analyse the gas"), to_do_minutes=limits.analyse_minutes)


def diver(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Qualification for this unit type seen, or an instructor current on it; the last dive on the type."""
    fact = facts.diver
    if fact is None:
        return None
    if fact.under_instruction:
        return (_instructor_finding(fact),)
    if fact.qualified is not True:
        known = say("none for this type") if fact.qualified is False else say("not seen")
        remedy, minutes = say("see and record the qualification"), limits.qualification_minutes
        # A qualification that the diver is known to lack is no work to be done before the hand-over.
        undone = minutes if fact.qualified is None else None
        return (
            CheckFinding(
                Result.STOP, say("qualification {known}", known=known), remedy, record=fact.record, to_do_minutes=undone
            ),
        )
    return (_last_dive_finding(fact, asked, limits),)


def _instructor_finding(fact: DiverFact) -> CheckFinding:
    who = say("instructor {name}", name=fact.instructor) if fact.instructor else say("instructor")
    if fact.instructor_current is True:
        return ok(say("under instruction: {who} is current on this type", who=who), fact.record)
    known = say("not current") if fact.instructor_current is False else say("not known to be current")
    remedy = say("give the course a current instructor")
    return CheckFinding(
        Result.STOP, say("{who} {known} on this type", who=who, known=known), remedy, record=fact.record
    )


def _last_dive_finding(fact: DiverFact, asked: Asked, limits: ReadinessLimits) -> CheckFinding:
    last = fact.last_dive_on_type
    if last is None:
        words = say("last dive on this type not known")
        return CheckFinding(Result.ADVISE, words, say("ask, and offer a refresher"), record=fact.record)
    days = (asked.first - last).days
    words = say("last dive on this type {last}, {days} days before hand-over", last=last, days=days)
    if days > limits.last_dive_days:
        rule = say("over {last_dive_days} days ({source})", last_dive_days=limits.last_dive_days, source=limits.source)
        return CheckFinding(
            Result.ADVISE, evidence=words, remedy=say("offer a refresher"), rule=rule, record=fact.record
        )
    return ok(words, fact.record)


def accessories(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Accessories, kit and harness size: whatever is missing advises."""
    if facts.accessories is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.ADVISE,
                strung(
                    " ", (each.name, each.words or (say("missing") if each.present is False else say("not looked for")))
                ),
                say("pack what is missing"),
                record=each.record,
                to_do_minutes=each.to_do_minutes,
            )
            for each in facts.accessories
            if each.present is not True
        ),
        say("everything is there"),
    )


def absorbent(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whether the fill covers the plan; no fill is work to do ahead of the act, and a stop at the act."""
    fact = facts.absorbent
    if fact is None:
        return None
    remedy = say("pack a fresh fill")
    if fact.fill is None or fact.fill.discarded:
        words = say("no fill in the canister")
        return (CheckFinding(Result.STOP, words, remedy, record=fact.record, to_do_minutes=fact.pack_minutes),)
    if fact.table is None or fact.limits is None:
        words = say("the canister type has no rated table or limits")
        return (
            CheckFinding(
                Result.STOP, words, say("enter them from the manual {what}", what=door("rating")), record=fact.record
            ),
        )
    if fact.plan is None:
        words = say("no dives planned: what is asked of the fill is not known")
        return (
            CheckFinding(Result.STOP, words, say("enter the plan, or the centre's usual dive"), record=fact.record),
        )
    return _fill_findings(fact, remaining(fact.fill, fact.runs, fact.table, fact.limits, fact.plan), remedy)


def absorbent_left_in(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A fill that stands in the canister of a kit, judged as for an assembled unit; none is as it should be.

    What is wrong with it is cured by taking it out, which is work to do ahead of the act and a stop at the act.
    """
    fact = facts.absorbent
    if fact is None:
        return None
    if fact.fill is None or fact.fill.discarded:
        return (ok(say("no fill in the canister: the diver packs it"), fact.record),)
    name, remedy = (
        fact.record or say("the fill in the canister"),
        say("discard that fill, or pack a fresh one for this diver"),
    )
    return tuple(
        each
        if each.result is Result.OK
        else replace(
            each,
            evidence=say("{name}: {why}", name=name, why=each.evidence),
            remedy=remedy,
            to_do_minutes=fact.discard_minutes if each.result is Result.STOP else None,
        )
        for each in absorbent(facts, asked, limits) or ()
    )


def _fill_findings(fact: AbsorbentFact, left: Remaining, remedy: str) -> tuple[CheckFinding, ...]:
    source = fact.limits.source if fact.limits is not None else ""
    findings = [
        CheckFinding(Result.STOP, evidence=spent.reason, remedy=remedy, rule=source, record=fact.record, ordinary=True)
        for spent in left.spent
    ]
    if not left.spent and not left.enough:
        words = say(
            "{minutes:.0f} loop minutes left, {needed:.0f} planned ({reason})",
            minutes=left.minutes,
            needed=left.needed,
            reason=left.reason,
        )
        findings.append(
            CheckFinding(Result.STOP, evidence=words, remedy=remedy, rule=source, record=fact.record, ordinary=True)
        )
    if not findings and fact.fill is not None:
        findings.extend(_fill_advice(fact, left))
    return or_ok(
        findings, say("{minutes:.0f} loop minutes left, {needed:.0f} planned", minutes=left.minutes, needed=left.needed)
    )


def _fill_advice(fact: AbsorbentFact, left: Remaining) -> Iterable[CheckFinding]:
    # What was assumed about past runs only ever shortened the figure, so it is told but is no advice.
    for caution in left.cautions:
        if caution not in left.used.notes:
            yield CheckFinding(Result.ADVISE, caution, say("pack a fresh fill, weighed"), record=fact.record)


def absorbent_kit(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """In-date absorbent sent along with a kit against what the plan needs; never more than an advice."""
    fact = facts.absorbent_kit
    if fact is None:
        return None
    remedy = say("send in-date absorbent for the plan")
    if fact.needed_kg is None:
        return (CheckFinding(Result.ADVISE, say("absorbent needed for the plan is not known"), remedy),)
    if fact.sent_in_date_kg is None:
        words = say(
            "absorbent to send along not weighed out, {needed_kg} needed", needed_kg=KILOGRAM.words(fact.needed_kg)
        )
        return (CheckFinding(Result.ADVISE, words, remedy, to_do_minutes=fact.pack_minutes),)
    words = say(
        "{sent_in_date_kg} in date sent along, {needed_kg} needed",
        sent_in_date_kg=KILOGRAM.words(fact.sent_in_date_kg),
        needed_kg=KILOGRAM.words(fact.needed_kg),
    )
    if not fact.sent_in_date_kg >= fact.needed_kg:
        return (CheckFinding(Result.ADVISE, words, remedy),)
    return (ok(words),)
