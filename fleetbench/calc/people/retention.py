"""When personal data may be, and ought to be, erased: decisions over plain facts."""

from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from fleetbench.calc.core.languages import say
from fleetbench.calc.people.permits import HIRERS

KINDS = (say("names and contacts"), say("words about hires"))
"""Kinds of record that can be erased; everything else is history without names and stays."""


@dataclass(frozen=True, slots=True)
class PersonFacts:
    """What bears on erasing one person: role, whether erased already, legal holds open, hires still open."""

    role: str
    erased: bool
    legal_holds: tuple[str, ...]
    open_bookings: tuple[str, ...]


def why_not_erasable(facts: PersonFacts) -> tuple[str, ...]:
    """The reasons why this person cannot be erased now, each with its remedy; empty where they can.

    A legal hold stands above erasure. Staff are not erased while they are staff: common practice, no published source.
    """
    reasons: list[str] = []
    if facts.erased:
        reasons.append(say("person: is erased already"))
    if facts.role not in HIRERS:
        reasons.append(say("person: is a {role}; only renters and students are erased here", role=say(facts.role)))
    reasons += [
        say("legal hold: '{reason}' stands above erasure; lift it first", reason=reason) for reason in facts.legal_holds
    ]
    reasons += [
        say("booking {code}: is still open; receive or cancel it first", code=code) for code in facts.open_bookings
    ]
    return tuple(reasons)


def kept_through(last: date, years: int) -> date:
    """The last day on which a record is kept: the day before the anniversary."""
    return last + relativedelta(years=years) - relativedelta(days=1)


def overdue(last: date | None, years: int | None, today: date) -> bool:
    """Whether a record's retention has ended; False where no years are set or its last day is not known."""
    return years is not None and last is not None and today > kept_through(last, years)
