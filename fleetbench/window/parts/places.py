"""Places and owners: where things lie and whose they are, with how much is there."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.parts.kinds import KITS, PlaceKind
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.act_bar import ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.words import counted
from fleetbench.window.parts.dialogs import OWNER_WORDS, owner_form, place_form
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.parts.stock import PlaceRow, list_places

EMPTY = nothing_recorded(
    "No place and no owner is recorded yet", "stock", "Shelves, kits and whose things are.", "place", "New place"
)
ACTS = (
    ActSpec("place", "New place", "N", "add", "add place", at_any_time, lambda bar, _row: place_form(bar.workplace),
            "The place is entered."),
    ActSpec("owner", "New owner", "Shift+N", "add an owner", "add owner", at_any_time,
            lambda bar, _row: owner_form(bar.workplace), "The owner is entered."),
)  # fmt: skip
PLACE_WORDS: dict[str, str] = {
    PlaceKind.QUARANTINE: say("for what is set aside"),
    PlaceKind.SENT_BACK: say("for what went back to its supplier"),
    PlaceKind.AWAY: say("for what is away for service"),
}


def list_page(context: PageContext) -> "PlaceList":
    """The list of places and owners."""
    return PlaceList(context)


class PlaceList(ActList[PlaceRow]):
    """The list page with what enters a place or an owner above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)


def kind_words(row: PlaceRow) -> str:
    """'shelf', or 'owner: on loan'."""
    return say("owner: {owner_words}", owner_words=OWNER_WORDS[row.kind]) if row.what == "owner" else say(row.kind)


def sum_up(rows: Sequence[PlaceRow]) -> str:
    """'13 places, 3 owners'."""
    places = sum(row.what == "place" for row in rows)
    return strung(", ", (counted(places, "place"), counted(len(rows) - places, "owner")))


def describe(row: PlaceRow) -> Detail:
    """What the list's own row says of a place or an owner."""
    where = say("There now") if row.what == "place" else say("Theirs now")
    said = PLACE_WORDS.get(row.kind, "") if row.what == "place" else ""
    return Detail(
        row.name,
        strung(", ", filter(None, (kind_words(row), said))),
        (),
        (
            Section(
                where,
                (
                    Fact("Parts", str(row.parts), note=say("not counting what is scrapped or sits in a unit's slot"))
                    if row.what == "place"
                    else Fact("Parts", str(row.parts), note=say("not counting what is scrapped")),
                    Fact("Units", str(row.units), note=say("not counting what is retired")),
                ),
            ),
        ),
    )


def _spec(context: PageContext) -> ListSpec[PlaceRow]:
    return ListSpec(
        "Places",
        COLUMNS,
        key=lambda row: f"{row.what} {row.key}",
        load=partial(list_places, context.workplace),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            QuickFilter("places", lambda row: row.what == "place"),
            QuickFilter("kits", lambda row: row.kind in KITS),
            QuickFilter("owners", lambda row: row.what == "owner"),
        ),
        siblings=SIBLINGS,
    )


COLUMNS: tuple[Column[PlaceRow], ...] = (
    Column("name", "Name", lambda row: row.name, gives_way=True),
    Column("kind", "Kind", kind_words),
    Column("parts", "Parts", lambda row: str(row.parts), lambda row: row.parts, align_right=True),
    Column("units", "Units", lambda row: str(row.units), lambda row: row.units, align_right=True),
)
