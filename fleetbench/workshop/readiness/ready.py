"""Whether units may go out for a span of days: facts from the records, judged by calc.readiness.

Limits of readiness: the trade's defaults, replaced by what the centre or a unit type states as its own.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from functools import cached_property
from typing import Any, cast

from fleetbench.calc.core.doors import at
from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.core.verdict import Result, Verdict, worst
from fleetbench.calc.hires.availability import FirstStop, first_stops
from fleetbench.calc.notices.scope import Covered, Marks, Weight, covers_part, covers_unit, doubt
from fleetbench.calc.parts.condition import reject_words
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.calc.readiness.judge import (
    CHECKS,
    USUAL_WAY,
    AbsorbentFact,
    AcceptedAdvice,
    Assessment,
    CalibrationFact,
    CellFact,
    ChangeFact,
    EquipmentFact,
    Freshness,
    HandoverKind,
    HoldFact,
    NoticeFact,
    OutFact,
    PartFact,
    ReadinessLimits,
    TestFact,
    TestsFact,
    TicketFact,
    TicketSeverity,
    UnitFacts,
    assess,
    joined_tests,
    judged,
)
from fleetbench.calc.readiness.limits import Asked, CheckFinding
from fleetbench.calc.tickets.signing import ONE_WAY_DIRECTIONS, RELEASE_TESTS
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.cells.reads import OutcomeRecord
from fleetbench.records.core.errors import end_if_unwanted
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.places.reads import LimitRecord
from fleetbench.records.tickets.reads import TicketRecord, ticket_number
from fleetbench.records.units.reads import AbsenceRecord, HoldRecord, ReturnRecord, UnitRecord
from fleetbench.workshop.bench.equipment import equipment_facts
from fleetbench.workshop.canisters.absorbent import Absorbent
from fleetbench.workshop.cells.judging import standing, telling
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.readiness.bench import BenchSide, TurnRoundSide
from fleetbench.workshop.readiness.hire import Along, GasSide, HireSide
from fleetbench.workshop.units.fleet import Fleet, Seat, by_unit, one_unit

FIELDS = {
    "workshop calibration": "calibration",
    "one-way valves and loop": "valves_and_loop",
    "intermediate pressure and gas addition": "gas_side_tests",
    "bailout or mouthpiece valve": "mouthpiece_tests",
    "alarms, displays and set-point": "alarm_tests",
    "disinfected and dry": "disinfected",
}
"""A limit in days that carries a check's name sets when the check stops; with ` advise` after it, when it advises."""

DAYS = ("days", "d")

FIGURES = {
    "handset back in air, minimum": ("air_least_bar", "bar"),
    "handset back in air, maximum": ("air_most_bar", "bar"),
    "handset back in air, advise off": ("air_off_advise", "%"),
}
"""Other figures that a limit of this name and unit replaces; those of the air at 1013 mbar, dry."""


def _known(limit: LimitRecord) -> bool:
    """Whether a limit's name and unit are among those that readiness goes by."""
    if limit.name in FIGURES:
        return limit.unit == FIGURES[limit.name][1]
    return limit.unit in DAYS and limit.name.removesuffix(" advise") in FIELDS


class FreshnessBook:
    """Freshness limits of each unit type: its own, else the centre's, else the trade's."""

    def __init__(self, limits: Iterable[LimitRecord]) -> None:
        self._stated = {
            (each.unit_type_id, each.name): each for each in limits if each.part_type_id is None and _known(each)
        }
        self._calculated: dict[int, ReadinessLimits] = {}

    def of(self, unit_type_id: int) -> ReadinessLimits:
        """The limits in force for a unit type."""
        if unit_type_id not in self._calculated:
            default = ReadinessLimits()
            own: dict[str, Any] = {
                field: self._one(unit_type_id, name, getattr(default, field)) for name, field in FIELDS.items()
            }
            self._calculated[unit_type_id] = replace(default, **own, **self._figures(unit_type_id))
        return self._calculated[unit_type_id]

    def _one(self, unit_type_id: int, name: str, default: Freshness) -> Freshness:
        stop, advise = self._find(unit_type_id, name), self._find(unit_type_id, f"{name} advise")
        if stop is None and advise is None:
            return default
        stops = int(stop.amount) if stop is not None else default.stop_over_days
        advises = int(advise.amount) if advise is not None else default.advise_over_days
        if stops is not None and advises is not None:
            advises = min(advises, stops)
        sources = dict.fromkeys(each.source for each in (stop, advise) if each is not None)
        return Freshness(stops, advises, strung("; ", sources))

    def _figures(self, unit_type_id: int) -> dict[str, Any]:
        """The stated figures that are no days, and where they come from."""
        found = {name: limit for name in FIGURES if (limit := self._find(unit_type_id, name)) is not None}
        if not found:
            return {}
        own = {FIGURES[name][0]: each.amount / (100 if each.unit == "%" else 1) for name, each in found.items()}
        return {**own, "air_source": strung("; ", dict.fromkeys(each.source for each in found.values()))}

    def _find(self, unit_type_id: int, name: str) -> LimitRecord | None:
        return self._stated.get((unit_type_id, name)) or self._stated.get((None, name))


_CHECKS = frozenset(row.check for row in CHECKS)

CHANGES_A_CALIBRATION = ("cell", "head", "handset")
"""Slots whose change asks for a new calibration; common practice, no published source."""

HAND_OVER_TIME = time(12, 0)
"""When a hand-over on a day to come is taken to happen, by the site's clock."""


@dataclass(frozen=True, slots=True)
class Question:
    """For which days, and as what, a unit is asked for; along: what goes along with it, where that is known.

    running: a unit that is out is asked about as it is with its diver, not for a later hire.
    booking: the code of that for which it is asked, also where its days are over; empty for whichever holds the days.
    """

    first: date
    last: date
    kind: HandoverKind
    at_act: bool = False
    along: Along | None = None
    running: bool = False
    booking: str = ""


def assess_unit(
    workplace: Workplace,
    tag: str,
    first: date,
    last: date,
    kind: HandoverKind,
    *,
    at_act: bool = False,
    along: Along | None = None,
    booking: str = "",
) -> Assessment:
    """Whether one unit may go out from `first` through `last`; NotFound for an unknown tag.

    at_act: the hand-over is being done now, so that hand-over work undone stops. along: what goes along with it.
    booking: on which it leaves.
    """
    fleet = one_unit(workplace, tag)
    return Readiness(fleet).assess(
        fleet.records.units[0], Question(first, last=last, kind=kind, at_act=at_act, along=along, booking=booking)
    )


def way_of(promise: BookedUnit | None) -> HandoverKind:
    """How a unit is judged on a booking: for the way in which it leaves; as a kit while it is out."""
    if promise is not None and promise.out_at is not None:
        return HandoverKind.KIT
    return leaving_way(promise.hand_over if promise is not None else None)


def leaving_way(said: str | None) -> HandoverKind:
    """How a unit leaves: as its booking says, else the usual way."""
    return HandoverKind(said) if said else USUAL_WAY


class Readiness:
    """Facts of each unit of a fleet, and the answers that calc.readiness gives on them."""

    def __init__(self, fleet: Fleet) -> None:
        self.fleet = fleet
        self.fresh = FreshnessBook(fleet.catalogue.limits)
        kept = fleet.records
        self.absorbent = fleet.once("absorbent", lambda: Absorbent(fleet.catalogue, kept.fills, kept.runs_of_fills))
        self.gas_side = GasSide(fleet, kept.returns)
        self.bench_side = BenchSide(fleet, kept.checks)
        self.hire_side = HireSide(fleet, kept.checks, self.absorbent)
        self.turn_side = TurnRoundSide(fleet)
        self._accepted = fleet.of_units("accepted")
        self._absences = {each.unit_id: each for each in kept.absences}
        self._returns = {each.unit_id: each for each in kept.returns}
        self._disinfections = {each.unit_id: each for each in kept.disinfections}
        self._calibrations = {each.unit_id: each for each in kept.calibrations}
        self._tickets = fleet.of_units("tickets")
        self._put_off = fleet.of_units("put_off")
        self._tests = fleet.tests
        self._used = fleet.of_units("used")

    def assess(self, unit: UnitRecord, question: Question) -> Assessment:
        """What calc.readiness answers of one unit; of what was asked before on this day, what moves with the moment."""
        end_if_unwanted()
        key = "answer", unit.unit_id, question
        before = self.fleet.answers.get(key)
        if before is None:
            by = self.fresh.of(unit.unit_type_id), self.acceptances(unit.unit_id)
            facts = self.facts(unit, question)
            *earlier, answer = self.fleet.earlier.get(key, (None,))
            if earlier != [by, facts]:
                answer = self._judged(unit, question, facts)
        else:
            by, known, answer = before
            if not self._moves(unit, question):
                return cast("Assessment", answer)
            facts = replace(known, **self._of_the_moment(unit, question))
            if facts == known:
                return cast("Assessment", answer)
            answer = self._judged(unit, question, facts, answer)
        self.fleet.answers[key] = by, facts, answer
        return cast("Assessment", answer)

    def first_stops(
        self, unit: UnitRecord, question: Question, through: date
    ) -> tuple[UnitFacts, tuple[FirstStop, ...]]:
        """The facts of one unit, and the first day on which each check stops it; kept as answers are."""
        key = "first stops", unit.unit_id, question, through
        kept: tuple[UnitFacts, tuple[FirstStop, ...]] | None = self.fleet.answers.get(key)
        earlier = None
        if kept is None:
            facts = self.facts(unit, question)
        else:
            known, earlier = kept
            facts = replace(known, **self._of_the_moment(unit, question))
            if facts == known:
                return kept
        found = facts, first_stops(
            facts, today=self.fleet.day.today, through=through, limits=self.fresh.of(unit.unit_type_id),
            kind=question.kind, earlier=earlier,
        )  # fmt: skip
        self.fleet.answers[key] = found
        return found

    def faults(
        self, unit: UnitRecord, question: Question, checks: frozenset[str]
    ) -> tuple[tuple[str, CheckFinding], ...]:
        """What stops one unit by these checks that no ordinary turn-round or hand-over clears; kept as answers are."""
        key = "faults", unit.unit_id, question, checks
        moment = self._of_the_moment(unit, question) if self._moves(unit, question) else None
        before, found = self.fleet.answers.get(key, (None, None))
        if found is None or before != moment:
            found = tuple(self._faults(unit, question, checks))
            self.fleet.answers[key] = moment, found
        return cast("tuple[tuple[str, CheckFinding], ...]", found)

    def _faults(
        self, unit: UnitRecord, question: Question, checks: frozenset[str]
    ) -> Iterator[tuple[str, CheckFinding]]:
        facts, limits = self.facts(unit, question), self.fresh.of(unit.unit_type_id)
        asked = Asked(self.fleet.day.today, question.first, question.last, at_act=question.at_act, zone=facts.zone)
        for row in CHECKS:
            for finding in (judged(row, facts, asked, limits) or ()) if row.check in checks else ():
                if finding.result is Result.STOP and not finding.ordinary and finding.to_do_minutes is None:
                    yield row.check, finding

    def _moves(self, unit: UnitRecord, question: Question) -> bool:
        """Whether an answer can change within the day; one on a later day asks about its noon, whatever the time is."""
        return question.first <= self.fleet.day.today or self.is_out(unit.unit_id) is not None

    def _judged(
        self, unit: UnitRecord, question: Question, facts: UnitFacts, earlier: Assessment | None = None
    ) -> Assessment:
        return assess(
            facts,
            on=self.fleet.day.today,
            span=(question.first, question.last),
            kind=question.kind,
            at_act=question.at_act,
            limits=self.fresh.of(unit.unit_type_id),
            acceptances=self.acceptances(unit.unit_id),
            earlier=earlier,
            brief=self.fleet.in_brief,
        )

    def acceptances(self, unit_id: int) -> tuple[AcceptedAdvice, ...]:
        """What a manager accepted on a unit and when that ends; whether it still counts is judged with the span."""
        return tuple(
            AcceptedAdvice(each.check_name, each.until, self.fleet.name(each.person_id) or "a manager", each.reason)
            for each in self._accepted.get(unit_id, ())
            if each.check_name in _CHECKS
        )

    def facts(self, unit: UnitRecord, question: Question) -> UnitFacts:
        """All that is known of one unit."""
        promise = self._promise_over(unit.unit_id, question)
        return replace(
            self._standing(unit),
            out=self._out(unit.unit_id, question),
            holds=tuple(self._holds(unit, question)),
            calibration=self._calibration(unit.unit_id, promise),
            gas=self.gas_side.gas(unit.unit_id, promise),
            diluent=self.gas_side.diluent(unit, promise),
            bailout=self.gas_side.bailout(unit.unit_id, promise),
            absorbent_kit=self.hire_side.absorbent_kit(
                unit.unit_id, promise, question.first, question.last, question.along
            ),
            diver=self.hire_side.diver(unit, promise, question.last),
            accessories=self.hire_side.accessories(unit, promise, question.along),
            **self._of_the_moment(unit, question),
        )

    def _of_the_moment(self, unit: UnitRecord, question: Question) -> dict[str, Any]:
        """The facts that hang on the moment, not on the records and the day alone; see MOVE_WITHIN_THE_DAY."""
        return {
            "absorbent": self._absorbent(unit.unit_id, question),
            "disinfection": self.turn_side.disinfection(unit, self._moment(question)),
            "idle": self.turn_side.idle(unit.unit_id, self.fleet.day.now),
        }

    def _standing(self, unit: UnitRecord) -> UnitFacts:
        """The facts of a unit that hang on no question; calculated once for all of them."""
        key = "standing", unit.unit_id
        found = self.fleet.answers.get(key)
        if found is None:
            found = self.fleet.answers[key] = self._read_standing(unit)
        return cast("UnitFacts", found)

    def _read_standing(self, unit: UnitRecord) -> UnitFacts:
        return UnitFacts(
            unit.tag,
            self.fleet.day.zone,
            cells=tuple(self.cell(seat, unit.unit_id) for seat in self.cell_seats(unit.unit_id)),
            parts=tuple(self._part(seat, unit.unit_id) for seat in self._other_seats(unit.unit_id)),
            valves_and_loop=self._valves_and_loop(unit.unit_id),
            tickets=tuple(self._ticket_facts(unit.unit_id)),
            notices=tuple(self._notices(unit)),
            cylinders=self.gas_side.cylinders(unit.unit_id),
            oxygen_side=self.gas_side.oxygen_side(unit.unit_id),
            batteries=self.gas_side.batteries(unit),
            handsets=self.bench_side.handsets(unit, self._changes(unit.unit_id)),
            high_points=self.bench_side.high_points(self.cell_seats(unit.unit_id)),
            spreads=self.bench_side.spreads(
                unit, ((seat, self.standing(seat)) for seat in self.cell_seats(unit.unit_id))
            ),
            gas_side_tests=self.bench_side.gas_side(unit.unit_id),
            mouthpiece_tests=self.bench_side.mouthpiece(unit.unit_id, self.loop_opened(unit.unit_id)),
            signer=self.bench_side.signer(unit),
            alarm_tests=joined_tests(self.turn_side.alarm_tests(unit.unit_id), self.bench_side.sensors(unit)),
            firmware=self.turn_side.firmware(unit),
            flood=self.turn_side.flood(unit.unit_id),
            service=self.turn_side.service(unit),
            equipment=self._equipment(unit.unit_id),
        )

    def cell_seats(self, unit_id: int) -> Iterator[Seat]:
        """The cell positions of a unit in their order."""
        return (seat for seat in self.fleet.seats(unit_id) if seat.slot.kind == "cell")

    def _other_seats(self, unit_id: int) -> Iterator[Seat]:
        return (seat for seat in self.fleet.seats(unit_id) if seat.slot.kind != "cell")

    # holds

    @cached_property
    def _unit_holds(self) -> dict[int, list[HoldRecord]]:
        return by_unit((each for each in self.fleet.records.holds if each.unit_id), lambda each: each.unit_id or 0)

    @cached_property
    def _part_holds(self) -> dict[int, list[HoldRecord]]:
        return by_unit((each for each in self.fleet.records.holds if each.part_id), lambda each: each.part_id or 0)

    def _holds(self, unit: UnitRecord, question: Question) -> Iterator[HoldFact]:
        listed = self._unit_holds.get(unit.unit_id, [])
        yield from (self._hold(each, None) for each in listed)
        for seat in self.fleet.seats(unit.unit_id):
            if seat.part is not None:
                yield from (self._hold(each, seat) for each in self._part_holds.get(seat.part.part_id, ()))
        yield from self._state(unit, question)
        if self.not_inspected(unit.unit_id) and not any(each.kind == HoldKind.RECEIVED for each in listed):
            back = self._returns[unit.unit_id]
            yield HoldFact(
                say("back and not inspected: the turn-round is to do"), "received", self._day(back.received_at)
            )

    def _hold(self, hold: HoldRecord, seat: Seat | None) -> HoldFact:
        about = (
            strung("", (seat.slot.name, " ", seat.part.label, ": "))
            if seat is not None and seat.part is not None
            else ""
        )
        kind = {"manual": say("manual hold"), "notice": say("open mandatory notice")}.get(hold.kind, hold.kind)
        return HoldFact(
            strung("", (about, hold.reason)) if about else hold.reason,
            kind,
            self._day(hold.placed_at),
            say_ref("hold {ref}", hold.hold_id),
        )

    def _state(self, unit: UnitRecord, question: Question) -> Iterator[HoldFact]:
        if unit.retired_on is not None and unit.retired_on <= question.last:
            yield HoldFact(say("the unit is retired"), "retired", unit.retired_on)
        if unit.owner_kind == OwnerKind.RENTER:
            yield HoldFact(say("a renter's own unit is never hired out"), "owner")
        away = self._absences.get(unit.unit_id)
        # Back in good time is a promise, so it counts only for days after the one that was promised.
        if away is not None and (away.expected_on is None or away.expected_on >= question.first):
            expected = (
                say(", expected back {expected_on}", expected_on=away.expected_on)
                if away.expected_on
                else say(", return not known")
            )
            yield HoldFact(
                say("away: {why}{expected}", why=away.why, expected=expected), "away", self._day(away.left_at)
            )

    def not_inspected(self, unit_id: int) -> bool:
        """Whether a unit came back and has not been turned round since."""
        back = self._returns.get(unit_id)
        if back is None or self.is_out(unit_id) is not None:
            return False
        if self.turn_side.open_card(unit_id) is not None:
            return True
        finished = self.turn_side.finished_at(unit_id)
        if finished is not None and finished >= back.received_at:
            return False
        cleaned = self._disinfections.get(unit_id)
        return cleaned is None or cleaned.at < back.received_at

    def is_out(self, unit_id: int) -> BookedUnit | None:
        """The booking on which a unit is out now."""
        return next((each for each in self.fleet.promises.get(unit_id, ()) if each.out_at is not None), None)

    def _out(self, unit_id: int, question: Question) -> OutFact:
        out = self.is_out(unit_id)
        # An act on a unit that is out, such as a swap to a spare, is about it as it is with its diver.
        return OutFact(out.code, out.ends_on, question.running or question.at_act) if out is not None else OutFact()

    def way(self, unit_id: int) -> HandoverKind:
        """How a unit is to leave: as its next booking says, else the usual way. The one place that decides it.

        While it is out: as a kit, since what was packed or filled is the diver's to renew.
        """
        promise = self.next_promise(unit_id)
        return way_of(promise)

    def away(self, unit_id: int) -> AbsenceRecord | None:
        """The absence of a unit that is away now."""
        return self._absences.get(unit_id)

    def last_return(self, unit_id: int) -> ReturnRecord | None:
        """A unit's last return from a booking."""
        return self._returns.get(unit_id)

    def open_tickets(self, unit_id: int) -> tuple[TicketRecord, ...]:
        """A unit's tickets that are not signed."""
        return tuple(self._tickets.get(unit_id, ()))

    def next_promise(self, unit_id: int) -> BookedUnit | None:
        """The booking on which a unit is out, else the next one."""
        today = self.fleet.day.today
        coming = (each for each in self.fleet.promises.get(unit_id, ()) if each.ends_on >= today)
        return self.is_out(unit_id) or next(coming, None)

    def _notices(self, unit: UnitRecord) -> Iterator[NoticeFact]:
        told = set()
        for scope in self.fleet.catalogue.notices:
            done = (scope.notice_id, unit.unit_id) in self.fleet.catalogue.notices_done
            if done or scope.notice_id in told:
                continue
            unsure = self._covers(scope.scope, unit)
            if unsure is None:
                continue
            told.add(scope.notice_id)
            said = scope.notice
            title = strung("", (said.title, ": ", said.action, unsure))
            yield NoticeFact(said.number, title, said.weight == Weight.STOP, said.by_when)

    def _covers(self, scope: Covered, unit: UnitRecord) -> str | None:
        """None where a scope does not cover it; why it cannot be excluded where nothing in it is named, else empty."""
        itself = Marks(serial=unit.serial, types=(unit.unit_type_code, unit.unit_type), kind="unit")
        unsure = [(say("the unit"), doubt(scope, itself))] if covers_unit(scope, itself) else []
        types = self.fleet.catalogue.part_types
        for seat in self.fleet.seats(unit.unit_id):
            if (part := seat.part) is None:
                continue
            fill, kind = self.absorbent.fills.get(part.part_id), types[part.part_type_id]
            packed = fill.lot if fill is not None and fill.discarded_at is None else None
            marks = Marks(
                part.serial, lot=part.lot, firmware=part.firmware, types=(kind.code, kind.name), kind=kind.kind
            )
            if covers_part(scope, Marks(lot=packed)):
                return ""
            if covers_part(scope, marks):
                unsure.append((seat.slot.name, doubt(scope, marks)))
        if not unsure:
            return None
        name, why = unsure[0]
        more = say(", and {count} more", count=len(unsure) - 1) if len(unsure) > 1 else ""
        door = at("correct unit" if name == "the unit" else "correct part")
        return (
            say("; {name}: {why}{more}; enter it {door}", name=name, why=why, more=more, door=door)
            if all(said for _, said in unsure)
            else ""
        )

    # cells

    @property
    def outcomes(self) -> Mapping[int, list[OutcomeRecord]]:
        """The last workshop outcome and the last diver's outcome of each cell."""
        return self.fleet.conditions.outcomes

    def standing(self, seat: Seat) -> tuple[OutcomeRecord, ...]:
        """What stands of the cell in a slot since it was fitted there, a workshop outcome first."""
        if seat.part is None or seat.fitting is None:
            return ()
        return standing(self.outcomes.get(seat.part.part_id, ()), seat.fitting.fitted_at)

    def telling(self, seat: Seat) -> OutcomeRecord | None:
        """The worst of what stands of a cell."""
        return telling(self.standing(seat))

    def cell(self, seat: Seat, unit_id: int) -> CellFact:
        """One cell slot as readiness sees it."""
        if seat.part is None:
            return CellFact(seat.slot.name, None, None)
        stands, telling = self.standing(seat), self.telling(seat)
        verdict = worst([Verdict(each.verdict) for each in stands]) if stands else None
        why, reject = telling.finding if telling else "", self.fleet.book.rejects.get(seat.part.part_id)
        if reject is not None and verdict is not Verdict.REJECT:
            verdict, why = Verdict.REJECT, reject_words(reject)
        return CellFact(
            seat.slot.name,
            serial=seat.part.label,
            verdict=verdict,
            # A diver's calibration renews no workshop calibration, so the workshop's time stands where there is one.
            calibrated_at=stands[0].at if stands else reject.at if reject is not None else None,
            why=why,
            lot=seat.part.lot,
            life=self.fleet.age(seat, unit_id),
            record=say_ref("calibration {ref}", telling.calibration_id) if telling else "",
            verified_up_to_bar=max(
                (each.verified_up_to_bar for each in stands if each.verified_up_to_bar is not None), default=None
            ),
        )

    def _changes(self, unit_id: int) -> tuple[ChangeFact, ...]:
        return tuple(
            ChangeFact(say_ref("{ref} changed", seat.slot.name), seat.fitting.fitted_at)
            for seat in self.fleet.seats(unit_id)
            if seat.slot.kind in CHANGES_A_CALIBRATION and seat.fitting is not None
        ) + self.turn_side.firmware_changes(unit_id)

    def _calibration(self, unit_id: int, promise: BookedUnit | None) -> CalibrationFact:
        last = self._calibrations.get(unit_id)
        changes = self._changes(unit_id)
        if last is None:
            return CalibrationFact(None, changes)
        record = say_ref("calibration {ref}", last.ref or last.calibration_id)
        site = self.hire_side.site_pressure_mbar(promise)
        return CalibrationFact(
            last.at, changes=changes, pressure_mbar=last.pressure_mbar, site_pressure_mbar=site, record=record
        )

    # parts, valves, absorbent, tickets

    def _part(self, seat: Seat, unit_id: int) -> PartFact:
        label = seat.part.label if seat.part is not None else None
        record = say_ref("part {ref}", seat.part.part_id) if seat.part is not None else ""
        return PartFact(
            seat.slot.name, part=label, critical=seat.slot.critical, life=self.fleet.life(seat, unit_id), record=record
        )

    def _equipment(self, unit_id: int) -> tuple[EquipmentFact, ...]:
        seated = {seat.part.part_id for seat in self.fleet.seats(unit_id) if seat.part is not None}
        return equipment_facts(self._used.get(unit_id, ()), seated, self.fleet.day)

    def loop_opened(self, unit_id: int) -> datetime | None:
        """When the loop was last opened for work, by what was written down or by what was fitted."""
        return self.fleet.conditions.opened.get(unit_id)

    def _valves_and_loop(self, unit_id: int) -> TestsFact:
        required: list[str] = []
        for kind in RELEASE_TESTS:
            required += [strung(", ", (kind, way)) for way in ONE_WAY_DIRECTIONS] if kind == "one-way valve" else [kind]
        done = [fact for each in self._tests.get(unit_id, ()) for fact in facts_of_test(each)]
        return TestsFact(tuple(required), tuple(done), self.loop_opened(unit_id))

    def _absorbent(self, unit_id: int, question: Question) -> AbsorbentFact | None:
        seat = next((each for each in self.fleet.seats(unit_id) if each.slot.kind == "canister"), None)
        if seat is None:
            return None
        if seat.part is None or (question.along is not None and question.along.fill_discarded):
            return AbsorbentFact(None, runs=(), table=None, limits=None, plan=None)
        at = self._moment(question)
        promise = self._promise_over(unit_id, question)
        return self.absorbent.fact(seat.part, at, question.last, promise)

    def _moment(self, question: Question) -> datetime:
        """The moment of the hand-over asked about: now, or noon of a day to come."""
        day = self.fleet.day
        noon = datetime.combine(question.first, HAND_OVER_TIME, tzinfo=day.zone)
        return day.now if question.first <= day.today else noon

    def _promise_over(self, unit_id: int, question: Question) -> BookedUnit | None:
        """The promise that is asked about: the booking named, that of a unit with its diver, else one of these days."""
        promises = self.fleet.promises.get(unit_id, ())
        named = next((each for each in promises if each.code == question.booking), None)
        out = self.is_out(unit_id) if question.running else None
        days = (each for each in promises if each.starts_on <= question.last and each.ends_on >= question.first)
        return named or out or next(days, None)

    def _ticket_facts(self, unit_id: int) -> Iterator[TicketFact]:
        for each in self._tickets.get(unit_id, ()):
            severity = TicketSeverity.CRITICAL if each.critical else TicketSeverity.COSMETIC
            yield TicketFact(ticket_number(each.year, each.number), each.reason, severity)
        for task in self._put_off.get(unit_id, ()):
            severity = TicketSeverity.CRITICAL if task.critical else TicketSeverity.COSMETIC
            words = say("put off: {task}", task=task.text)
            yield TicketFact(ticket_number(task.year, task.number), words, severity, task.times_put_off)

    def _day(self, at: datetime) -> date:
        return self.fleet.day.of(at)


def facts_of_test(test: BenchTestRecord) -> tuple[TestFact, ...]:
    """A bench test as readiness sees it: a one-way valve test speaks for the directions it names, and no other."""
    passed = {"pass": True, "watch": True, "reject": False}.get(test.result)
    record = say_ref("bench test {ref}", test.ref or test.test_id)
    if test.kind != "one-way valve":
        return (TestFact(test.kind, test.at, passed, record),)
    ways = ONE_WAY_DIRECTIONS if test.direction == "both" else (test.direction,) if test.direction else ()
    return tuple(TestFact(strung(", ", (test.kind, way)), test.at, passed, record) for way in ways)
