"""Cylinders as the list, the page, the label and the fill station show them, read at once.

list_cylinders(workplace)       every cylinder in the house: contents, gas, tests, where, with whom
cylinder_page(workplace, part_id)  one cylinder with its fills, analyses, tests and certificate
gas_station(workplace)          what stands ready at the fill station, what is needed first in front
correctable_of(workplace, part_id)  the fill or analysis of the last ten minutes that may still be corrected
cylinder_label(workplace, part_id)  what its label prints
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import DueState, Listed, due_state
from fleetbench.calc.gas.cylinders import CleanStatus, CylinderFinding, GasRole
from fleetbench.calc.gas.depth import breathable_at_surface
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.parts.life import LastGoodDay
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.reads import read_equipment
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.gas.reads import (
    AnalysisRecord,
    CylinderFillRecord,
    CylinderRecord,
    read_analyses,
    read_certificates,
    read_cleanings,
    read_cylinder_records,
    read_fills,
    read_gas,
    read_in_house,
)
from fleetbench.records.hires.reads import BookedUnit, LogReadingRecord, read_log_readings, read_promises
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import (
    FittingRecord,
    PartRecord,
    PartTestRecord,
    read_fitted,
    read_part_tests,
    read_parts,
    read_slots,
)
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.reads import read_limits
from fleetbench.records.units.reads import read_holds, read_last_returns, read_unit_tags
from fleetbench.workshop.core.known import KnownOnce, known_of, known_once
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, read_centre
from fleetbench.workshop.gas.state import CYLINDER_TESTS, CylinderBook, GasDepths, GasState, against_words, tests_last
from fleetbench.workshop.parts.conditions import known_lives, root_unit
from fleetbench.workshop.parts.lives import book_of
from fleetbench.workshop.readiness.hire import diluent_wished
from fleetbench.workshop.units.fleet import by_unit

NEEDED_WITHIN = timedelta(days=2)
"""How far ahead a booking asks for gas: common practice, no published source."""

LEAST_FULL = 0.75
ROLES = tuple(each.value for each in GasRole)
"""In the order in which a unit's cylinders are filled: oxygen apart and first. Common practice, no published source."""

SOON_DAYS = 30
IN_HOUSE = (PartState.STOCK, PartState.FITTED, PartState.QUARANTINE)


@dataclass(frozen=True, slots=True)
class CylinderLine:
    """One cylinder; figures None are not known.

    state: what its records leave of it; used_at there: it was used since, and holds less than was last read.
    content_l: free gas at 15 C and 1.01325 bar. oxygen_u: expanded uncertainty of the analysis in percent.
    endurance_min: of oxygen, at uptake and reserve. next_test: the earlier of its tests, None not known.
    clean: its status where it needs one. with_whom: who has it. wished: the diluent that the next booking of its unit
    asks for; diver_id: who dives on it.
    """

    part: PartRecord
    state: GasState
    depths: GasDepths
    unit: str | None
    slot: str | None
    with_whom: str | None
    content_l: float | None
    analysis: str
    analysed_by: str | None
    oxygen_u: float | None
    signed_by_diver: bool
    endurance_min: float | None
    uptake_l_min: float
    reserve_bar: float
    next_test: date | None
    next_test_kind: str | None
    test_state: DueState
    clean: CleanStatus | None
    holds: tuple[str, ...]
    needed_on: date | None
    wished: Mixture | None = None
    diver_id: int | None = None

    @property
    def breathable(self) -> bool | None:
        """Whether its gas may be breathed at the surface; None not known."""
        return None if self.state.gas is None else breathable_at_surface(self.state.gas.oxygen)

    @property
    def wants_gas(self) -> bool:
        """Whether it is to be filled: used since, never filled, or not full enough."""
        bar = self.state.now_bar
        return bar is None or bar < LEAST_FULL * self.state.facts.working_bar

    @property
    def wants_analysis(self) -> bool:
        """Whether it was filled and nobody has analysed it since."""
        return self.state.fill is not None and self.state.analysis is None


@dataclass(frozen=True, slots=True)
class CylinderPage:
    """Everything on one cylinder's page; fills and analyses newest first, with who did them; tests with how.

    renters: what renters read of it before and after their dives, oldest first.
    """

    line: CylinderLine
    fills: tuple[tuple[CylinderFillRecord, str | None], ...]
    analyses: tuple[tuple[AnalysisRecord, str | None], ...]
    tests: tuple[tuple[PartTestRecord, str | None], ...]
    limits: tuple[LastGoodDay, ...]
    certificate: tuple[CylinderFinding, ...]
    certificate_of: str
    renters: tuple[LogReadingRecord, ...] = ()


@dataclass(frozen=True, slots=True)
class Analyser:
    """An analyser that may be chosen."""

    equipment_id: int
    name: str
    in_date: bool | None


@dataclass(frozen=True, slots=True)
class GasStation:
    """What stands ready at the fill station: the cylinders and the analysers.

    warm_c: temperature of a cylinder at its fill as it was taken last, None where it never was.
    """

    lines: tuple[CylinderLine, ...]
    analysers: tuple[Analyser, ...]
    batch: str | None
    machine: str | None
    warm_c: float | None = None


@dataclass(frozen=True, slots=True)
class LastCylinderEntry:
    """What may still be corrected of a cylinder: its line, and the fill or the analysis, whichever came last."""

    line: CylinderLine
    station: GasStation
    record: CylinderFillRecord | AnalysisRecord


@known_once
def list_cylinders(workplace: Workplace) -> tuple[CylinderLine, ...]:
    """Every cylinder in the house, by unit, slot and serial; one number of statements however many there are."""
    with workplace.database.reading() as connection, known_of(workplace.database, connection) as known:
        return _Desk(workplace, known=known).lines()


def cylinders_listed(workplace: Workplace) -> tuple[Listed, ...]:
    """The same cylinders before they are judged, with their serials, roles, sizes, markings and owners."""
    with workplace.database.reading() as connection:
        facts = {each.part_id: each for each in read_cylinder_records(connection)}
        parts = read_in_house(connection)
    return tuple(Listed(str(each.part_id), _recorded(each, facts[each.part_id])) for each in parts)


def _recorded(part: PartRecord, facts: CylinderRecord) -> dict[str, str]:
    told = {"serial": part.label, "role": say(facts.role), "size": f"{facts.size_l:g}", "owner": facts.owner}
    return told if facts.marking is None else {**told, "marking": facts.marking}


def cylinder_page(workplace: Workplace, part_id: int) -> CylinderPage:
    """Everything on one cylinder's page; NotFound for a part that is none."""
    desk = _Desk(workplace, part_id)
    line = next(iter(desk.lines()), None)
    if line is None:
        raise NotFound(say("cylinder {part_id}: not recorded; look it up in Stock", part_id=part_id))
    with workplace.database.reading() as connection:
        fills, analyses = read_fills(connection, (part_id,)), read_analyses(connection, (part_id,))
        how = {each.done_on: each.how for each in read_cleanings(connection, (part_id,))}
        tests, renters = read_part_tests(connection, (part_id,)), read_log_readings(connection, part_id=part_id)
        batch = fills[0].batch if fills else None
        certificates = read_certificates(connection, batch) if batch else ()
    names = desk.names
    return CylinderPage(
        line=line,
        fills=tuple((each, names.get(each.person_id or 0)) for each in fills),
        analyses=tuple((each, names.get(each.person_id or 0)) for each in reversed(analyses)),
        tests=tuple(
            (each, how.get(each.done_on) if each.kind == "oxygen clean" else None) for each in reversed(tests)
        ),
        limits=desk.days(part_id),
        certificate=desk.book.certificate_findings(certificates[-1]) if certificates else (),
        certificate_of=say("batch {batch}", batch=batch) if certificates else "",
        renters=renters,
    )  # fmt: skip


def gas_station(workplace: Workplace) -> GasStation:
    """The cylinders with what is needed first in front, the analysers, and the last batch and machine of today."""
    desk = _Desk(workplace)
    lines = sorted(desk.lines(), key=lambda each: (each.needed_on or date.max, each.unit is None, each.unit or "",
                                                   ROLES.index(each.state.facts.role), each.part.label))  # fmt: skip
    with workplace.database.reading() as connection:
        tools = [each for each in read_equipment(connection) if each.kind == Tool.ANALYSER]
    today = [each for each in desk.records.fills if desk.day.of(each.at) == desk.day.today]
    last = max(today, key=lambda each: each.fill_id, default=None)
    taken = [each for each in desk.records.fills if each.temperature_c is not None]
    warm = max(taken, key=lambda each: each.fill_id, default=None)
    return GasStation(
        tuple(lines),
        analysers=tuple(
            Analyser(
                each.equipment_id,
                f"{each.name} {each.serial}",
                None if each.last_good_day is None else each.last_good_day >= desk.day.today,
            )
            for each in tools
        ),
        batch=last.batch if last is not None else None,
        machine=last.machine if last is not None else None,
        warm_c=warm.temperature_c if warm is not None else None,
    )


def correctable_of(workplace: Workplace, part_id: int) -> LastCylinderEntry:
    """The last fill or analysis of a cylinder while it may be corrected; Refused where it is older than ten minutes."""
    station = gas_station(workplace)
    line = next((each for each in station.lines if each.part.part_id == part_id), None)
    if line is None:
        raise NotFound(say("cylinder {part_id}: not recorded; look it up in Stock", part_id=part_id))
    now = day_of(workplace).now
    with workplace.database.reading() as connection:
        kept: list[CylinderFillRecord | AnalysisRecord] = list(read_fills(connection, (part_id,)))
        kept += read_analyses(connection, (part_id,))
    fresh = [each for each in kept if now - each.at <= CORRECTED_WITHIN]
    if not fresh:
        words = say("{part}: no fill and no analysis of the last ten minutes is recorded", part=line.part.label)
        raise Refused(strung("; ", (words, say("record a new one, what stands stays"))))
    return LastCylinderEntry(line, station, max(fresh, key=lambda each: (each.at, isinstance(each, AnalysisRecord))))


def to_fill(lines: Sequence[CylinderLine]) -> tuple[CylinderLine, ...]:
    """Those that want gas and are here, what is needed first in front."""
    return tuple(each for each in lines if each.wants_gas and not each.holds and each.with_whom is None)


def to_analyse(lines: Sequence[CylinderLine]) -> tuple[CylinderLine, ...]:
    """Those filled and not analysed since."""
    return tuple(each for each in lines if each.wants_analysis)


def cylinder_label(workplace: Workplace, part_id: int) -> CylinderLine:
    """What the label prints; NotFound for a part that is no cylinder."""
    line = next(iter(_Desk(workplace, part_id).lines()), None)
    if line is None:
        raise NotFound(say("cylinder {part_id}: not recorded; look it up in Stock", part_id=part_id))
    return line


def label_centre(workplace: Workplace) -> str:
    """The centre's name as labels print it."""
    return read_centre(workplace).name


MEASURED = "measured_gas"
"""What was calculated last of the gas of each cylinder is known under this name."""

_Measured = tuple[GasDepths, float | None, float | None, str]
"""Depths, content in litres, endurance in minutes, and words on its analysis."""


class _Desk:
    """The records of all cylinders, or of one, put together for now; known: what is known of all of them."""

    def __init__(self, workplace: Workplace, part_id: int | None = None, known: KnownOnce | None = None) -> None:
        self.day: Day = day_of(workplace)
        keys = None if part_id is None else (part_id,)
        with workplace.database.reading() as connection:
            self.records = read_gas(connection, keys)
            self._parts = {each.part_id: each for each in read_parts(connection, part_id=part_id, states=IN_HOUSE)}
            lives = read_life_records(connection, keys)
            self._lives = book_of(lives, self.day) if known is None else known_lives(known, lives, self.day)
            self._sits: dict[int, FittingRecord] = {fit.part_id: fit for fit, _ in read_fitted(connection)}
            self._slots, self._tags = read_slots(connection), read_unit_tags(connection)
            self.names = read_names(connection)
            self._holds = by_unit(read_holds(connection), lambda each: each.part_id or 0)
            self._back = {each.unit_id: each.received_at for each in read_last_returns(connection)}
            self._promises = by_unit(read_promises(connection), lambda each: each.unit_id)
            self._limits = read_limits(connection)
        self._measured: dict[int, tuple[Any, _Measured]] = {} if known is None else known.last.setdefault(MEASURED, {})
        back = {key: at for key in self._parts if (at := self._back_at(key)) is not None}
        self.book = CylinderBook(self.records, self.day.zone, self._limits, back)

    def _unit(self, part_id: int) -> int | None:
        fitting = self._sits.get(part_id)
        return root_unit(fitting, self._sits) if fitting is not None else None

    def _back_at(self, part_id: int) -> datetime | None:
        unit_id, fitting = self._unit(part_id), self._sits.get(part_id)
        back = self._back.get(unit_id) if unit_id is not None else None
        return back if back is not None and fitting is not None and fitting.fitted_at < back else None

    def days(self, part_id: int) -> tuple[LastGoodDay, ...]:
        """The last good day by each test interval of a cylinder."""
        part, fitting = self._parts[part_id], self._sits.get(part_id)
        days = self._lives.last_good_days(part, fitting.fitted_at if fitting else None, self._unit(part_id))
        return tuple(each for each in days if each.limit.test_kind)

    def lines(self) -> tuple[CylinderLine, ...]:
        """Every cylinder in the house."""
        found = (self._line(state, self._parts[key]) for key, state in self.book.states.items() if key in self._parts)
        return tuple(sorted(found, key=lambda row: (row.unit is None, row.unit or "", row.slot or "", row.part.label)))

    def _measure(self, state: GasState) -> _Measured:
        """What is calculated of the gas in a cylinder; kept while its records and the limits are the same."""
        before, found = self._measured.get(state.facts.part_id, (None, None))
        if found is None or before != (state, self._limits):
            uptake, reserve = self.book.uptake()[0], self.book.reserve()[0]
            found = self.book.depths(state), state.content_l, state.endurance_min(uptake, reserve), _words(state)
            self._measured[state.facts.part_id] = (state, self._limits), found
        return found

    def _line(self, state: GasState, part: PartRecord) -> CylinderLine:
        facts, key, book = state.facts, part.part_id, self.book
        fitting, unit_id = self._sits.get(key), self._unit(key)
        days = self.days(key)
        last, kind = tests_last(days), _governing_kind(days)
        depths, content_l, endurance_min, words = self._measure(state)
        analysis = state.analysis
        u = analysis.uncertainty if analysis is not None else None
        return CylinderLine(
            part=part,
            state=state,
            depths=depths,
            unit=self._tags.get(unit_id) if unit_id is not None else None,
            slot=self._slots[fitting.slot_id].name if fitting is not None else None,
            with_whom=self._with_whom(unit_id),
            content_l=content_l,
            analysis=words,
            analysed_by=self.names.get(analysis.person_id or 0) if analysis is not None else None,
            oxygen_u=None if u is None else 2.0 * u,
            signed_by_diver=state.diver_analysis is not None and state.diver_analysis.signed is not None,
            endurance_min=endurance_min,
            uptake_l_min=book.uptake()[0],
            reserve_bar=book.reserve()[0],
            next_test=last,
            next_test_kind=kind,
            test_state=due_state(last, self.day.today, SOON_DAYS),
            clean=book.clean_where_kept(key),
            holds=tuple(hold.reason for hold in self._holds.get(key, ())),
            needed_on=self._needed_on(unit_id),
            wished=diluent_wished(self._next(unit_id)) if facts.role == GasRole.DILUENT else None,
            diver_id=self._diver(unit_id),
        )

    def _with_whom(self, unit_id: int | None) -> str | None:
        """Who has the unit it sits in; None where it is in the house."""
        for each in self._promises.get(unit_id or 0, ()):
            if each.out_at is not None:
                who = self.names.get(each.diver_id or each.renter_id or 0)
                return f"{who}, {each.code}" if who else each.code
        return None

    def _needed_on(self, unit_id: int | None) -> date | None:
        horizon = self.day.today + NEEDED_WITHIN
        ahead = (each.starts_on for each in self._promises.get(unit_id or 0, ()) if each.out_at is None)
        return min((day for day in ahead if self.day.today <= day <= horizon), default=None)

    def _next(self, unit_id: int | None) -> BookedUnit | None:
        """The unit's first booking that is not over and not out yet."""
        ahead = (each for each in self._promises.get(unit_id or 0, ()) if each.out_at is None)
        return next((each for each in ahead if each.ends_on >= self.day.today), None)

    def _diver(self, unit_id: int | None) -> int | None:
        found = self._next(unit_id)
        return (found.diver_id or found.renter_id) if found is not None else None


def _governing_kind(days: Sequence[LastGoodDay]) -> str | None:
    """Which test ends first; one of which the day is not known before all others."""
    tests = [each for each in days if each.limit.test_kind in CYLINDER_TESTS]
    first = min(tests, key=lambda each: each.day or date.min, default=None)
    return first.limit.test_kind if first is not None else None


def _words(state: GasState) -> str:
    if state.fill is None and state.analysis is None:
        return say("nothing recorded")
    if state.analysis is None:
        return say("not analysed since the fill")
    if state.gas is None:
        return say("helium not analysed")
    return next((words for words, _ in against_words(state)), "analysed")
