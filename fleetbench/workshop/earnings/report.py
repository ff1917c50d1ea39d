"""What the fleet earns and costs: days promised, out, fit and lost, work and parts, by unit and by type over a span.

earnings(workplace, first, last)          the whole answer, judged day by day; it takes seconds for a season
set_own_figures(workplace, unit_type, …)  what the centre states of a unit type: price, years, a hire day
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.earnings.days import (
    CauseLine,
    CureBy,
    KeepCost,
    OwnFigures,
    Saving,
    UnitDay,
    UnitSpent,
    UseLine,
    by_cause,
    keeping,
    lines,
    savings,
)
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.calc.readiness.judge import CHECKS
from fleetbench.records.core.errors import Refused
from fleetbench.records.earnings.reads import EarningsRecords, read_earnings
from fleetbench.records.hires.lookups import stated_limit, unit_type_by_code
from fleetbench.records.parts.reads import FittingRecord, PartTypeRecord, read_part_types
from fleetbench.records.places.reads import LimitRecord, read_centre, read_limits
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.reads import UnitRecord, moment_key, read_line_use, read_run_use, read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.known import known_answers, no_cycle_search
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, figure, require_person
from fleetbench.workshop.earnings.past import Told, part_cause, past_days, span_days, unheard
from fleetbench.workshop.units.use import DEEPEST_NESTING, UseBook

LONGEST_DAYS = 1100
"""So many days are judged at once, three years."""

OWN = {"price": say("another unit, price"), "years": say("another unit, years"), "a_day": say("hire day income")}
"""The limits under which a centre states its own figures of a unit type."""

MONEY, YEARS = "currency", "years"


@dataclass(frozen=True, slots=True)
class EarningsReport:
    """The answer. last: the last day judged. keep, own: by unit, and by unit type. unit_days: each unit on each day."""

    first: date
    last: date
    asked_through: date
    currency: str
    units: tuple[UseLine, ...]
    types: tuple[UseLine, ...]
    causes: tuple[CauseLine, ...]
    savings: tuple[Saving, ...]
    keep: Mapping[str, KeepCost]
    own: Mapping[str, OwnFigures]
    unit_days: tuple[UnitDay, ...]

    @property
    def best(self) -> Saving | None:
        """The single repair or spare that would have saved the most days; None where none would.

        Bench work that is done for the next hire anyway is none: a unit waits for it because nobody asked for it.
        """
        return next((each for each in self.savings if each.cure is not CureBy.WORK), None)


def earnings(workplace: Workplace, first: date, last: date, told: Told = unheard) -> EarningsReport:
    """What units were used for, what stopped them and what they took, from one day through another, up to today.

    told: how far it is, as a share and in words. Refused for a span that ends before it begins, has not begun, or is
    over three years.
    """
    day = day_of(workplace)
    _checked(first, last, day.today)
    ends = min(last, day.today)
    with workplace.database.reading() as connection, no_cycle_search():
        known = known_answers(workplace.database, connection).setdefault(("earned", day.today), {})
        records = read_earnings(connection)
        asked = span_days(first, ends)
        wanted = [each for each in asked if each not in known or each == day.today]
        found: dict[date, list[UnitDay]] = defaultdict(list)
        for each in past_days(connection, records, day, wanted, told):
            found[each.day].append(each)
        known.update(found)
        days = tuple(each for on in asked for each in known[on])
        units = tuple(each for each in read_units(connection) if each.owner_kind != OwnerKind.RENTER)
        spent = _Spending(connection, records, day, first, ends).by_unit(units)
        leads = lead_times(read_part_types(connection).values())
        own = own_figures(read_limits(connection), units)
        centre = read_centre(connection)
    of_units, of_types = lines(days, spent)
    return EarningsReport(
        first, last=ends, asked_through=last, currency=(centre.currency if centre is not None else None) or "",
        units=of_units, types=of_types, causes=by_cause(days),
        savings=savings(days, leads), keep={each.name: keeping(each, own[each.unit_type]) for each in of_units},
        own=own, unit_days=days,
    )  # fmt: skip


def _checked(first: date, last: date, today: date) -> None:
    if last < first:
        raise Refused(
            say("last day: {last} is before {first}; give first and last day in order", last=last, first=first)
        )
    if first > today:
        raise Refused(say("first day: {first} is still to come; choose days that were", first=first))
    if (last - first).days >= LONGEST_DAYS:
        raise Refused(say("days: {first} to {last} is over three years; choose a shorter span", first=first, last=last))


def season(today: date) -> tuple[date, date]:
    """The span that is looked at first: the last 180 days."""
    return today - timedelta(days=179), today


class _Spending:
    """What each unit took from one day through another: use, minutes, parts and absorbent."""

    def __init__(self, connection: Connection, records: EarningsRecords, day: Day, first: date, last: date) -> None:
        self._records = records
        self._from, self._to = day.midnight(first), day.midnight(last + timedelta(days=1))
        key = moment_key(connection)
        self._use = UseBook(day, read_run_use(connection), read_line_use(connection), (), key=key)
        self._stays: dict[int, list[FittingRecord]] = defaultdict(list)
        for stay in records.stays:
            self._stays[stay.part_id].append(stay)

    def by_unit(self, units: Iterable[UnitRecord]) -> dict[str, UnitSpent]:
        """The sums of each unit by its tag."""
        found: dict[int | None, UnitSpent] = defaultdict(UnitSpent)
        for unit in units:
            use = self._use.of_unit(unit.unit_id, self._from, self._to)
            found[unit.unit_id] = UnitSpent(dive_minutes=use.minutes, dives=use.dives)
        for source in (self._work, self._parts, self._absorbent):
            for unit_id, amount in source():
                found[unit_id] += amount
        return {each.tag: found[each.unit_id] for each in units}

    def _within(self, at: datetime | None) -> bool:
        return at is not None and self._from <= at < self._to

    def _work(self) -> Iterable[tuple[int | None, UnitSpent]]:
        """Minutes on the day on which they were worked; what a ticket has beyond those, on the day it was signed."""
        timed: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
        for time in self._records.timed:
            timed[time.ticket_id].append((time.began_at, time.minutes or 0.0))
        for ticket in self._records.tickets:
            mine = timed[ticket.ticket_id]
            rest = max(0.0, ticket.minutes - sum(minutes for _, minutes in mine))
            settled = ticket.signed_at or ticket.opened_at
            minutes = sum(each for at, each in (*mine, (settled, rest)) if self._within(at))
            signed = self._within(ticket.signed_at)
            yield (
                ticket.unit_id,
                UnitSpent(bench_minutes=minutes, tickets=int(signed), untimed=int(signed and not ticket.minutes)),
            )

    def _parts(self) -> Iterable[tuple[int | None, UnitSpent]]:
        for part in self._records.used:
            if self._within(part.fitted_at):
                unit = part.unit_id if part.unit_id is not None else self._unit_at(part.host_part_id, part.fitted_at)
                priced = part.price is not None
                yield unit, UnitSpent(priced=int(priced), unpriced=int(not priced), money=part.price or 0.0)

    def _absorbent(self) -> Iterable[tuple[int | None, UnitSpent]]:
        for fill in self._records.packed:
            if self._within(fill.packed_at):
                unit = fill.booked_unit_id or self._unit_at(fill.part_id, fill.packed_at)
                kg = fill.mass_g / 1000.0 if fill.mass_g is not None else 0.0
                yield unit, UnitSpent(
                    absorbent_kg=kg, absorbent_money=kg * (fill.price or 0.0),
                    unweighed=int(fill.mass_g is None or fill.price is None),
                )  # fmt: skip

    def _unit_at(self, part_id: int | None, at: datetime, depth: int = DEEPEST_NESTING) -> int | None:
        """The unit that a part sat in at a moment, itself or inside another."""
        for stay in self._stays.get(part_id or 0, ()) if depth else ():
            if stay.fitted_at <= at and (stay.removed_at is None or stay.removed_at > at):
                return stay.unit_id if stay.unit_id is not None else self._unit_at(stay.host_part_id, at, depth - 1)
        return None


def lead_times(part_types: Iterable[PartTypeRecord]) -> dict[str, int | None]:
    """Lead time by cause, None where it is not recorded; of an empty slot the longest of what fits it."""
    found: dict[str, int | None] = {}
    for kind in part_types:
        for row in CHECKS:
            found[part_cause(row.check, kind.name)] = kind.lead_days
            empty = part_cause(row.check, say("no {kind} fitted", kind=say(kind.kind)))
            known = (found.get(empty, 0), kind.lead_days)
            found[empty] = None if None in known else max(each for each in known if each is not None)
    return found


def best_words(report: EarningsReport) -> str:
    """Which single repair or spare would have saved the most days, in a sentence or two."""
    best = report.best
    if best is None:
        return say("No single repair or spare would have saved a day, as far as the records go.")
    unit, on = best.times[0]
    if best.cure is CureBy.SPARE:
        more = len(best.times) - 1
        means = (
            say("One spare on the shelf against '{what}', first for {unit} on {on}, and {count} more,",
                what=best.what, unit=unit, on=on, count=more) if more else
            say("One spare on the shelf against '{what}', first for {unit} on {on},", what=best.what, unit=unit, on=on)
        )  # fmt: skip
    else:
        means = say("One repair of {unit} on {on} against '{what}'", unit=unit, on=on, what=best.what)
    days = say_count("{count} day", "{count} days", best.least)
    told = say("{means} would have saved {days}.", means=means, days=days)
    if best.most > best.least:
        told = say("{means} would have saved {days}, or up to {most} where what is not known was right.",
                   means=means, days=days, most=best.most)  # fmt: skip
    on_them = (
        say("On {wanted} of them a unit was wanted.", wanted=best.wanted)
        if best.wanted
        else say("No unit was wanted on them.")
    )
    return strung(" ", (told, on_them)) if best.least else told


def own_figures(limits: Iterable[LimitRecord], units: Iterable[UnitRecord]) -> dict[str, OwnFigures]:
    """What the centre states, by the name of each unit type."""
    stated = {(each.unit_type_id, each.name): each.amount for each in limits if each.part_type_id is None}
    return {
        unit.unit_type: OwnFigures(**{field: stated.get((unit.unit_type_id, name)) for field, name in OWN.items()})
        for unit in units
    }


def stated_figures(workplace: Workplace) -> dict[str, OwnFigures]:
    """What the centre states, by the name of each unit type."""
    with workplace.database.reading() as connection:
        return own_figures(read_limits(connection), read_units(connection))


def set_own_figures(workplace: Workplace, unit_type: str, figures: OwnFigures) -> None:
    """State what another unit of a type costs, how many years it is kept and the income of a hire day.

    None leaves a figure as it is. Refused without any, for a negative one, and for less than a year.
    """
    require_person(workplace)
    said = {
        "price": (figures.price, MONEY, 0.0, 1e6),
        "years": (figures.years, YEARS, 1.0, 50.0),
        "a_day": (figures.a_day, MONEY, 0.0, 1e5),
    }
    if all(amount is None for amount, *_ in said.values()):
        raise Refused(say("price: nothing is stated; enter at least one figure"))
    with workplace.transaction("set unit figures", unit_type) as act:
        kind = unit_type_by_code(act.session, unit_type)
        for field, (amount, unit, low, high) in said.items():
            if amount is None:
                continue
            given = figure(OWN[field], amount, low, high, say("enter {low:g} to {high:g}", low=low, high=high))
            row = stated_limit(act.session, OWN[field], kind.id)
            if row is None:
                act.add(Limit(unit_type_id=kind.id, name=OWN[field], amount=given, unit=unit, source=ITS_OWN,
                              maker=False))  # fmt: skip
            else:
                act.change(row, amount=given, source=ITS_OWN)


ITS_OWN = say("the centre's own")
