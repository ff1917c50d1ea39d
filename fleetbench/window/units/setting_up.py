"""How units come, change and go: the first page of an empty database, and the forms for each of these."""

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.settings import data_folder
from fleetbench.window.forms.form import Choices, Field, Form, replacing
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.look.buttons import lead_button, plain_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID
from fleetbench.window.shell.background import Progress, Refresher
from fleetbench.window.shell.pages import Page, PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.places.register import link_choices
from fleetbench.workshop.places.setting_up import (
    FirstUnit,
    add_unit,
    bring_back,
    copy_unit,
    first_unit,
    local_zone_name,
    mark_parts,
    move_unit,
    next_tag,
    rename_unit,
    retire_unit,
    send_away,
    start_points,
)

MANUAL = say("The maker's manual of the unit and your training stand above all that is entered here.")
SINCE = Field("in_service_on", "In service since; empty where it is not known", "marked", "2024, 2024-03 or 2024-03-01",
              spoken="in service since")  # fmt: skip
TAG = Field("tag", "Tag on the unit", hint="B-01", spoken="tag", wants="is empty; enter what stands on the unit")
SERIAL = Field("serial", "Serial number of the unit", hint="empty where it is not known", beside=True, spoken="serial")


def first_unit_form(workplace: Workplace, *, has_centre: bool, has_people: bool) -> Form:
    """Enters a unit of a type that begins from a start point; centre and user where none is recorded yet."""
    start = Field("start", "Kind of unit", "choice", choices=[(each.title, each.key) for each in start_points()])
    centre = Field("centre", "Name of your centre", spoken="centre", wants="is empty; enter what stands on your papers")
    zone = Field("timezone", "Time zone", default=local_zone_name(), beside=True)
    user = Field("user", "Your name; you are entered as manager", spoken="your name", wants="is empty; enter it")
    about = () if has_centre else (centre, zone)
    who = () if has_people else (user,)
    code = Field("code", "Short name of this type", hint="as you call it, for instance BACK")
    manual = Field("manual", "Maker's manual and edition", beside=True, hint="can be entered later")

    def act(**given: Any) -> str:
        return first_unit(workplace, FirstUnit(**given))

    return Form(
        "Add a unit of a new type",
        act_words="Save unit",
        note=strung(
            " ",
            (
                say(
                    "It begins with the usual slots of such a unit, with cells and handsets, to be changed under "
                    "Centre. No life, limit or service interval is set: enter those from the maker's manual."
                ),
                MANUAL,
            ),
        ),
        fields=(*about, *who, start, code, manual, TAG, SERIAL, SINCE),
        act=act,
        first="centre" if not has_centre else "start" if has_people else "user",
        wide=150,
    )


def add_unit_form(workplace: Workplace) -> Form:
    """Enters one more unit of a type that is recorded."""

    def act(unit_type: int, tag: str, serial: str, in_service_on: MarkedDate | None) -> str:
        return add_unit(workplace, unit_type, tag, serial, in_service_on)

    return Form(
        "Add a unit",
        act_words="Save unit",
        note=strung(" ", (
            say("Every slot that is made for one part type is filled with a part of which nothing is known "
                    "yet."), MANUAL,
        )),
        fields=(
            Field("unit_type", "Unit type", "choice", spoken="unit type",
                  wants="none is recorded; add a unit of a new type instead"),
            TAG, SERIAL, SINCE,
        ),
        act=act,
        load=partial(link_choices, workplace, "units", ("unit_type",)),
        first="tag",
    )  # fmt: skip


def copy_form(workplace: Workplace, unit_id: int, tag: str, since: MarkedDate | None) -> Form:
    """Enters more units like one."""

    def act(first_tag: str, serials: str, in_service_on: MarkedDate | None, same_delivery: bool) -> str:
        return copy_unit(
            workplace, unit_id, first_tag, serials.splitlines(), in_service_on, same_delivery=same_delivery
        )

    return Form(
        say("More units like {tag}", tag=tag),
        act_words="Save units",
        note=strung(" ", (
            say("Same type, owner, place and part types. Serials of their parts are not known until you read them."),
            MANUAL,
        )),
        fields=(
            Field("serials", "Serial numbers, one line a unit", "words", spoken="serials",
                  wants="none is given; enter one line a unit"),
            Field("first_tag", "Tag of the first; the others are counted on", default=next_tag(tag), spoken="tag"),
            Field("in_service_on", "In service since; empty where it is not known", "marked",
                  default=str(since) if since is not None else "", spoken="in service since"),
            Field("same_delivery", say("Their cells have the lot and dates of the cells in {tag}", tag=tag), "tick"),
        ),
        act=act,
        first="serials",
    )  # fmt: skip


def mark_form(workplace: Workplace, unit_id: int, tag: str, kinds: Callable[[], Choices]) -> Form:
    """Enters what is read on all parts of a kind in a unit."""

    def act(kind: str, **read: Any) -> str:
        return mark_parts(workplace, unit_id, kind, **read)

    def load() -> Mapping[str, Choices]:
        return {"kind": kinds()}

    mark = "2026-03-14, 2026-03 or 1Q2026"
    return Form(
        say("What is marked on parts of {tag}", tag=tag),
        act_words="Save marks",
        note="For all parts of the kind in this unit; single parts are corrected under Stock, Parts.",
        fields=(
            Field("kind", "Kind of part", "choice", wants="none is fitted; fit a part first"),
            Field("lot", "Lot"),
            Field("made", "Made", "marked", mark, beside=True),
            Field("opened", "Opened", "marked", mark, beside=True),
            Field("firmware", "Firmware, as shown at start", hint="handsets only"),
        ),
        act=act,
        load=load,
        first="lot",
    )


def rename_form(workplace: Workplace, unit_id: int, tag: str) -> Form:
    """Gives a unit another tag."""
    field = Field("tag", "New tag", spoken="tag", wants="is empty; enter the new tag")
    renaming = replacing({"tag": tag}, partial(rename_unit, workplace, unit_id))
    note = say("{tag} stays as its former tag, by which it is found.", tag=tag)
    return Form(
        say("Another tag for {tag}", tag=tag), act_words="Rename unit", note=note, fields=(field,), act=renaming
    )


def move_form(workplace: Workplace, unit_id: int, tag: str) -> Form:
    """Keeps a unit at another place."""
    return Form(
        say("Move {tag}", tag=tag), act_words="Move unit", note="Places are added under Stock, Places.",
        fields=(Field("place", "Place", "choice"),), act=partial(move_unit, workplace, unit_id),
        load=_places(workplace),
    )  # fmt: skip


def away_form(workplace: Workplace, unit_id: int, tag: str) -> Form:
    """Sends a unit away."""

    def act(place: int | None, why: str, expected_on: date | None) -> str:
        return send_away(workplace, unit_id, place, why, expected_on)

    return Form(
        say("Send {tag} away", tag=tag), act_words="Send unit away",
        note="It is not offered to bookings until it is back.",
        fields=(
            Field("why", "Why", hint="yearly service, warranty, a trip", wants="is empty; say why it goes"),
            Field("place", "Where to", "choice"),
            Field("expected_on", "Expected back", "day", "2026-06-30", beside=True),
        ),
        act=act, load=_places(workplace), first="why",
    )  # fmt: skip


def back_form(workplace: Workplace, unit_id: int, tag: str) -> Form:
    """Takes a unit back that was away."""
    note = say("It is judged again by what is recorded; enter what was done under a ticket.")
    return Form(
        say("{tag} is back", tag=tag),
        act_words="Bring unit back",
        note=note,
        fields=(),
        act=partial(bring_back, workplace, unit_id),
    )


def retire_form(workplace: Workplace, unit_id: int, tag: str, today: date) -> Form:
    """Sells or retires a unit."""

    def act(how: str, on: date | None, why: str) -> str:
        if on is None:
            raise Refused(say("on: is missing; enter the day as 2026-05-04"))
        return retire_unit(workplace, unit_id, on, f"{how}: {why}" if why.strip() else how)

    return Form(
        say("Sell or retire {tag}", tag=tag), act_words="Retire unit", note="It goes out no more; its records stay.",
        fields=(
            Field("how", "What becomes of it", "choice", choices=[("retired", "retired"), ("sold", "sold")]),
            Field("on", "From this day on", "day", default=today.isoformat(), beside=True, spoken="on"),
            Field("why", "To whom or why"),
        ),
        act=act, first="why",
    )  # fmt: skip


def _places(workplace: Workplace) -> Callable[[], Mapping[str, Choices]]:
    def load() -> Mapping[str, Choices]:
        return {"place": [("none", None), *link_choices(workplace, "units", ("place",))["place"]]}

    return load


WIDE = 150 * GRID
"""Width of a card, in px."""


def list_page(context: PageContext) -> "FirstPage":
    """The page with which an empty database opens."""
    return FirstPage(context)


class FirstPage(Page):
    """Three ways to begin, each one button; nothing is written before one of them is finished.

    Signals:
        records_wanted: the path of other records to open in this window, and what to say of them.
    """

    records_wanted = Signal(str, str)

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, "Begin", parent)
        self.context = context
        self.dialog: FormDialog | None = None
        self._has_centre = False
        self._centre = Refresher(context.background, self)
        self._centre.loaded.connect(self._on_centre)
        self._centre.refused.connect(self.banner.say_refused)
        self.add_button = lead_button(self.theme, "Add my first unit", "add", self)
        self.import_button = plain_button(self.theme, "Import my spreadsheet", "bring_in", self)
        self.sample_button = plain_button(self.theme, "Look at the sample", "open", self)
        self.work = LongWork(self.theme, context.background, self.banner, self)
        self._lay_out()
        self.add_button.clicked.connect(self.add_unit)
        self.import_button.clicked.connect(partial(self.action_requested.emit, "bring_in"))
        self.sample_button.clicked.connect(self.build_sample)
        self.work.changed.connect(self._show_busy)

    def _lay_out(self) -> None:
        path = self.context.workplace.database.path
        self.set_summary(
            say("No unit is recorded in {path}", path=path)
            if path is not None
            else say("No unit is recorded on the server")
        )
        add = say(
            "A few fields for one unit with its slots, cells and handsets; more units like it take one line each."
        )
        file = say("Lists that you keep already. They are checked first, and nothing is taken by half.")
        sample = say(
            "An invented centre with fourteen units, in a folder of its own. Your own records stay as they are."
        )
        column = QVBoxLayout()
        column.setSpacing(BLOCK)
        column.addWidget(self._card(say("One unit at a time"), add, self.add_button))
        column.addWidget(self._card(say("From a file"), file, self.import_button))
        card = self._card(say("Only looking"), sample, self.sample_button)
        card.layout().addWidget(self.work)  # type: ignore[union-attr]
        column.addWidget(card)
        column.addStretch(1)
        self.content.addLayout(column, 1)

    def _card(self, title: str, words: str, button: QWidget) -> QFrame:
        card = QFrame(self)
        card.setProperty("role", "card")
        card.setMaximumWidth(WIDE)
        layout = QVBoxLayout(card)
        layout.setContentsMargins(BLOCK, APART, BLOCK, BLOCK)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(title, "heading", card))
        said = text_label(words, "body", card)
        said.setWordWrap(True)
        layout.addWidget(said)
        layout.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return card

    def refresh(self) -> None:
        """Ask whether the centre itself is entered already."""
        self._centre.ask(partial(_has_centre, self.context.workplace))

    def focus_first(self) -> None:
        """Put the keyboard on the first way."""
        self.add_button.setFocus()

    @Slot()
    def add_unit(self) -> None:
        """Open the guided form."""
        has_people = bool(self.context.signed_in.offered)
        form = first_unit_form(self.context.workplace, has_centre=self._has_centre, has_people=has_people)
        self.dialog = FormDialog(self.theme, self.context.background, form, self.window())
        self.dialog.done_with.connect(self._on_added)
        self.dialog.open()

    @Slot()
    def build_sample(self) -> None:
        """Build the sample and open it in this window."""
        self.work.start(_sample(data_folder()), self._on_built)

    @Slot()
    def _show_busy(self) -> None:
        for button in (self.add_button, self.import_button, self.sample_button):
            button.setEnabled(not self.work.is_busy)

    @Slot(object)
    def _on_centre(self, known: bool) -> None:
        self._has_centre, self.is_loaded = known, True

    @Slot(object)
    def _on_added(self, _words: str) -> None:
        for name in ("first_user", "records_changed"):
            self.action_requested.emit(name)
        self.place_requested.emit(PageKey("units"))

    @Slot(object)
    def _on_built(self, path: Path) -> None:
        self.records_wanted.emit(str(path), "")


def _has_centre(workplace: Workplace) -> bool:
    try:
        read_centre(workplace)
    except NotFound:
        return False
    return True


def _sample(data: Path) -> Callable[[Progress], Path]:
    def build(progress: Progress) -> Path:
        # What reads sheets takes longer to import than the window takes to open.
        from fleetbench.workshop.places.shipped import build_sample

        return build_sample(data, lambda what, part: progress(round(1000 * part), 1000, what))

    return build
