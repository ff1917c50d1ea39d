"""Whether a booking can be kept as things stand: its units with what stands against each in, one state out.

Whom to ring about a unit that is out and must not be dived, and which answer ends it. Common practice, no published
source: a diver counts as told only once they answered themselves and agreed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from fleetbench.calc.core.languages import say, strung


class BookingKind(StrEnum):
    """What units are promised for."""

    HIRE = "hire"
    COURSE = "course"
    TRY_DAY = "try day"


class HireState(StrEnum):
    """Where a booking, or one unit of it, is."""

    TO_COME = "to come"
    WAITING = "waiting"
    OUT = "out"
    LATE = "late"
    BACK = "back"
    NOT_COLLECTED = "not collected"
    NO_SHOW = "no-show"
    CANCELLED = "cancelled"


GONE = (HireState.OUT, HireState.LATE)
"""Away with a diver now."""

BOOKING_ENDS = (HireState.CANCELLED, HireState.NO_SHOW)
"""How a booking ends before anything of it leaves."""


class Keeping(StrEnum):
    """How a booking stands."""

    FIT = "fit"
    AT_RISK = "at risk"
    NOT_KEPT = "not to be kept"


TOLD_IN_FULL = 6
"""So many unfit units are told with their reason; of more, only those on a manual hold."""


@dataclass(frozen=True, slots=True)
class FreeAndFit:
    """How many units a booking wants on its days, which are free, and why free ones may not be counted on.

    unfit: of each such unit, why, and whether by a manual hold, which is always told. work: free units that are fit
    once ordinary work on them is done.
    """

    wanted: int
    free: tuple[str, ...]
    unfit: Mapping[str, tuple[str, bool]]
    work: tuple[str, ...] = ()

    @property
    def fit(self) -> tuple[str, ...]:
        """The free units that may be counted on."""
        return tuple(unit for unit in self.free if unit not in self.unfit)

    @property
    def enough(self) -> bool:
        """Whether there are as many free and fit ones as are wanted."""
        return len(self.fit) >= self.wanted

    @property
    def words(self) -> str:
        """`8 wanted: 6 free, 4 fit; B-05: cell 3 rejected`: where too few are fit, why each other one is not.

        Every manual hold is told at any rate.
        """
        work = say(" ({count} of them once their work is done)", count=len(self.work)) if self.work else ""
        told = [
            unit for at, unit in enumerate(self.unfit) if self.unfit[unit][1] or (not self.enough and at < TOLD_IN_FULL)
        ]
        lines = [strung(": ", (unit, self.unfit[unit][0])) for unit in told]
        more = 0 if self.enough else len(self.unfit) - len(told)
        head = say(
            "{wanted} wanted: {count} free, {count_2} fit{work}",
            wanted=self.wanted,
            count=len(self.free),
            count_2=len(self.fit),
            work=work,
        )
        return strung("; ", (head, *lines, *([say("{more} more are not fit", more=more)] if more else [])))


@dataclass(frozen=True, slots=True)
class PromisedUnit:
    """One unit of a booking. why: what stands against it, empty where it is fit; curable: by bench work."""

    tag: str
    why: str = ""
    curable: bool = False


@dataclass(frozen=True, slots=True)
class PromiseJudgement:
    """The state, the last day on which it can be cured, and which unit goes in whose place.

    instead: unit, and the one to offer, empty where there is none. lacking: units that nobody can give.
    """

    state: Keeping
    until: date | None
    instead: tuple[tuple[str, str], ...]
    lacking: int


def judged_promise(
    today: date, first: date, units: Sequence[PromisedUnit], lacking: int, spare: Sequence[str]
) -> PromiseJudgement:
    """How a booking from a first day stands. spare: units that are free and fit on its days, the best first.

    Units still to be chosen take spare ones first, since nothing is to be rung for them. Work is done before the first
    day, so that from then on no bench work cures a promise. A unit that bench work can cure is at risk until the day
    before; one that it cannot cure is at risk while a spare unit may take its place, through the first day.
    """
    left = list(spare)
    short = max(0, lacking - len(left))
    del left[: lacking - short]
    against = [each for each in units if each.why]
    in_time = first > today
    by_swap = [each for each in against if not (each.curable and in_time)]
    instead = tuple((each.tag, left.pop(0) if left else "") for each in by_swap)
    if short or any(not tag for _, tag in instead):
        return PromiseJudgement(Keeping.NOT_KEPT, None, instead, short)
    if not against:
        return PromiseJudgement(Keeping.FIT, None, (), 0)
    worked = len(by_swap) < len(against)
    return PromiseJudgement(Keeping.AT_RISK, first - timedelta(days=1) if worked else max(first, today), instead, 0)


class CallAnswer(StrEnum):
    """What came of a call."""

    NOT_DIVED = "will not dive it"
    BRINGS_BACK = "will bring it back"
    DIVES_ON = "means to dive it"
    MESSAGE = "message left"
    NO_ANSWER = "no answer"
    WRONG = "number does not work"


ENDS = frozenset((CallAnswer.NOT_DIVED, CallAnswer.BRINGS_BACK))
"""Answers after which nobody need be rung again for the same reason."""


@dataclass(frozen=True, slots=True)
class CallFact:
    """A call about a unit that is out: when, what was said, what came of it, and when to ring again, None for never."""

    at: datetime
    told: str
    answer: str
    again_at: datetime | None = None


def is_told(calls: Sequence[CallFact], words: str, held_at: Iterable[datetime]) -> bool:
    """Whether the last call ended it: by an answer that ends it, with what is to be said now, after the last hold.

    words: what is to be said now. held_at: when each hold was placed that stands. Any later call that reached nobody,
    other words, or a new hold puts the person back on the list.
    """
    last = max(calls, key=_moment, default=None)
    if last is None or last.answer not in ENDS or last.told != words:
        return False
    return all(at <= last.at for at in held_at)


def _moment(call: CallFact) -> datetime:
    return call.at


def why_no_call(answer: str, again_at: datetime | None, now: datetime) -> str | None:
    """Why a call cannot be recorded so, with the remedy; None where it can: what does not end it says what is next."""
    if answer not in set(CallAnswer):
        return say(
            "answer: {answer!r} is not known; choose one of {callanswer}",
            answer=answer,
            callanswer=strung(", ", CallAnswer),
        )
    if answer in ENDS:
        return None
    if again_at is None:
        return say("ring again: '{answer}' does not end it; enter when to ring again", answer=answer)
    return say("ring again: lies in the past; enter a time to come") if again_at <= now else None
