"""The condition of one part, from its records alone: one decision, read by every page, list, dialog and paper.

A reject travels with the part: out of the head into stock, into another unit, until the same kind of measurement shows
it in limits again. Rules, common practice with no published source:

- Only what measures the same lifts a reject: a calibration that of a calibration, a bench test at the same sort of
  supply that of a bench test. A passed service lifts that of a bench test too, since the part was rebuilt; the release
  tests follow once it is fitted.
- A cell rejected as current-limited is lifted by a point above 1 bar only, at or above the pressure at which it left
  its line.
- A diver's calibration lifts nothing of the workshop's. The last one after the workshop's counts as long as it is the
  last.
- A part that came out for a fault is released on a measurement in limits since, where its kind can be measured.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.parts.life import Governing

CALIBRATION, SERVICE = "calibration", "service"
POT_ABOVE_BAR = 1.0
"""A point above this shows whether a cell is current-limited; oxygen at the surface cannot."""

IN_LIMITS = (Verdict.PASS, Verdict.WATCH)
SOON_DAYS = 14
"""An end of life this near is told; common practice, no published source."""

TEST_OF = {
    "one-way valve": "one-way valve",
    "mouthpiece valve": "mouthpiece valve",
    "bailout valve": "bailout valve",
    "addition valve": "addition valve",
    "relief valve": "opening pressure",
    "injector": "injector flow",
    "solenoid": "solenoid",
    "oxygen first stage": "intermediate pressure",
    "diluent first stage": "intermediate pressure",
    "manual addition valve": "addition valve",
    "bailout first stage": "intermediate pressure",
    "bailout second stage": "opening pressure",
    "bailout regulator": "intermediate pressure",
    "drive gas first stage": "intermediate pressure",
}
"""Which bench test speaks of which kind of slot."""

AFTER_OPENING = ("one-way valve", "mouthpiece valve", "bailout valve", "loop set")
"""Kinds of slot whose tests speak of the loop as it was closed, so that an opening asks for them again. Those of the
gas side speak of the part since it was fitted: common practice, no published source."""

OPENS_THE_LOOP = ("one-way valve", "loop set", "mouthpiece valve", "hose", "counterlung", "head")
"""Slots whose change opens the loop even where nobody wrote the opening down; common practice, no published source."""

LOOP_TESTS = ("loop negative", "loop positive")
"""What shows that a loop set holds."""

FAULTS = ("fault", "low output", "service")
"""Reasons for coming out after which a measurement must show that the part is sound."""


class Condition(StrEnum):
    """In what condition a part is, best first."""

    USABLE = "usable"
    WATCH = "watch"
    ENDS_SOON = "ends soon"
    NOT_CALIBRATED = "not calibrated"
    NOT_TESTED = "not tested"
    NOT_KNOWN = "date not known"
    UNDECIDED = "undecided"
    PAST = "past"
    SET_ASIDE = "set aside"
    ON_HOLD = "on hold"
    REJECTED = "rejected"
    SENT_BACK = "sent back"
    SCRAPPED = "scrapped"

    @property
    def gravity(self) -> int:
        """Rank from 0 (usable) up."""
        return list(Condition).index(self)


USABLE = (Condition.USABLE, Condition.WATCH, Condition.ENDS_SOON)
"""Conditions in which a part may be fitted without a question, as far as the records go."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one measurement said of a part.

    kind: what was measured. words: the finding. source: where and by whom. diver: a diver's calibration.
    limited_from_bar: pressure at which a cell left its line; verified_up_to_bar: up to which it was shown to be right.
    """

    kind: str
    at: datetime
    verdict: Verdict
    words: str
    source: str = ""
    diver: bool = False
    limited_from_bar: float | None = None
    verified_up_to_bar: float | None = None
    outcome_id: int | None = None
    test_id: int | None = None
    calibration_id: int | None = None


@dataclass(frozen=True, slots=True)
class Rejected:
    """A reject, and what lifted it; None while it stands."""

    by: Judgement
    lifted_by: Judgement | None = None


def rejects_of(judgements: Iterable[Judgement]) -> tuple[Rejected, ...]:
    """Every reject of a part in order of time, each with the measurement that lifted it."""
    found: list[Rejected] = []
    ordered = sorted(judgements, key=_moment)
    for kind in dict.fromkeys(each.kind for each in ordered if each.verdict is Verdict.REJECT):
        speak = [each for each in ordered if each.kind == kind or (each.kind == SERVICE and kind != CALIBRATION)]
        found += _of_kind(kind, [each for each in speak if not each.diver])
    divers, bench = [e for e in ordered if e.diver], [e for e in ordered if e.kind == CALIBRATION and not e.diver]
    if divers and divers[-1].verdict is Verdict.REJECT and (not bench or divers[-1].at > bench[-1].at):
        found.append(Rejected(divers[-1]))
    return tuple(sorted(found, key=lambda each: each.by.at))


def _moment(judgement: Judgement) -> datetime:
    return judgement.at


def _of_kind(kind: str, speak: list[Judgement]) -> list[Rejected]:
    open_ones: list[Judgement] = []
    found: list[Rejected] = []
    for each in speak:
        if each.kind == kind and each.verdict is Verdict.REJECT:
            open_ones.append(each)
        elif each.verdict in IN_LIMITS:
            found += [Rejected(reject, each) for reject in open_ones if _lifts(each, reject)]
            open_ones = [reject for reject in open_ones if not _lifts(each, reject)]
    return [*found, *(Rejected(each) for each in open_ones)]


def _lifts(sound: Judgement, reject: Judgement) -> bool:
    if reject.limited_from_bar is None:
        return True
    reached = sound.verified_up_to_bar
    return reached is not None and reached > POT_ABOVE_BAR and reached >= reject.limited_from_bar


def standing_reject(judgements: Iterable[Judgement], *, periodic: bool = True) -> Judgement | None:
    """The last reject that nothing lifted; periodic: those of periodic tests and services count too."""
    standing = [
        each.by
        for each in rejects_of(judgements)
        if each.lifted_by is None and (periodic or each.by.outcome_id is not None or each.by.test_id is not None)
    ]
    # Where both the workshop and a diver reject a cell, the earlier ends it.
    last = [each for of in (False, True) for each in [one for one in standing if one.diver is of][-1:]]
    return min(last, key=_moment, default=None)


@dataclass(frozen=True, slots=True)
class Aside:
    """Why a part waits set aside: the day, the words, and whether a fault was named as it came out of a slot.

    since: from when on a measurement in limits counts: the reject of the stay that ended so, else the day itself.
    """

    at: datetime
    words: str
    fault: bool = False
    since: datetime | None = None


@dataclass(frozen=True, slots=True)
class PartFacts:
    """What is recorded of one part; day: turns a moment into the site's day.

    state: `stock`, `fitted`, `quarantine`, `sent back` or `scrapped`. measured_by: what measures its kind, None for
    nothing. calibrated: whether a fitted cell was calibrated since; None for any other part. untested: what a
    fitted part has not passed since it was fitted or its loop was opened, empty for nothing. last: the verdict of the
    last measurement that stands. against: holds and stopping notices, a sentence each.
    """

    state: str
    today: date
    life: Governing
    judgements: tuple[Judgement, ...] = ()
    measured_by: str | None = None
    calibrated: bool | None = None
    last: Verdict | None = None
    aside: Aside | None = None
    against: tuple[str, ...] = ()
    untested: str = ""


@dataclass(frozen=True, slots=True)
class PartCondition:
    """The answer. against: what forbids fitting it; told: what is said where it is fitted; the gravest comes first."""

    state: Condition
    against: tuple[str, ...] = ()
    told: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether it may be fitted without a question, as far as the records go."""
        return self.state in USABLE

    @property
    def why(self) -> tuple[str, ...]:
        """What stands against it and what is told, each once."""
        return tuple(dict.fromkeys((*self.against, *self.told)))


def condition(facts: PartFacts) -> PartCondition:
    """In what condition a part is: the gravest of all that its records say."""
    found, told = (sorted(each, key=_gravity, reverse=True) for each in (_against(facts), _told(facts)))
    state = max((*found, *told), key=_gravity, default=(Condition.USABLE, ""))[0]
    return PartCondition(state, tuple(words for _, words in found), tuple(words for _, words in told))


def _gravity(said: tuple[Condition, str]) -> int:
    return said[0].gravity


def _against(facts: PartFacts) -> Iterable[tuple[Condition, str]]:
    if facts.state in (PartState.SENT_BACK, PartState.SCRAPPED):
        yield Condition(facts.state), facts.state
    if facts.state == PartState.QUARANTINE:
        yield Condition.SET_ASIDE, facts.aside.words if facts.aside is not None else say("set aside")
    for each in rejects_of(facts.judgements):
        if each.lifted_by is None:
            yield Condition.REJECTED, reject_words(each.by)
    for words in facts.against:
        yield Condition.ON_HOLD, words
    life = facts.life
    if life.first is not None and life.day is not None and life.day < facts.today and not _by_reject(facts):
        yield Condition.PAST, say("past its last valid day, {day}: {why}", day=life.day, why=life.first.why)


def _by_reject(facts: PartFacts) -> bool:
    return facts.life.first is not None and str(facts.life.first.basis) == "reject"


def _told(facts: PartFacts) -> Iterable[tuple[Condition, str]]:
    if facts.last is Verdict.REPEAT:
        yield (
            Condition.UNDECIDED,
            say("its last {value} was left undecided: repeat it", value=say(facts.measured_by or "test")),
        )
    for unknown in facts.life.unknown:
        yield Condition.NOT_KNOWN, unknown.why
    if facts.calibrated is False:
        yield Condition.NOT_CALIBRATED, say("not calibrated since it was fitted: calibrate it before it is relied on")
    if facts.untested:
        yield Condition.NOT_TESTED, say("{untested}: test it before it is relied on", untested=facts.untested)
    day = facts.life.day
    if day is not None and 0 <= (day - facts.today).days <= SOON_DAYS:
        yield Condition.ENDS_SOON, say("its last valid day is {day}", day=day)
    if facts.last is Verdict.WATCH:
        yield Condition.WATCH, say("watch: plan its replacement")
    for each in rejects_of(facts.judgements):
        if each.lifted_by is not None:
            lifted = each.lifted_by
            yield (
                Condition.USABLE,
                say(
                    "was {by}; in limits again {at:%Y-%m-%d}{lifted}",
                    by=reject_words(each.by),
                    at=lifted.at,
                    lifted=_of(lifted),
                ),
            )


def reject_words(reject: Judgement) -> str:
    """'rejected 2026-11-20 by calibration in B-07, cell 1, Zoë: current-limited at 1.59 bar'."""
    said = f": {reject.words}" if reject.words else ""
    return say(
        "rejected {at:%Y-%m-%d} by {kind}{reject}{said}", at=reject.at, kind=reject.kind, reject=_of(reject), said=said
    )


def _of(judgement: Judgement) -> str:
    return strung("", (" (", judgement.source, ")")) if judgement.source else ""


@dataclass(frozen=True, slots=True)
class Release:
    """Whether a part set aside may go back: what refuses it, what a release overrules, and the evidence it rests on."""

    refused: tuple[str, ...]
    overrules: tuple[str, ...]
    evidence: tuple[Judgement, ...]


def release(facts: PartFacts) -> Release:
    """What a release of this part rests on; holds, notices, a past or unknown day and a standing reject refuse it."""
    answer = condition(facts)
    refused = [words for words in answer.against if facts.aside is None or words != facts.aside.words]
    refused = [words for words in refused if words != "set aside"]
    history = rejects_of(facts.judgements)
    if any(each.lifted_by is None for each in history):
        refused.append(_way(facts, history))
    aside, evidence = facts.aside, tuple(each.lifted_by for each in history[-1:] if each.lifted_by is not None)
    if aside is not None and aside.fault and facts.measured_by is not None:
        since = aside.since or aside.at
        sound = [each for each in sorted(facts.judgements, key=_moment) if _shows_sound(each, facts, since)]
        evidence = tuple(dict.fromkeys((*evidence, *sound[-1:])))
        if not sound and not refused:
            refused.append(
                say(
                    "{aside}, and nothing measured since shows it in limits; {facts}",
                    aside=aside.words,
                    facts=_how(facts),
                )
            )
    overrules = [reject_words(each.by) for each in history[-1:]]
    overrules += [aside.words] if aside is not None else []
    return Release(tuple(refused), tuple(overrules), evidence)


def _shows_sound(judgement: Judgement, facts: PartFacts, since: datetime) -> bool:
    wanted = (facts.measured_by, SERVICE) if facts.measured_by != CALIBRATION else (CALIBRATION,)
    same = judgement.kind.partition(",")[0] in wanted
    return same and not judgement.diver and judgement.verdict in IN_LIMITS and judgement.at >= since


def _way(facts: PartFacts, history: Iterable[Rejected]) -> str:
    limited = [each.by.limited_from_bar for each in history if each.lifted_by is None and each.by.limited_from_bar]
    if limited:
        return say(
            "only a pressure-pot point in limits at {limited:.2f} bar or above lifts it; {facts}, or scrap it",
            limited=max(*limited, POT_ABOVE_BAR),
            facts=_how(facts),
        )
    return say("only a measurement in limits lifts it; {facts}, or scrap it", facts=_how(facts))


def _how(facts: PartFacts) -> str:
    if facts.measured_by == CALIBRATION:
        return say("fit it with 'only to test it' and calibrate it there")
    return say("test it on the bench, or record the passed service with 'Tested'")
