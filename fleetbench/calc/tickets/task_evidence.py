"""What settles a task: the evidence that a task of its kind needs, and whether what was made since it was opened is it.

That work on life support is settled by its record and never by a tick alone: common practice, no published source.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import PASSES, WorkState
from fleetbench.calc.tickets.signing import RELEASE_TESTS, TicketTest, released

TEST_KINDS = (
    *RELEASE_TESTS, "intermediate pressure", "injector flow", "opening pressure", "bailout valve", "mouthpiece valve",
    "solenoid", "addition valve", "battery voltage", "alarms", "set-point held", say("carbon dioxide zero"),
    say("carbon dioxide span"), say("temperature stick"), say("depth sensor"), say("handset screen"), "head-up display",
    say("battery under load"), say("charge cycles"), say("solenoid flow"),
)  # fmt: skip
"""Kinds of bench test that a task may name."""

_TRIED = re.compile(r"\b(?:test|check)\b")
_LOOP = re.compile(r"\b(?:test|check) (?:the )?(?:valves and )?(?:the )?loop$")
_FITTED = re.compile(r"(?:re)?(?:fit|place|new|change|swap)\b")


@dataclass(frozen=True, slots=True)
class PartNeed:
    """So many parts of a type; fittable: whether the unit has a slot for it."""

    part_type_id: int
    name: str
    quantity: float = 1.0
    fittable: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """The evidence that a task needs; nothing where a person's word is all there can be."""

    tests: tuple[str, ...] = ()
    calibration: bool = False
    slots: tuple[str, ...] = ()
    parts: tuple[PartNeed, ...] = ()
    photograph: bool = False

    @property
    def by_record(self) -> bool:
        """Whether a test or a calibration is all that the task is, so that the record ticks it by itself."""
        return (bool(self.tests) or self.calibration) and not (self.slots or self.parts or self.photograph)

    @property
    def way(self) -> str:
        """Where the first missing evidence is made: `test`, `calibrate`, `fit`, `photograph`, or nothing."""
        ways = (("fit", self.slots or self.parts), ("test", self.tests), ("calibrate", self.calibration),
                ("photograph", self.photograph))  # fmt: skip
        return next((word for word, wanted in ways if wanted), "")


@dataclass(frozen=True, slots=True)
class CellVerdict:
    """A cell position and the verdict of the last workshop calibration of the cell in it since the work began.

    verdict None: none since then, or since the cell was fitted. fitted False: the position is empty.
    """

    position: str
    verdict: str | None
    fitted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What was made on a unit since the work began.

    opened: the later of the beginning and the last workshop opening, from which release tests count. tests: oldest
    first, of parts that still sit in the unit. fitted: slot and part type of what was fitted since and sits there
    still. used: names of materials written down.
    """

    since: datetime
    opened: datetime
    tests: tuple[TicketTest, ...] = ()
    cells: tuple[CellVerdict, ...] = ()
    fitted: tuple[tuple[str, int], ...] = ()
    used: tuple[str, ...] = ()
    photographs: int = 0


def needs_of(text: str, *, slots: Iterable[str] = (), parts: Iterable[PartNeed] = ()) -> Needs:
    """The evidence that a task needs, by its words and by the parts that the plan names for it.

    slots: names of the unit's slots, one of which a replacement may name.
    """
    words = " ".join(text.casefold().split())
    replaced = bool(_FITTED.match(words))
    named = tuple(each for each in slots if replaced and re.search(rf"\b{re.escape(each.casefold())}\b", words))
    return Needs(
        tests=_tests_named(words),
        calibration=words.startswith("calibrat"),
        slots=tuple(each for each in named if not any(each != other and each in other for other in named)),
        parts=tuple(parts),
        photograph=words.startswith("photograph"),
    )


def _tests_named(words: str) -> tuple[str, ...]:
    if _LOOP.search(words):
        return tuple(kind for kind in RELEASE_TESTS if "valves" in words or kind.startswith("loop"))
    said = words.replace("loop negative and positive", "loop negative and loop positive")
    return tuple(
        kind
        for kind in TEST_KINDS
        if said == kind or (kind in said and (kind.startswith("loop") or _TRIED.search(said)))
    )


def lacking(needs: Needs, made: Evidence) -> tuple[str, ...]:
    """Why this evidence does not settle a task that needs that, each reason with its remedy; empty where it does."""
    return (
        *(said for each in needs.slots if (said := _unfitted(each, made))),
        *(said for each in needs.parts if (said := _unused(each, made))),
        *(said for kind in needs.tests if (said := _untested(kind, made))),
        *(_uncalibrated(made.cells) if needs.calibration else ()),
        *((say("no photograph was added since; add one"),) if needs.photograph and not made.photographs else ()),
    )


def state_now(state: str, missing: Sequence[str]) -> str:
    """The state of a task or line as it stands: one that was done is to do again where its evidence is lacking."""
    return WorkState.TO_DO if state == WorkState.DONE and missing else state


def left_out_tests(needed: Iterable[str], lines: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """The lines, of (text, state), that keep a task of the plan from counting as done: a test it needs, not done."""
    wanted = set(needed)
    return tuple(text for text, state in lines if state != WorkState.DONE and wanted & set(needs_of(text).tests))


def tried(kind: str, since: datetime, tests: Iterable[TicketTest]) -> bool:
    """Whether the last tests of a kind since a moment all passed, of each part and in each direction that it has."""
    mine = tuple(each for each in tests if each.kind == kind and each.at >= since)
    if kind in RELEASE_TESTS:
        return released(kind, since, mine)
    last = {each.part_id: each.passed for each in sorted(mine, key=_moment)}
    return bool(last) and all(last.values())


def _moment(test: TicketTest) -> datetime:
    return test.at


def _untested(kind: str, made: Evidence) -> str | None:
    since = made.opened if kind in RELEASE_TESTS else made.since
    if tried(kind, since, made.tests):
        return None
    mine = [each for each in made.tests if each.kind == kind and each.at >= since]
    if any(not each.passed for each in mine):
        return say("{kind}: a test did not pass; repair it and test again", kind=say(kind))
    after = say("the loop was opened") if since > made.since else say("this was opened")
    told = {"kind": say(kind), "after": after}
    if mine:
        return say("{kind}: no passed test in each direction since {after}; test it now", **told)
    return say("{kind}: no passed test since {after}; test it now", **told)


def _uncalibrated(cells: Sequence[CellVerdict]) -> tuple[str, ...]:
    if not cells:
        return (say("cells: no calibration in limits since this was opened; calibrate them"),)
    said = []
    for each in cells:
        if not each.fitted:
            said.append(say("{position}: no cell sits there; fit one and calibrate", position=each.position))
        elif each.verdict is None:
            said.append(
                say(
                    "{position}: no calibration since this was opened or the cell was fitted; calibrate",
                    position=each.position,
                )
            )
        elif each.verdict not in PASSES:
            said.append(
                say(
                    "{position}: last calibrated to {verdict}; replace the cell or calibrate again",
                    position=each.position,
                    verdict=each.verdict,
                )
            )
    return tuple(said)


def _unfitted(slot: str, made: Evidence) -> str | None:
    if any(name == slot for name, _type in made.fitted):
        return None
    return say("{slot}: nothing was fitted there since this was opened; fit the part", slot=slot)


def _unused(need: PartNeed, made: Evidence) -> str | None:
    if need.fittable:
        count = sum(part_type == need.part_type_id for _slot, part_type in made.fitted)
        remedy = say("fit one")
    else:
        count = sum(need.name.casefold() in each.casefold() for each in made.used)
        remedy = say("write down its use under Materials")
    if count >= need.quantity:
        return None
    return say(
        "{need}: {count} of {quantity:g} used since this was opened; {remedy}",
        need=need.name,
        count=count,
        quantity=need.quantity,
        remedy=remedy,
    )
