"""The due list as iCalendar (RFC 5545): one all-day event an item, on its last good day, with a UID that stays."""

import uuid
from collections import Counter
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event

from fleetbench.paper.core.document import Target, written
from fleetbench.paper.core.shapes import DueLine, DuePageFacts
from fleetbench.paper.core.words import NOT_RECORDED, day, said
from fleetbench.paper.due.tables import plain

_NAMES = uuid.UUID("5d6f1f0e-3a57-5c0a-9f0e-6a3f3f0b7a11")


def write_due_ics(facts: DuePageFacts, target: Target, *, stamp: datetime) -> int:
    """Write the due list as iCalendar; returns its number of events.

    stamp: the moment of writing, aware; a reader takes the event with the later stamp. An item whose day is not known
    stands on the first day of the list and says so. Raises ValueError for a stamp without a zone or a doubled uid.
    """
    if stamp.tzinfo is None:
        raise ValueError("stamp: has no time zone; give an aware moment")
    doubled = [uid for uid, count in Counter(line.uid for line in facts.lines).items() if count > 1]
    if doubled:
        raise ValueError(f"uid: {doubled[0]!r} names two items; each due item needs a name of its own")
    calendar = Calendar()
    calendar.add("prodid", "-//fleetbench//due list//EN")
    calendar.add("version", "2.0")
    for line in facts.lines:
        calendar.add_component(_event(line, facts, stamp.astimezone(UTC)))
    with written(target) as out:
        out.write(calendar.to_ical())
    return len(facts.lines)


def calendar_uid(centre: str, uid: str) -> str:
    """The event's UID: a name-based UUID (RFC 9562 version 5) of centre and item, so equal at each export."""
    return str(uuid.uuid5(_NAMES, f"{centre}\n{uid}"))


def _event(line: DueLine, facts: DuePageFacts, stamp: datetime) -> Event:
    on = facts.on if line.last_good_day is None else line.last_good_day
    event = Event()
    event.add("uid", calendar_uid(facts.letterhead.centre, line.uid))
    event.add("dtstamp", stamp)
    event.add("dtstart", on)
    event.add("dtend", _next_day(on))
    event.add("summary", plain(_summary(line)))
    event.add("description", "\n".join(plain(sentence) for sentence in _description(line, facts)))
    event.add("categories", [plain(said(line.state))])
    event.add("transp", "TRANSPARENT")
    return event


def _next_day(on: date) -> date:
    return on + timedelta(days=1)


def _summary(line: DueLine) -> str:
    warning = "day not recorded: " if line.last_good_day is None else "past: " if _is_past(line) else ""
    place = " ".join(filter(None, (line.unit or "in store", line.slot)))
    return f"{warning}{place}: {line.item}"


def _is_past(line: DueLine) -> bool:
    return line.days_left is not None and line.days_left < 0


def _description(line: DueLine, facts: DuePageFacts) -> tuple[str, ...]:
    basis = said(line.basis).replace("_", " ")
    rests_on = "the cell's own calibrations" if line.basis == "forecast" else "expected use"
    return (
        f"Last good day {day(line.last_good_day)}, inclusive.",
        f"Limit that governs: {basis}{f', projected from {rests_on}' if line.projected else ''}.",
        f"Part: {line.part_type or NOT_RECORDED}, {said(line.part)}.",
        f"First booking hit: {line.first_hit or 'none'}.",
        f"From {facts.record}, {facts.letterhead.centre}. The maker's manual and local law stand above it.",
    )
