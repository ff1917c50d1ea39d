"""The life of one part as it is recorded: made, received, opened, where it sat, what was read, and what is left."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from fleetbench.calc.core.languages import say, say_ref, strung
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.parts.life import governing
from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.lookups import PartEventRecord, ProofRecord, read_part_events, read_part_readings
from fleetbench.records.parts.reads import (
    FittingRecord,
    PartRecord,
    PartTestRecord,
    read_fitted,
    read_fittings_of,
    read_once_fitted,
    read_parts,
    read_slots,
)
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.reads import HoldRecord, read_holds, read_unit_tags
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.parts.conditions import root_unit
from fleetbench.workshop.parts.list import why_words
from fleetbench.workshop.parts.lives import book_of, marked

EVENT_WORDS = {
    "received": say("received"),
    "opened": say("opened"),
    "moved": say("moved"),
    "quarantine": say("set aside"),
    "released": say("released"),
    "sent back": say("sent back"),
    "came back": say("came back"),
    "scrapped": say("scrapped"),
    "used up": say("used up"),
    "not found": say("not found when counted"),
    "found": say("found when counted"),
    "undone": say("taken back"),
}


@dataclass(frozen=True, slots=True)
class PartHappening:
    """One thing that happened. marked: only the day, month or quarter is known. result: a verdict where there is one.

    kind: `life`, `event`, `fitting`, `reading`, `test` or `hold`.
    """

    at: datetime
    kind: str
    words: str
    person: str | None = None
    result: str | None = None
    marked: bool = False


@dataclass(frozen=True, slots=True)
class Stay:
    """A part sat in a slot. until: None while it sits there."""

    where: str
    since: datetime
    until: datetime | None
    why_removed: str | None


@dataclass(frozen=True, slots=True)
class PartStory:
    """Everything in order of time, newest first. begins: the earliest day known of it.

    can: acts that its state allows, by the name of their function. unit, slot: where it sits now, None for no unit.
    """

    part_id: int
    part: str
    state: str
    today: date
    begins: date
    last_good_day: date | None
    why: str
    stays: tuple[Stay, ...]
    lines: tuple[PartHappening, ...]
    readings: tuple[ProofRecord, ...]
    can: tuple[str, ...]
    unit: str | None = None
    slot: str | None = None


def part_story(workplace: Workplace, part_id: int) -> PartStory:
    """The life of one part; NotFound for an unknown key. A fixed number of statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_parts(connection, part_id=part_id)
        if not found:
            raise NotFound(say("part {part_id}: not recorded; look it up with find", part_id=part_id))
        part, names = found[0], read_names(connection)
        own, slots, tags = (
            read_fittings_of(connection, (part_id,)), read_slots(connection), read_unit_tags(connection),
        )  # fmt: skip
        fitted = read_fitted(connection)
        lives, once = read_life_records(connection, (part_id,)), read_once_fitted(connection, (part_id,))
        events, readings = read_part_events(connection, part_id), read_part_readings(connection, part_id)
        holds = [hold for hold in read_holds(connection) if hold.part_id == part_id]
        hosts = read_parts(connection, assemblies=True)
    sits = {each.part_id: each for each, _ in fitted}
    now = sits.get(part_id)
    labels = {each.part_id: each.label for each in hosts}
    stays = tuple(_stay(each, slots[each.slot_id].name, tags, labels) for each in own)
    unit_id = root_unit(now, sits)
    at = now.fitted_at if now else None
    life = governing(book_of(lives, day, own).last_good_days(part, at, unit_id, ever_fitted=part_id in once))
    lines = [
        *_marks(part, events, day), *_events(events, names), *_moves(stays, own, names), *_readings(readings, names),
        *_tests(lives.tests, day), *_holds(holds),
    ]  # fmt: skip
    lines.sort(key=lambda line: line.at, reverse=True)
    begins = min((day.of(line.at) for line in lines), default=day.today)
    return PartStory(
        part_id, part=part.label, state=part.state, today=day.today, begins=begins, last_good_day=life.day,
        why=why_words(life), stays=stays, lines=tuple(lines),
        readings=readings, can=acts_for(part, events), unit=tags.get(unit_id) if unit_id is not None else None,
        slot=slots[now.slot_id].name if now is not None else None,
    )  # fmt: skip


def acts_for(part: PartRecord, events: tuple[PartEventRecord, ...]) -> tuple[str, ...]:
    """Which acts a part's state allows; the acts themselves look again."""
    acts: list[str] = []
    if part.opened_on is None and part.state in (PartState.STOCK, PartState.QUARANTINE, PartState.FITTED):
        acts.append("open_part")
    if part.state in (PartState.STOCK, PartState.QUARANTINE, PartState.FITTED):
        acts.append("record_test")
    if part.state == PartState.STOCK:
        acts += ["move_parts", "quarantine_part"]
    if part.state == PartState.QUARANTINE:
        acts.append("release_part")
    if part.state in (PartState.STOCK, PartState.QUARANTINE):
        acts += ["send_back", "scrap_part"]
    if part.state == PartState.SENT_BACK:
        acts.append("take_back")
    if events and part.state != PartState.FITTED and events[-1].kind not in ("received", "undone"):
        acts.append("undo_last")
    return tuple(acts)


def _stay(fitting: FittingRecord, slot: str, tags: dict[int, str], labels: dict[int, str]) -> Stay:
    host = labels.get(fitting.host_part_id or 0) or say_ref("part {ref}", fitting.host_part_id)
    where = tags.get(fitting.unit_id or 0) or host
    return Stay(strung(", ", (where, slot)), fitting.fitted_at, fitting.removed_at, fitting.why_removed)


def _marks(part: PartRecord, events: tuple[PartEventRecord, ...], day: Day) -> Iterator[PartHappening]:
    told = {event.kind for event in events}
    dated = (
        ("made", part.made_on, part.made_precision),
        ("received", part.received_on if "received" not in told else None, "day"),
        ("opened", part.opened_on if "opened" not in told else None, part.opened_precision),
    )
    for word, on, precision in dated:
        mark = marked(on, precision)
        if mark is not None:
            yield PartHappening(_noon(mark.first_day, day), "life", f"{word} {mark}", marked=True)


def _noon(on: date, day: Day) -> datetime:
    return datetime.combine(on, time(12), tzinfo=day.zone)


def _events(events: tuple[PartEventRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for event in events:
        words = EVENT_WORDS[event.kind]
        if event.place:
            where = (
                say("into {place}", place=event.place)
                if event.kind == "received"
                else say("to {place}", place=event.place)
            )
            words = strung(", ", (words, where))
        if event.reason:
            words = strung(": ", (words, event.reason))
        yield PartHappening(event.at, "event", words, names.get(event.person_id or 0))


def _moves(stays: tuple[Stay, ...], own: tuple[FittingRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for stay, fitting in zip(stays, own, strict=True):
        yield PartHappening(
            stay.since, "fitting", say("fitted: {where}", where=stay.where), names.get(fitting.fitted_by_id or 0)
        )
        if stay.until is not None:
            where = strung(", ", (stay.where, *([say(stay.why_removed)] if stay.why_removed else [])))
            by = names.get(fitting.removed_by_id or 0)
            yield PartHappening(stay.until, "fitting", say("removed: {where}", where=where), by)


def _readings(readings: tuple[ProofRecord, ...], names: dict[int, str]) -> Iterator[PartHappening]:
    for each in readings:
        said = strung(": ", (say(each.kind), *([each.words] if each.words else [])))
        yield PartHappening(
            each.at, kind="reading", words=said, person=names.get(each.person_id or 0), result=each.result
        )


def _tests(tests: tuple[PartTestRecord, ...], day: Day) -> Iterator[PartHappening]:
    for each in tests:
        result = "pass" if each.passed else "failed"
        yield PartHappening(
            _noon(each.done_on, day),
            kind="test",
            words=say("{kind} test", kind=say(each.kind)),
            person=each.done_by,
            result=result,
            marked=True,
        )


def _holds(holds: list[HoldRecord]) -> Iterator[PartHappening]:
    for each in holds:
        yield PartHappening(each.placed_at, "hold", say("hold placed: {reason}", reason=each.reason), each.placed_by)
