"""The shelf: every part that sits in no slot, whether it may be fitted, and the bar of acts on it.

The bar stands over the list and on a part's page.
"""

from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtCore import QItemSelection, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.parts.kinds import PartState
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.forms.form import Form
from fleetbench.window.lists.act_bar import ActBar, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, OK, STOP, Mark, mark_for
from fleetbench.window.look.words import NONE, counted, day, figure, last_day, said, spaced
from fleetbench.window.parts.dialogs import (
    move_form,
    open_form,
    reason_form,
    receive_form,
    received_words,
    release_form,
    send_back_form,
    test_form,
)
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.places.forms import ask_correction
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.parts.acts import quarantine_part, scrap_part, take_back, undo_last
from fleetbench.workshop.parts.stock import ShelfRow, list_shelf


class ChosenParts(NamedTuple):
    """Parts by key and name, and what their state allows by the names of `PartStory.can`."""

    parts: tuple[tuple[int, str], ...]
    can: Collection[str]

    @property
    def name(self) -> str:
        """'C-12' or '3 parts'."""
        return self.parts[0][1] if len(self.parts) == 1 else counted(len(self.parts), "part")


def _one(name: str, row: ChosenParts | None) -> bool:
    return row is not None and len(row.parts) == 1 and name in row.can


def _single(row: ChosenParts | None) -> bool:
    return row is not None and len(row.parts) == 1


def _some(name: str, row: ChosenParts | None) -> bool:
    return row is not None and bool(row.parts) and name in row.can


def _asked(make: Callable[..., Any], bar: ActBar, row: ChosenParts) -> Form:
    form: Form = make(bar.workplace, *row.parts[0])
    return form


def _with_reason(title: str, words: str, note: str, act: Callable[..., object], bar: ActBar, row: ChosenParts) -> Form:
    return reason_form(say(str(title), name=row.name), words, note, partial(act, bar.workplace, row.parts[0][0]))


def _said(words: str, row: ChosenParts, _value: object) -> str:
    return say(str(words), name=row.name)


def _spec(
    name: str, words: str, key: str, act: str, form: Callable[[Any, Any], Any], said: str, *, means: str = "",
    destroys: bool = False, quiet: bool = False,
) -> ActSpec:  # fmt: skip
    return ActSpec(
        name,
        words=words,
        key=key,
        means=means,
        act=act,
        needs=partial(_one, name),
        form=form,
        said=partial(_said, said),
        destroys=destroys,
        quiet=quiet,
    )


RECEIVE = ActSpec(
    "receive", "Receive", "N", "add", "receive parts", at_any_time,
    lambda bar, _row: receive_form(bar.workplace, currency=bar.context.currency),
    lambda _row, received: received_words(received),
)  # fmt: skip
ACTS: tuple[ActSpec, ...] = (
    RECEIVE,
    _spec("open_part", "Open", "O", "open part", partial(_asked, open_form), say("{name} was opened.")),
    ActSpec(
        "move_parts",
        "Move",
        "M",
        "",
        "move parts",
        partial(_some, "move_parts"),
        lambda bar, row: move_form(bar.workplace, [key for key, _ in row.parts], row.name),
        partial(_said, say("{name} moved.")),
    ),
    _spec(
        "record_test",
        "Tested",
        "T",
        "record service",
        partial(_asked, test_form),
        say("{name} was tested."),
        means="test",
    ),
    _spec(
        "quarantine_part",
        "Set aside",
        "Q",
        "set part aside",
        partial(
            _with_reason,
            say("Set {name} aside"),
            say("Set part aside"),
            say("It cannot be fitted until it is released with a reason."),
            quarantine_part,
        ),
        say("{name} was set aside."),
        means="hold",
    ),
    _spec(
        "release_part", "Release", "Shift+Q", "release part", partial(_asked, release_form), say("{name} was released.")
    ),
    _spec(
        "send_back",
        "Send back",
        "Shift+R",
        "send part back",
        partial(_asked, send_back_form),
        say("{name} was sent back with its readings."),
    ),
    _spec(
        "take_back",
        "Receive back",
        "R",
        "take part back",
        partial(
            _with_reason,
            say("Receive {name} back"),
            say("Receive part back"),
            say("It waits set aside until it is released."),
            take_back,
        ),
        say("{name} was received back and is set aside."),
    ),
    _spec(
        "scrap_part",
        "Scrap",
        "X",
        "scrap part",
        partial(
            _with_reason,
            say("Scrap {name}"),
            say("Scrap part"),
            say("It leaves stock for good. Its record stays."),
            scrap_part,
        ),
        say("{name} was scrapped."),
        means="end for good",
        destroys=True,
    ),
    _spec(
        "undo_last",
        "Undo",
        "F4",
        "undo",
        partial(
            _with_reason,
            say("Undo the last act on {name}"),
            say("Undo last act"),
            say("The last act on it is undone by an act that says so; both stay on record."),
            undo_last,
        ),
        say("{name} stands as it did before."),
        means="correct",
        quiet=True,
    ),
    ActSpec(
        "correct_part",
        "Correct the part",
        act="correct stock record",
        needs=_single,
        quiet=True,
        form=lambda bar, row: ask_correction(bar, "parts", row.parts[0][0]),
    ),
)
"""The name of each is what `PartStory.can` holds."""
SOMETIMES = frozenset(["release_part", "take_back", "quarantine_part"])


class PartBar(ActBar):
    """The acts on the chosen parts; without keys, as on a part's page, only what its state allows is shown."""

    def __init__(
        self, context: PageContext, *, receives: bool, keys_on: QWidget | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(context, ACTS if receives else ACTS[1:], keys_on, parent, hides=keys_on is None)

    def put_first(self, widget: QWidget) -> None:
        """Let other acts stand before these in the same row."""
        self.line.insert_widget(0, widget)

    def choose_parts(self, parts: Sequence[tuple[int, str]], can: Collection[str]) -> None:
        """Act on these parts (key and name), whose state allows these acts."""
        self.choose(ChosenParts(tuple(parts), can))

    def allow(self) -> None:
        """Grey what cannot be done, and hide what would only fill the row."""
        super().allow()
        nothing = self.row is None or not self.row.parts
        for name in () if self._hides else SOMETIMES:
            self.buttons[name].setVisible(self.can(self.specs[name]) or (name == "quarantine_part" and nothing))


EMPTY = nothing_recorded(
    "No part lies on a shelf", "stock", "Spare parts stand here once they are received.", "receive", "Receive"
)


def list_page(context: PageContext) -> "ShelfList":
    """The list of parts on shelves."""
    return ShelfList(context)


class ShelfList(ListPage[ShelfRow]):
    """The list page with the acts above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, _shelf(context), parent)
        self.desk = PartBar(context, receives=True, keys_on=self.table, parent=self)
        self.content.insertWidget(2, self.desk)
        self.desk.changed.connect(self._on_changed)
        self.desk.refused.connect(self.banner.say_refused)
        self.desk.left.connect(self.focus_table)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().selectionChanged.connect(self._on_selection)

    def marked_rows(self) -> list[ShelfRow]:
        """The rows that are marked, in the order shown."""
        numbers = sorted({index.row() for index in self.table.selectionModel().selectedRows()})
        return [self.model.row_at(number) for number in numbers if number < len(self.model.rows)]

    @Slot(QItemSelection, QItemSelection)
    def _on_selection(self, _now: QItemSelection, _before: QItemSelection) -> None:
        self._choose_marked()

    def _choose_marked(self) -> None:
        rows = self.marked_rows()
        can = set.intersection(*(set(acts_of(row)) for row in rows)) if rows else set()
        self.desk.choose_parts([(row.part.part_id, row.part.label) for row in rows], sorted(can))

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self._choose_marked()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def acts_of(row: ShelfRow) -> tuple[str, ...]:
    """Which acts the row's state allows; undo is offered and refused where there is nothing to take back."""
    if row.part.state == PartState.SENT_BACK:
        return ("take_back", "undo_last")
    opening = ("open_part",) if row.opened is None else ()
    if row.part.state == PartState.QUARANTINE:
        return (*opening, "record_test", "release_part", "send_back", "scrap_part", "undo_last")
    return (*opening, "record_test", "move_parts", "quarantine_part", "send_back", "scrap_part", "undo_last")


def state_of(row: ShelfRow) -> Mark:
    """The condition of the part: the same word and mark as on its own page."""
    return mark_for(row.condition)


def sum_up(rows: Sequence[ShelfRow]) -> str:
    """'96 parts: 84 usable, 9 set aside'."""
    usable, aside = sum(row.usable for row in rows), sum(row.part.state == PartState.QUARANTINE for row in rows)
    return say(
        "{count}: {usable} usable, {aside} set aside", count=counted(len(rows), "part"), usable=usable, aside=aside
    )


def describe(row: ShelfRow, currency: str = "") -> Detail:
    """What the list's own row says of a part."""
    reasons = tuple(Fact("", why) for why in row.why_not)
    return Detail(
        row.part.label,
        strung(", ", (row.kind.name, spaced(row.kind.kind))),
        (state_of(row),),
        (
            *((Section("What its records say" if row.usable else "Why it is not usable", reasons),) if reasons else ()),
            Section(
                "On the shelf",
                (
                    Fact("State", say("set aside") if row.part.state == PartState.QUARANTINE else say(row.part.state)),
                    Fact("Place", said(row.lies.place)),
                    Fact("Last valid day", last_day(row.last_good_day, row.days_left), note=row.why),
                    Fact("Made", said(row.made)),
                    Fact("Opened", said(row.opened, say("sealed"))),
                    Fact("Received", day(row.part.received_on, say("not recorded"))),
                ),
            ),
            Section(
                "Bought",
                (
                    Fact("Lot", said(row.part.lot)),
                    Fact("Supplier", said(row.lies.supplier)),
                    Fact("Price", figure(row.lies.price, currency, 2)),
                    Fact("Owner", row.lies.owner),
                ),
            ),
        ),
    )


def _shelf(context: PageContext) -> ListSpec[ShelfRow]:
    return ListSpec(
        "Shelf",
        COLUMNS,
        key=lambda row: str(row.part.part_id),
        load=partial(list_shelf, context.workplace),
        describe=partial(describe, currency=context.currency),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("parts", str(row.part.part_id)),
        choices=(
            QuickFilter("usable", lambda row: row.usable, OK),
            QuickFilter("ends within 90 days", lambda row: row.days_left is not None and row.days_left <= 90, ADVISE),
            QuickFilter("not usable", lambda row: not row.usable, STOP),
            QuickFilter("set aside", lambda row: row.part.state == PartState.QUARANTINE),
            QuickFilter("sent back", lambda row: row.part.state == PartState.SENT_BACK),
        ),
        siblings=SIBLINGS,
        sort_column="type",
    )


COLUMNS: tuple[Column[ShelfRow], ...] = (
    Column("part", "Part", lambda row: row.part.label, gives_way=True),
    Column("type", "Part type", lambda row: row.kind.name,
           lambda row: (row.kind.name, row.last_good_day is None, row.last_good_day or 0, row.part.label),
           gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of,
           tooltip=lambda row: strung("; ", row.why_not)),
    Column("last", "Last valid day", lambda row: day(row.last_good_day, NONE), lambda row: row.last_good_day,
           tooltip=lambda row: row.why),
    Column("place", "Place", lambda row: said(row.lies.place, NONE), gives_way=True),
    Column("lot", "Lot", lambda row: said(row.part.lot, NONE), gives_way=True),
    Column("made", "Made", lambda row: said(row.made, NONE), shown=False),
    Column("opened", "Opened", lambda row: said(row.opened, say("sealed")), shown=False),
    Column("received", "Received", lambda row: day(row.part.received_on, NONE), lambda row: row.part.received_on,
           shown=False),
    Column("owner", "Owner", lambda row: row.lies.owner, shown=False),
)  # fmt: skip
