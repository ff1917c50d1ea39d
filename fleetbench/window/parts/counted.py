"""Kits: what each must hold at least, what it holds, and what to put into it."""

from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Any

from PySide6.QtWidgets import QWidget

from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.lists.act_bar import ActList, ListAct
from fleetbench.window.lists.list_page import Choice, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness, PlaceButton
from fleetbench.window.look.marks import ADVISE, OK, STOP, Mark
from fleetbench.window.look.theme import Theme
from fleetbench.window.look.words import NONE, counted, day, said
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.parts.stock_dialogs import KitDialog
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import Place
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.counted import KitLine, fill_kit, list_kits

EMPTY = Emptiness(
    "No kit has a list of what it must hold",
    "Set least contents of a kit or a van: a part type and a number.",
    "stock",
)
ACTS = (ListAct("Least contents", "L", "set"), ListAct("Fill it up", "F", "fill"))
COMPLETE = OK.worded("complete")


def list_page(context: PageContext) -> "KitList":
    """The list of what kits must hold."""
    return KitList(context)


class FillDialog(ActDialog):
    """Shows which pieces go into a kit, then puts them there.

    Signals:
        done_with: names of the pieces.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, line: KitLine, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Fill up {line.kit}", "They are in the kit", parent)
        self._shop, self._line = shop, line
        pieces = "; ".join(f"{piece.part} from {said(piece.place)}" for piece in line.to_put)
        short = f" {line.short} more are short: look at Orders." if line.short > 0 else ""
        self.note.setText(f"Put {counted(len(line.to_put), 'piece')} of {line.part_type} into it: {pieces}.{short}")
        self.act_button.setFocus()

    def work(self) -> Callable[[], object]:
        """Putting them there."""
        shop, line = self._shop, self._line
        return lambda: fill_kit(shop, line.place_id, line.code)


class KitList(ActList[KitLine]):
    """The list page with the acts on kits above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)
        self.places = PlaceButton("Places and owners", Place("places"), self)
        self.places.setProperty("role", "quiet")
        self.places.place_requested.connect(self.place_requested)
        self.acts.insertWidget(len(ACTS), self.places)

    def allowed(self, row: KitLine | None) -> Collection[str]:
        """Contents at any time; filling up where something is missing and a shelf holds it."""
        return ("set", "fill") if row is not None and row.to_put else ("set",)

    def dialog_for(self, name: str, row: KitLine | None) -> tuple[ActDialog, Callable[[Any], str]]:
        """The dialog of an act on a kit."""
        common = (self.theme, self.context.background, self.shop)
        if name == "fill" and row is not None:
            return FillDialog(*common, row, self.window()), lambda names: f"In {row.kit} now: {', '.join(names)}."
        dialog = KitDialog(
            *common, self.window(), place_id=row.place_id if row else None, code=row.code if row else "",
            least=row.least if row else None,
        )  # fmt: skip
        return dialog, lambda _nothing: "The kit's least contents are set."


def state_of(row: KitLine) -> Mark:
    """Whether the kit holds enough of it that may be used."""
    if not row.missing:
        return COMPLETE
    word = f"{row.missing} missing"
    return (STOP if row.short > 0 else ADVISE).worded(word)


def sum_up(rows: Sequence[KitLine]) -> str:
    """'3 kits, 2 complete'."""
    kits = {row.kit for row in rows}
    complete = kits - {row.kit for row in rows if row.missing}
    return f"{counted(len(kits), 'kit')}, {len(complete)} complete"


def describe(row: KitLine) -> Detail:
    """What the list's own row says of a kit's part type."""
    return Detail(
        row.part_type,
        f"{row.code}, in {row.kit}",
        (state_of(row),),
        (
            Section(
                "In the kit",
                (
                    Fact("At least", str(row.least)),
                    Fact("Usable there", str(row.usable), note=f"of {row.held} that lie in it"),
                    Fact(
                        "Missing", str(row.missing), note=f"{row.short} not on a shelf either" if row.short > 0 else ""
                    ),
                ),
            ),
            Table(
                "Put into it, what ends first at the head",
                ("Part, from", "Good until"),
                tuple(
                    Line(
                        (f"{piece.part}, {said(piece.place)}", day(piece.last_good_day, "no limit")),
                        leads_to=Place("parts", str(piece.part_id)),
                    )
                    for piece in row.to_put
                ),
                "Nothing to put into it." if not row.missing else "No usable piece lies on a shelf: look at Orders.",
                column=0,
            ),
        ),
    )


def _spec(context: PageContext) -> ListSpec[KitLine]:
    return ListSpec(
        "Kits",
        COLUMNS,
        key=lambda row: f"{row.place_id} {row.code}",
        load=partial(list_kits, context.shop),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            Choice("missing", lambda row: row.missing > 0, ADVISE),
            Choice("not on a shelf", lambda row: row.short > 0, STOP),
        ),
        siblings=SIBLINGS,
    )


COLUMNS: tuple[Column[KitLine], ...] = (
    Column("kit", "Kit", lambda row: row.kit, lambda row: (row.kit, row.part_type), gives_way=True),
    Column("type", "Part type", lambda row: row.part_type, gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
    Column("least", "At least", lambda row: str(row.least), lambda row: row.least, align_right=True),
    Column("usable", "Usable", lambda row: str(row.usable), lambda row: row.usable, align_right=True),
    Column("held", "In it", lambda row: str(row.held), lambda row: row.held, align_right=True, shown=False),
    Column("put", "Put into it", lambda row: ", ".join(piece.part for piece in row.to_put) or NONE, gives_way=True),
    Column("code", "Code", lambda row: row.code, shown=False),
)
