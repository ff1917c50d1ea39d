"""Calls to divers who are out with a unit: who rang, what was told, what came of it, and what is next."""

from datetime import datetime

from fleetbench.calc.core.languages import say
from fleetbench.calc.hires.promises import why_no_call
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.reads import CallRecord, read_calls
from fleetbench.records.hires.tables import BookingUnit, HireCall, HireNote
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.workplace import Workplace, require_person, required

LONGEST_TOLD = 120


def calls_on(workplace: Workplace, booking_id: int) -> tuple[CallRecord, ...]:
    """Every call about the units of a booking, oldest first."""
    with workplace.database.reading() as connection:
        return read_calls(connection, booking_id=booking_id)


def note_call(
    workplace: Workplace, line_id: int, *, told: str, answer: str, again_at: datetime | None = None, words: str = ""
) -> str:
    """Record a call about a unit that is out; returns what stands now, in a sentence.

    told: what was to be said, in the words in which Today says it. again_at: when to ring again, needed where the
    answer does not end it. words: what was said beyond that; kept apart and erasable, as it may speak of a renter.
    """
    person, said = require_person(workplace), required("told", told)[:LONGEST_TOLD]
    with workplace.transaction("note call", f"hire line {line_id}") as act:
        line = act.get(BookingUnit, line_id, say("hire line"))
        unit = act.get(Unit, line.unit_id, "unit")
        if line.out_at is None or line.received_at is not None:
            raise Refused(
                say("unit {tag}: is not out on this booking; there is no diver to ring about it", tag=unit.tag)
            )
        if (why := why_no_call(answer, again_at, act.at)) is not None:
            raise Refused(why)
        act.add(
            HireCall(
                booking_unit_id=line.id, at=act.at, person_id=person, told=said, answer=say(answer), again_at=again_at
            )
        )
        if words.strip():
            act.add(HireNote(booking_unit_id=line.id, at=act.at, text=say("Call: {words}", words=words.strip())))
        if again_at is None:
            return say("{tag}: {answer}.", tag=unit.tag, answer=say(answer))
        return say(
            "{tag}: {answer}. Ring again {zone:%Y-%m-%d %H:%M}.",
            tag=unit.tag,
            answer=say(answer),
            zone=again_at.astimezone(workplace.zone()),
        )
