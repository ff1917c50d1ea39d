"""The rows of the time line: units, and lanes of bookings without a chosen unit; and what is said of a cell of it."""

from dataclasses import dataclass
from datetime import date

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.availability import DayCount, Strip, What, lanes
from fleetbench.window.look.words import counted, weekday
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.hires.availability import Availability, TypeDays, UnitDays

STRONGEST_LAST = (What.CALCULATED, What.TURN_ROUND, What.AWAY, What.SERVICE, What.UNFIT, What.HOLD)
"""Order in which bands are painted, so that the gravest of a day is the one that is seen."""

TO_BE_CHOSEN = say("unit to be chosen")


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One row. tag: None for a lane of bookings without a chosen unit. strips: bookings by first day.

    painted: the bands that are seen, those left out that a graver one covers wholly.
    """

    unit_type: str
    tag: str | None
    label: str
    strips: tuple[Strip, ...]
    bands: tuple[Strip, ...]
    nights: int
    unit: UnitDays | None = None
    painted: tuple[Strip, ...] = ()

    def strip_on(self, day: date) -> Strip | None:
        """The booking on a day, None where it is free; the later of two that touch."""
        return next((each for each in reversed(self.strips) if each.first <= day <= each.last), None)

    def bands_on(self, day: date) -> tuple[Strip, ...]:
        """What keeps the unit in on a day, the gravest first."""
        found = (each for each in self.bands if each.first <= day <= each.last)
        return tuple(sorted(found, key=lambda each: -STRONGEST_LAST.index(each.what)))


def rows_of(shown: Availability, unit_type: str | None) -> tuple[ChartRow, ...]:
    """The rows of all types or of one: of each type first what wants a unit, then its units by tag."""
    found: list[ChartRow] = []
    for kind in shown.types:
        if unit_type in (None, kind.code):
            found += _wanting(kind)
            found += [_of_unit(kind, each) for each in shown.units if each.unit_type == kind.code]
    return tuple(found)


def _of_unit(kind: TypeDays, unit: UnitDays) -> ChartRow:
    bands = _in_order(unit.bands)
    painted = tuple(
        band
        for at, band in enumerate(bands)
        if not any(graver.first <= band.first and band.last <= graver.last for graver in bands[at + 1 :])
    )
    return ChartRow(
        kind.code,
        tag=unit.tag,
        label=unit.tag,
        strips=unit.promises,
        bands=bands,
        nights=kind.nights,
        unit=unit,
        painted=painted,
    )


def _wanting(kind: TypeDays) -> list[ChartRow]:
    places = lanes(kind.wanting)
    rows = []
    for lane in range(max(places, default=-1) + 1):
        strips = sorted((each for each, at in zip(kind.wanting, places, strict=True) if at == lane),
                        key=lambda each: each.first)  # fmt: skip
        rows.append(
            ChartRow(
                kind.code,
                tag=None,
                label=TO_BE_CHOSEN if lane == 0 else "",
                strips=tuple(strips),
                bands=(),
                nights=kind.nights,
            )
        )
    return rows


def _in_order(bands: tuple[Strip, ...]) -> tuple[Strip, ...]:
    return tuple(sorted(bands, key=lambda each: STRONGEST_LAST.index(each.what)))


def words_of_cell(row: ChartRow, day: date, today: date) -> tuple[str, ...]:
    """What is known of a row on a day, a sentence each, the gravest first."""
    strip = row.strip_on(day)
    words = [strung("", (each.why, _until(each))) for each in row.bands_on(day)]
    if strip is not None:
        words.insert(0, strip.why)
    renew = row.unit.renew if row.unit is not None else None
    if renew is not None and day >= renew.day and day >= today:
        words.append(say("bench work by then: {check}, {evidence}", check=renew.check, evidence=renew.evidence))
    if row.tag is not None and strip is None and not any(each.stops for each in row.bands_on(day)):
        words.insert(0, _free(row) if day >= today else say("was free"))
    return tuple(words) or (say("nothing to choose on this day"),)


def _free(row: ChartRow) -> str:
    return say("free") if row.unit is None else say("free, fit as {way}", way=say(row.unit.way.value))


def _until(band: Strip) -> str:
    if band.what is What.CALCULATED:
        return ""
    if band.last == date.max:
        return say(", until it is settled")
    return "" if band.first == band.last else say(", through {last}", last=band.last)


def words_of_count(kind: TypeDays, count: DayCount, day: date) -> str:
    """'4 units of TYPE-B promised, 3 fit, 1 short on 2026-05-04'."""
    waits = say(", {waiting} more on the waiting list", waiting=count.waiting) if count.waiting else ""
    short = say(", {short} short", short=count.short) if count.short else ""
    if count.fit is None:
        return say("{kind}, {day}: {promised} promised, fit ones being calculated{waits}", kind=kind.name,
                   day=weekday(day), promised=counted(count.promised, "unit"), waits=waits)  # fmt: skip
    return say(
        "{kind}, {day}: {promised} promised, {fit} of {units} fit{short}{waits}",
        kind=kind.name,
        day=weekday(day),
        promised=counted(count.promised, "unit"),
        fit=count.fit,
        units=count.units,
        short=short,
        waits=waits,
    )


def place_of(strip: Strip | None, tag: str | None) -> tuple[str, PageKey] | None:
    """What the way to the record is called, and the place; the unit where there is no strip."""
    if strip is None:
        return (say("Unit {tag}", tag=tag), PageKey("units", tag)) if tag is not None else None
    kind, key = strip.record
    pages = {"booking": (say("Booking"), "hires"), "ticket": (say("Ticket"), "tickets"), "part": (say("Part"), "parts")}
    if kind in pages:
        word, page = pages[kind]
        return (word if kind == "part" else strung(" ", (word, key))), PageKey(page, key)
    return say("Unit {key}", key=key), PageKey("units", key)
