"""What is done between two divers: the lines of the card, the bath, the drying, and whether a card may be finished.

The order of the bench, the times of drying and the path after a flood are common practice, no published source. A
respirator that more than one person wears is cleaned and disinfected before each different wearer: 29 CFR
1910.134(h)(1)(ii); immersion, rinsing and air-drying: 29 CFR 1910.134 Appendix B-2. The figures of the unit's and the
agent's maker stand above both.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Protocol

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import WorkState

REFERENCE = say("29 CFR 1910.134(h) and App. B-2; the maker's own agent and times stand above it")


class Step(StrEnum):
    """What one line of a turn-round asks for, in the order of the bench."""

    CYLINDERS = "cylinders"
    BATTERIES_OUT = "batteries out"
    ABSORBENT = "absorbent"
    CELLS_OUT = "cells out"
    OPENED_UP = "opened up"
    HEAD = "head"
    STRIP = "strip"
    RINSE = "rinse"
    DISINFECT = "disinfect"
    RINSE_AGAIN = "rinse again"
    DRY = "dry"
    VALVES = "valves"
    OXYGEN_CLEAN = "oxygen clean"
    ASSEMBLE = "assemble"
    TESTS = "tests"
    BATTERIES = "batteries"
    CALIBRATE = "calibrate"
    CALIBRATE_AGAIN = "calibrate again"
    SETTINGS = "settings"
    PREVIOUS_DATA = "previous data"
    SERVICE = "service"


PREVIOUS_DATA = ("cleared", "stated", "present")
"""How the last diver's data was left: gone, told on the next sheet, or neither."""

WORDS: dict[Step, str] = {
    Step.CYLINDERS: say("Cylinders closed and off, pressures noted"),
    Step.BATTERIES_OUT: say("Batteries out"),
    Step.ABSORBENT: say("Absorbent removed and discarded"),
    Step.CELLS_OUT: say("Flood: cells out, each looked at and dried"),
    Step.OPENED_UP: say("Flood: everything opened that the maker's manual names, rinsed and dried"),
    Step.HEAD: say("Head wiped, never in the bath"),
    Step.STRIP: say("Loop stripped"),
    Step.RINSE: say("Rinsed"),
    Step.DISINFECT: say("Disinfected in the bath"),
    Step.RINSE_AGAIN: say("Agent rinsed off"),
    Step.DRY: say("Hung up, and dry"),
    Step.VALVES: say("Valves looked at, dry"),
    Step.OXYGEN_CLEAN: say("Flood: oxygen side cleaned for oxygen"),
    Step.ASSEMBLE: say("Assembled again, or bagged"),
    Step.TESTS: say("One-way valves and loop tested"),
    Step.BATTERIES: say("Battery of each device read"),
    Step.CALIBRATE: say("Cells calibrated"),
    Step.CALIBRATE_AGAIN: say("Flood: cells calibrated on another day"),
    Step.SETTINGS: say("Handset settings reset"),
    Step.PREVIOUS_DATA: say("Previous diver's data cleared or stated"),
    Step.SERVICE: say("Service task"),
}

FLOOD_ONLY = frozenset((Step.CELLS_OUT, Step.OPENED_UP, Step.OXYGEN_CLEAN, Step.CALIBRATE_AGAIN))

BY_RECORD = frozenset(
    (Step.DISINFECT, Step.OXYGEN_CLEAN, Step.TESTS, Step.BATTERIES, Step.CALIBRATE, Step.CALIBRATE_AGAIN)
)
"""Steps that only their own record settles: a bath, a cleaning, a test, a reading, a calibration."""

MAY_BE_LEFT_OUT = frozenset(
    (
        Step.CYLINDERS, Step.BATTERIES_OUT, Step.ASSEMBLE, Step.BATTERIES, Step.CALIBRATE, Step.SETTINGS,
        Step.PREVIOUS_DATA,
    )
)  # fmt: skip
"""Steps that a reason may stand in place of; after a flood, calibrating is none of them."""

DRYING_HOURS = "drying hours"
"""Name of the limit that states how long a loop hangs to dry."""


class StatedHours(Protocol):
    """A limit as it is recorded."""

    @property
    def unit_type_id(self) -> int | None:
        """Of which unit type, None for the centre's own."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def amount(self) -> float:
        """Its figure."""

    @property
    def source(self) -> str:
        """Where it is stated."""


@dataclass(frozen=True, slots=True)
class DryingTime:
    """How many hours a loop hangs to dry at the least, of time and not of work, and who states them."""

    hours: float = 12.0
    source: str = say("common practice, no published source")

    def ends(self, begins: datetime) -> datetime:
        """When a loop that hangs since `begins` may be dry."""
        return begins + timedelta(hours=self.hours)

    def ends_at_most(self, begins: datetime) -> datetime:
        """When it should be dry: after twice the hours; common practice, no published source."""
        return begins + timedelta(hours=2 * self.hours)


def drying_time(limits: Iterable[StatedHours], unit_type_id: int) -> DryingTime:
    """What is in force for a unit type: its own hours, else the centre's, else the trade's twelve."""
    stated = {each.unit_type_id: each for each in limits if each.name == DRYING_HOURS}
    found = stated.get(unit_type_id) or stated.get(None)
    return DryingTime() if found is None else DryingTime(found.amount, found.source)


MOST_LOOPS = 8
"""Loops in one bath: common practice, no published source."""


def steps(*, flooded: bool, batteries: bool, handsets: bool, cells: bool, oxygen_side: bool) -> tuple[Step, ...]:
    """The steps of one card in bench order, without those for which the unit has nothing."""
    lacking = {
        Step.BATTERIES_OUT: batteries, Step.BATTERIES: batteries, Step.SETTINGS: handsets,
        Step.PREVIOUS_DATA: handsets, Step.CELLS_OUT: cells, Step.CALIBRATE: cells, Step.CALIBRATE_AGAIN: cells,
        Step.OXYGEN_CLEAN: oxygen_side, Step.SERVICE: False,
    }  # fmt: skip
    return tuple(step for step in Step if lacking.get(step, True) and (flooded or step not in FLOOD_ONLY))


@dataclass(frozen=True, slots=True)
class BathFacts:
    """One bath as it was used. agent_minutes: contact time that the agent's maker asks for, with its source.

    mixed_at, use_by: of the bath; in_at: when the loops went in. loops: how many lay in it.
    """

    agent: str
    agent_minutes: float
    source: str
    contact_minutes: float
    mixed_at: datetime
    use_by: datetime
    in_at: datetime
    loops: int


def why_no_disinfection(bath: BathFacts) -> tuple[str, ...]:
    """Why what was done is no disinfection, each reason with its remedy; empty where it is one."""
    reasons = []
    if not bath.contact_minutes >= bath.agent_minutes:
        reasons.append(
            say(
                "contact time: {contact_minutes:g} min, {agent} asks for {agent_minutes:g} min "
                "({source}); leave the loops in until then",
                contact_minutes=bath.contact_minutes,
                agent=bath.agent,
                agent_minutes=bath.agent_minutes,
                source=bath.source,
            )
        )
    if bath.in_at > bath.use_by:
        past = say("the bath was past it, {use_by:%Y-%m-%d %H:%M} UTC", use_by=bath.use_by)
        reasons.append(say("last valid time: {past}; mix a new one and begin again", past=past))
    if bath.mixed_at > bath.in_at:
        reasons.append(say("mixed at: is after the loops went in; look at the times"))
    if bath.use_by <= bath.mixed_at:
        reasons.append(say("last valid time: is not after it was mixed; look at the times"))
    if not 1 <= bath.loops <= MOST_LOOPS:
        reasons.append(
            say("loops: {loops} in one bath; put 1 to {most_loops} in it", loops=bath.loops, most_loops=MOST_LOOPS)
        )
    return tuple(reasons)


def is_dry(
    disinfected_at: datetime,
    looked_at: datetime | None,
    found_dry: bool | None,
    at: datetime,
    drying: DryingTime = DryingTime(),
) -> bool | None:
    """Whether a loop is dry at a time: as it was found since, damp while it must hang, None where nobody looked.

    looked_at, found_dry: the last look at it, None where there was none since the disinfection.
    """
    if looked_at is not None and looked_at >= disinfected_at and found_dry is not None:
        # A look that found it damp tells nothing of the day after: until then it hangs on.
        return True if found_dry else False if at < drying.ends(looked_at) else None
    return False if at < drying.ends(disinfected_at) else None


@dataclass(frozen=True, slots=True)
class LineFact:
    """One line of a card: what it is in words, its step and its state."""

    text: str
    step: Step
    state: str


def why_not_dry_yet(begins: datetime, at: datetime, drying: DryingTime) -> str | None:
    """Why a loop that hangs since `begins` is not dry by the clock, with the remedy; None where it hung long enough."""
    if at >= drying.ends(begins):
        return None
    hours = (at - begins).total_seconds() / 3600
    return say(
        "hung {hours:.1f} h, {hours_2:g} h at the least ({source}); let it hang, or write down how it got dry sooner",
        hours=hours,
        hours_2=drying.hours,
        source=drying.source,
    )


@dataclass(frozen=True, slots=True)
class CardEvidence:
    """What was made since a card was opened, for the lines that only their own record settles.

    untested: release tests that have not passed since the loop was last opened. unread: batteries not read to pass.
    uncalibrated: why the cells are not calibrated, in words. calibrated_on: days of sound calibrations.
    """

    untested: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    uncalibrated: tuple[str, ...] = ()
    calibrated_on: tuple[date, ...] = ()


def line_lacks(step: Step, made: CardEvidence) -> tuple[str, ...]:
    """Why a line of this step is not settled by what was made, each reason with its remedy; empty where it is."""
    if step is Step.TESTS and made.untested:
        return (
            say(
                "No passed test since the loop was opened: {untested}; test it now",
                untested=strung(", ", map(say, made.untested)),
            ),
        )
    if step is Step.BATTERIES:
        return tuple(
            say("{slot}: not read to pass since the card was opened; read it", slot=slot) for slot in made.unread
        )
    if step is Step.CALIBRATE:
        return made.uncalibrated
    if step is Step.CALIBRATE_AGAIN and len(set(made.calibrated_on)) < 2:
        return (say("the cells need calibrations on two different days; calibrate again on another day"),)
    return ()


def why_not_finished(
    lines: Sequence[LineFact], *, untested: Iterable[str], calibrated_on: Iterable[date], flooded: bool
) -> tuple[str, ...]:
    """Why a card cannot be finished, each reason with its remedy; empty where it can.

    untested: release tests that have not passed since the loop was last opened. calibrated_on: the days of workshop
    calibrations since the flood that left no cell in doubt; after a flood two different days are asked for.
    """
    reasons = [say("{line}: still to do", line=say(line.text)) for line in lines if line.state == WorkState.TO_DO]
    if not lines:
        reasons.append(say("card: holds no line; open it again"))
    reasons += [
        say("{kind}: no passed test since the loop was opened; test it now", kind=say(kind)) for kind in untested
    ]
    cells = any(line.step is Step.CALIBRATE for line in lines)
    if flooded and cells and len(set(calibrated_on)) < 2:
        reasons.append(say("flood: the cells need calibrations on two different days; calibrate again tomorrow"))
    return tuple(dict.fromkeys(reasons))
