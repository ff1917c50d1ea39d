"""Counted stock, kits and places: what asks for a lot and a count, what is used up, contents, and new places."""

from collections.abc import Mapping
from functools import partial

from fleetbench.calc.core.languages import say, strung
from fleetbench.records.places.tables import OWNER_KINDS, PLACE_KINDS
from fleetbench.window.forms.form import Choices, Field, Form, replacing
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.counted import KITS, count_stock, counted_stock, set_kit_content, use_up
from fleetbench.workshop.parts.shelf import add_owner, add_place, receiving_choices

OWNER_WORDS = {
    "centre": say("the centre's own"),
    "loan": say("on loan"),
    "renter": say("a renter's own, never hired out"),
}
NO_LOT = say("no lot marked")
NO_COUNT = say("is empty; give the number of pieces")


def count_form(workplace: Workplace, code: str, name: str) -> Form:
    """Corrects the pieces of a lot by what was counted on the shelf."""

    def lots() -> Mapping[str, Choices]:
        lots = counted_stock(workplace, code).lots
        return {"lot": [(strung(", ", (each.lot or NO_LOT, str(each.pieces))), each.lot or NO_LOT) for each in lots]}

    def count(lot: str, counted: int, reason: str) -> int:
        return count_stock(workplace, code, None if lot == NO_LOT else lot, counted, reason)

    return Form(
        say("Count {name}", name=name),
        act_words="Save count",
        note="Pieces without a serial are counted by lot. What is missing leaves stock as not found; what is over must "
        "be received with its marks.",
        fields=(
            Field("lot", "Lot, pieces on record", "choice", spoken="lot",
                  wants="nothing is kept by lot here; receive pieces with a lot first",
                  nothing="Every piece of it has a serial of its own: set aside or scrap what is missing."),
            Field("counted", "Counted", "whole", beside=True, wants=NO_COUNT),
            Field("reason", "Reason", hint="yearly count, box fell over, ..."),
        ),
        act=count,
        load=lots,
        first="counted",
    )  # fmt: skip


def use_up_form(workplace: Workplace, code: str, name: str) -> Form:
    """Takes pieces of a consumable from the shelf, oldest usable first."""

    def tickets() -> Mapping[str, Choices]:
        named = [(say("ticket {number}", number=number), key) for key, number in counted_stock(workplace, code).tickets]
        return {"ticket_id": [(say("for no ticket"), None), *named]}

    return Form(
        say("Use up {name}", name=name),
        act_words="Use up pieces",
        note="The oldest usable pieces without a serial leave the shelf. What sits in a slot of a unit is fitted there "
        "instead, so that its life is watched.",
        fields=(
            Field("quantity", "Pieces", "whole", spoken="quantity", wants=NO_COUNT),
            Field("ticket_id", "Ticket", "choice", choices=(("for no ticket", None),), beside=True),
            Field("reason", "Reason", hint="what it was used for"),
        ),
        act=partial(use_up, workplace, code),
        load=tickets,
    )


def kit_form(workplace: Workplace, *, place_id: int | None = None, code: str = "", least: int | None = None) -> Form:
    """Says how many parts of a type a kit must hold at least; with what was chosen in the list."""

    def choices() -> Mapping[str, Choices]:
        found = receiving_choices(workplace)
        return {
            "place_id": [(place.name, place.place_id) for place in found.places if place.kind in KITS],
            "code": [(f"{kind.name}, {kind.code}", kind.code) for kind in found.types],
        }

    return Form(
        "Least contents of a kit",
        act_words="Save contents",
        note="A kit or a van must hold so many usable pieces; zero takes the part type off its list.",
        fields=(
            Field("place_id", "Kit", "choice", default=place_id, wants="choose a kit and a part type",
                  nothing="There is no kit and no van yet: enter one under Places first."),
            Field("code", "Part type", "choice", default=code, beside=True, wants="choose a part type"),
            Field("least", "At least", "whole", spoken="least", default=least, beside=True, wants=NO_COUNT),
        ),
        act=replacing({"place_id": place_id, "code": code, "least": least}, partial(set_kit_content, workplace)),
        load=choices,
        first="least",
    )  # fmt: skip


def place_form(workplace: Workplace) -> Form:
    """Enters a place."""
    return Form(
        "New place",
        act_words="Save place",
        note="Parts lie in places; quarantine and sent back hold what may not be fitted.",
        fields=(Field("name", "Name"), Field("kind", "Kind", "choice", choices=[(kind, kind) for kind in PLACE_KINDS])),
        act=partial(add_place, workplace),
    )


def owner_form(workplace: Workplace) -> Form:
    """Enters an owner."""
    return Form(
        "New owner",
        act_words="Save owner",
        note="Write no person's name here: it stays in the records for good. 'A renter's own' will do.",
        fields=(
            Field("name", "Name"),
            Field("kind", "Kind", "choice", choices=[(OWNER_WORDS[kind], kind) for kind in OWNER_KINDS]),
        ),
        act=partial(add_owner, workplace),
    )
