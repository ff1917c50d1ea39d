"""The form that notes where a loop leaks, on the bench and on the unit's page."""

from collections.abc import Mapping

from fleetbench.calc.bench.leak_places import LEAK_METHODS, LeakPlace
from fleetbench.window.forms.form import REFUSED, Choices, Field, Form, Shown
from fleetbench.workshop.bench.leaks import LONGEST_PLACE, leak_desk, note_leak
from fleetbench.workshop.core.workplace import Workplace

IN_WORDS = "choose it, or tell a place between in words"
METHODS: Choices = [("choose how", None), *((each, each) for each in LEAK_METHODS)]


def leak_form(workplace: Workplace, tag: str) -> Form:
    """Asks where the loop leaks and how that was found, under the last loop test that did not hold."""

    def load() -> Mapping[str, Shown]:
        desk = leak_desk(workplace, tag)
        places: Choices = [(IN_WORDS, None), *((each, each) for each in desk.places)]
        recent: Choices = [("nothing: a further leak", None), *((f"{place}, just noted", key) for key, place in
                                                                  desk.newest)]  # fmt: skip
        told: dict[str, Shown] = {"slot": places, "instead_of": recent}
        return told | ({REFUSED: f"{tag}: {desk.why_not}."} if desk.why_not else {})

    def note(slot: str | None, place: str, method: str, instead_of: int | None) -> str:
        found = note_leak(workplace, tag, slot=slot, method=method, place=place, instead_of=instead_of)
        return leak_words(tag, found)

    return Form(
        f"Where {tag} leaks",
        "Save leak",
        "It is noted under the last loop test that did not hold. Repair it, then test the loop again: only a test that "
        "holds says that it is tight.",
        (
            Field("slot", "Place on the drawing of the loop", "choice"),
            Field("place", "Where exactly, in words", hint="such as second groove, or between hose and canister",
                  longest=LONGEST_PLACE),
            Field("method", "Found by", "choice", choices=METHODS, wants="is missing; choose how it was found"),
            Field("instead_of", "Takes the place of", "choice"),
        ),
        note,
        load=load,
        first="slot",
        wide=170,
    )  # fmt: skip


def leak_words(tag: str, found: LeakPlace) -> str:
    """'C-02: head leaked twice (once again after it had been tight), ...'."""
    return f"{tag}: {found.place} {found.words}."
