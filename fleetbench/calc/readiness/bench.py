"""The checks of what the bench did: handsets, tests, batteries, disinfection, firmware, flood, service, equipment.

Each takes the facts, what was asked and the limits, and returns its findings, at least one; None where such records
cannot exist yet. Limits: common practice, no published source, unless the limit's own data say otherwise.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleetbench.calc.cells.uncertainty import STANDARD_PRESSURE_MBAR, air_po2_bar
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.facts import BatteryFact, FirmwareFact, HandsetFact, HandsetsFact, UnitFacts
from fleetbench.calc.readiness.limits import Asked, CheckFinding, Freshness, ReadinessLimits, ok
from fleetbench.calc.readiness.unit import Findings, by_age, life_finding, or_ok, tests_fresh


def handset_calibration(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Each handset's own calibration since the last change, and what it showed back in air."""
    if facts.handsets is None:
        return None
    if not facts.handsets.handsets:
        return (
            CheckFinding(Result.STOP, say("no handset is on record"), say("add them {what}", what=door("handset"))),
        )
    findings = (_handset_finding(each, facts.handsets, asked, limits) for each in facts.handsets.handsets)
    return or_ok(filter(None, findings), say("every handset was calibrated after the last change"))


def _handset_finding(
    handset: HandsetFact, all_handsets: HandsetsFact, asked: Asked, limits: ReadinessLimits
) -> CheckFinding | None:
    name, remedy = handset.handset, say("calibrate the handset and record it")
    if handset.stored_at is None:
        words = say("{name}: no calibration stored in it on record", name=name)
        return CheckFinding(Result.STOP, words, remedy, record=handset.record, ordinary=True, unrecorded=True)
    for change in all_handsets.changes:
        if change.at >= handset.stored_at:
            words = say(
                "{name}: {what} on {at}, after its calibration", name=name, what=change.what, at=asked.day(change.at)
            )
            return CheckFinding(Result.STOP, words, remedy, record=handset.record, ordinary=True)
    return _back_in_air(handset, limits)


def _back_in_air(handset: HandsetFact, limits: ReadinessLimits) -> CheckFinding | None:
    name, band = handset.handset, air_band(handset, limits)
    if handset.air_bar is None:
        return CheckFinding(
            Result.ADVISE,
            evidence=say("{name}: not read back in air", name=name),
            remedy=say("read it in air"),
            rule=band.rule,
            record=handset.record,
        )
    words = say("{name}: showed {air_bar:.2f} bar back in air", name=name, air_bar=handset.air_bar)
    if not band.least_bar <= handset.air_bar <= band.most_bar:
        return CheckFinding(
            Result.STOP,
            evidence=words,
            remedy=say("calibrate the handset and record it"),
            rule=band.rule,
            record=handset.record,
        )
    if handset.pressure_mbar is None:
        words = say("{words}, but the room's pressure was not recorded", words=words)
        return CheckFinding(
            Result.ADVISE,
            evidence=words,
            remedy=say("record the pressure at its calibration"),
            rule=band.rule,
            record=handset.record,
        )
    if not band.least_usual_bar <= handset.air_bar <= band.most_usual_bar:
        words = say(
            "{words}, over {air_off_advise:.0%} off the oxygen that the air held",
            words=words,
            air_off_advise=limits.air_off_advise,
        )
        return CheckFinding(
            Result.ADVISE,
            evidence=words,
            remedy=say("read it in air again, and calibrate it"),
            rule=band.rule,
            record=handset.record,
        )
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
    stated = say(
        "{air_least_bar:g} to {air_most_bar:g} bar back in air",
        air_least_bar=limits.air_least_bar,
        air_most_bar=limits.air_most_bar,
    )
    standard = float(air_po2_bar(STANDARD_PRESSURE_MBAR, 20.0, 0.0))
    if handset.pressure_mbar is None:
        rule = say(
            "{stated} at 1013 mbar, not scaled: the room's pressure was not recorded ({air_source})",
            stated=stated,
            air_source=limits.air_source,
        )
        return AirBand(
            limits.air_least_bar,
            most_bar=limits.air_most_bar,
            least_usual_bar=limits.air_least_bar,
            most_usual_bar=limits.air_most_bar,
            rule=rule,
        )
    known = handset.humidity is not None and handset.temperature_c is not None
    warm = 35.0 if handset.temperature_c is None else handset.temperature_c
    humidities = (handset.humidity, handset.humidity) if known else (1.0, 0.0)
    moist, dry = (float(air_po2_bar(handset.pressure_mbar, warm, each)) for each in humidities if each is not None)
    least, most = limits.air_least_bar * moist / standard, limits.air_most_bar * dry / standard
    off = limits.air_off_advise
    usual = say(", advises outside {moist:.3f} to {dry:.3f}", moist=moist * (1 - off), dry=dry * (1 + off))
    rule = say(
        "{stated} at 1013 mbar and dry, so {least:.3f} to {most:.3f} at {pressure_mbar:.0f} mbar{usual} ({air_source})",
        stated=stated,
        least=least,
        most=most,
        pressure_mbar=handset.pressure_mbar,
        usual=usual,
        air_source=limits.air_source,
    )
    return AirBand(
        least,
        most_bar=most,
        least_usual_bar=max(least, moist * (1 - off)),
        most_usual_bar=min(most, dry * (1 + off)),
        rule=rule,
    )


def high_point(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whether each cell was seen above 1 bar lately; a calibration at 1 bar cannot show limiting at 1.3."""
    if facts.high_points is None:
        return None
    freshness = Freshness(None, limits.high_point_days, limits.source)
    remedy = say("take a point above 1 bar in the pressure pot")
    findings = [
        CheckFinding(
            Result.ADVISE, say("{position}: no point above 1 bar since it was fitted", position=point.position), remedy
        )
        if point.taken_at is None
        else by_age(
            say("{position}: point above 1 bar", position=point.position),
            point.taken_at,
            asked,
            freshness,
            remedy=remedy,
            record=point.record,
        )
        for point in facts.high_points
    ]
    return or_ok(findings, say("no cell to look at"))


def handset_spread(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """How far the handsets lie apart on each cell in oxygen."""
    if facts.spreads is None:
        return None
    rule = say(
        "stops over {spread_stop_bar:g} bar, advises over {spread_advise_bar:g} ({source})",
        spread_stop_bar=limits.spread_stop_bar,
        spread_advise_bar=limits.spread_advise_bar,
        source=limits.source,
    )
    findings = []
    for spread in facts.spreads:
        if spread.spread_bar is None:
            words = say("{position}: handsets not compared in oxygen", position=spread.position)
            remedy = say("read every handset in oxygen")
            findings.append(
                CheckFinding(
                    Result.STOP,
                    evidence=words,
                    remedy=remedy,
                    rule=rule,
                    record=spread.record,
                    ordinary=True,
                    unrecorded=True,
                )
            )
            continue
        words = say(
            "{position}: handsets {spread_bar:.2f} bar apart in oxygen",
            position=spread.position,
            spread_bar=spread.spread_bar,
        )
        if not spread.spread_bar <= limits.spread_stop_bar + 1e-9:
            findings.append(
                CheckFinding(
                    Result.STOP,
                    evidence=words,
                    remedy=say("find the handset or contact at fault"),
                    rule=rule,
                    record=spread.record,
                )
            )
        elif spread.spread_bar > limits.spread_advise_bar + 1e-9:
            findings.append(
                CheckFinding(
                    Result.ADVISE,
                    evidence=words,
                    remedy=say("watch the handsets and contacts"),
                    rule=rule,
                    record=spread.record,
                )
            )
    return or_ok(findings, say("handsets agree on every cell that more than one of them reads"))


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
    return or_ok(findings, say("no device with a battery"))


def _battery_findings(battery: BatteryFact, asked: Asked, limits: ReadinessLimits) -> Iterator[CheckFinding]:
    minutes = limits.battery_minutes
    if battery.replace_volts is None:
        words = say("{device}: the type states no replace voltage", device=battery.device)
        yield CheckFinding(Result.STOP, words, say("enter it from the manual {what}", what=door("limit")))
        return
    if battery.volts is None or battery.read_at is None:
        words = say("{device}: battery not read", device=battery.device)
        yield CheckFinding(Result.STOP, words, say("read the battery"), to_do_minutes=minutes)
        return
    words = say(
        "{device}: {volts:.2f} V, replace under {replace_volts:.2f} V",
        device=battery.device,
        volts=battery.volts,
        replace_volts=battery.replace_volts,
    )
    # Written so that a figure that is no number fails too; likewise below.
    if not battery.volts >= battery.replace_volts:
        yield CheckFinding(Result.STOP, words, say("replace the battery"), to_do_minutes=minutes)
        return
    yield by_age(
        say("{words}, read", words=words),
        battery.read_at,
        asked,
        limits.battery_reading,
        remedy=say("read the battery again"),
    )
    if battery.own_life:
        return
    if battery.fitted_at is None:
        yield CheckFinding(
            Result.ADVISE,
            say("{device}: not known when the battery was fitted", device=battery.device),
            say("replace the battery"),
        )
    else:
        what = say("{device}: battery fitted", device=battery.device)
        yield by_age(what, battery.fitted_at, asked, limits.battery_fitted, remedy=say("replace the battery"))


def disinfection(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Disinfected since the last diver, and dry."""
    fact = facts.disinfection
    if fact is None:
        return None
    remedy = say("disinfect and dry the loop")
    if fact.disinfected_at is None:
        return (CheckFinding(Result.STOP, say("no disinfection on record"), remedy, ordinary=True, unrecorded=True),)
    if fact.last_diver_back_at is not None and fact.disinfected_at <= fact.last_diver_back_at:
        words = say(
            "not disinfected since the last diver's return on {last_diver_back_at}",
            last_diver_back_at=asked.day(fact.last_diver_back_at),
        )
        return (CheckFinding(Result.STOP, words, remedy, ordinary=True),)
    if fact.unrinsed_at is not None and fact.unrinsed_at >= fact.disinfected_at:
        words = say(
            "the agent of the bath on {unrinsed_at} was not rinsed off", unrinsed_at=asked.day(fact.unrinsed_at)
        )
        return (CheckFinding(Result.STOP, words, say("disinfect the loop again and rinse it"), ordinary=True),)
    findings = [by_age(say("disinfected"), fact.disinfected_at, asked, limits.disinfected, remedy=remedy)]
    if fact.dry is False:
        findings.append(CheckFinding(Result.STOP, say("the loop is damp"), say("dry the loop"), ordinary=True))
    elif fact.dry is None:
        findings.append(
            CheckFinding(Result.ADVISE, say("not marked dry"), say("look whether the loop is dry and mark it"))
        )
    elif fact.early is not None:
        findings.append(CheckFinding(Result.ADVISE, fact.early, say("look at the loop again before it goes out")))
    return tuple(findings)


def firmware(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Firmware on the type's list and equal on all handsets; settings reset, previous diver's data gone."""
    fact = facts.firmware
    if fact is None:
        return None
    findings = [*_version_findings(fact)]
    if fact.settings_reset is not True:
        words = (
            say("settings not reset") if fact.settings_reset is False else say("not known whether settings were reset")
        )
        findings.append(CheckFinding(Result.ADVISE, words, say("reset the handset settings")))
    if fact.previous_data_present is not False:
        known = fact.previous_data_present is True
        words = say("previous diver's data {what}", what=say("present") if known else say("not looked at"))
        findings.append(
            CheckFinding(Result.ADVISE, words, say("clear or state decompression and oxygen-exposure data"))
        )
    return or_ok(
        findings,
        say("firmware {sorted}", sorted=strung(", ", sorted({version for _, version in fact.versions if version}))),
    )


def _version_findings(fact: FirmwareFact) -> Iterator[CheckFinding]:
    remedy = say(
        "bring every handset to a firmware on the type's list, or allow this one {what}", what=door("approved firmware")
    )
    if not fact.versions:
        words = say("no handset's firmware on record")
        yield CheckFinding(Result.STOP, words, say("enter each handset's {what}", what=door("marks")), unrecorded=True)
    for handset, version in fact.versions:
        if version is None:
            words = say("{handset}: firmware not known", handset=handset)
            yield CheckFinding(Result.STOP, words, say("enter it {what}", what=door("marks")), unrecorded=True)
        elif version not in fact.allowed:
            yield CheckFinding(
                Result.STOP,
                say("{handset}: firmware {version} is not on the type's list", handset=handset, version=version),
                remedy,
            )
    if len({version for _, version in fact.versions}) > 1:
        listed = strung(
            ", ", (strung(" ", (handset, version or say("not known"))) for handset, version in fact.versions)
        )
        yield CheckFinding(Result.STOP, say("handsets have unequal firmware: {listed}", listed=listed), remedy)


def flood(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A flood since the last full test stops."""
    fact = facts.flood
    if fact is None:
        return None
    if fact.flooded_at is None:
        return (ok(say("no flood on record")),)
    if fact.full_test_at is None or fact.full_test_at <= fact.flooded_at:
        words = say("flooded {flooded_at}, no full test since", flooded_at=asked.day(fact.flooded_at))
        return (CheckFinding(Result.STOP, words, say("strip, dry and test the whole unit")),)
    return (ok(say("fully tested {full_test_at}, after the flood", full_test_at=asked.day(fact.full_test_at))),)


def idle(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """A unit long unused advises."""
    if facts.idle is None:
        return None
    remedy = say("work through the release tests before it goes out")
    if facts.idle.last_used_at is None:
        return (CheckFinding(Result.ADVISE, say("no use on record"), remedy),)
    freshness = Freshness(None, limits.idle_days, limits.source)
    return (by_age(facts.idle.what, facts.idle.last_used_at, asked, freshness, remedy=remedy),)


def signer(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Whoever signed the last release was qualified for the type."""
    if facts.signer is None:
        return None
    record = facts.signer.record
    if facts.signer.qualified is True:
        return (ok(say("signed by {name}, qualified for the type", name=facts.signer.name), record),)
    known = say("not qualified") if facts.signer.qualified is False else say("not known to be qualified")
    words = say("signed by {name}, {known} for the type", name=facts.signer.name, known=known)
    paper = say("note their certificate {what}", what=door("certificate of a person"))
    remedy = say("have the work looked at and signed by a qualified person, or {paper}", paper=paper)
    unseen = facts.signer.qualified is None
    return (CheckFinding(Result.STOP, words, remedy, record=record, unrecorded=unseen),)


def service(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Periodic service through the last day; under the margin advises."""
    if facts.service is None:
        return None
    finding = life_finding(
        say("periodic service"),
        facts.service.life,
        asked,
        critical=True,
        margin_days=limits.service_margin_days,
        source=limits.source,
        under=True,
    )
    if finding is None and facts.service.life.first is None:
        remedy = say("enter it from the manual {what}", what=door("service task"))
        return (CheckFinding(Result.STOP, say("periodic service: no interval on record"), remedy, unrecorded=True),)
    beside = f"; {facts.service.not_counted}" if facts.service.not_counted else ""
    if finding is not None:
        ticket = say("do what is due under a ticket, which carries the plan's tasks")
        remedy = ticket if facts.service.life.unknown else finding.remedy
        finding = replace(finding, evidence=strung("", (finding.evidence, beside)), remedy=remedy)
    return or_ok(filter(None, (finding,)), say("in service through {last}{beside}", last=asked.last, beside=beside))


def equipment(facts: UnitFacts, asked: Asked, limits: ReadinessLimits) -> Findings:
    """Test equipment was in date when used: for cells it stops, for other tests it advises; so does what it lacks."""
    if facts.equipment is None:
        return None
    late = (
        CheckFinding(
            Result.STOP if each.for_cells else Result.ADVISE,
            say(
                "{each}: {what} when used",
                each=each.name,
                what=say("out of date") if each.in_date is False else say("not known to be in date"),
            ),
            say("measure again with equipment in date"),
            ordinary=True,
            unrecorded=each.in_date is None,
        )
        for each in facts.equipment
        if each.in_date is not True
    )
    unstated = (
        CheckFinding(
            Result.ADVISE,
            say("{each}: its uncertainty is not recorded", each=each.name),
            say("enter it with its unit {what}", what=door("equipment figures")),
        )
        for each in facts.equipment
        if not each.uncertainty_known
    )
    return or_ok((*late, *unstated), say("test equipment was in date when used, its uncertainty recorded"))
