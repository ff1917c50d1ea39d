"""Which role may do which act: a table of data and one decision over it.

Who may do what in a workshop is common practice, no published source; a centre's own rules stand above it.

How long to wait after wrong PINs: one decision.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from enum import StrEnum


class Permit(StrEnum):
    """A kind of act that roles are granted."""

    NOTE = "write down what was seen"
    DAILY = "fit a loaner cell, record a daily calibration, pack and discard a fill"
    FIT_AND_TEST = "fit and test"
    SIGN = "sign"
    RELEASE = "release"
    OVERRIDE = "override a recommendation"
    HOLD = "place a hold"
    LIFT = "lift a hold"
    LIFT_INCIDENT = "lift a hold after an incident"
    BOOK = "book and receive"
    STOCK = "manage stock"
    PERSONAL = "see personal data"
    OWN_PIN = "set one's own PIN"
    CONFIGURE = "configure"


class Role(StrEnum):
    """What a person is at the centre."""

    TECHNICIAN = "technician"
    MANAGER = "manager"
    INSTRUCTOR = "instructor"
    RENTER = "renter"
    STUDENT = "student"


HIRERS = (Role.RENTER, Role.STUDENT)
"""Who works at no bench."""


_BENCH = frozenset({Permit.NOTE, Permit.DAILY, Permit.HOLD, Permit.BOOK, Permit.OWN_PIN})

GRANTS: dict[str, frozenset[Permit]] = {
    Role.MANAGER: frozenset(Permit),
    Role.TECHNICIAN: _BENCH
    | {Permit.FIT_AND_TEST, Permit.SIGN, Permit.RELEASE, Permit.LIFT, Permit.STOCK, Permit.PERSONAL},
    Role.INSTRUCTOR: _BENCH,
    Role.RENTER: frozenset({Permit.OWN_PIN}),
    Role.STUDENT: frozenset({Permit.OWN_PIN}),
}
"""What each role is granted."""

ACTS: dict[str, Permit] = {
    # tickets
    "finding": Permit.NOTE,
    "open ticket": Permit.NOTE,
    "add task": Permit.NOTE,
    "task done": Permit.FIT_AND_TEST,
    "put off task": Permit.FIT_AND_TEST,
    "settle step": Permit.FIT_AND_TEST,
    "leave out step": Permit.FIT_AND_TEST,
    "correct step": Permit.FIT_AND_TEST,
    "add minutes": Permit.FIT_AND_TEST,
    "start work": Permit.FIT_AND_TEST,
    "stop work": Permit.FIT_AND_TEST,
    "correct finding": Permit.NOTE,
    "correct task": Permit.FIT_AND_TEST,
    "correct minutes": Permit.FIT_AND_TEST,
    "add photograph": Permit.NOTE,
    "sign ticket": Permit.SIGN,
    # bench
    "open bench session": Permit.DAILY,
    "end bench session": Permit.DAILY,
    "calibrate": Permit.DAILY,
    "correct calibration": Permit.DAILY,
    "fit part": Permit.DAILY,
    "remove part": Permit.DAILY,
    "move fitted part": Permit.DAILY,
    "undo fitting": Permit.DAILY,
    "fit other than a cell": Permit.FIT_AND_TEST,
    "bench test": Permit.FIT_AND_TEST,
    "measured bench test": Permit.FIT_AND_TEST,
    "valves by breath, loop by eye": Permit.FIT_AND_TEST,
    "note leak": Permit.FIT_AND_TEST,
    "add test equipment": Permit.CONFIGURE,
    "certify test equipment": Permit.FIT_AND_TEST,
    "connect test equipment": Permit.CONFIGURE,
    # canisters
    "pack canister": Permit.DAILY,
    "give fill": Permit.DAILY,
    "close up canister": Permit.DAILY,
    "canister flooded": Permit.DAILY,
    "discard fill": Permit.DAILY,
    "log run": Permit.DAILY,
    "correct run": Permit.DAILY,
    "open container": Permit.DAILY,
    "date container": Permit.STOCK,
    "receive absorbent": Permit.STOCK,
    # gas
    "read gauges": Permit.DAILY,
    "analyse gas": Permit.DAILY,
    "correct analysis": Permit.DAILY,
    "fill cylinders": Permit.FIT_AND_TEST,
    "correct fill": Permit.FIT_AND_TEST,
    "enter gas certificate": Permit.STOCK,
    "enter cylinder": Permit.STOCK,
    "record hydrostatic": Permit.FIT_AND_TEST,
    "record visual": Permit.FIT_AND_TEST,
    "record service": Permit.FIT_AND_TEST,
    "record oxygen clean": Permit.FIT_AND_TEST,
    "record calibration": Permit.FIT_AND_TEST,
    "set test rule": Permit.STOCK,
    "clean for oxygen": Permit.FIT_AND_TEST,
    "oxygen-clean lost": Permit.NOTE,
    "use lubricant": Permit.FIT_AND_TEST,
    "use seal kit": Permit.FIT_AND_TEST,
    "read batteries": Permit.DAILY,
    # stock
    "stock-take": Permit.STOCK,
    "use up": Permit.STOCK,
    "receive parts": Permit.STOCK,
    "open part": Permit.STOCK,
    "move parts": Permit.STOCK,
    "set part aside": Permit.STOCK,
    "release part": Permit.STOCK,
    "send part back": Permit.STOCK,
    "take part back": Permit.STOCK,
    "scrap part": Permit.STOCK,
    "undo": Permit.STOCK,
    "set kit contents": Permit.STOCK,
    "add place": Permit.STOCK,
    "add owner": Permit.STOCK,
    # hire desk
    "book": Permit.BOOK,
    "sell": Permit.BOOK,
    "undo sale": Permit.BOOK,
    "move booking": Permit.BOOK,
    "put unit on booking": Permit.BOOK,
    "take off waiting list": Permit.BOOK,
    "edit booking": Permit.BOOK,
    "take unit off booking": Permit.BOOK,
    "cancel booking": Permit.BOOK,
    "restore booking": Permit.BOOK,
    "accept plan": Permit.BOOK,
    "undo plan": Permit.BOOK,
    "set bench hours": Permit.CONFIGURE,
    "set unit figures": Permit.CONFIGURE,
    "receive": Permit.BOOK,
    "hand back": Permit.BOOK,
    "note call": Permit.BOOK,
    "hand over": Permit.RELEASE,
    "swap unit": Permit.RELEASE,
    "sign sheet": Permit.BOOK,
    "set page terms": Permit.BOOK,
    "set accessories": Permit.CONFIGURE,
    # turn-rounds
    "open turn-round": Permit.BOOK,
    "flood found": Permit.NOTE,
    "turn-round line": Permit.DAILY,
    "correct turn-round line": Permit.DAILY,
    "leave out turn-round line": Permit.FIT_AND_TEST,
    "turn-round finding": Permit.NOTE,
    "finish turn-round": Permit.RELEASE,
    "disinfect loops": Permit.DAILY,
    "loop dry": Permit.DAILY,
    "load firmware": Permit.FIT_AND_TEST,
    "approve firmware": Permit.CONFIGURE,
    "enter disinfectant": Permit.CONFIGURE,
    "enter service task": Permit.CONFIGURE,
    "copy usual steps": Permit.CONFIGURE,
    # holds
    "place hold": Permit.HOLD,
    "near miss": Permit.HOLD,
    "lift hold": Permit.LIFT,
    "lift incident hold": Permit.LIFT_INCIDENT,
    # notices
    "record notice": Permit.STOCK,
    "hold for notice": Permit.HOLD,
    "notice done": Permit.FIT_AND_TEST,
    # what the centre states of itself
    "enter master data": Permit.CONFIGURE,
    "correct master data": Permit.CONFIGURE,
    "correct stock record": Permit.STOCK,
    "add unit": Permit.CONFIGURE,
    "rename unit": Permit.CONFIGURE,
    "retire unit": Permit.CONFIGURE,
    "move unit": Permit.STOCK,
    "send unit away": Permit.STOCK,
    "bring unit back": Permit.STOCK,
    # people
    "enter renter": Permit.BOOK,
    "enter staff": Permit.CONFIGURE,
    "change contact": Permit.BOOK,
    "see papers": Permit.BOOK,
    "see staff papers": Permit.CONFIGURE,
    "end service": Permit.CONFIGURE,
    "set first PIN": Permit.CONFIGURE,  # the manager who is present; its owner enters it
    "set first manager's PIN": Permit.CONFIGURE,
    "change PIN": Permit.OWN_PIN,
    "reset PIN": Permit.CONFIGURE,
    "erase person": Permit.CONFIGURE,
    "place legal hold": Permit.CONFIGURE,
    "lift legal hold": Permit.CONFIGURE,
    "set retention": Permit.CONFIGURE,
    # what a whole folder of sheets brings, and what the program does by itself once its tables were upgraded
    "import": Permit.CONFIGURE,
    "calculate again": Permit.CONFIGURE,
    "correct clock": Permit.CONFIGURE,
}
"""Every act of the program by name and what it needs; a name that is not here is granted to nobody."""

INSTRUCTORS_FIT = frozenset({"cell"})
"""Kinds of slot that may be filled under `fit part` alone; any other needs `fit other than a cell`."""


def act_word(act: str) -> str:
    """The act's name without what follows a colon, as in `bench test: loop negative`."""
    return act.split(":", 1)[0]


def may(role: str, act: str) -> bool:
    """Whether somebody of this role may do the act; False for a role or an act that is not in the tables."""
    needed = ACTS.get(act_word(act))
    return needed is not None and needed in GRANTS.get(role, frozenset())


def granted(role: str, permit: Permit) -> bool:
    """Whether the role has this grant."""
    return permit in GRANTS.get(role, frozenset())


def who_may(act: str) -> tuple[str, ...]:
    """The roles that may do the act, for the line that refuses it; empty for an act not in the table."""
    return tuple(role for role in GRANTS if may(role, act))


FREE_TRIES = 3
"""Wrong entries before the first wait; common practice, no published source."""

FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(hours=1)
"""Waits grow from 30 seconds up to an hour: NIST SP 800-63B (2017) section 5.2.2, from memory."""

MOST_TRIES = 100
"""Consecutive wrong entries after which the PIN is closed: NIST SP 800-63B (2017) section 5.2.2, from memory."""


DESK_TRIES = 10
"""Wrong entries for any persons after which everybody waits; common practice, no published source."""

DESK_MEMORY = timedelta(days=1)
"""How long a person's wrong entries count for everybody; common practice, no published source."""


def desk_wait(wrong: Iterable[tuple[int, datetime | None]], now: datetime) -> timedelta:
    """What is left of the wait of everybody, so that PINs cannot be tried through person by person.

    wrong: per person the wrong entries in a row and the last of them. No person counts for more than the entries that
    are free, so that one closed PIN keeps nobody else out. A clock that was set back never shortens the wait.
    """
    recent = [(min(tries, FREE_TRIES), last) for tries, last in wrong if last is not None and now - last < DESK_MEMORY]
    over = sum(tries for tries, _ in recent) - DESK_TRIES
    if over < 0:
        return timedelta(0)
    counted = FREE_TRIES + min(over, MOST_TRIES - FREE_TRIES - 1)
    return still_to_wait(counted, max(last for _, last in recent), now) or timedelta(0)


def wait_after(tries: int) -> timedelta | None:
    """How long to wait after this many wrong entries in a row; None where the PIN is closed for good."""
    if tries >= MOST_TRIES:
        return None
    if tries < FREE_TRIES:
        return timedelta(0)
    doublings = min(tries - FREE_TRIES, 10)
    return min(LONGEST_WAIT, timedelta(seconds=FIRST_WAIT.total_seconds() * 2.0**doublings))


def still_to_wait(tries: int, last_wrong: datetime | None, now: datetime) -> timedelta | None:
    """What is left of the wait, nought where there is none; None where the PIN is closed for good.

    A clock that was set back never shortens the wait.
    """
    wait = wait_after(tries)
    if wait is None or last_wrong is None:
        return wait
    return max(timedelta(0), min(wait, last_wrong + wait - now) if now >= last_wrong else wait)
