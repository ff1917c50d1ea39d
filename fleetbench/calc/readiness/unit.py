"""The checks of the unit itself: holds, cells, calibration, lives, valves and loop, tickets.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from functools import cache, lru_cache

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result, Verdict
from fleetbench.calc.parts.life import Governing
from fleetbench.calc.readiness.facts import (
    CellFact,
    HoldKind,
    PartFact,
    TestsFact,
    TicketFact,
    TicketSeverity,
    UnitFacts,
)
from fleetbench.calc.readiness.limits import Asked, CheckFinding, Freshness, ReadinessLimits, ok

Findings = tuple[CheckFinding, ...] | None


def or_ok(findings: Iterable[CheckFinding], evidence: str) -> tuple[CheckFinding, ...]:
    """The findings, or one that all is well where there are none."""
    return tuple(findings) or (ok(evidence),)


def by_age(
    what: str, at: datetime, asked: Asked, freshness: Freshness, *, remedy: str, record: str = ""
) -> CheckFinding:
    """Finding for the age of a record at hand-over; a record from after the question is unclear and stops."""
    age = asked.age_days(at)
    evidence = _age_words(what, asked.day(at), age)
    rule = freshness.describe()
    if asked.day(at) > asked.today:
        return CheckFinding(
            Result.STOP,
            evidence=say("{what} dated {at}, which is still to come", what=what, at=asked.day(at)),
            remedy=remedy,
            rule=rule,
            record=record,
        )
    if freshness.stop_over_days is not None and age > freshness.stop_over_days:
        return CheckFinding(Result.STOP, evidence=evidence, remedy=remedy, rule=rule, record=record, ordinary=True)
    if freshness.advise_over_days is not None and age > freshness.advise_over_days:
        return CheckFinding(Result.ADVISE, evidence=evidence, remedy=remedy, rule=rule, record=record)
    return ok(evidence, record)


@lru_cache(20_000)
def _age_words(what: str, on: date, age: int) -> str:
    return say("{what} {at}, {age} days before hand-over", what=what, at=on, age=age)


def back(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A unit that is out leaves again only after its return and turn-round; one that is late may not come back."""
    fact = facts.out
    if fact is None:
        return None
    if fact.booking is None:
        return (ok(say("it is here")),)
    words = say("out on {booking} until {value}", booking=fact.booking, value=fact.back_on or say("no day known"))
    if fact.stays:
        return (ok(say("{words}, with its diver", words=words)),)
    if fact.back_on is None or fact.back_on < asked.today:
        return (
            CheckFinding(
                Result.STOP,
                say("{words} and late: when it comes back is not known", words=words),
                say("ask for it, receive it"),
            ),
        )
    if asked.first <= fact.back_on:
        return (CheckFinding(Result.STOP, words, say("receive it and turn it round, or ask for later days")),)
    words = say(
        "{words}: return, turn-round, disinfection and tests are still to do, and what comes back is not known",
        words=words,
    )
    return (CheckFinding(Result.STOP, words, say("receive it and turn it round"), ordinary=True),)


def holds(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Every open hold stops, at any time."""
    if facts.holds is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.STOP,
                say("{kind} since {since}: {reason}", kind=say(hold.kind), since=hold.since, reason=hold.reason)
                if hold.since
                else say("{name}: {why}", name=say(hold.kind), why=hold.reason),
                say("clear its cause, then lift the hold"),
                record=hold.record,
                # What came back is turned round before the days asked for; any other hold has a cause of its own.
                ordinary=hold.kind == HoldKind.RECEIVED and asked.first > asked.today,
            )
            for hold in facts.holds
        ),
        say("no hold is open"),
    )


def notices(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A mandatory notice not done, or one that nobody has judged, stops at any time; any other advises."""
    if facts.notices is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.ADVISE if notice.mandatory is False else Result.STOP,
                say(
                    "notice {number} not done: {notice}{what}",
                    number=notice.number,
                    notice=notice.title,
                    what=say(", by {by}", by=notice.by) if notice.by else "",
                ),
                say("do what the notice asks and record it"),
                record=say("notice {number}", number=notice.number),
            )
            for notice in facts.notices
        ),
        say("no notice is open"),
    )


def cell_outcome(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """An open reject or repeat, a cell without a calibration and an empty slot stop; watch advises."""
    if facts.cells is None:
        return None
    if not facts.cells:
        return (
            CheckFinding(
                Result.STOP,
                say("no cell slot is on record"),
                say("add them {what}, and calibrate them", what=door("slot")),
            ),
        )
    never = facts.calibration is not None and facts.calibration.done_at is None
    return or_ok(
        filter(None, (_cell_finding(each, never=never) for each in facts.cells)),
        say("all {count} cells passed their last calibration", count=len(facts.cells)),
    )


def _cell_finding(cell: CellFact, *, never: bool) -> CheckFinding | None:
    """never: no cell of the unit was ever calibrated on record."""
    name = strung(" ", (cell.position, cell.serial)) if cell.serial else cell.position
    why = f" ({cell.why})" if cell.why else ""
    if cell.serial is None:
        return CheckFinding(
            Result.STOP, say("{name}: no cell fitted", name=name), say("fit a cell and calibrate"), record=cell.record
        )
    if cell.verdict is None or cell.calibrated_at is None:
        words = say("{name}: no calibration since it was fitted", name=name)
        return CheckFinding(Result.STOP, words, say("calibrate the unit"), record=cell.record, unrecorded=never)
    if cell.verdict is Verdict.REJECT:
        return CheckFinding(
            Result.STOP,
            say("{name}: reject{why}", name=name, why=why),
            say("replace the cell and calibrate"),
            record=cell.record,
        )
    if cell.verdict is Verdict.REPEAT:
        return CheckFinding(
            Result.STOP,
            say("{name}: repeat{why}", name=name, why=why),
            say("calibrate the unit again"),
            record=cell.record,
        )
    if cell.verdict is Verdict.WATCH:
        return CheckFinding(
            Result.ADVISE,
            say("{name}: watch{why}", name=name, why=why),
            say("plan its replacement"),
            record=cell.record,
        )
    return None


def calibration(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Age of the oldest calibration in force, changes since, and the pressure where the unit will be used."""
    fact = facts.calibration
    if fact is None:
        return None
    remedy = say("calibrate the unit")
    if fact.done_at is None:
        words = say("no workshop calibration on record")
        return (CheckFinding(Result.STOP, words, remedy, ordinary=True, unrecorded=True),)
    # A session that left a cell out does not renew that cell, so the oldest one counts.
    times = [cell.calibrated_at for cell in facts.cells or () if cell.calibrated_at is not None]
    oldest = min([fact.done_at, *times])
    findings = [
        CheckFinding(
            Result.STOP,
            say("{what} on {at}, after the calibration", what=change.what, at=asked.day(change.at)),
            remedy,
            ordinary=True,
        )
        for change in fact.changes
        if change.at >= oldest
    ]
    findings.append(by_age(say("calibrated"), oldest, asked, limits.calibration, remedy=remedy, record=fact.record))
    if fact.pressure_mbar is not None and fact.site_pressure_mbar is not None:
        change_mbar = abs(fact.pressure_mbar - fact.site_pressure_mbar)
        if not change_mbar <= limits.pressure_change_mbar:
            words = say(
                "calibrated at {pressure_mbar:.0f} mbar, to be used at {site_pressure_mbar:.0f} mbar",
                pressure_mbar=fact.pressure_mbar,
                site_pressure_mbar=fact.site_pressure_mbar,
            )
            rule = say(
                "over {pressure_change_mbar:g} mbar apart ({source})",
                pressure_change_mbar=limits.pressure_change_mbar,
                source=limits.source,
            )
            findings.append(
                CheckFinding(
                    Result.ADVISE,
                    evidence=words,
                    remedy=say("calibrate again where it is dived"),
                    rule=rule,
                    record=fact.record,
                )
            )
    findings += _verified(facts, limits)
    return tuple(findings)


def _verified(facts: UnitFacts, limits: ReadinessLimits) -> list[CheckFinding]:
    """Cells shown sound only up to less oxygen than the surface of the place of use gives, by height or thin gas.

    A point above 1 bar since a cell was fitted shows more, and has a check of its own.
    """
    site = facts.calibration.site_pressure_mbar if facts.calibration is not None else None
    if site is None:
        return []
    wanted = limits.verified_part * site / 1000.0
    proven = {point.position for point in facts.high_points or () if point.taken_at is not None}
    rule = say(
        "up to {wanted:.2f} bar, {verified_part:.0%} of the pressure at the place of use ({source})",
        wanted=wanted,
        verified_part=limits.verified_part,
        source=limits.source,
    )
    findings = []
    for cell in facts.cells or ():
        if cell.verdict not in (Verdict.PASS, Verdict.WATCH) or cell.position in proven:
            continue
        if cell.verified_up_to_bar is None:
            words = say("{position}: not recorded up to which oxygen pressure it was verified", position=cell.position)
        elif not cell.verified_up_to_bar >= wanted:
            words = say(
                "{position}: verified only up to {verified_up_to_bar:.2f} bar of oxygen",
                position=cell.position,
                verified_up_to_bar=cell.verified_up_to_bar,
            )
        else:
            continue
        findings.append(
            CheckFinding(
                Result.ADVISE,
                evidence=words,
                remedy=say("calibrate again where it is dived"),
                rule=rule,
                record=cell.record,
            )
        )
    return findings


def part_life(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Life of every part through the last day: critical slots stop, others advise; an end soon after advises."""
    if facts.parts is None:
        return None
    findings = [_slot_finding(part, asked, limits.life_margin_days, limits.source) for part in facts.parts]
    return or_ok(filter(None, findings), say("every life lasts through {last}", last=asked.last))


def _slot_finding(part: PartFact, asked: Asked, margin_days: int, source: str) -> CheckFinding | None:
    if part.part is None:
        result = Result.STOP if part.critical else Result.ADVISE
        return CheckFinding(result, say("{slot}: empty", slot=part.slot), say("fit a part"), record=part.record)
    return life_finding(
        strung(" ", (part.slot, part.part)),
        part.life,
        asked,
        critical=part.critical,
        margin_days=margin_days,
        source=source,
        record=part.record,
    )


def life_finding(
    name: str,
    life: Governing,
    asked: Asked,
    *,
    critical: bool,
    margin_days: int,
    source: str,
    record: str = "",
    under: bool = False,
) -> CheckFinding | None:
    """What a life says through the last day; None where it lasts well beyond.

    under: fewer days left than the margin advise; otherwise the margin's own last day does too.
    """
    grave = Result.STOP if critical else Result.ADVISE
    remedy = say("replace it, or do what renews it")
    rule = _life_rule(margin_days, source, under=under)
    if life.first is not None and life.first.day is not None:
        left = (life.first.day - asked.last).days
        near = not life.unknown and (left < margin_days if under else left <= margin_days)
        if left < 0 or near:
            day, limit = life.first.day, life.first.limit.describe()
            if life.first.projected:
                words = say("{name}: last valid day projected {day} by {limit}", name=name, day=day, limit=limit)
            else:
                words = say("{name}: last valid day {day} by {limit}", name=name, day=day, limit=limit)
            return CheckFinding(
                grave if left < 0 else Result.ADVISE, evidence=words, remedy=remedy, rule=rule, record=record
            )
    if life.unknown:
        words = say("{name}: {why}", name=name, why=life.unknown[0].why)
        remedy = say("enter the missing date or use: dates {what}", what=door("marks"))
        return CheckFinding(grave, evidence=words, remedy=remedy, rule=rule, record=record, unrecorded=True)
    return None


@cache
def _life_rule(margin_days: int, source: str, *, under: bool) -> str:
    if under:
        return say(
            "life through the last day, advised with under {days} days left ({source})", days=margin_days, source=source
        )
    return say(
        "life through the last day, advised within {days} days of its end ({source})", days=margin_days, source=source
    )


def cell_age(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Age of each cell through the last day; all of one lot, or an end within the margin, advises."""
    if facts.cells is None:
        return None
    findings = [
        finding
        for cell in facts.cells
        if cell.serial is not None and (finding := _cell_age_finding(cell, asked, limits)) is not None
    ]
    fitted = [cell for cell in facts.cells if cell.serial is not None]
    lots = {cell.lot for cell in fitted}
    if len(fitted) > 1 and None in lots:
        findings.append(
            CheckFinding(
                Result.ADVISE, say("a cell's lot is not known"), say("enter the lots {what}", what=door("marks"))
            )
        )
    elif len(fitted) > 1 and len(lots) == 1:
        words = say(
            "all {count} cells are of one lot, {pop}: they may fail together", count=len(fitted), pop=lots.pop()
        )
        findings.append(CheckFinding(Result.ADVISE, words, say("spread lots when one is next replaced")))
    return or_ok(findings, say("every cell lasts through {last}, and their lots differ", last=asked.last))


def _cell_age_finding(cell: CellFact, asked: Asked, limits: ReadinessLimits) -> CheckFinding | None:
    name = strung(" ", (cell.position, cell.serial or ""))
    if cell.life is None:
        words, remedy = say("{name}: no life on record", name=name), say("enter when it was made and opened")
        return CheckFinding(Result.STOP, evidence=words, remedy=remedy, rule="", record=cell.record, unrecorded=True)
    if cell.life.first is None and not cell.life.unknown:
        words = say("{name}: its part type has no life on record", name=name)
        remedy = say("enter its life from the manual {what}", what=door("life"))
        return CheckFinding(Result.STOP, evidence=words, remedy=remedy, rule="", record=cell.record, unrecorded=True)
    return life_finding(
        name,
        cell.life,
        asked,
        critical=True,
        margin_days=limits.cell_margin_days,
        source=limits.source,
        record=cell.record,
        under=True,
    )


def valves_and_loop(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Each required test of the one-way valves and the loop: passed, since the last workshop opening, and fresh."""
    if facts.valves_and_loop is None:
        return None
    return tests_fresh(facts.valves_and_loop, asked, limits.valves_and_loop)


def tests_fresh(tests: TestsFact, asked: Asked, freshness: Freshness) -> tuple[CheckFinding, ...]:
    """One finding a required test: none, failed, undecided or older than an opening stops; then by age."""
    found = ((kind, _latest(kind, tests, asked, freshness)) for kind in tests.required)
    return tuple(each if each.result is Result.OK else replace(each, test=kind) for kind, each in found) or (
        CheckFinding(
            Result.STOP,
            say("the unit type does not say which tests it needs"),
            say("add its valves {what}", what=door("slot")),
        ),
    )


@cache
def _test_words(kind: str) -> tuple[str, str]:
    return say("test: {kind}", kind=say(kind)), say("{kind}: passed", kind=say(kind))


def _latest(kind: str, tests: TestsFact, asked: Asked, freshness: Freshness) -> CheckFinding:
    remedy, passed = _test_words(kind)
    of_kind = [test for test in tests.done if test.kind == kind]
    if not of_kind:
        return CheckFinding(
            Result.STOP, say("{kind}: no test on record", kind=kind), remedy, ordinary=True, unrecorded=True
        )
    last = max(of_kind, key=lambda test: test.at)
    day = asked.day(last.at)
    if last.passed is not True:
        failed = last.passed is False
        words = say("{kind}: failed {day}" if failed else "{kind}: left undecided {day}", kind=kind, day=day)
        return CheckFinding(Result.STOP, words, say("repair, then {remedy}", remedy=remedy), record=last.record)
    since = next((each for each in tests.fitted if each.what == kind), None)
    if since is not None and last.at < since.at:
        words = say(
            "{kind}: last passed {day}, before its part was fitted on {at}", kind=kind, day=day, at=asked.day(since.at)
        )
        return CheckFinding(Result.STOP, words, remedy, record=last.record, ordinary=True)
    if tests.opened_at is not None and last.at <= tests.opened_at:
        words = say(
            "{kind}: last passed {day}, before the workshop opening of {opened_at}",
            kind=kind,
            day=day,
            opened_at=asked.day(tests.opened_at),
        )
        return CheckFinding(Result.STOP, words, remedy, record=last.record, ordinary=True)
    return by_age(passed, last.at, asked, freshness, remedy=remedy, record=last.record)


def tickets(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Open tickets and put-off tasks: cosmetic advises, anything else and what was put off too often stops."""
    if facts.tickets is None:
        return None
    return or_ok((_ticket_finding(ticket, limits) for ticket in facts.tickets), say("no ticket is open"))


def _ticket_finding(ticket: TicketFact, limits: ReadinessLimits) -> CheckFinding:
    record = say("ticket {number}", number=ticket.number)
    name = say("{name}: {why}", name=record, why=ticket.what)
    if ticket.put_off >= limits.put_off_stop:
        rule = say(
            "put off {put_off_stop} times stops ({source})", put_off_stop=limits.put_off_stop, source=limits.source
        )
        return CheckFinding(
            Result.STOP,
            evidence=say("{name}, put off {put_off} times", name=name, put_off=ticket.put_off),
            remedy=say("do the work and sign"),
            rule=rule,
            record=record,
        )
    if ticket.severity is TicketSeverity.COSMETIC:
        return CheckFinding(
            Result.ADVISE,
            say("{name} (cosmetic)", name=name),
            say("do the work and sign when there is time"),
            record=record,
        )
    judged = say("critical") if ticket.severity is TicketSeverity.CRITICAL else say("severity not judged")
    return CheckFinding(
        Result.STOP, say("{name} ({judged})", name=name, judged=judged), say("do the work and sign"), record=record
    )
