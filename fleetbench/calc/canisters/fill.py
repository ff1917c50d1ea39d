"""What is left of a canister's fill: rated table, runs and limits in; used share and minutes left out.

Rated minutes are the canister type's own, as its manual states them. Between rows the worse row counts and nothing is
interpolated; beyond the table there is no rating and the fill is spent; light work never lengthens a rating. The
clock counts loop minutes (pre-breathe, surface and waiting); 10 minutes a dive are added where only dive time is
known. A fill serves one diver and one hire. Common practice, no published source, unless said otherwise.
A pre-breathe is never evidence that absorbent works.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from fleetbench.calc.canisters.packing import co2_capacity_l, shown_to_hold
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.measures import CELSIUS, GRAM, METRE
from fleetbench.calc.core.plausible import require_between

ADDED_MINUTES_A_DIVE = 10.0


class AbsorbentRule(StrEnum):
    """The rule that decides how much of a fill is left."""

    RATING = "rated minutes"
    NO_RATING = "beyond the rated table"
    GRADE = "absorbent grade"
    DIVER = "one diver and one hire a fill"
    FIRST_USE = "hours since first use"
    OPENED = "hours since the container was opened"
    LOT_DATE = "lot date"
    MASS = "packed mass"
    WETTED = "wetted"
    DISCARDED = "discarded"
    CEILING = "more carbon dioxide than the mass can bind"
    RECORD = "record unclear"


@dataclass(frozen=True, slots=True)
class RatedMinutes:
    """One row of a canister type's table: minutes at a water temperature, depth and carbon dioxide rate.

    co2_l_min: the rate at which the minutes were rated, L/min STPD. grade: the absorbent's, as the manual names it.
    """

    water_c: float
    depth_m: float
    co2_l_min: float
    minutes: float
    grade: str
    source: str

    def __post_init__(self) -> None:
        """Refuse a row out of reason, naming the field."""
        require_between("water_c", self.water_c, -3.0, 45.0)
        require_between("depth_m", self.depth_m, 0.0, 350.0)
        require_between("co2_l_min", self.co2_l_min, 0.1, 10.0)
        require_between("minutes", self.minutes, 1.0, 3000.0)
        if not self.grade.strip():
            raise ValueError(say("grade: name the absorbent grade for which the row was rated"))


@dataclass(frozen=True, slots=True)
class RatingTable:
    """The rows of one canister type; at least one, no condition twice."""

    rows: tuple[RatedMinutes, ...]

    def __post_init__(self) -> None:
        """Refuse an empty table, and two rows for one condition, since neither could be chosen."""
        if not self.rows:
            raise ValueError(say("rows: a rating table needs at least one row, taken from the canister's manual"))
        conditions = [(row.grade, row.water_c, row.depth_m, row.co2_l_min) for row in self.rows]
        if len(set(conditions)) != len(conditions):
            raise ValueError(say("rows: two rows rate the same conditions; keep the one that the manual states"))

    def of_grade(self, grade: str) -> tuple[RatedMinutes, ...]:
        """The rows rated for a grade; none where the table does not know the grade."""
        return tuple(row for row in self.rows if row.grade == grade)


@dataclass(frozen=True, slots=True)
class RunFacts:
    """One use of a fill.

    minutes: loop minutes, or dive minutes where `loop` is False (then `dives` says for how many dives).
    coldest_c, deepest_m, co2_l_min: None where not known: the coldest row, the deepest row, the rated rate.
    started_at: with its zone, the earliest it can have been where only that is known; None where nothing is.
    day_known: whether it was on the day of started_at. diver, hire: whose use it was; None where it is the fill's own.
    session: the instructor under whom it was a try session; None where it was none.
    """

    minutes: float
    loop: bool = True
    dives: int = 1
    coldest_c: float | None = None
    deepest_m: float | None = None
    co2_l_min: float | None = None
    started_at: datetime | None = None
    diver: str | None = None
    hire: str | None = None
    session: str | None = None
    day_known: bool = True

    def __post_init__(self) -> None:
        """Refuse a run out of reason, naming the field."""
        require_between("minutes", self.minutes, 0.0, 3000.0)
        if self.dives < 1 or self.dives > 100:
            raise ValueError(say("dives: {dives!r} is out of range; give 1 to 100", dives=self.dives))
        _require_conditions(self.coldest_c, self.deepest_m, self.co2_l_min)
        _require_zone("started_at", self.started_at)

    @property
    def loop_minutes(self) -> float:
        """Minutes on the loop, with 10 a dive added where only dive time is known."""
        return self.minutes if self.loop else self.minutes + ADDED_MINUTES_A_DIVE * self.dives


@dataclass(frozen=True, slots=True)
class FillFacts:
    """One packing of a canister; None is 'not known', which never passes except for a mass not weighed (a caution).

    diver, hire: whose fill it is; None while it is nobody's. wetted: flooded or wetted beyond breath.
    lot_last_good_day: last date, inclusive, on which the lot may be used. mass_u_g: expanded uncertainty (k = 2) of the
    mass, None where it is not known how well it was weighed.
    session: the instructor of the try sessions for which it was packed, None for any other hire: try sessions on one
    day under one instructor are the only case in which divers may share a fill, and only where the centre allows it.
    """

    packed_at: datetime
    grade: str
    lot_last_good_day: date | None
    container_opened: datetime | None = None
    mass_g: float | None = None
    lot: str = ""
    first_use: datetime | None = None
    diver: str | None = None
    hire: str | None = None
    wetted: bool = False
    discarded: bool = False
    session: str | None = None
    mass_u_g: float | None = None

    def __post_init__(self) -> None:
        """Refuse a fill out of reason, naming the field."""
        for name in ("packed_at", "container_opened", "first_use"):
            _require_zone(name, getattr(self, name))
        if self.mass_g is not None:
            require_between("mass_g", self.mass_g, 50.0, 20_000.0)
        if self.mass_u_g is not None:
            require_between("mass_u_g", self.mass_u_g, 0.0, 1000.0)


@dataclass(frozen=True, slots=True)
class CanisterLimits:
    """Limits of a canister type, from its manual; None where the manual sets none.

    hours_since_first_use: default 24 h; packed_unused_advise_days: default 7. Both common practice, no published
    source. hours_since_opened counts from the opening of the absorbent's container. shared_on_try_days: whether the
    centre lets the divers of one day's try sessions under one instructor share a fill, minutes summed.
    """

    min_mass_g: float | None
    hours_since_opened: float | None = None
    hours_since_first_use: float | None = 24.0
    packed_unused_advise_days: int = 7
    shared_on_try_days: bool = False
    source: str = say("common practice, no published source")

    def __post_init__(self) -> None:
        """Refuse a limit that is not above nought."""
        for name in ("min_mass_g", "hours_since_opened", "hours_since_first_use", "packed_unused_advise_days"):
            value = getattr(self, name)
            if value is not None:
                require_between(name, value, 1e-9, 1e6)


@dataclass(frozen=True, slots=True)
class PlannedUse:
    """What is asked of a fill.

    at: when the use begins, with its zone; on: the site's calendar date of the last use, for the lot's date.
    diver, hire: whose use it is; None where it is only a question, and then not checked. session: the instructor under
    whom it is a try session.
    """

    minutes: float
    at: datetime
    on: date
    loop: bool = True
    dives: int = 1
    water_c: float | None = None
    depth_m: float | None = None
    co2_l_min: float | None = None
    diver: str | None = None
    hire: str | None = None
    session: str | None = None

    def __post_init__(self) -> None:
        """Refuse a plan out of reason, naming the field."""
        _require_zone("at", self.at)
        self.as_run()

    def as_run(self) -> RunFacts:
        """The run that the plan would become."""
        return RunFacts(
            self.minutes,
            loop=self.loop,
            dives=self.dives,
            coldest_c=self.water_c,
            deepest_m=self.depth_m,
            co2_l_min=self.co2_l_min,
            started_at=self.at,
        )


@dataclass(frozen=True, slots=True)
class UsedShare:
    """How much of a fill its runs have used.

    share: 0 (fresh) to 1 and over (spent); at least 1 where a run has no rating. rated: every run has a rating.
    loop_minutes: in all, added minutes included. co2_l: carbon dioxide in all, at least, L STPD.
    notes: what was assumed.
    """

    share: float
    rated: bool
    loop_minutes: float
    co2_l: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Spent:
    """One reason why a fill may not be used for a plan."""

    rule: AbsorbentRule
    reason: str


@dataclass(frozen=True, slots=True)
class Remaining:
    """What is left of a fill for a plan.

    minutes: loop minutes left at the plan's conditions, 0 where anything spends the fill.
    needed: loop minutes that the plan asks for. rule, reason: what governs.
    spent: every reason, not only the first. cautions: what to look at, none of which lengthens anything.
    """

    minutes: float
    needed: float
    rule: AbsorbentRule
    reason: str
    used: UsedShare
    spent: tuple[Spent, ...] = ()
    cautions: tuple[str, ...] = field(default=())

    @property
    def enough(self) -> bool:
        """Whether the plan is covered."""
        return not self.spent and self.minutes >= self.needed

    @property
    def margin(self) -> float:
        """Loop minutes over (or, below nought, short of) what the plan asks for."""
        return self.minutes - self.needed


def share_a_minute(
    table: RatingTable, grade: str, *, water_c: float | None, depth_m: float | None, co2_l_min: float | None
) -> tuple[float, RatedMinutes] | None:
    """Share of a fill used by one loop minute, with the row that decides; None where there is no rating.

    Nearest colder-or-equal and deeper-or-equal row; the rate scales by max(1, rate/rated). Not known is the coldest
    row, the deepest row, the rated rate. A table that gives more minutes for worse conditions is not believed: the
    worst of every easier condition counts too, so colder, deeper or harder never gives more.
    """
    rows = table.of_grade(grade)
    if not rows:
        return None
    water = min(row.water_c for row in rows) if water_c is None else water_c
    depth = max(row.depth_m for row in rows) if depth_m is None else depth_m
    rate = max(row.co2_l_min for row in rows) if co2_l_min is None else co2_l_min
    if _nearest(rows, water, depth, rate) is None:
        return None
    # The share only changes at the rows' own conditions, so these are all the easier conditions there are.
    easier = (
        _nearest(rows, easier_water, easier_depth, easier_rate)
        for easier_water in {water, *(row.water_c for row in rows if row.water_c > water)}
        for easier_depth in {depth, *(row.depth_m for row in rows if row.depth_m < depth)}
        for easier_rate in {rate, *(row.co2_l_min for row in rows if row.co2_l_min < rate)}
    )
    return max((each for each in easier if each is not None), key=lambda each: each[0])


def used_share(runs: Iterable[RunFacts], table: RatingTable, grade: str) -> UsedShare:
    """How much of a fill these runs have used, in any order."""
    shares, minutes, carbon_dioxide = [], [], []
    notes: dict[str, None] = {}
    rated = True
    for run in runs:
        found = share_a_minute(table, grade, water_c=run.coldest_c, depth_m=run.deepest_m, co2_l_min=run.co2_l_min)
        notes.update(dict.fromkeys(_assumptions(run)))
        minutes.append(run.loop_minutes)
        rate = run.co2_l_min if run.co2_l_min is not None else (found[1].co2_l_min if found else 0.0)
        carbon_dioxide.append(run.loop_minutes * rate)
        if found is None:
            rated = False
            notes["a run has no rating in the table: the fill is spent"] = None
        else:
            shares.append(run.loop_minutes * found[0])
    share = math.fsum(shares)
    return UsedShare(
        share if rated else max(1.0, share),
        rated=rated,
        loop_minutes=math.fsum(minutes),
        co2_l=math.fsum(carbon_dioxide),
        notes=tuple(sorted(notes)),
    )


def remaining(
    fill: FillFacts, runs: Iterable[RunFacts], table: RatingTable, limits: CanisterLimits, plan: PlannedUse
) -> Remaining:
    """What is left of a fill for a plan, with the rule that governs and the reason.

    Anything unclear in the records, or a plan that begins before the fill was packed, spends the fill and says so.
    """
    listed = tuple(runs)
    used = used_share(listed, table, fill.grade)
    needed = plan.as_run().loop_minutes
    first_use, unclear = _first_use(fill, listed)
    if plan.at < fill.packed_at:
        unclear = (*unclear, Spent(AbsorbentRule.RECORD, say("the plan begins before the fill was packed")))
    spent = (*unclear, *_state_reasons(fill, limits, plan), *_sharing_reasons(fill, listed, limits, plan))
    bounds, more = _bounds(fill, used, table, limits, plan=plan, first_use=first_use)
    spent = (*spent, *more)
    cautions = _cautions(fill, listed, limits, plan, used)
    if spent:
        return Remaining(
            0.0, needed=needed, rule=spent[0].rule, reason=spent[0].reason, used=used, spent=spent, cautions=cautions
        )
    minutes, rule, reason = min(bounds, key=lambda bound: bound[0])
    return Remaining(minutes, needed=needed, rule=rule, reason=reason, used=used, spent=(), cautions=cautions)


def _nearest(
    rows: Iterable[RatedMinutes], water: float, depth: float, rate: float
) -> tuple[float, RatedMinutes] | None:
    worse = [row for row in rows if row.water_c <= water and row.depth_m >= depth]
    if not worse:
        return None
    nearest_water = max(row.water_c for row in worse)
    worse = [row for row in worse if row.water_c == nearest_water]
    nearest_depth = min(row.depth_m for row in worse)
    worse = [row for row in worse if row.depth_m == nearest_depth]
    harder = [row for row in worse if row.co2_l_min >= rate]
    chosen = min(harder, key=lambda row: row.co2_l_min) if harder else max(worse, key=lambda row: row.co2_l_min)
    return max(1.0, rate / chosen.co2_l_min) / chosen.minutes, chosen


def _assumptions(run: RunFacts) -> list[str]:
    notes = []
    if not run.loop:
        notes.append(
            say(
                "only dive time known: {added_minutes_a_dive:g} minutes a dive added",
                added_minutes_a_dive=ADDED_MINUTES_A_DIVE,
            )
        )
    if run.coldest_c is None:
        notes.append(say("coldest water not known: coldest row taken"))
    if run.deepest_m is None:
        notes.append(say("deepest point not known: deepest row taken"))
    if run.co2_l_min is None:
        notes.append(say("work not known: rated carbon dioxide rate taken"))
    return notes


def _first_use(fill: FillFacts, runs: tuple[RunFacts, ...]) -> tuple[datetime | None, tuple[Spent, ...]]:
    times = [run.started_at.astimezone(UTC) for run in runs if run.started_at is not None]
    if fill.first_use is not None:
        times.append(fill.first_use.astimezone(UTC))
    first = min(times, default=None)
    if first is not None and first < fill.packed_at:
        return first, (Spent(AbsorbentRule.RECORD, say("a use is recorded before the fill was packed")),)
    if fill.first_use is None and any(run.started_at is None for run in runs):
        return first, (Spent(AbsorbentRule.FIRST_USE, say("a run has no starting time, so first use is not known")),)
    return first, ()


def _state_reasons(fill: FillFacts, limits: CanisterLimits, plan: PlannedUse) -> list[Spent]:
    reasons = []
    if fill.discarded:
        reasons.append(Spent(AbsorbentRule.DISCARDED, say("the fill was discarded")))
    if fill.wetted:
        reasons.append(Spent(AbsorbentRule.WETTED, say("the fill was wetted")))
    if fill.lot_last_good_day is None:
        reasons.append(Spent(AbsorbentRule.LOT_DATE, say("the lot's last valid day is not known")))
    elif fill.lot_last_good_day < plan.on:
        reasons.append(
            Spent(
                AbsorbentRule.LOT_DATE,
                say("the lot's last valid day is {lot_last_good_day}", lot_last_good_day=fill.lot_last_good_day),
            )
        )
    if fill.mass_g is not None and limits.min_mass_g is not None and fill.mass_g < limits.min_mass_g:
        words = say(
            "packed with {mass_g}, under the type's least of {min_mass_g}",
            mass_g=GRAM.words(fill.mass_g),
            min_mass_g=GRAM.words(limits.min_mass_g),
        )
        reasons.append(Spent(AbsorbentRule.MASS, words))
    elif not shown_to_hold(fill.mass_g, fill.mass_u_g, limits.min_mass_g):
        packed, least = GRAM.within(fill.mass_g or 0.0, fill.mass_u_g or 0.0), GRAM.words(limits.min_mass_g or 0.0)
        words = say("packed with {packed}, which does not show the type's least of {least}", packed=packed, least=least)
        reasons.append(Spent(AbsorbentRule.MASS, words))
    return reasons


def is_shared(fill: FillFacts, limits: CanisterLimits) -> bool:
    """Whether the divers of one day's try sessions may share the fill; common practice, no published source."""
    return limits.shared_on_try_days and fill.session is not None


def _shared_reasons(fill: FillFacts, runs: tuple[RunFacts, ...], plan: PlannedUse) -> list[Spent]:
    days = {run.started_at.astimezone(plan.at.tzinfo).date() for run in runs if run.started_at is not None}
    later = {plan.at.date(), plan.on} if runs else set()
    reasons = (
        (
            any(run.session != fill.session for run in runs),
            say("a run of it was no try session under the same instructor"),
        ),
        (
            any(run.started_at is None or not run.day_known for run in runs),
            say("a run of it has no starting time, so its day is not known"),
        ),
        (
            len(days | later) > 1,
            say("its try sessions were on {days}, and it serves that day alone", days=min(days, default=plan.on)),
        ),
        (
            plan.hire is not None and plan.session != fill.session,
            say("it was packed for try sessions under one instructor, and this is none of them"),
        ),
    )
    return [Spent(AbsorbentRule.DIVER, words) for holds, words in reasons if holds][:1]


def _sharing_reasons(
    fill: FillFacts, runs: tuple[RunFacts, ...], limits: CanisterLimits, plan: PlannedUse
) -> list[Spent]:
    if is_shared(fill, limits):
        return _shared_reasons(fill, runs, plan)
    reasons = (
        (bool(runs) and fill.diver is None, say("used, but by whom is not known")),
        (any(run.diver not in (None, fill.diver) for run in runs), say("a run of it was another diver's")),
        (any(run.hire not in (None, fill.hire) for run in runs), say("a run of it was on another hire")),
        (plan.diver is not None and fill.diver not in (None, plan.diver), say("the fill is another diver's")),
        (plan.hire is not None and fill.hire not in (None, plan.hire), say("the fill belongs to another hire")),
    )
    return [Spent(AbsorbentRule.DIVER, words) for holds, words in reasons if holds][:1]


def _bounds(
    fill: FillFacts,
    used: UsedShare,
    table: RatingTable,
    limits: CanisterLimits,
    *,
    plan: PlannedUse,
    first_use: datetime | None,
) -> tuple[list[tuple[float, AbsorbentRule, str]], list[Spent]]:
    """Minutes left by each rule, and the rules by which nothing is left."""
    bounds: list[tuple[float, AbsorbentRule, str]] = []
    spent: list[Spent] = []
    for found in (
        _by_rating(fill, used, table, plan),
        _by_ceiling(fill, used, table, plan),
        _by_clock(AbsorbentRule.FIRST_USE, first_use or plan.at, limits.hours_since_first_use, plan),
        _by_clock(AbsorbentRule.OPENED, fill.container_opened, limits.hours_since_opened, plan),
    ):
        if isinstance(found, Spent):
            spent.append(found)
        elif found is not None:
            bounds.append(found)
    return bounds, spent


_Bound = tuple[float, AbsorbentRule, str] | Spent | None


def _by_rating(fill: FillFacts, used: UsedShare, table: RatingTable, plan: PlannedUse) -> _Bound:
    if not table.of_grade(fill.grade):
        return Spent(AbsorbentRule.GRADE, say("the canister's table knows no grade {grade!r}", grade=fill.grade))
    if not used.rated:
        return Spent(AbsorbentRule.NO_RATING, say("a run was beyond the canister's rated table"))
    found = share_a_minute(table, fill.grade, water_c=plan.water_c, depth_m=plan.depth_m, co2_l_min=plan.co2_l_min)
    if found is None:
        return Spent(AbsorbentRule.NO_RATING, say("the plan is colder or deeper than the canister's rated table"))
    share, row = found
    if used.share >= 1.0:
        return Spent(AbsorbentRule.RATING, say("used up: {share:.0%} of the rating", share=used.share))
    words = say(
        "{share:.0%} used; {minutes:g} min rated at {water_c}, {depth_m}, {co2_l_min:g} L/min "
        "carbon dioxide ({source})",
        share=used.share,
        minutes=row.minutes,
        water_c=CELSIUS.words(row.water_c),
        depth_m=METRE.words(row.depth_m),
        co2_l_min=row.co2_l_min,
        source=row.source,
    )
    return ((1.0 - used.share) / share, AbsorbentRule.RATING, words)


def _by_ceiling(fill: FillFacts, used: UsedShare, table: RatingTable, plan: PlannedUse) -> _Bound:
    if fill.mass_g is None:
        return None
    ceiling = co2_capacity_l(fill.mass_g)
    words = say(
        "{co2_l:.0f} L carbon dioxide of at most {ceiling:.0f} L by stoichiometry", co2_l=used.co2_l, ceiling=ceiling
    )
    if used.co2_l > ceiling:
        return Spent(AbsorbentRule.CEILING, say("{words}: an entry is wrong, look at minutes and mass", words=words))
    rates = [row.co2_l_min for row in table.of_grade(fill.grade)]
    rate = plan.co2_l_min if plan.co2_l_min is not None else max(rates, default=0.0)
    return ((ceiling - used.co2_l) / rate, AbsorbentRule.CEILING, words) if rate > 0 else None


def _by_clock(rule: AbsorbentRule, since: datetime | None, hours: float | None, plan: PlannedUse) -> _Bound:
    if hours is None:
        return None
    if since is None:
        return Spent(rule, say("{rule}: not known, and the limit is {hours:g} h", rule=say(rule), hours=hours))
    # In UTC, since adding hours to a local time passes over the hour that a change of clocks adds or takes.
    until = since.astimezone(UTC) + timedelta(hours=hours)
    minutes = (until - plan.at.astimezone(UTC)).total_seconds() / 60.0
    words = say(
        "{rule}: {hours:g} h end at {until:%Y-%m-%d %H:%M %Z}",
        rule=say(rule),
        hours=hours,
        until=until.astimezone(plan.at.tzinfo),
    )
    return (minutes, rule, words) if minutes > 0 else Spent(rule, words)


def _cautions(
    fill: FillFacts, runs: tuple[RunFacts, ...], limits: CanisterLimits, plan: PlannedUse, used: UsedShare
) -> tuple[str, ...]:
    cautions = list(used.notes)
    if fill.mass_g is None:
        cautions.append(say("not weighed"))
    elif fill.mass_u_g is None and limits.min_mass_g is not None:
        cautions.append(say("not known how well it was weighed: the scale was not named"))
    age = plan.at.astimezone(UTC) - fill.packed_at.astimezone(UTC)
    if not runs and fill.first_use is None and age > timedelta(days=limits.packed_unused_advise_days):
        cautions.append(say("packed {days} days ago and not used", days=age.days))
    if is_shared(fill, limits) and len({run.diver for run in runs}) > 1:
        cautions.append(say("shared by try sessions of one day under one instructor"))
    return tuple(cautions)


def _require_conditions(water_c: float | None, depth_m: float | None, co2_l_min: float | None) -> None:
    if water_c is not None:
        require_between("coldest_c", water_c, -3.0, 45.0)
    if depth_m is not None:
        require_between("deepest_m", depth_m, 0.0, 350.0)
    if co2_l_min is not None:
        require_between("co2_l_min", co2_l_min, 0.1, 10.0)


def _require_zone(name: str, value: datetime | None) -> None:
    if value is not None and value.tzinfo is None:
        raise ValueError(say("{name}: a time without its zone; give an aware time", name=name))
