"""Analyses of gas, by the centre and a second time by the diver, who signs; typed for a row of cylinders in one act.

record_analyses(workplace, entries)               what the analyses say against what was asked for
correct_analysis(workplace, analysis_id, entry)   an entry corrected within ten minutes
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.core.exchanged import KEPT, exchanged_words
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import Tool, analysis_remark
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import CylinderFinding, GasLimits, GasRole, analysed_mixture, differences
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.reads import analysis_superseded
from fleetbench.records.gas.tables import SIGNED, GasAnalysis
from fleetbench.records.people.tables import Person
from fleetbench.workshop.core.workplace import (
    Day,
    Workplace,
    day_of,
    one_word,
    require_person,
    require_read_with,
    required,
)
from fleetbench.workshop.gas.fills import about, cylinder, gas_book
from fleetbench.workshop.gas.state import GasState
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.people.acts import check_pin


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysisEntry:
    """One analysis as typed, in percent as the analyser shows it.

    by_diver: the diver's own. person_id: who analysed, the person at the bench where None. signed: how a diver signed,
    with pin where it was by PIN.
    """

    part_id: int
    oxygen_percent: float | None
    helium_percent: float | None = None
    analyser_id: int | None = None
    by_diver: bool = False
    person_id: int | None = None
    signed: str | None = None
    pin: str | None = None


@dataclass(frozen=True, slots=True)
class AnalysisAnswer:
    """An analysis as recorded, and what follows from it; findings are empty where the gas is as asked for."""

    analysis_id: int
    part_id: int
    cylinder: str
    findings: tuple[CylinderFinding, ...]


def record_analyses(
    workplace: Workplace, entries: Sequence[AnalysisEntry], *, limits: GasLimits | None = None
) -> tuple[AnalysisAnswer, ...]:
    """What was recorded and what follows, in the order of the entries; all in one act. Refused naming the field."""
    require_person(workplace)
    if not entries:
        raise Refused(say("analyses: none given; type at least one"))
    keys = [each.part_id for each in entries]
    if len(set(keys)) < len(keys):
        raise Refused(say("analyses: a cylinder stands twice in this row; analyse it once"))
    day, used = day_of(workplace), limits or GasLimits()
    with workplace.transaction("analyse gas", about(keys[0], len(keys))) as act:
        states = gas_book(act, day, keys).states
        names = {key: label(cylinder(act, key)) for key in keys}
        kept = look_exchanged(names, {key: states[key].asked for key in keys}, entries)
        rows = [GasAnalysis(at=act.at, note=f"{KEPT} {kept}" if kept else None) for _ in entries]
        return tuple(_analyse(act, day, entry, states, used, row) for entry, row in zip(entries, rows, strict=True))


def look_exchanged(
    names: Mapping[int, str], asked: Mapping[int, Mixture | None], entries: Sequence[AnalysisEntry]
) -> str:
    """A sentence for each two cylinders of a row whose gases look exchanged by what was asked for; empty for none.

    names, asked: label and gas asked for, by the cylinder's key.
    """
    known = [(names[each.part_id], each, asked[each.part_id]) for each in entries]
    for field, unit in (("oxygen", "% oxygen"), ("helium", "% helium")):
        given = {name: getattr(each, f"{field}_percent") for name, each, _ in known}
        wanted = {name: 100.0 * getattr(gas, field) for name, _, gas in known if gas is not None}
        read = {name: value for name, value in given.items() if value is not None}
        if words := exchanged_words(read, wanted, unit, held="asked"):
            return words
    return ""


def correct_analysis(
    workplace: Workplace, analysis_id: int, entry: AnalysisEntry, *, reason: str = "typing"
) -> AnalysisAnswer:
    """The analysis that takes another's place within ten minutes; the moment of analysing stays."""
    require_person(workplace)
    day = day_of(workplace)
    with workplace.transaction("correct analysis", f"analysis {analysis_id}") as act:
        earlier = act.get(GasAnalysis, analysis_id, "analysis")
        if earlier.part_id != entry.part_id or earlier.by_diver != entry.by_diver:
            raise Refused(say("analysis: the one to correct is another's or of another cylinder; record a new one"))
        if analysis_superseded(act.session, analysis_id):
            raise Refused(say("analysis: was corrected already; look again"))
        if act.at - earlier.at > CORRECTED_WITHIN:
            raise Refused(say("analysis: is older than ten minutes; analyse the gas again"))
        row = GasAnalysis(
            at=earlier.at, supersedes_id=analysis_id, supersedes_reason=required("reason", reason)[:120]
        )  # fmt: skip
        states = gas_book(act, day, [entry.part_id]).states
        return _analyse(act, day, entry, states, GasLimits(), row)


def _analyse(
    act: Transaction,
    day: Day,
    entry: AnalysisEntry,
    states: Mapping[int, GasState],
    limits: GasLimits,
    row: GasAnalysis,
) -> AnalysisAnswer:
    part = cylinder(act, entry.part_id)
    name = label(part)
    if entry.oxygen_percent is None:
        raise Refused(say("{name}: oxygen: is missing; read the analyser", name=name))
    try:
        gas = analysed_mixture(entry.oxygen_percent, entry.helium_percent)
    except ValueError as fault:
        raise Refused(strung(": ", (name, str(fault)))) from fault
    tool = act.get(TestEquipment, entry.analyser_id, "analyser") if entry.analyser_id is not None else None
    if tool is not None and tool.kind != Tool.ANALYSER:
        raise Refused(say("analyser: {tool} is a {kind}; choose an analyser", tool=tool.name, kind=say(tool.kind)))
    require_read_with(say("{name}: oxygen", name=name), entry.oxygen_percent, entry.analyser_id)
    row.part_id, row.oxygen_percent, row.helium_percent = part.id, entry.oxygen_percent, entry.helium_percent
    row.analyser_id, row.uncertainty = entry.analyser_id, tool.uncertainty if tool is not None else None
    row.person_id, row.by_diver = entry.person_id or act.person_id, entry.by_diver
    row.signed = _signed(act, entry)
    state = states[part.id]
    remark = analysis_remark(
        pure=state.facts.role == GasRole.OXYGEN, oxygen=entry.oxygen_percent, helium=entry.helium_percent,
        asked_oxygen=100.0 * state.asked.oxygen if state.asked is not None else None,
        asked_helium=100.0 * state.asked.helium if state.asked is not None else None,
    )  # fmt: skip
    row.note = "; ".join(filter(None, (row.note, remark))) or None
    key = act.add(row).id
    found = [*_against_gas(state, entry, gas, limits), *_against_tool(tool, day.today)]
    return AnalysisAnswer(key, part.id, name, tuple(found))


def _signed(act: Transaction, entry: AnalysisEntry) -> str | None:
    if entry.signed is None:
        if entry.by_diver:
            raise Refused(say("signed: is missing; the diver signs the own analysis, on paper or by PIN"))
        return None
    if not entry.by_diver:
        raise Refused(say("signed: only the diver's own analysis is signed; leave it empty"))
    if entry.person_id is None:
        raise Refused(say("diver: is missing; say who analysed"))
    person = act.get(Person, entry.person_id, "diver")
    if one_word("signed", entry.signed, SIGNED) == "by PIN":
        check_pin(person, entry.pin or "")
    return entry.signed


def _against_gas(state: GasState, entry: AnalysisEntry, gas: Mixture, limits: GasLimits) -> Iterable[CylinderFinding]:
    asked = state.asked
    if asked is None:
        yield CylinderFinding("fill", Result.ADVISE, say("no fill is on record"), say("write the fill into the log"))
        return
    if asked.helium > 0.0 and entry.helium_percent is None:
        words = say("helium not analysed, {helium:.1%} asked", helium=asked.helium)
        yield CylinderFinding("helium", Result.STOP, words, say("analyse helium too"))
        return
    if state.facts.role == GasRole.OXYGEN and asked.oxygen >= limits.least_oxygen:
        if gas.oxygen < limits.wrong_oxygen:
            words = say("{oxygen:.1%} oxygen in a cylinder of oxygen: not oxygen", oxygen=gas.oxygen)
            yield CylinderFinding("oxygen", Result.STOP, words, say("empty it and fill it again"))
        elif gas.oxygen < limits.least_oxygen:
            words = say(
                "{oxygen:.1%} oxygen, under {least_oxygen:.0%}", oxygen=gas.oxygen, least_oxygen=limits.least_oxygen
            )
            yield CylinderFinding("oxygen", Result.ADVISE, words, say("look at the gas certificate, or fill again"))
        return
    yield from differences(asked, gas, limits)
    other = state.gas if entry.by_diver else state.divers_gas
    if other is not None:
        for each in differences(other, gas, limits):
            who = say("the centre analysed otherwise") if entry.by_diver else say("the diver analysed otherwise")
            yield CylinderFinding(each.field, Result.STOP, strung("; ", (each.words, who)), say("analyse again"))


def _against_tool(tool: TestEquipment | None, today: date) -> Iterable[CylinderFinding]:
    if tool is None:
        yield CylinderFinding(
            "analyser", Result.ADVISE, say("analyser not recorded"), say("say which, for its uncertainty")
        )
    elif tool.last_good_day is None or tool.last_good_day < today:
        words = say("{tool} {serial} is not known to be in date", tool=tool.name, serial=tool.serial)
        yield CylinderFinding("analyser", Result.ADVISE, words, say("analyse with one that is"))
