"""What settles a task, and whether a ticket may be signed: decisions over plain facts.

A task is settled by the evidence that its kind needs, made since it was opened.

Whether an entry may still be corrected by one key: one decision.

That work on life support is settled by its record and never by a tick alone: common practice, no published source.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import PASSES, WorkState

RELEASE_TESTS = ("one-way valve", "loop negative", "loop positive")
"""What must have passed after the last workshop opening; common practice, no published source."""

ONE_WAY_DIRECTIONS = ("inhale", "exhale")
"""One-way valves are tested each direction on its own; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class TaskFact:
    """A task of the ticket: its text, state (`to do`, `done`, `put off`) and the reason where put off.

    second_person: whether somebody else must look at what was done. missing: the evidence that it needs and that is
    not there. service_tests: the tests that a task of the service plan needs, None for a task of no plan.
    planned_minutes: what the plan says it takes. steps_left_out: its steps that were left out, each with its reason.
    """

    text: str
    state: str
    put_off_reason: str | None = None
    second_person: bool = False
    missing: tuple[str, ...] = ()
    service_tests: tuple[str, ...] | None = None
    planned_minutes: float | None = None
    steps_left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TicketTest:
    """A bench test: kind, direction (one-way valves), moment, whether it passed (`watch` is usable), and of what."""

    __test__ = False
    kind: str
    direction: str | None
    at: datetime
    passed: bool
    part_id: int | None = None


@dataclass(frozen=True, slots=True)
class ProposedSigner:
    """Somebody who is to sign: code, whether the role may, whether active, and qualified for the unit's type today."""

    person_id: int
    code: str
    role_may: bool
    active: bool
    qualified: bool


@dataclass(frozen=True, slots=True)
class SeenFact:
    """A technician's qualification as seen: for one unit type or (None) every one, from and through its days."""

    unit_type_id: int | None
    seen_on: date
    valid_until: date | None


def qualified(seen: Iterable[SeenFact], unit_type_id: int, today: date) -> bool:
    """Whether a qualification for this unit type was seen and holds today; its last day is inclusive."""
    return any(
        each.unit_type_id in (None, unit_type_id)
        and each.seen_on <= today
        and (each.valid_until is None or today <= each.valid_until)
        for each in seen
    )


def why_not_by(signer: ProposedSigner, second: ProposedSigner | None, tasks: tuple[TaskFact, ...]) -> tuple[str, ...]:
    """The reasons why these people may not sign this ticket, each with its remedy; empty where they may.

    That a second person is another one, and qualified too, is common practice, no published source.
    """
    reasons = [*_against("signer", signer)]
    if second is None:
        return (*reasons, *(say("second person: '{task}' asks for one; let another qualified person look and sign too",
            task=task.text)
                            for task in tasks if task.second_person and task.state == WorkState.DONE))  # fmt: skip
    if second.person_id == signer.person_id:
        reasons.append(say("second person: is the signer; it must be another one"))
        return tuple(reasons)
    return (*reasons, *_against("second person", second))


def _against(who: str, fact: ProposedSigner) -> tuple[str, ...]:
    if not (fact.role_may and fact.active):
        return (
            say(
                "{who}: {code} may not sign; only an active technician or manager may sign a unit off",
                who=who,
                code=fact.code,
            ),
        )
    if not fact.qualified:
        return (
            say(
                "{who}: no technician's qualification of {code} for this unit type was seen that holds "
                "today; see it and record it under People, or let a qualified technician sign",
                who=who,
                code=fact.code,
            ),
        )
    return ()


def released(kind: str, opened: datetime, tests: tuple[TicketTest, ...]) -> bool:
    """Whether the latest tests of this kind after the opening all passed, in each direction where it has two."""
    directions: tuple[str | None, ...] = ONE_WAY_DIRECTIONS if kind == "one-way valve" else (None,)
    for direction in directions:
        wanted = {direction, "both"} if direction else {None, "both"}
        done = [test for test in tests if test.kind == kind and test.direction in wanted and test.at >= opened]
        if not done or not max(done, key=lambda test: test.at).passed:
            return False
    return True


def why_not_signable(
    *,
    signed: bool,
    tasks: tuple[TaskFact, ...],
    findings: int,
    opened: datetime | None,
    tests: tuple[TicketTest, ...],
    clocks: tuple[str, ...] = (),
    minutes: float | None = None,
) -> tuple[str, ...]:
    """The reasons why this ticket cannot be signed yet, each with its remedy; empty where it can.

    opened: the unit's last workshop opening of the loop under this ticket, or None where there was none.
    tests: all bench tests of the unit that no later record supersedes. clocks: who is still at work on it.
    minutes: time worked, where it is to be asked for.
    """
    reasons: list[str] = []
    if signed:
        reasons.append(say("ticket: signed already and closed; open a new ticket that refers to it"))
    reasons += [
        say("task '{task}': still to do; do it, or put it off with a reason", task=task.text)
        for task in tasks
        if task.state == WorkState.TO_DO
    ]
    reasons += [
        say("task '{task}': put off without a reason; give one", task=task.text)
        for task in tasks
        if task.state == WorkState.PUT_OFF and not (task.put_off_reason or "").strip()
    ]
    reasons += [
        say("task '{task}': marked as done, but {missing}", task=task.text, missing=strung("; ", task.missing))
        for task in tasks
        if task.state == WorkState.DONE and task.missing
    ]
    if minutes is not None and not minutes > 0:
        reasons += [
            f"time worked: 0 min for '{task.text}', which takes about {task.planned_minutes:g} min; "
            "enter the minutes worked"
            for task in tasks
            if task.state == WorkState.DONE and task.planned_minutes
        ][:1]
    if not tasks and not findings:
        reasons.append(say("ticket: holds no task and no finding; write down what was found or done"))
    reasons += [say("clock: {name} is still at work on it; stop the clock first", name=name) for name in clocks]
    if opened is not None:
        reasons += [
            say(
                "{kind}: no passed test since the workshop opening of {opened:%Y-%m-%d %H:%M} UTC; test it now",
                kind=say(kind),
                opened=opened,
            )
            for kind in RELEASE_TESTS
            if not released(kind, opened, tests)
        ]
    return tuple(reasons)


CORRECTED_WITHIN = timedelta(minutes=10)
"""How long an entry may be corrected by one key: common practice, no published source."""

TYPING = "typing"
"""The reason that such a correction is recorded with."""


def why_not_correctable(said_at: datetime, said_by: int | None, now: datetime, by: int | None) -> str | None:
    """Why this person may not take back what was said at that moment, in words; None where they may.

    A clock that was set back never lengthens the time.
    """
    if said_by is not None and said_by != by:
        return say("was entered by another user; write down what is right as a finding")
    if not said_at <= now <= said_at + CORRECTED_WITHIN:
        return say("was entered more than ten minutes ago; write down what is right as a finding")
    return None


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
