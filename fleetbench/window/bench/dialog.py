"""One-way valves and loop tried by breath and by eye, each answer on one key; what is not done stays not done.

Where a loop leaks, noted on the bench and on the unit's page.
"""

from collections.abc import Mapping
from typing import Any

from fleetbench.calc.bench.leak_places import LEAK_METHODS, LeakPlace
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import WATCHED
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.form import REFUSED, Choices, Field, Form, Shown
from fleetbench.workshop.bench.offers import bench_plan
from fleetbench.workshop.bench.tests import RecordedTest, WatchedLoop, record_release
from fleetbench.workshop.bench.valves import LONGEST_PLACE, leak_desk, note_leak
from fleetbench.workshop.core.workplace import Workplace

HELD, HELD_KEYS = (("Held", True), ("Fell", False), ("Not done", None)), "12/"


def release_form(workplace: Workplace, tag: str, *, ticket_id: int | None = None) -> Form:
    """Asks each release test in bench order, common practice, no published source, and records those that were done."""

    def asked() -> Mapping[str, Shown]:
        plan = bench_plan(workplace, tag)
        limits = {"negative_minutes": plan.negative, "positive_minutes": plan.positive}
        told = {name: limit.minutes for name, limit in limits.items() if limit is not None}
        return {name: {"last": minutes, "known_as": say("asked for")} for name, minutes in told.items()}

    def record(inhale: bool | None, exhale: bool | None, **loop: Any) -> tuple[RecordedTest, ...]:
        negative, positive = (WatchedLoop(loop[each], loop[f"{each}_minutes"]) for each in ("negative", "positive"))
        for kind, watched in (("loop negative", negative), ("loop positive", positive)):
            if watched.held and watched.minutes is None:
                raise Refused(say("minutes of {kind}: say how long it was watched", kind=say(kind)))
        return record_release(
            workplace, tag, inhale=inhale, exhale=exhale, negative=negative, positive=positive, ticket_id=ticket_id
        )

    def question(name: str, words: str) -> Field:
        return Field(name, words, "question", choices=HELD, keys=HELD_KEYS, spoken=words)

    def watched(name: str, kind: str) -> Field:
        return Field(
            f"{name}_minutes", "Watched", "figure", unit="min", quantity=WATCHED, beside=True,
            spoken=say("minutes of {kind}", kind=kind), expects={"known_as": say("asked for")},
            aside=lambda found: found[name] is not True,
        )  # fmt: skip

    return Form(
        say("Valves and loop of {tag}", tag=tag),
        act_words="Record",
        note="A loop that held for less than the unit type asks for is to be repeated, never passed.",
        fields=(
            question("inhale", say("Inhale one-way valve, by breath")),
            question("exhale", say("Exhale one-way valve, by breath")),
            question("negative", say("Loop under suction, by eye")),
            watched("negative", say("loop negative")),
            question("positive", say("Loop under pressure, by eye")),
            watched("positive", say("loop positive")),
        ),
        act=record,
        load=asked,
        to_button=True,
    )


IN_WORDS = say("choose it, or tell a place between in words")
METHODS: Choices = [(say("choose how"), None), *((each, each) for each in LEAK_METHODS)]


def leak_form(workplace: Workplace, tag: str) -> Form:
    """Asks where the loop leaks and how that was found, under the last loop test that did not hold."""

    def load() -> Mapping[str, Shown]:
        desk = leak_desk(workplace, tag)
        places: Choices = [(IN_WORDS, None), *((each, each) for each in desk.places)]
        recent: Choices = [(say("nothing: a further leak"), None), *((say("{place}, just noted", place=place),
            key) for key, place in
                                                                  desk.newest)]  # fmt: skip
        told: dict[str, Shown] = {"slot": places, "instead_of": recent}
        return told | ({REFUSED: strung("", (tag, ": ", desk.why_not, "."))} if desk.why_not else {})

    def note(slot: str | None, place: str, method: str, instead_of: int | None) -> str:
        found = note_leak(workplace, tag, slot=slot, method=method, place=place, instead_of=instead_of)
        return leak_words(tag, found)

    return Form(
        say("Where {tag} leaks", tag=tag),
        act_words="Save leak",
        note="It is noted under the last loop test that did not hold. Repair it, then test the loop again: only a test "
        "that holds says that it is tight.",
        fields=(
            Field("slot", "Place on the drawing of the loop", "choice"),
            Field("place", "Where exactly, in words", hint="such as second groove, or between hose and canister",
                  longest=LONGEST_PLACE),
            Field("method", "Found by", "choice", choices=METHODS, wants="is missing; choose how it was found"),
            Field("instead_of", "Takes the place of", "choice"),
        ),
        act=note,
        load=load,
        first="slot",
        wide=170,
    )  # fmt: skip


def leak_words(tag: str, found: LeakPlace) -> str:
    """'C-02: head leaked twice (once again after it had been tight), ...'."""
    return strung("", (tag, ": ", found.place, " ", found.words, "."))
