"""Fills with their runs, and what is left of them for a plan."""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.canisters import fill as calc
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.readiness.judge import AbsorbentFact
from fleetbench.records.canisters.reads import FillRecord, RatingRecord, RunRecord
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.readiness.reads import Catalogue
from fleetbench.workshop.core.workplace import Day

SHARED_ON_TRY_DAYS = "fills shared on try days"
"""The centre's own limit that lets try sessions of one day under one instructor share a fill: 1 is yes, 0 is no."""

LONGEST_DAY = timedelta(hours=25)
"""The day on which clocks go back, within which a run may lie whose day is known and whose start is not."""

USUAL_DIVE_MINUTES = 60.0
"""What a fill must give where nothing is booked: one usual dive; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class PlannedDive:
    """What is asked of a fill: where nothing is booked, one usual dive in the centre's usual water and depth."""

    minutes: float
    water_c: float | None
    depth_m: float | None
    co2_l_min: float | None
    diver: str | None = None
    hire: str | None = None
    session: str | None = None


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
        sources = "; ".join(dict.fromkeys(limit.source for limit in mine.values()))
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
            usual.water_c if promise.planned_water_c is None else promise.planned_water_c,
            usual.depth_m if promise.planned_depth_m is None else promise.planned_depth_m,
            promise.planned_co2_l_min,
            str(diver) if diver is not None else None,
            str(promise.line_id),
            str(promise.instructor_id) if promise.kind == "try day" and promise.instructor_id is not None else None,
        )

    def fact(self, canister: PartRecord, at: datetime, last: date, promise: BookedUnit | None) -> AbsorbentFact:
        """What readiness must know of a canister's fill for a plan that begins at `at`."""
        fill = self.fills.get(canister.part_id)
        dive = self.planned(promise)
        if fill is None or fill.discarded_at is not None:
            return AbsorbentFact(None, (), self.table(canister.part_type_id), None, None)
        return AbsorbentFact(
            as_fill(fill),
            tuple(as_run(run) for run in self.runs_of(fill.fill_id)),
            self.table(canister.part_type_id),
            self.limits(canister.part_type_id),
            as_plan(fill, dive, self._at_site(max(at, fill.packed_at)), last),
            record=f"fill {fill.ref or fill.fill_id}",
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
            words = f"the canister type has no table of rated minutes; enter it from the manual {door('rating')}"
            return Left(1.0, math.fsum(run.loop_minutes for run in runs), 0.0, "rated minutes", words, ())
        at = max(day.now, fill.packed_at).astimezone(day.zone)
        plan = as_plan(fill, self.planned(promise), at, day.today)
        found = calc.remaining(as_fill(fill), runs, table, limits, plan)
        used = found.used
        return Left(used.share, used.loop_minutes, found.minutes, str(found.rule), found.reason, found.cautions)


def with_divers(promised: Iterable[BookedUnit], day: Day) -> dict[int, str]:
    """Why nothing is known of the fill in each unit that is out, in words, by unit."""
    return {each.unit_id: with_a_diver(each.code, each.out_at, day) for each in promised if each.out_at is not None}


def with_a_diver(code: str, out_at: datetime, day: Day) -> str:
    """Why nothing is known of the fill in a unit that is out, in words."""
    return f"with a diver on {code} since {day.of(out_at)}: what is left is not known before it is back"


def as_fill(fill: FillRecord) -> calc.Fill:
    """A recorded fill in the form that is reckoned with; a lot that is not known has no grade and no date."""
    return calc.Fill(
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


def as_run(run: RunRecord) -> calc.Run:
    """A recorded run in the form that is reckoned with."""
    return calc.Run(
        run.minutes,
        run.clock == "loop",
        run.dives,
        run.coldest_c,
        run.deepest_m,
        run.co2_l_min,
        run.started_at,
        diver=str(run.diver_id) if run.diver_id is not None else None,
        hire=str(run.line_id) if run.line_id is not None else None,
        session=str(run.try_instructor_id) if run.try_instructor_id is not None else None,
        day_known=run.ended_by is None or run.ended_by - run.started_at <= LONGEST_DAY,
    )


def rating_tables(records: Iterable[RatingRecord]) -> dict[int, calc.RatingTable]:
    """The table of each canister type; one that contradicts itself is left out, so that nothing passes by it."""
    rows: dict[int, list[calc.RatingRow]] = defaultdict(list)
    for each in records:
        rows[each.part_type_id].append(
            calc.RatingRow(each.water_c, each.depth_m, each.co2_l_min, each.minutes, each.grade, each.source)
        )
    tables = {}
    for part_type_id, listed in rows.items():
        try:
            tables[part_type_id] = calc.RatingTable(tuple(listed))
        except ValueError:
            continue
    return tables


def as_plan(fill: FillRecord, dive: PlannedDive, at: datetime, last: date) -> calc.Plan:
    """The question to a fill: a dive that begins at `at`.

    A fill whose hire is over belongs to that hire alone, so it serves no dive that is nobody's either.
    """
    nobodys = "" if fill.hire_over_at is not None else None
    return calc.Plan(
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
