"""Whether the fills that stand packed cover a plan, what is left of each in usual water, and their clocks."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from fleetbench.calc.canisters import fill as calc
from fleetbench.calc.canisters.carbon_dioxide import WORK_RATES
from fleetbench.calc.canisters.fill_clocks import FillClock, fill_clocks
from fleetbench.calc.core.doors import at as door
from fleetbench.records.canisters.reads import FillRecord, read_last_fills, read_runs_of_last_fills
from fleetbench.records.hires.reads import read_promises
from fleetbench.records.parts.reads import PartRecord, read_fitted, read_parts
from fleetbench.records.readiness.reads import read_catalogue
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.workshop.canisters.absorbent import (
    Absorbent,
    PlannedDive,
    as_fill,
    as_plan,
    as_run,
    with_divers,
)
from fleetbench.workshop.core.workplace import Day, Shop, day_of, figure, figure_or_none
from fleetbench.workshop.parts.conditions import root_unit

if TYPE_CHECKING:
    from collections.abc import Iterable

GONE = ("scrapped", "sent back")
NO_TABLE = f"the canister type has no table of rated minutes; enter it from the manual {door('rating')}"


@dataclass(frozen=True, slots=True)
class WorkChoice:
    """A grade of work to choose; co2_l_min None is the rate at which the canister was rated."""

    name: str
    co2_l_min: float | None
    source: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of the fills: loop minutes in water of a temperature at a depth.

    None for water and depth is the coldest and deepest row of the table, for carbon dioxide the rated rate.
    """

    minutes: float
    water_c: float | None
    depth_m: float | None
    co2_l_min: float | None = None


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

    asked: Asked
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
    rated = WorkChoice("as rated", None, "the canister type's own table")
    listed = sorted(WORK_RATES, key=lambda rate: rate.co2_l_min)
    return (rated, *(WorkChoice(rate.name, rate.co2_l_min, rate.source) for rate in listed))


def usual_plan(shop: Shop) -> Asked:
    """One usual dive in the centre's usual water and depth, at the rated work."""
    with shop.database.reading() as connection:
        usual = Absorbent(read_catalogue(connection), (), ()).usual_dive()
    return Asked(usual.minutes, usual.water_c, usual.depth_m)


def fill_outlook(shop: Shop, asked: Asked | None = None) -> FillOutlook:
    """Every canister's answer to what is asked, or to a usual dive; a fixed number of statements.

    Raises Refused naming the field that is out of reason.
    """
    if asked is not None:
        checked(asked)
    day = day_of(shop)
    with shop.database.reading() as connection:
        canisters = [each for each in read_parts(connection, kind="canister") if each.state not in GONE]
        catalogue = read_catalogue(connection)
        absorbent = Absorbent(catalogue, read_last_fills(connection), read_runs_of_last_fills(connection))
        sits = {fitting.part_id: fitting for fitting, _ in read_fitted(connection)}
        tags = read_unit_tags(connection)
        out = with_divers(read_promises(connection), day)
    usual = absorbent.usual_dive()
    wanted = asked or Asked(usual.minutes, usual.water_c, usual.depth_m)
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
    return FillOutlook(wanted, usual.water_c, usual.depth_m, tuple(answers), by_part, gauges, day.now)


def _not_known(answer: FillAnswer, away: str) -> FillAnswer:
    """The answer for a fill that a diver has: nothing of it counts before its return."""
    return replace(answer, answer=False, minutes=0.0, margin=-answer.needed, reason=away, all_reasons=(away,))


def checked(asked: Asked) -> None:
    """Nothing where every figure is in reason; Refused naming the field otherwise."""
    figure("minutes", asked.minutes, 1, 1440, "enter the loop minutes that are planned")
    figure_or_none("water", asked.water_c, -3, 45, "enter degrees C, or leave it out for the coldest row")
    figure_or_none("depth", asked.depth_m, 0, 350, "enter metres, or leave it out for the deepest row")
    figure_or_none("carbon dioxide", asked.co2_l_min, 0.1, 10, "enter L/min, or choose the work")


def _answer(
    absorbent: Absorbent,
    canister: PartRecord,
    fill: FillRecord | None,
    asked: Asked,
    day: Day,
    *,
    unit: str | None,
    diver: str | None,
) -> FillAnswer:
    table = absorbent.table(canister.part_type_id)
    if fill is None or table is None:
        reason = "nothing is packed in it" if fill is None else NO_TABLE
        name = None if fill is None else called(fill)
        margin = -asked.minutes
        return FillAnswer(
            canister.part_id,
            canister.label,
            unit,
            name,
            diver,
            False,
            0.0,
            asked.minutes,
            margin,
            reason,
            (reason,),
            (),
        )
    dive = PlannedDive(asked.minutes, asked.water_c, asked.depth_m, asked.co2_l_min)
    found = _remaining(absorbent, canister, fill, table, dive, day)
    return FillAnswer(
        canister.part_id,
        canister.label,
        unit,
        called(fill),
        diver,
        found.enough,
        found.minutes,
        found.needed,
        found.margin,
        found.reason,
        tuple(spent.reason for spent in found.spent) or (found.reason,),
        found.cautions,
    )


def _gauge(absorbent: Absorbent, canister: PartRecord, fill: FillRecord, usual: PlannedDive, day: Day) -> FillGauge:
    table, limits = absorbent.table(canister.part_type_id), absorbent.limits(canister.part_type_id)
    runs = [as_run(run) for run in absorbent.runs_of(fill.fill_id)]
    clocks = fill_clocks(as_fill(fill), runs, limits, day.zone)
    if table is None:
        return FillGauge(canister.part_id, 0.0, None, 0.0, NO_TABLE, clocks)
    found = _remaining(absorbent, canister, fill, table, usual, day)
    each = calc.share_a_minute(
        table, fill.grade or "", water_c=usual.water_c, depth_m=usual.depth_m, co2_l_min=usual.co2_l_min
    )
    rated = None if each is None else 1.0 / each[0]
    share = 0.0 if rated is None else min(1.0, found.minutes / rated)
    return FillGauge(canister.part_id, found.minutes, rated, share, found.reason, clocks)


def _remaining(
    absorbent: Absorbent, canister: PartRecord, fill: FillRecord, table: calc.RatingTable, dive: PlannedDive, day: Day
) -> calc.Remaining:
    runs: Iterable[calc.Run] = (as_run(run) for run in absorbent.runs_of(fill.fill_id))
    plan = as_plan(fill, dive, max(day.now, fill.packed_at).astimezone(day.zone), day.today)
    return calc.remaining(as_fill(fill), runs, table, absorbent.limits(canister.part_type_id), plan)


def called(fill: FillRecord) -> str:
    """What a fill is called, as on its label."""
    return fill.ref or f"FILL-{fill.fill_id}"
