"""Kits: what each must hold at least, what it holds, and what to put into it."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.forms.form import Form
from fleetbench.window.lists.act_bar import ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness, PlaceButton
from fleetbench.window.look.marks import ADVISE, OK, STOP, Mark
from fleetbench.window.look.words import NONE, counted, day, said
from fleetbench.window.parts.dialogs import kit_form
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.counted import KitLine, fill_kit, list_kits

EMPTY = Emptiness(
    "No kit has a list of what it must hold",
    "Set least contents of a kit or a van: a part type and a number.",
    "stock",
    "set",
    "Set least contents",
)


def fill_form(workplace: Workplace, line: KitLine) -> Form:
    """Shows which pieces go into a kit, then puts them there."""
    pieces = strung(
        "; ", (say("{label} from {place}", label=piece.part.label, place=said(piece.place)) for piece in line.to_put)
    )
    short = say(" {short} more are short: look at Orders.", short=line.short) if line.short > 0 else ""
    note = say(
        "Put {count} of {part_type} into it: {pieces}.{short}",
        count=counted(len(line.to_put), "piece"),
        part_type=line.needs.part_type,
        pieces=pieces,
        short=short,
    )
    act = partial(fill_kit, workplace, line.needs.place_id, line.needs.code)
    return Form(
        say("Fill up {place}", place=line.needs.place), act_words="They are in the kit", note=note, fields=(), act=act
    )


def least_form(workplace: Workplace, row: KitLine | None) -> Form:
    """The least contents of a kit, of the chosen line where there is one."""
    if row is None:
        return kit_form(workplace)
    return kit_form(workplace, place_id=row.needs.place_id, code=row.needs.code, least=row.needs.least)


def _can_fill(row: KitLine | None) -> bool:
    return row is not None and bool(row.to_put)


ACTS = (
    ActSpec("set", "Least contents", "Shift+L", "set least contents", "set kit contents", at_any_time,
            lambda bar, row: least_form(bar.workplace, row), "The kit's least contents are set."),
    ActSpec("fill", "Fill up kit", "F", "fill", "move parts", _can_fill, lambda bar, row: fill_form(bar.workplace, row),
            lambda row, names: say("In {place} now: {names}.", place=row.needs.place, names=strung(", ", names))),
)  # fmt: skip
COMPLETE = OK.worded("complete")


def list_page(context: PageContext) -> "KitList":
    """The list of what kits must hold."""
    return KitList(context)


class KitList(ActList[KitLine]):
    """The list page with the acts on kits above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)
        self.places = PlaceButton(say("Places and owners"), PageKey("places"), self)
        self.places.setProperty("role", "quiet")
        self.places.place_requested.connect(self.place_requested)
        self.bar.line.insert_widget(len(ACTS), self.places)


def state_of(row: KitLine) -> Mark:
    """Whether the kit holds enough of it that may be used."""
    if not row.missing:
        return COMPLETE
    word = say("{missing} missing", missing=row.missing)
    return (STOP if row.short > 0 else ADVISE).worded(word)


def sum_up(rows: Sequence[KitLine]) -> str:
    """'3 kits, 2 complete'."""
    kits = {row.needs.place for row in rows}
    complete = kits - {row.needs.place for row in rows if row.missing}
    return say("{count}, {count_2} complete", count=counted(len(kits), "kit"), count_2=len(complete))


def describe(row: KitLine) -> Detail:
    """What the list's own row says of a kit's part type."""
    return Detail(
        row.needs.part_type,
        say("{code}, in {place}", code=row.needs.code, place=row.needs.place),
        (state_of(row),),
        (
            Section(
                "In the kit",
                (
                    Fact("At least", str(row.needs.least)),
                    Fact("Usable there", str(row.usable), note=say("of {held} that lie in it", held=row.needs.held)),
                    Fact(
                        "Missing",
                        str(row.missing),
                        note=say("{short} not on a shelf either", short=row.short) if row.short > 0 else "",
                    ),
                ),
            ),
            Table(
                "Put into it, what ends first at the head",
                ("Part, from", "Last valid day"),
                tuple(
                    Line(
                        (
                            strung(", ", (piece.part.label, said(piece.place))),
                            day(piece.last_good_day, say("no limit")),
                        ),
                        leads_to=PageKey("parts", str(piece.part.part_id)),
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
        key=lambda row: f"{row.needs.place_id} {row.needs.code}",
        load=partial(list_kits, context.workplace),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            QuickFilter("missing", lambda row: row.missing > 0, ADVISE),
            QuickFilter("not on a shelf", lambda row: row.short > 0, STOP),
        ),
        siblings=SIBLINGS,
    )


COLUMNS: tuple[Column[KitLine], ...] = (
    Column(
        "kit", "Kit", lambda row: row.needs.place, lambda row: (row.needs.place, row.needs.part_type), gives_way=True
    ),
    Column("type", "Part type", lambda row: row.needs.part_type, gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
    Column("least", "At least", lambda row: str(row.needs.least), lambda row: row.needs.least, align_right=True),
    Column("usable", "Usable", lambda row: str(row.usable), lambda row: row.usable, align_right=True),
    Column("held", "In it", lambda row: str(row.needs.held), lambda row: row.needs.held, align_right=True, shown=False),
    Column(
        "put",
        "Put into it",
        lambda row: strung(", ", (piece.part.label for piece in row.to_put)) or NONE,
        gives_way=True,
    ),
    Column("code", "Code", lambda row: row.needs.code, shown=False),
)
