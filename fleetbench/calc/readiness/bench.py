"""The checks of what the bench did: handsets, tests, batteries, disinfection, firmware, flood, service, equipment.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleetbench.calc.cells.atmosphere import STANDARD_PRESSURE_MBAR, air_po2_bar
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.facts import BatteryFact, FirmwareFact, HandsetFact, HandsetsFact, UnitFacts
from fleetbench.calc.readiness.limits import Asked, CheckFinding, Freshness, ReadinessLimits, ok
from fleetbench.calc.readiness.unit import Findings, by_age, life_finding, or_ok, tests_fresh


def handset_calibration(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Each handset's own calibration since the last change, and what it showed back in air."""
    if facts.handsets is None:
        return None
    if not facts.handsets.handsets:
        return (CheckFinding(Result.STOP, "no handset is on record", f"add them {door('handset')}"),)
    findings = (_handset_finding(each, facts.handsets, asked, limits) for each in facts.handsets.handsets)
    return or_ok(filter(None, findings), "every handset was calibrated after the last change")


def _handset_finding(
    handset: HandsetFact, all_handsets: HandsetsFact, asked: Asked, limits: ReadinessLimits
) -> CheckFinding | None:
    name, remedy = handset.handset, "calibrate the handset and record it"
    if handset.stored_at is None:
        words = f"{name}: no calibration stored in it on record"
        return CheckFinding(Result.STOP, words, remedy, record=handset.record, ordinary=True, unrecorded=True)
    for change in all_handsets.changes:
        if change.at >= handset.stored_at:
            words = f"{name}: {change.what} on {asked.day(change.at)}, after its calibration"
            return CheckFinding(Result.STOP, words, remedy, record=handset.record, ordinary=True)
    return _back_in_air(handset, limits)


def _back_in_air(handset: HandsetFact, limits: ReadinessLimits) -> CheckFinding | None:
    name, band = handset.handset, air_band(handset, limits)
    if handset.air_bar is None:
        return CheckFinding(Result.ADVISE, f"{name}: not read back in air", "read it in air", band.rule, handset.record)
    words = f"{name}: showed {handset.air_bar:.2f} bar back in air"
    if not band.least_bar <= handset.air_bar <= band.most_bar:
        return CheckFinding(Result.STOP, words, "calibrate the handset and record it", band.rule, handset.record)
    if handset.pressure_mbar is None:
        words = f"{words}, but the room's pressure was not recorded"
        return CheckFinding(Result.ADVISE, words, "record the pressure at its calibration", band.rule, handset.record)
    if not band.least_usual_bar <= handset.air_bar <= band.most_usual_bar:
        words = f"{words}, over {limits.air_off_advise:.0%} off the oxygen that the air held"
        return CheckFinding(Result.ADVISE, words, "read it in air again, and calibrate it", band.rule, handset.record)
    return None


@dataclass(frozen=True, slots=True)
class AirBand:
    """What a handset may show back in air, bar: outside the first pair it stops, outside the usual pair it advises."""

    least_bar: float
    most_bar: float
    least_usual_bar: float
    most_usual_bar: float
    rule: str


def air_band(handset: HandsetFact, limits: ReadinessLimits) -> AirBand:
    """The band of a handset back in air, scaled with the oxygen of the air that it was calibrated in.

    The limits are stated at 1013.25 mbar and dry air, where air holds 0.212 bar of oxygen (CIPM-2007 fraction). With
    the humidity or the temperature not recorded it may be any air from dry to saturated at the temperature, 35 C at
    most; with the pressure not recorded the limits stand as stated, and nothing narrower can be said.
    """
    stated = f"{limits.air_least_bar:g} to {limits.air_most_bar:g} bar back in air"
    standard = float(air_po2_bar(STANDARD_PRESSURE_MBAR, 20.0, 0.0))
    if handset.pressure_mbar is None:
        rule = f"{stated} at 1013 mbar, not scaled: the room's pressure was not recorded ({limits.air_source})"
        return AirBand(limits.air_least_bar, limits.air_most_bar, limits.air_least_bar, limits.air_most_bar, rule)
    known = handset.humidity is not None and handset.temperature_c is not None
    warm = 35.0 if handset.temperature_c is None else handset.temperature_c
    humidities = (handset.humidity, handset.humidity) if known else (1.0, 0.0)
    moist, dry = (float(air_po2_bar(handset.pressure_mbar, warm, each)) for each in humidities if each is not None)
    least, most = limits.air_least_bar * moist / standard, limits.air_most_bar * dry / standard
    off = limits.air_off_advise
    usual = f", advises outside {moist * (1 - off):.3f} to {dry * (1 + off):.3f}"
    rule = (
        f"{stated} at 1013 mbar and dry, so {least:.3f} to {most:.3f} at {handset.pressure_mbar:.0f} mbar{usual}"
        f" ({limits.air_source})"
    )
    return AirBand(least, most, max(least, moist * (1 - off)), min(most, dry * (1 + off)), rule)


def high_point(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whether each cell was seen above 1 bar lately; a calibration at 1 bar cannot show limiting at 1.3."""
    if facts.high_points is None:
        return None
    freshness = Freshness(None, limits.high_point_days, limits.source)
    remedy = "take a point above 1 bar in the pressure pot"
    findings = [
        CheckFinding(Result.ADVISE, f"{point.position}: no point above 1 bar since it was fitted", remedy)
        if point.taken_at is None
        else by_age(
            f"{point.position}: point above 1 bar", point.taken_at, asked, freshness, remedy=remedy, record=point.record
        )
        for point in facts.high_points
    ]
    return or_ok(findings, "no cell to look at")


def handset_spread(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """How far the handsets lie apart on each cell in oxygen."""
    if facts.spreads is None:
        return None
    rule = f"stops over {limits.spread_stop_bar:g} bar, advises over {limits.spread_advise_bar:g} ({limits.source})"
    findings = []
    for spread in facts.spreads:
        if spread.spread_bar is None:
            words = f"{spread.position}: handsets not compared in oxygen"
            remedy = "read every handset in oxygen"
            findings.append(
                CheckFinding(Result.STOP, words, remedy, rule, spread.record, ordinary=True, unrecorded=True)
            )
            continue
        words = f"{spread.position}: handsets {spread.spread_bar:.2f} bar apart in oxygen"
        if not spread.spread_bar <= limits.spread_stop_bar + 1e-9:
            findings.append(
                CheckFinding(Result.STOP, words, "find the handset or contact at fault", rule, spread.record)
            )
        elif spread.spread_bar > limits.spread_advise_bar + 1e-9:
            findings.append(CheckFinding(Result.ADVISE, words, "watch the handsets and contacts", rule, spread.record))
    return or_ok(findings, "handsets agree on every cell that more than one of them reads")


def gas_side_tests(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Intermediate pressure, solenoid, addition valves and relief: passed, since opened, and fresh."""
    return None if facts.gas_side_tests is None else tests_fresh(facts.gas_side_tests, asked, limits.gas_side_tests)


def mouthpiece_tests(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Bailout or mouthpiece valve: passed, since opened, and fresh."""
    if facts.mouthpiece_tests is None:
        return None
    return tests_fresh(facts.mouthpiece_tests, asked, limits.mouthpiece_tests)


def alarm_tests(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Alarms, displays and set-point on the bench: passed, since a head or firmware change, and fresh."""
    return None if facts.alarm_tests is None else tests_fresh(facts.alarm_tests, asked, limits.alarm_tests)


def batteries(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Each device's battery: read, over the replace voltage, read lately, not fitted too long ago."""
    if facts.batteries is None:
        return None
    findings = [finding for battery in facts.batteries for finding in _battery_findings(battery, asked, limits)]
    return or_ok(findings, "no device with a battery")


def _battery_findings(battery: BatteryFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    minutes = limits.battery_minutes
    if battery.replace_volts is None:
        words = f"{battery.device}: the type states no replace voltage"
        yield CheckFinding(Result.STOP, words, f"enter it from the manual {door('limit')}")
        return
    if battery.volts is None or battery.read_at is None:
        words = f"{battery.device}: battery not read"
        yield CheckFinding(Result.STOP, words, "read the battery", to_do_minutes=minutes)
        return
    words = f"{battery.device}: {battery.volts:.2f} V, replace under {battery.replace_volts:.2f} V"
    # Written so that a figure that is no number fails too; likewise below.
    if not battery.volts >= battery.replace_volts:
        yield CheckFinding(Result.STOP, words, "replace the battery", to_do_minutes=minutes)
        return
    yield by_age(f"{words}, read", battery.read_at, asked, limits.battery_reading, remedy="read the battery again")
    if battery.own_life:
        return
    if battery.fitted_at is None:
        yield CheckFinding(
            Result.ADVISE, f"{battery.device}: not known when the battery was fitted", "replace the battery"
        )
    else:
        what = f"{battery.device}: battery fitted"
        yield by_age(what, battery.fitted_at, asked, limits.battery_fitted, remedy="replace the battery")


def disinfection(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Disinfected since the last diver, and dry."""
    fact = facts.disinfection
    if fact is None:
        return None
    remedy = "disinfect and dry the loop"
    if fact.disinfected_at is None:
        return (CheckFinding(Result.STOP, "no disinfection on record", remedy, ordinary=True, unrecorded=True),)
    if fact.last_diver_back_at is not None and fact.disinfected_at <= fact.last_diver_back_at:
        words = f"not disinfected since the last diver's return on {asked.day(fact.last_diver_back_at)}"
        return (CheckFinding(Result.STOP, words, remedy, ordinary=True),)
    if fact.unrinsed_at is not None and fact.unrinsed_at >= fact.disinfected_at:
        words = f"the agent of the bath on {asked.day(fact.unrinsed_at)} was not rinsed off"
        return (CheckFinding(Result.STOP, words, "disinfect the loop again and rinse it", ordinary=True),)
    findings = [by_age("disinfected", fact.disinfected_at, asked, limits.disinfected, remedy=remedy)]
    if fact.dry is False:
        findings.append(CheckFinding(Result.STOP, "the loop is damp", "dry the loop", ordinary=True))
    elif fact.dry is None:
        findings.append(CheckFinding(Result.ADVISE, "not marked dry", "look whether the loop is dry and mark it"))
    elif fact.early is not None:
        findings.append(CheckFinding(Result.ADVISE, fact.early, "look at the loop again before it goes out"))
    return tuple(findings)


def firmware(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Firmware on the type's list and equal on all handsets; settings reset, previous diver's data gone."""
    fact = facts.firmware
    if fact is None:
        return None
    findings = [*_version_findings(fact)]
    if fact.settings_reset is not True:
        words = "settings not reset" if fact.settings_reset is False else "not known whether settings were reset"
        findings.append(CheckFinding(Result.ADVISE, words, "reset the handset settings"))
    if fact.previous_data_present is not False:
        known = fact.previous_data_present is True
        words = f"previous diver's data {'present' if known else 'not looked at'}"
        findings.append(CheckFinding(Result.ADVISE, words, "clear or state decompression and oxygen-exposure data"))
    return or_ok(findings, f"firmware {', '.join(sorted({version for _, version in fact.versions if version}))}")


def _version_findings(fact: FirmwareFact) -> Iterator[CheckFinding]:
    remedy = f"bring every handset to a firmware on the type's list, or allow this one {door('approved firmware')}"
    if not fact.versions:
        words = "no handset's firmware on record"
        yield CheckFinding(Result.STOP, words, f"enter each handset's {door('marks')}", unrecorded=True)
    for handset, version in fact.versions:
        if version is None:
            words = f"{handset}: firmware not known"
            yield CheckFinding(Result.STOP, words, f"enter it {door('marks')}", unrecorded=True)
        elif version not in fact.allowed:
            yield CheckFinding(Result.STOP, f"{handset}: firmware {version} is not on the type's list", remedy)
    if len({version for _, version in fact.versions}) > 1:
        listed = ", ".join(f"{handset} {version or 'not known'}" for handset, version in fact.versions)
        yield CheckFinding(Result.STOP, f"handsets have unequal firmware: {listed}", remedy)


def flood(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A flood since the last full test stops."""
    fact = facts.flood
    if fact is None:
        return None
    if fact.flooded_at is None:
        return (ok("no flood on record"),)
    if fact.full_test_at is None or fact.full_test_at <= fact.flooded_at:
        words = f"flooded {asked.day(fact.flooded_at)}, no full test since"
        return (CheckFinding(Result.STOP, words, "strip, dry and test the whole unit"),)
    return (ok(f"fully tested {asked.day(fact.full_test_at)}, after the flood"),)


def idle(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A unit long unused advises."""
    if facts.idle is None:
        return None
    remedy = "work through the release tests before it goes out"
    if facts.idle.last_used_at is None:
        return (CheckFinding(Result.ADVISE, "no use on record", remedy),)
    freshness = Freshness(None, limits.idle_days, limits.source)
    return (by_age(facts.idle.what, facts.idle.last_used_at, asked, freshness, remedy=remedy),)


def signer(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whoever signed the last release was qualified for the type."""
    if facts.signer is None:
        return None
    record = facts.signer.record
    if facts.signer.qualified is True:
        return (ok(f"signed by {facts.signer.name}, qualified for the type", record),)
    known = "not qualified" if facts.signer.qualified is False else "not known to be qualified"
    words = f"signed by {facts.signer.name}, {known} for the type"
    paper = f"note their certificate {door('certificate of a person')}"
    remedy = f"have the work looked at and signed by a qualified person, or {paper}"
    unseen = facts.signer.qualified is None
    return (CheckFinding(Result.STOP, words, remedy, record=record, unrecorded=unseen),)


def service(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Periodic service through the last day; under the margin advises."""
    if facts.service is None:
        return None
    finding = life_finding(
        "periodic service",
        facts.service.life,
        asked,
        critical=True,
        margin_days=limits.service_margin_days,
        source=limits.source,
        under=True,
    )
    if finding is None and facts.service.life.first is None:
        remedy = f"enter it from the manual {door('service task')}"
        return (CheckFinding(Result.STOP, "periodic service: no interval on record", remedy, unrecorded=True),)
    beside = f"; {facts.service.not_counted}" if facts.service.not_counted else ""
    if finding is not None:
        ticket = "do what is due under a ticket, which carries the plan's tasks"
        remedy = ticket if facts.service.life.unknown else finding.remedy
        finding = replace(finding, evidence=f"{finding.evidence}{beside}", remedy=remedy)
    return or_ok(filter(None, (finding,)), f"in service through {asked.last}{beside}")


def equipment(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Test equipment was in date when used: for cells it stops, for other tests it advises; so does what it lacks."""
    if facts.equipment is None:
        return None
    late = (
        CheckFinding(
            Result.STOP if each.for_cells else Result.ADVISE,
            f"{each.name}: {'out of date' if each.in_date is False else 'not known to be in date'} when used",
            "measure again with equipment in date",
            ordinary=True,
            unrecorded=each.in_date is None,
        )
        for each in facts.equipment
        if each.in_date is not True
    )
    unstated = (
        CheckFinding(
            Result.ADVISE,
            f"{each.name}: its uncertainty is not recorded",
            f"enter it with its unit {door('equipment figures')}",
        )
        for each in facts.equipment
        if not each.uncertainty_known
    )
    return or_ok((*late, *unstated), "test equipment was in date when used, its uncertainty recorded")
