"""The checks of the unit itself: holds, cells, calibration, lives, valves and loop, absorbent, tickets.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from fleetbench.calc.canisters.fill import Remaining, remaining
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.verdict import Result, Verdict
from fleetbench.calc.parts.life import Governing
from fleetbench.calc.readiness.facts import (
    AbsorbentFact,
    CellFact,
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
    evidence = f"{what} {asked.day(at)}, {age} days before hand-over"
    rule = freshness.describe()
    if asked.day(at) > asked.today:
        return CheckFinding(Result.STOP, f"{what} dated {asked.day(at)}, which is still to come", remedy, rule, record)
    if freshness.stop_over_days is not None and age > freshness.stop_over_days:
        return CheckFinding(Result.STOP, evidence, remedy, rule, record, ordinary=True)
    if freshness.advise_over_days is not None and age > freshness.advise_over_days:
        return CheckFinding(Result.ADVISE, evidence, remedy, rule, record)
    return ok(evidence, record)


def back(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A unit that is out leaves again only after its return and turn-round; one that is late may not come back."""
    fact = facts.out
    if fact is None:
        return None
    if fact.booking is None:
        return (ok("it is here"),)
    words = f"out on {fact.booking} until {fact.back_on or 'no day known'}"
    if fact.stays:
        return (ok(f"{words}, with its diver"),)
    if fact.back_on is None or fact.back_on < asked.today:
        return (
            CheckFinding(Result.STOP, f"{words} and late: when it comes back is not known", "ask for it, receive it"),
        )
    if asked.first <= fact.back_on:
        return (CheckFinding(Result.STOP, words, "receive it and turn it round, or ask for later days"),)
    words = f"{words}: return, turn-round, disinfection and tests are still to do, and what comes back is not known"
    return (CheckFinding(Result.STOP, words, "receive it and turn it round", ordinary=True),)


def holds(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Every open hold stops, at any time."""
    if facts.holds is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.STOP,
                f"{hold.kind}{f' since {hold.since}' if hold.since else ''}: {hold.reason}",
                "clear its cause, then lift the hold",
                record=hold.record,
                # What came back is turned round before the days asked for; any other hold has a cause of its own.
                ordinary=hold.kind == "received" and asked.first > asked.today,
            )
            for hold in facts.holds
        ),
        "no hold is open",
    )


def notices(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A mandatory notice not done, or one that nobody has judged, stops at any time; any other advises."""
    if facts.notices is None:
        return None
    return or_ok(
        (
            CheckFinding(
                Result.ADVISE if notice.mandatory is False else Result.STOP,
                f"notice {notice.number} not done: {notice.title}{f', by {notice.by}' if notice.by else ''}",
                "do what the notice asks and record it",
                record=f"notice {notice.number}",
            )
            for notice in facts.notices
        ),
        "no notice is open",
    )


def cell_outcome(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """An open reject or repeat, a cell without a calibration and an empty slot stop; watch advises."""
    if facts.cells is None:
        return None
    if not facts.cells:
        return (CheckFinding(Result.STOP, "no cell slot is on record", f"add them {door('slot')}, and calibrate them"),)
    never = facts.calibration is not None and facts.calibration.done_at is None
    return or_ok(
        filter(None, (_cell_finding(each, never=never) for each in facts.cells)),
        f"all {len(facts.cells)} cells passed their last calibration",
    )


def _cell_finding(cell: CellFact, *, never: bool) -> CheckFinding | None:
    """never: no cell of the unit was ever calibrated on record."""
    name = f"{cell.position} {cell.serial}" if cell.serial else cell.position
    why = f" ({cell.why})" if cell.why else ""
    if cell.serial is None:
        return CheckFinding(Result.STOP, f"{name}: no cell fitted", "fit a cell and calibrate", record=cell.record)
    if cell.verdict is None or cell.calibrated_at is None:
        words = f"{name}: no calibration since it was fitted"
        return CheckFinding(Result.STOP, words, "calibrate the unit", record=cell.record, unrecorded=never)
    if cell.verdict is Verdict.REJECT:
        return CheckFinding(Result.STOP, f"{name}: reject{why}", "replace the cell and calibrate", record=cell.record)
    if cell.verdict is Verdict.REPEAT:
        return CheckFinding(Result.STOP, f"{name}: repeat{why}", "calibrate the unit again", record=cell.record)
    if cell.verdict is Verdict.WATCH:
        return CheckFinding(Result.ADVISE, f"{name}: watch{why}", "plan its replacement", record=cell.record)
    return None


def calibration(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Age of the oldest calibration in force, changes since, and the pressure where the unit will be used."""
    fact = facts.calibration
    if fact is None:
        return None
    remedy = "calibrate the unit"
    if fact.done_at is None:
        words = "no workshop calibration on record"
        return (CheckFinding(Result.STOP, words, remedy, ordinary=True, unrecorded=True),)
    # A session that left a cell out does not renew that cell, so the oldest one counts.
    times = [cell.calibrated_at for cell in facts.cells or () if cell.calibrated_at is not None]
    oldest = min([fact.done_at, *times])
    findings = [
        CheckFinding(
            Result.STOP, f"{change.what} on {asked.day(change.at)}, after the calibration", remedy, ordinary=True
        )
        for change in fact.changes
        if change.at >= oldest
    ]
    findings.append(by_age("calibrated", oldest, asked, limits.calibration, remedy=remedy, record=fact.record))
    if fact.pressure_mbar is not None and fact.site_pressure_mbar is not None:
        change_mbar = abs(fact.pressure_mbar - fact.site_pressure_mbar)
        if not change_mbar <= limits.pressure_change_mbar:
            words = f"calibrated at {fact.pressure_mbar:.0f} mbar, to be used at {fact.site_pressure_mbar:.0f} mbar"
            rule = f"over {limits.pressure_change_mbar:g} mbar apart ({limits.source})"
            findings.append(CheckFinding(Result.ADVISE, words, "calibrate again where it is dived", rule, fact.record))
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
    rule = f"up to {wanted:.2f} bar, {limits.verified_part:.0%} of the pressure at the place of use ({limits.source})"
    findings = []
    for cell in facts.cells or ():
        if cell.verdict not in (Verdict.PASS, Verdict.WATCH) or cell.position in proven:
            continue
        if cell.verified_up_to_bar is None:
            words = f"{cell.position}: not recorded up to which oxygen pressure it was verified"
        elif not cell.verified_up_to_bar >= wanted:
            words = f"{cell.position}: verified only up to {cell.verified_up_to_bar:.2f} bar of oxygen"
        else:
            continue
        findings.append(CheckFinding(Result.ADVISE, words, "calibrate again where it is dived", rule, cell.record))
    return findings


def part_life(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Life of every part through the last day: critical slots stop, others advise; an end soon after advises."""
    if facts.parts is None:
        return None
    findings = [_slot_finding(part, asked, limits.life_margin_days, limits.source) for part in facts.parts]
    return or_ok(filter(None, findings), f"every life lasts through {asked.last}")


def _slot_finding(part: PartFact, asked: Asked, margin_days: int, source: str) -> CheckFinding | None:
    if part.part is None:
        result = Result.STOP if part.critical else Result.ADVISE
        return CheckFinding(result, f"{part.slot}: empty", "fit a part", record=part.record)
    return life_finding(
        f"{part.slot} {part.part}",
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
    remedy = "replace it, or do what renews it"
    margin = f"with under {margin_days} days left" if under else f"within {margin_days} days of its end"
    rule = f"life through the last day, advised {margin} ({source})"
    if life.first is not None and life.first.day is not None:
        left = (life.first.day - asked.last).days
        projected = " projected" if life.first.projected else ""
        words = f"{name}: last valid day{projected} {life.first.day} by {life.first.limit.describe()}"
        if left < 0:
            return CheckFinding(grave, words, remedy, rule, record)
        if not life.unknown and (left < margin_days if under else left <= margin_days):
            return CheckFinding(Result.ADVISE, words, remedy, rule, record)
    if life.unknown:
        words = f"{name}: {life.unknown[0].why}"
        remedy = f"enter the missing date or use: dates {door('marks')}"
        return CheckFinding(grave, words, remedy, rule, record, unrecorded=True)
    return None


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
        findings.append(CheckFinding(Result.ADVISE, "a cell's lot is not known", f"enter the lots {door('marks')}"))
    elif len(fitted) > 1 and len(lots) == 1:
        words = f"all {len(fitted)} cells are of one lot, {lots.pop()}: they may fail together"
        findings.append(CheckFinding(Result.ADVISE, words, "spread lots when one is next replaced"))
    return or_ok(findings, f"every cell lasts through {asked.last}, and their lots differ")


def _cell_age_finding(cell: CellFact, asked: Asked, limits: ReadinessLimits) -> CheckFinding | None:
    name = f"{cell.position} {cell.serial}"
    if cell.life is None:
        words, remedy = f"{name}: no life on record", "enter when it was made and opened"
        return CheckFinding(Result.STOP, words, remedy, "", cell.record, unrecorded=True)
    if cell.life.first is None and not cell.life.unknown:
        words = f"{name}: its part type has no life on record"
        remedy = f"enter its life from the manual {door('life')}"
        return CheckFinding(Result.STOP, words, remedy, "", cell.record, unrecorded=True)
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
    return tuple(_latest(kind, tests, asked, freshness) for kind in tests.required) or (
        CheckFinding(Result.STOP, "the unit type does not say which tests it needs", f"add its valves {door('slot')}"),
    )


def _latest(kind: str, tests: TestsFact, asked: Asked, freshness: Freshness) -> CheckFinding:
    remedy = f"test: {kind}"
    of_kind = [test for test in tests.done if test.kind == kind]
    if not of_kind:
        return CheckFinding(Result.STOP, f"{kind}: no test on record", remedy, ordinary=True, unrecorded=True)
    last = max(of_kind, key=lambda test: test.at)
    day = asked.day(last.at)
    if last.passed is not True:
        words = f"{kind}: {'failed' if last.passed is False else 'left undecided'} {day}"
        return CheckFinding(Result.STOP, words, f"repair, then {remedy}", record=last.record)
    since = next((each for each in tests.fitted if each.what == kind), None)
    if since is not None and last.at < since.at:
        words = f"{kind}: last passed {day}, before its part was fitted on {asked.day(since.at)}"
        return CheckFinding(Result.STOP, words, remedy, record=last.record, ordinary=True)
    if tests.opened_at is not None and last.at <= tests.opened_at:
        words = f"{kind}: last passed {day}, before the workshop opening of {asked.day(tests.opened_at)}"
        return CheckFinding(Result.STOP, words, remedy, record=last.record, ordinary=True)
    return by_age(f"{kind}: passed", last.at, asked, freshness, remedy=remedy, record=last.record)


def absorbent(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whether the fill covers the plan; no fill is work to do ahead of the act, and a stop at the act."""
    fact = facts.absorbent
    if fact is None:
        return None
    remedy = "pack a fresh fill"
    if fact.fill is None or fact.fill.discarded:
        words = "no fill in the canister"
        return (CheckFinding(Result.STOP, words, remedy, record=fact.record, to_do_minutes=fact.pack_minutes),)
    if fact.table is None or fact.limits is None:
        words = "the canister type has no rated table or limits"
        return (CheckFinding(Result.STOP, words, f"enter them from the manual {door('rating')}", record=fact.record),)
    if fact.plan is None:
        words = "no dives planned: what is asked of the fill is not known"
        return (CheckFinding(Result.STOP, words, "enter the plan, or the centre's usual dive", record=fact.record),)
    return _fill_findings(fact, remaining(fact.fill, fact.runs, fact.table, fact.limits, fact.plan), remedy)


def absorbent_left_in(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A fill that stands in the canister of a kit, judged as for an assembled unit; none is as it should be.

    What is wrong with it is cured by taking it out, which is work to do ahead of the act and a stop at the act.
    """
    fact = facts.absorbent
    if fact is None:
        return None
    if fact.fill is None or fact.fill.discarded:
        return (ok("no fill in the canister: the diver packs it", fact.record),)
    name, remedy = fact.record or "the fill in the canister", "discard that fill, or pack a fresh one for this diver"
    return tuple(
        each
        if each.result is Result.OK
        else replace(
            each,
            evidence=f"{name}: {each.evidence}",
            remedy=remedy,
            to_do_minutes=fact.discard_minutes if each.result is Result.STOP else None,
        )
        for each in absorbent(facts, asked, limits) or ()
    )


def _fill_findings(fact: AbsorbentFact, left: Remaining, remedy: str) -> tuple[CheckFinding, ...]:
    source = fact.limits.source if fact.limits is not None else ""
    findings = [
        CheckFinding(Result.STOP, spent.reason, remedy, source, fact.record, ordinary=True) for spent in left.spent
    ]
    if not left.spent and not left.enough:
        words = f"{left.minutes:.0f} loop minutes left, {left.needed:.0f} planned ({left.reason})"
        findings.append(CheckFinding(Result.STOP, words, remedy, source, fact.record, ordinary=True))
    if not findings and fact.fill is not None:
        findings.extend(_fill_advice(fact, left))
    return or_ok(findings, f"{left.minutes:.0f} loop minutes left, {left.needed:.0f} planned")


def _fill_advice(fact: AbsorbentFact, left: Remaining) -> Iterable[CheckFinding]:
    # What was assumed about past runs only ever shortened the figure, so it is told but is no advice.
    for caution in left.cautions:
        if caution not in left.used.notes:
            yield CheckFinding(Result.ADVISE, caution, "pack a fresh fill, weighed", record=fact.record)


def absorbent_kit(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """In-date absorbent sent along with a kit against what the plan needs; never more than an advice."""
    fact = facts.absorbent_kit
    if fact is None:
        return None
    remedy = "send in-date absorbent for the plan"
    if fact.needed_kg is None:
        return (CheckFinding(Result.ADVISE, "absorbent needed for the plan is not known", remedy),)
    if fact.sent_in_date_kg is None:
        words = f"absorbent to send along not weighed out, {KILOGRAM.words(fact.needed_kg)} needed"
        return (CheckFinding(Result.ADVISE, words, remedy, to_do_minutes=fact.pack_minutes),)
    words = f"{KILOGRAM.words(fact.sent_in_date_kg)} in date sent along, {KILOGRAM.words(fact.needed_kg)} needed"
    if not fact.sent_in_date_kg >= fact.needed_kg:
        return (CheckFinding(Result.ADVISE, words, remedy),)
    return (ok(words),)


def tickets(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Open tickets and put-off tasks: cosmetic advises, anything else and what was put off too often stops."""
    if facts.tickets is None:
        return None
    return or_ok((_ticket_finding(ticket, limits) for ticket in facts.tickets), "no ticket is open")


def _ticket_finding(ticket: TicketFact, limits: ReadinessLimits) -> CheckFinding:
    record = f"ticket {ticket.number}"
    name = f"{record}: {ticket.what}"
    if ticket.put_off >= limits.put_off_stop:
        rule = f"put off {limits.put_off_stop} times stops ({limits.source})"
        return CheckFinding(
            Result.STOP, f"{name}, put off {ticket.put_off} times", "do the work and sign", rule, record
        )
    if ticket.severity is TicketSeverity.COSMETIC:
        return CheckFinding(
            Result.ADVISE, f"{name} (cosmetic)", "do the work and sign when there is time", record=record
        )
    judged = "critical" if ticket.severity is TicketSeverity.CRITICAL else "severity not judged"
    return CheckFinding(Result.STOP, f"{name} ({judged})", "do the work and sign", record=record)
