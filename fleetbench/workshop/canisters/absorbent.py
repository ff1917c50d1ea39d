"""Fills with their runs, and what is left of them for a plan.

Whether the fills that stand packed cover a plan, what is left of each in usual water, and their clocks.
"""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import final

from fleetbench.calc.canisters import fill as calc
from fleetbench.calc.canisters.fill_clocks import FillClock, fill_clocks
from fleetbench.calc.canisters.packing import WORK_RATES
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.parts.kinds import GONE
from fleetbench.calc.readiness.judge import AbsorbentFact
from fleetbench.records.canisters.reads import (
    FillRecord,
    RatingRecord,
    RunRecord,
    read_last_fills,
    read_runs_of_last_fills,
)
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.parts.reads import PartRecord, read_fitted, read_parts
from fleetbench.records.readiness.reads import Catalogue, read_catalogue
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, figure, figure_or_none
from fleetbench.workshop.parts.conditions import root_unit

SHARED_ON_TRY_DAYS = "fills shared on try days"
"""The centre's own limit that lets try sessions of one day under one instructor share a fill: 1 is yes, 0 is no."""

LONGEST_DAY = timedelta(hours=25)
"""The day on which clocks go back, within which a run may lie whose day is known and whose start is not."""

USUAL_DIVE_MINUTES = 60.0
"""What a fill must give where nothing is booked: one usual dive; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class PlannedDive:
    """What is asked of a fill: where nothing is booked, one usual dive in the centre's usual water and depth.

    None for water and depth is the coldest and deepest row of the table, for carbon dioxide the rated rate.
    """

    minutes: float
    water_c: float | None
    depth_m: float | None
    co2_l_min: float | None = None
    diver: str | None = None
    hire: str | None = None
    session: str | None = None


@final
@dataclass(frozen=True, slots=True)
class Left:
    """What is left of a fill: share used (1 and over is spent), loop minutes run and left, and what governs."""

    used_share: float
    loop_minutes: float
    minutes: float
    rule: str
    reason: str
    cautions: tuple[str, ...]


class Absorbent:
    """The last fill of each canister, its runs, and the tables and limits of the canister types."""

    def __init__(self, catalogue: Catalogue, fills: Iterable[FillRecord], runs: Iterable[RunRecord]) -> None:
        self._catalogue = catalogue
        self.fills = {each.part_id: each for each in fills}
        self._runs: dict[int, list[RunRecord]] = defaultdict(list)
        for run in runs:
            self._runs[run.fill_id].append(run)
        self._tables = rating_tables(catalogue.ratings)
        own = (each for each in catalogue.limits if each.part_type_id is None and each.unit_type_id is None)
        self._centres = {each.name: each.amount for each in own}

    def runs_of(self, fill_id: int) -> tuple[RunRecord, ...]:
        """Runs of a fill, oldest first."""
        return tuple(self._runs.get(fill_id, ()))

    def table(self, part_type_id: int) -> calc.RatingTable | None:
        """The canister type's table, None where there is none or two rows contradict each other."""
        return self._tables.get(part_type_id)

    def limits(self, part_type_id: int) -> calc.CanisterLimits:
        """The canister type's own limits, or the trade's where it states none."""
        mine = {each.name: each for each in self._catalogue.limits if each.part_type_id == part_type_id}
        known = {name: limit.amount for name, limit in mine.items()}
        sources = strung("; ", dict.fromkeys(limit.source for limit in mine.values()))
        default = calc.CanisterLimits(None)
        return calc.CanisterLimits(
            known.get("minimum mass"),
            known.get("hours since opened"),
            known.get("hours since first use", default.hours_since_first_use),
            shared_on_try_days=self._centres.get(SHARED_ON_TRY_DAYS, 0.0) > 0.0,
            source=sources or default.source,
        )

    def usual_dive(self) -> PlannedDive:
        """One usual dive at the centre's water and depth."""
        centre = self._catalogue.centre
        minutes = self._centres.get("usual dive minutes", USUAL_DIVE_MINUTES)
        if centre is None:
            return PlannedDive(minutes, None, None, None)
        return PlannedDive(minutes, centre.usual_water_c, centre.usual_depth_m, None)

    def planned(self, promise: BookedUnit | None) -> PlannedDive:
        """What a booking plans; what it leaves open is taken from the usual dive."""
        usual = self.usual_dive()
        if promise is None:
            return usual
        diver = promise.diver_id if promise.diver_id is not None else promise.renter_id
        return PlannedDive(
            usual.minutes if promise.planned_minutes is None else promise.planned_minutes,
            water_c=usual.water_c if promise.planned_water_c is None else promise.planned_water_c,
            depth_m=usual.depth_m if promise.planned_depth_m is None else promise.planned_depth_m,
            co2_l_min=promise.planned_co2_l_min,
            diver=str(diver) if diver is not None else None,
            hire=str(promise.line_id),
            session=str(promise.instructor_id)
            if promise.kind == BookingKind.TRY_DAY and promise.instructor_id is not None
            else None,
        )

    def fact(self, canister: PartRecord, at: datetime, last: date, promise: BookedUnit | None) -> AbsorbentFact:
        """What readiness must know of a canister's fill for a plan that begins at `at`."""
        fill = self.fills.get(canister.part_id)
        dive = self.planned(promise)
        if fill is None or fill.discarded_at is not None:
            return AbsorbentFact(None, runs=(), table=self.table(canister.part_type_id), limits=None, plan=None)
        return AbsorbentFact(
            as_fill(fill),
            runs=tuple(as_run(run) for run in self.runs_of(fill.fill_id)),
            table=self.table(canister.part_type_id),
            limits=self.limits(canister.part_type_id),
            plan=as_plan(fill, dive, self._at_site(max(at, fill.packed_at)), last),
            record=say("fill {ref}", ref=fill.ref or fill.fill_id),
        )

    def _at_site(self, at: datetime) -> datetime:
        centre = self._catalogue.centre
        return at if centre is None else at.astimezone(centre.zone)

    def left(self, canister: PartRecord, day: Day, promise: BookedUnit | None) -> Left:
        """What is left now of a canister's fill for the dive that is planned, or for a usual one."""
        fill = self.fills[canister.part_id]
        runs = tuple(as_run(run) for run in self.runs_of(fill.fill_id))
        table, limits = self.table(canister.part_type_id), self.limits(canister.part_type_id)
        if table is None:
            return Left(
                1.0,
                loop_minutes=math.fsum(run.loop_minutes for run in runs),
                minutes=0.0,
                rule="rated minutes",
                reason=NO_TABLE,
                cautions=(),
            )
        at = max(day.now, fill.packed_at).astimezone(day.zone)
        plan = as_plan(fill, self.planned(promise), at, day.today)
        found = calc.remaining(as_fill(fill), runs, table, limits, plan)
        used = found.used
        return Left(
            used.share,
            loop_minutes=used.loop_minutes,
            minutes=found.minutes,
            rule=str(found.rule),
            reason=found.reason,
            cautions=found.cautions,
        )


def with_divers(promised: Iterable[BookedUnit], day: Day) -> dict[int, str]:
    """Why nothing is known of the fill in each unit that is out, in words, by unit."""
    return {each.unit_id: with_a_diver(each.code, each.out_at, day) for each in promised if each.out_at is not None}


def with_a_diver(code: str, out_at: datetime, day: Day) -> str:
    """Why nothing is known of the fill in a unit that is out, in words."""
    return say(
        "with a diver on {code} since {day}: what is left is not known before it is back", code=code, day=day.of(out_at)
    )


def as_fill(fill: FillRecord) -> calc.FillFacts:
    """A recorded fill in the form that is calculated with; a lot that is not known has no grade and no date."""
    return calc.FillFacts(
        packed_at=fill.packed_at,
        grade=fill.grade or "",
        lot_last_good_day=fill.lot_last_good_day,
        container_opened=fill.container_opened_at,
        mass_g=fill.mass_g,
        lot=fill.lot or "",
        diver=str(fill.diver_id) if fill.diver_id is not None else None,
        hire=str(fill.line_id) if fill.line_id is not None else None,
        wetted=fill.wetted_at is not None,
        discarded=fill.discarded_at is not None,
        session=str(fill.try_instructor_id) if fill.try_instructor_id is not None else None,
        mass_u_g=fill.mass_u_g,
    )


def as_run(run: RunRecord) -> calc.RunFacts:
    """A recorded run in the form that is calculated with."""
    return calc.RunFacts(
        run.minutes,
        loop=run.clock == "loop",
        dives=run.dives,
        coldest_c=run.coldest_c,
        deepest_m=run.deepest_m,
        co2_l_min=run.co2_l_min,
        started_at=run.started_at,
        diver=str(run.diver_id) if run.diver_id is not None else None,
        hire=str(run.line_id) if run.line_id is not None else None,
        session=str(run.try_instructor_id) if run.try_instructor_id is not None else None,
        day_known=run.ended_by is None or run.ended_by - run.started_at <= LONGEST_DAY,
    )


def rating_tables(records: Iterable[RatingRecord]) -> dict[int, calc.RatingTable]:
    """The table of each canister type; one that contradicts itself is left out, so that nothing passes by it."""
    rows: dict[int, list[calc.RatedMinutes]] = defaultdict(list)
    for each in records:
        rows[each.part_type_id].append(
            calc.RatedMinutes(
                each.water_c,
                depth_m=each.depth_m,
                co2_l_min=each.co2_l_min,
                minutes=each.minutes,
                grade=each.grade,
                source=each.source,
            )
        )
    tables = {}
    for part_type_id, listed in rows.items():
        try:
            tables[part_type_id] = calc.RatingTable(tuple(listed))
        except ValueError:
            continue
    return tables


def as_plan(fill: FillRecord, dive: PlannedDive, at: datetime, last: date) -> calc.PlannedUse:
    """The question to a fill: a dive that begins at `at`.

    A fill whose hire is over belongs to that hire alone, so it serves no dive that is nobody's either.
    """
    nobodys = "" if fill.hire_over_at is not None else None
    return calc.PlannedUse(
        dive.minutes,
        at,
        last,
        water_c=dive.water_c,
        depth_m=dive.depth_m,
        co2_l_min=dive.co2_l_min,
        diver=dive.diver,
        hire=dive.hire if dive.hire is not None else nobodys,
        session=dive.session,
    )


NO_TABLE = say("the canister type has no table of rated minutes; enter it from the manual {door}", door=door("rating"))


@dataclass(frozen=True, slots=True)
class WorkChoice:
    """A grade of work to choose; co2_l_min None is the rate at which the canister was rated."""

    name: str
    co2_l_min: float | None
    source: str


@dataclass(frozen=True, slots=True)
class FillAnswer:
    """Whether a canister's fill covers the plan.

    answer: yes or no. margin: minutes over, or below nought short of, what is asked. reason: what governs, in a
    sentence; all_reasons: every one that spends it. minutes: left at the conditions asked.
    """

    part_id: int
    canister: str
    unit: str | None
    fill: str | None
    diver: str | None
    answer: bool
    minutes: float
    needed: float
    margin: float
    reason: str
    all_reasons: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FillGauge:
    """What is left of a fill in the centre's usual water and depth, and the clocks that run on it.

    rated: minutes of a fresh fill at those conditions, None where there is no rating. share: minutes / rated, 0 to 1.
    """

    part_id: int
    minutes: float
    rated: float | None
    share: float
    reason: str
    clocks: tuple[FillClock, ...]


@dataclass(frozen=True, slots=True)
class FillOutlook:
    """Answers for every canister, and the gauges of those that hold a fill, by part key; `now` is when it was asked."""

    asked: PlannedDive
    usual_water_c: float | None
    usual_depth_m: float | None
    answers: tuple[FillAnswer, ...]
    by_part: dict[int, FillAnswer]
    gauges: dict[int, FillGauge]
    now: datetime

    def answer_of(self, part_id: int) -> FillAnswer | None:
        """The answer of one canister, None for one that is not listed."""
        return self.by_part.get(part_id)


def work_choices() -> tuple[WorkChoice, ...]:
    """The grades of work with their published carbon dioxide, the rated rate first."""
    rated = WorkChoice(say("as rated"), None, say("the canister type's own table"))
    listed = sorted(WORK_RATES, key=lambda rate: rate.co2_l_min)
    return (rated, *(WorkChoice(rate.name, rate.co2_l_min, rate.source) for rate in listed))


def usual_plan(workplace: Workplace) -> PlannedDive:
    """One usual dive in the centre's usual water and depth, at the rated work."""
    with workplace.database.reading() as connection:
        usual = Absorbent(read_catalogue(connection), (), ()).usual_dive()
    return PlannedDive(usual.minutes, usual.water_c, usual.depth_m)


def fill_outlook(workplace: Workplace, asked: PlannedDive | None = None) -> FillOutlook:
    """Every canister's answer to what is asked, or to a usual dive; a fixed number of statements.

    Raises Refused naming the field that is out of reason.
    """
    if asked is not None:
        checked(asked)
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        canisters = [each for each in read_parts(connection, kind="canister") if each.state not in GONE]
        catalogue = read_catalogue(connection)
        absorbent = Absorbent(catalogue, read_last_fills(connection), read_runs_of_last_fills(connection))
        sits = {fitting.part_id: fitting for fitting, _ in read_fitted(connection)}
        tags = read_unit_tags(connection)
        out = with_divers(read_promises(connection), day)
    usual = absorbent.usual_dive()
    wanted = asked or PlannedDive(usual.minutes, usual.water_c, usual.depth_m)
    answers, gauges = [], {}
    for canister in canisters:
        unit_id = root_unit(sits.get(canister.part_id), sits)
        tag = tags.get(unit_id) if unit_id is not None else None
        fill = absorbent.fills.get(canister.part_id)
        if fill is not None and fill.discarded_at is not None:
            fill = None
        diver = catalogue.names.get(fill.diver_id or 0) if fill is not None else None
        away = out.get(unit_id or 0, "") if fill is not None else ""
        answer = _answer(absorbent, canister, fill, wanted, day, unit=tag, diver=diver)
        answers.append(answer if not away else _not_known(answer, away))
        if fill is not None:
            gauge = _gauge(absorbent, canister, fill, usual, day)
            gauges[canister.part_id] = gauge if not away else replace(gauge, minutes=0.0, share=0.0, reason=away)
    answers.sort(key=lambda each: (not each.answer, each.unit is None, each.unit or "", each.canister))
    by_part = {each.part_id: each for each in answers}
    return FillOutlook(
        wanted,
        usual_water_c=usual.water_c,
        usual_depth_m=usual.depth_m,
        answers=tuple(answers),
        by_part=by_part,
        gauges=gauges,
        now=day.now,
    )


def _not_known(answer: FillAnswer, away: str) -> FillAnswer:
    """The answer for a fill that a diver has: nothing of it counts before its return."""
    return replace(answer, answer=False, minutes=0.0, margin=-answer.needed, reason=away, all_reasons=(away,))


def checked(asked: PlannedDive) -> None:
    """Nothing where every figure is in reason; Refused naming the field otherwise."""
    figure("minutes", asked.minutes, 1, 1440, "enter the loop minutes that are planned")
    figure_or_none("water", asked.water_c, -3, 45, "enter {unit}, or leave it empty for the coldest row", CELSIUS)
    figure_or_none("depth", asked.depth_m, 0, 350, "enter {unit}, or leave it empty for the deepest row", METRE)
    figure_or_none("carbon dioxide", asked.co2_l_min, 0.1, 10, "enter L/min, or choose the work")


def _answer(
    absorbent: Absorbent,
    canister: PartRecord,
    fill: FillRecord | None,
    asked: PlannedDive,
    day: Day,
    *,
    unit: str | None,
    diver: str | None,
) -> FillAnswer:
    table = absorbent.table(canister.part_type_id)
    if fill is None or table is None:
        reason = say("nothing is packed in it") if fill is None else NO_TABLE
        name = None if fill is None else called(fill)
        margin = -asked.minutes
        return FillAnswer(
            canister.part_id,
            canister=canister.label,
            unit=unit,
            fill=name,
            diver=diver,
            answer=False,
            minutes=0.0,
            needed=asked.minutes,
            margin=margin,
            reason=reason,
            all_reasons=(reason,),
            cautions=(),
        )
    found = _remaining(absorbent, canister, fill, table, asked, day)
    return FillAnswer(
        canister.part_id,
        canister=canister.label,
        unit=unit,
        fill=called(fill),
        diver=diver,
        answer=found.enough,
        minutes=found.minutes,
        needed=found.needed,
        margin=found.margin,
        reason=found.reason,
        all_reasons=tuple(spent.reason for spent in found.spent) or (found.reason,),
        cautions=found.cautions,
    )


def _gauge(absorbent: Absorbent, canister: PartRecord, fill: FillRecord, usual: PlannedDive, day: Day) -> FillGauge:
    table, limits = absorbent.table(canister.part_type_id), absorbent.limits(canister.part_type_id)
    runs = [as_run(run) for run in absorbent.runs_of(fill.fill_id)]
    clocks = fill_clocks(as_fill(fill), runs, limits, day.zone)
    if table is None:
        return FillGauge(canister.part_id, minutes=0.0, rated=None, share=0.0, reason=NO_TABLE, clocks=clocks)
    found = _remaining(absorbent, canister, fill, table, usual, day)
    each = calc.share_a_minute(
        table, fill.grade or "", water_c=usual.water_c, depth_m=usual.depth_m, co2_l_min=usual.co2_l_min
    )
    rated = None if each is None else 1.0 / each[0]
    share = 0.0 if rated is None else min(1.0, found.minutes / rated)
    return FillGauge(
        canister.part_id, minutes=found.minutes, rated=rated, share=share, reason=found.reason, clocks=clocks
    )


def _remaining(
    absorbent: Absorbent, canister: PartRecord, fill: FillRecord, table: calc.RatingTable, dive: PlannedDive, day: Day
) -> calc.Remaining:
    runs: Iterable[calc.RunFacts] = (as_run(run) for run in absorbent.runs_of(fill.fill_id))
    plan = as_plan(fill, dive, max(day.now, fill.packed_at).astimezone(day.zone), day.today)
    return calc.remaining(as_fill(fill), runs, table, absorbent.limits(canister.part_type_id), plan)


def called(fill: FillRecord) -> str:
    """What a fill is called, as on its label."""
    return fill.ref or f"FILL-{fill.fill_id}"
