"""Centre: every list of what the centre states of itself, and each list with its rows, its forms and its history."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from textwrap import shorten
from typing import NamedTuple

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import folded, say
from fleetbench.records.places.reads import CentreRecord
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.forms.form import Choices, Field, Form
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListPage, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.words import in_currency, moment
from fleetbench.window.places.forms import correct_form, enter_form, told
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.places.amend import end_row
from fleetbench.workshop.places.register import (
    REGISTERS,
    RegisterRow,
    asked_of,
    count_rows,
    history_of,
    label_of,
    link_choices,
    register_rows,
)
from fleetbench.workshop.places.setting_up import copy_usual_steps, usual_steps

GIVES_WAY = ("source", "text", "manual")
MOST_SHOWN = 7
"""Columns that a register shows at first; the others are a choice away."""

ACTS = (
    ActSpec("add", "Add", "N", "add", "enter master data", at_any_time, said=told),
    ActSpec("correct", "Correct", "F4", act="correct master data", said=told),
)
"""What is done on every list of the centre; each list makes them its own."""


class CentreLine(NamedTuple):
    """One list of the centre: where it is, what it is called, what belongs there, and how much stands in it."""

    place: PageKey
    title: str
    help: str
    rows: int


LISTS: tuple[tuple[str, str, str], ...] = (
    ("centre", say("About the centre"), say("Name, telephone, time zone, altitude and usual water")),
    ("unit_types", say("Unit types"), say("What units of one build share: volumes, set-points, the manual")),
    (
        "slots",
        say("Slots"),
        say("The places of a unit type, or of an assembly such as a head, that take one part each"),
    ),
    ("slot_part_types", say("Parts that fit a slot"), say("Which part types a slot is made for")),
    ("readers", say("Handsets"), say("Handsets and displays of a unit type that read cells on their own")),
    ("reader_cells", say("What handsets read"), say("What each handset shows of each cell position, and how finely")),
    ("part_types", say("Part types"), say("The catalogue: kind, price, delivery time")),
    ("part_type_lives", say("Lives and test intervals"), say("How long a part may be used, from the maker's manual")),
    ("limits", say("Limits"), say("Figures of the maker or a standard that the program judges by")),
    ("rating_rows", say("Canister ratings"), say("How long a canister lasts, row by row of the maker's table")),
    ("service_tasks", say("Service plan"), say("What is done to a unit type, and how often")),
    ("service_needs", say("Needs of the service plan"), say("Tests and parts that a service task needs")),
    ("service_steps", say("Steps of service tasks"), say("Figures, torque, seals, lubricant and parts, one by one")),
    ("disinfectants", say("Disinfectants"), say("Strength and contact time for a unit type")),
    ("approved_firmware", say("Approved firmware"), say("Which versions handsets of a unit type may show")),
    ("accessories", say("Accessories"), say("What goes along with a unit of a type")),
    ("absences", say("Absences"), say("Units away for service, warranty or a trip")),
    ("equipment", say("Test equipment"), say("Figures of the instruments; added under Test equipment")),
    ("cylinders", say("Cylinders"), say("What is stamped on cylinders; added under Stock, Cylinders")),
    ("part_tests", say("Tests of parts"), say("Hydrostatic, visual, service; recorded under Stock, Cylinders")),
    ("owners", say("Owners"), say("Whose units and parts are; added under Stock, Places")),
    ("places", say("Places"), say("Where things lie; added under Stock, Places")),
)
"""The lists by the name of their register, with title and what belongs there, in the order of setting a fleet up."""
ENTERED_AT = {
    "absences": ("go to units", say("Open Units")), "equipment": ("go to equipment",
        say("Open Test equipment")),
    "cylinders": ("go to cylinders", say("Open Cylinders")), "part_tests": ("go to cylinders",
        say("Open Cylinders")),
    "owners": ("go to places", say("Open Places")), "places": ("go to places", say("Open Places")),
}  # fmt: skip
"""Where the rows of a list are entered that has no form of its own, as the action of the empty list."""
TITLES = {name: title for name, title, _ in LISTS}
ELSEWHERE = (
    (PageKey("units"), say("Units"), say("Add, rename, move, send away, retire")),
    (PageKey("people"), say("People"), say("Staff and renters, roles, PINs, certificates")),
    (PageKey("equipment"), say("Certificates of test equipment"), say("Until when instruments may be used")),
)
"""What a centre states of itself that has a page of its own."""


def list_page(context: PageContext) -> "ListPage[CentreLine]":
    """Every list of the centre with what stands in it."""
    spec = ListSpec(
        "Centre",
        LINES,
        key=lambda row: row.title,
        load=partial(centre_lines, context.workplace),
        describe=_describe_line,
        empty=Emptiness("Nothing is recorded", "", "centre"),
        sum_up=lambda rows: say("{count} lists; Enter opens one", count=len(rows)),
        place=lambda row: row.place,
    )
    page = ListPage(context.theme, context.background, spec)
    page.model.keep_given_order()
    return page


def record_page(context: PageContext, sheet: str) -> "RegisterList":
    """One list of the centre."""
    return RegisterList(context, sheet if sheet in TITLES else "centre")


def centre_lines(workplace: Workplace) -> tuple[CentreLine, ...]:
    """Every list of the centre, and the pages that belong to it."""
    counts = count_rows(workplace, (*TITLES, "units", "people"))
    own = [CentreLine(PageKey("centre", name), title, said, counts[name]) for name, title, said in LISTS]
    beside = [CentreLine(place, title, said, counts.get(place.page, 0)) for place, title, said in ELSEWHERE]
    return (*own, *beside)


def _describe_line(row: CentreLine) -> Detail:
    fact = Fact("Recorded", str(row.rows), leads_to=row.place)
    return Detail(row.title, row.help, (), (Section("Now", (fact,)),))


LINES: tuple[Column[CentreLine], ...] = (
    Column("title", "List", lambda row: row.title),
    Column("count", "Recorded", lambda row: str(row.rows), lambda row: row.rows, align_right=True),
    Column("help", "What belongs there", lambda row: row.help, gives_way=True),
)


class RegisterList(ActList[RegisterRow]):
    """One list of the centre: add a row, correct one, and see who entered and corrected it."""

    def __init__(self, context: PageContext, sheet: str, parent: QWidget | None = None) -> None:
        self.sheet = sheet
        super().__init__(context, _spec(context, sheet), acts_of(sheet), parent)

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        super()._on_changed(words)
        if self.sheet == "centre":
            self.context.background.run(partial(read_centre, self.context.workplace), self).succeeded.connect(
                self._on_read
            )

    @Slot(object)
    def _on_read(self, centre: CentreRecord) -> None:
        """Pages are made again where their times, prices or figures are now in something else."""
        if (centre.zone, centre.currency or "", centre.stated) != self.context.shown_in:
            self.action_requested.emit("records_changed")

    def show_key(self, key: str) -> None:
        """Load the list again; a page shows one list only."""
        if key == self.sheet:
            self.refresh()
        else:
            self.banner.say_refused(say("{key}: is no list of the centre; choose one under Centre", key=key))


def acts_of(sheet: str) -> Sequence[ActSpec]:
    """The acts of a list: adding where it has no other door, correcting as those may who manage such records."""
    register = REGISTERS[sheet]
    add, correct = ACTS
    correct = replace(
        correct,
        words=say("Correct {thing}", thing=say(register.thing)),
        form=_correct,
        act="correct stock record" if register.of_stock else "correct master data",
    )
    add = replace(add, words=say("Add {thing}", thing=say(register.thing)), form=partial(_add, sheet))
    more = (END,) if register.versioned else ()
    usual = (USUAL,) if sheet == "service_steps" else ()
    return (add, *usual, correct, *more) if register.entered else (correct,)


def _end(bar: ActBar, row: RegisterRow) -> Form:
    return Form(
        shorten(
            say("End: {thing} {label}", thing=say(REGISTERS[row.sheet].thing), label=row.label), 120, placeholder=" …"
        ),
        act_words="End it",
        note="New tickets no longer hold it; tickets that are open or signed keep it.",
        fields=(
            Field("why", "Reason, kept in the journal", "words", spoken="reason", wants="is empty; say why it ends"),
        ),
        act=partial(end_row, bar.workplace, row.sheet, row.key),
    )


def _usual(bar: ActBar, _row: object) -> Form:
    starts = [(title, key) for key, (title, _steps) in usual_steps().items()]

    def tasks() -> Mapping[str, Choices]:
        return {"service_task": link_choices(bar.workplace, "service_steps", ("service_task",))["service_task"]}

    return Form(
        "Copy usual steps into a service task",
        act_words="Copy usual steps",
        note="Common practice, no published source. They state no figure, torque or lubricant: correct each from the "
        "maker's manual, with edition and page.",
        fields=(
            Field("service_task", "Service task", "choice", nothing="Service plan: none yet; add one first"),
            Field("start", "Usual steps", "choice", choices=starts),
        ),
        act=partial(copy_usual_steps, bar.workplace),
        load=tasks,
    )


END = ActSpec("end", "End", act="correct master data", form=_end, said="It is no longer part of the plan.", quiet=True)
USUAL = ActSpec("usual", "Copy usual steps…", act="copy usual steps", needs=at_any_time, form=_usual, said=told)


def _add(sheet: str, bar: ActBar, _row: object) -> Form:
    return enter_form(bar.workplace, sheet, bar.context.currency)


def _correct(bar: ActBar, row: RegisterRow) -> Form:
    return correct_form(bar.workplace, row, bar.context.currency)


def _spec(context: PageContext, sheet: str) -> ListSpec[RegisterRow]:
    register, workplace = REGISTERS[sheet], context.workplace
    title, said = TITLES[sheet], next(help for name, _, help in LISTS if name == sheet)

    def load_detail(row: RegisterRow) -> Detail:
        return describe(row, history_of(workplace, sheet, row.key), context)

    return ListSpec(
        title,
        _columns(sheet, context.currency),
        key=lambda row: str(row.key),
        load=partial(register_rows, workplace, sheet),
        describe=partial(describe, history=(), context=context),
        empty=Emptiness(
            say("{title}: nothing is recorded yet", title=title), f"{said}.", "centre",
            *(("add", say("Add {thing}", thing=register.thing)) if register.entered else ENTERED_AT[sheet]),
        ),
        load_detail=load_detail,
    )  # fmt: skip


def _columns(sheet: str, currency: str) -> tuple[Column[RegisterRow], ...]:
    return tuple(_column(name, at < MOST_SHOWN, name in GIVES_WAY, currency)
                 for at, name in enumerate(asked_of(sheet)))  # fmt: skip


def _column(name: str, shown: bool, gives_way: bool, currency: str) -> Column[RegisterRow]:
    def text(row: RegisterRow) -> str:
        return row.shown.get(name, "")

    def order(row: RegisterRow) -> object:
        value = row.values.get(name)
        return float(value) if isinstance(value, int | float) else None if value is None else folded(text(row))

    figures = name in ("amount", "minutes", "price", "ordinal")
    title = in_currency(label_of(name), currency if name == "price" else "")
    return Column(name, title, text, order if figures else None, align_right=figures, shown=shown,
                  gives_way=gives_way)  # fmt: skip


def describe(row: RegisterRow, history: Sequence[tuple[object, str, str, str]], context: PageContext) -> Detail:
    """Everything that a row states, and who entered and corrected it."""
    paid = {"price": context.currency}
    named = {name: in_currency(label_of(name), paid.get(name, "")) for name in row.shown}
    facts = tuple(Fact(named[name], text or say("not recorded")) for name, text in row.shown.items())
    lines = tuple(Line((moment(at, context.zone), who, what, why)) for at, who, what, why in history)  # type: ignore[arg-type]
    empty = say("Nothing was entered or corrected here; it came with an import.")
    return Detail(
        row.label,
        REGISTERS[row.sheet].thing,
        (),
        (Section("Recorded", facts), Table("History", ("When", "Who", "What", "Why"), lines, empty)),
    )
