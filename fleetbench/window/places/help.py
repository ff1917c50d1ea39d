"""Help on every page and calculation: texts of resources/help, joined with what the program itself knows of each.

Acts with keys, columns, limits and built-in figures are read from the tables that the program goes by, so that help
cannot fall behind them. One file a page of the window and one a calculation.
"""

from collections.abc import Iterator
from functools import cache
from importlib import import_module
from inspect import signature
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import folded, say, shown, strung, worded
from fleetbench.calc.core.measures import in_unit
from fleetbench.calc.people.permits import who_may
from fleetbench.calc.readiness.limits import BY_NAME
from fleetbench.shipped import shipped
from fleetbench.window.detail.detail import Detail, Fact, Line, Onward, Section, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import search_field
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.actions import KEYS_IN_A_LIST, KEYS_ON_THE_TIME_LINE, acts_by_room
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, PAGES
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.places.shipped import Topic, read_topic

HELP = "help"
TITLES = {
    **{spec.name: spec.title for spec in (*PAGES, *BESIDE_THE_RAIL)},
    "keys": "Keys", "found": "Found", "start": "Start",
}  # fmt: skip
"""Every page of the window but help itself."""
DEFERS = (
    say("The maker's manual, standards, law and the judgement of qualified people stand above what is said here."),
    say("The program never says that a unit is safe to dive."),
)
"""What every text ends with."""


@cache
def topics() -> dict[str, Topic]:
    """Every text by its name: pages in the order of the rail, then calculations by title."""
    folder = shipped("resources") / HELP
    pages = [read_topic(folder / "views" / f"{name}.toml", title) for name, title in TITLES.items()]
    calculations = sorted(map(read_topic, (folder / "calculations").glob("*.toml")), key=_title)
    return {each.name: each for each in (*pages, *calculations)}


def _title(topic: Topic) -> str:
    return topic.title


def built_in(name: str) -> float:
    """The figure of calc by its dotted name; raises AttributeError for one that is not there."""
    module, _, constant = name.rpartition(".")
    return float(getattr(import_module(f"fleetbench.calc.{module}"), constant))


def columns_of_page(name: str) -> tuple[Column[Any], ...]:
    """The columns of the list that a page of the rail opens on; none where it is no list."""
    modules = {spec.name: spec.module for spec in (*PAGES, *BESIDE_THE_RAIL)}
    module = import_module(modules[name]) if name in modules else None
    columns: Any = getattr(module, "COLUMNS", None) or getattr(module, "columns", ())
    if not callable(columns):
        return tuple(columns)
    return tuple(columns(ZoneInfo("UTC"))) if len(signature(columns).parameters) == 1 else ()


def topic_detail(topic: Topic) -> Detail:
    """A text with what the program knows of its subject."""
    parts = _of_page(topic) if topic.is_page else _of_calculation(topic)
    subtitle = say("Help on this page") if topic.is_page else say("Help on this calculation")
    onward = (Onward("All help", "help", PageKey(HELP)), Onward("Keys", "help", PageKey("keys")))
    return Detail(topic.title, subtitle, (), tuple(_told(parts)), onward=onward)


def _told(parts: Iterator[Section | Table]) -> Iterator[Section | Table]:
    for part in parts:
        if part.facts if isinstance(part, Section) else part.lines:
            yield part


def _prose(title: str, texts: tuple[str, ...]) -> Section:
    return Section(title, tuple(Fact("", text) for text in texts))


def _links(title: str, names: Iterator[Topic]) -> Section:
    return Section(title, tuple(Fact("", each.title, leads_to=PageKey(HELP, each.name)) for each in names))


def _of_page(topic: Topic) -> Iterator[Section | Table]:
    yield _prose("What it is for", topic.what)
    yield _prose("How to go about it", topic.steps)
    yield _links("What is calculated here", (topics()[each] for each in topic.calculations))
    yield _prose("Cautions", (*topic.cautions, *DEFERS))
    columns = columns_of_page(topic.name)
    acts = (
        Line((worded(spec.words).rstrip("…"), spec.key or "–", say(spec.meaning), _who(spec.act)))
        for room in topic.rooms
        for spec in acts_by_room()[room]
    )
    yield Table("Acts", ("Act", "Key", "What the key means everywhere", "Who may"), tuple(acts))
    yield Table(
        "Columns", ("Column", "What it tells", "Shown at first"),
        tuple(
            Line((
                say(each.title),
                say(each.heading_tip) if each.heading_tip else "–",
                say("yes") if each.shown else say("no"),
            ))
            for each in columns
        ),
    )  # fmt: skip
    keys = KEYS_ON_THE_TIME_LINE if topic.name == "availability" else KEYS_IN_A_LIST if columns else ()
    yield Table("Keys of this page", ("Key", "What it does"), tuple(Line(pair) for pair in keys))


def _who(act: str) -> str:
    return strung(", ", who_may(act)) if act else say("all")


def _of_calculation(topic: Topic) -> Iterator[Section | Table]:
    yield _prose("What it does", topic.what)
    yield _prose("What goes in", topic.inputs)
    yield _prose("Published sources", topic.sources)
    yield _prose("Cautions", (*topic.cautions, *DEFERS))
    yield _links("Where it is shown", (each for each in topics().values() if topic.name in each.calculations))
    limits = (
        Line((each.name, each.units[0] or "–", each.help, strung(", ", each.scopes), each.stricter))
        for each in (BY_NAME[name] for name in topic.limits)
    )
    yield Table("Limits it goes by", ("Limit", "In", "What it is", "Belongs to", "Of two"), tuple(limits))
    figures = (Line((words, in_unit(built_in(name), unit))) for name, words, unit in topic.figures)
    yield Table("Figures that are built in", ("What", "Figure"), tuple(figures))


def contents(words: str = "") -> Detail:
    """Every text, or those that hold all of these words, with the first sentence of each."""
    wanted = folded(words).split()
    found = [each for each in topics().values() if all(word in _searched(each) for word in wanted)]
    nothing = say("Nothing in the help holds these words. Try fewer, or another.")
    pages = Table("Pages", _HEADINGS, tuple(_line(each) for each in found if each.is_page), nothing, column=0)
    rest = Table("Calculations", _HEADINGS, tuple(_line(each) for each in found if not each.is_page), nothing, column=0)
    return Detail(
        say("Help"),
        say("{count} texts", count=len(found))
        if not wanted
        else say("{count} for “{words}”", count=len(found), words=words),
        (),
        (pages, rest),
    )


_HEADINGS = ("Subject", say("What it is"))


def _line(topic: Topic) -> Line:
    return Line((topic.title, topic.what[0]), leads_to=PageKey(HELP, topic.name))


def _searched(topic: Topic) -> str:
    acts = (worded(spec.words) for room in topic.rooms for spec in acts_by_room()[room])
    return folded(shown(strung(" ", (*sorted(topic.sentences), *topic.sources, *topic.limits, *acts))))


class HelpPage(RecordPage):
    """Help: all texts with a field to search them, or one of them."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, None, None, parent)
        self.field = search_field("Find in help", "Find in help: any words", self)
        self.field.setMaximumWidth(120 * GRID)
        self.content.insertWidget(1, self.field)
        self.field.textChanged.connect(self._on_words)
        self.field.returnPressed.connect(self.focus_first_table)

    def show_key(self, key: str) -> None:
        """Show the text of that name; all of them where there is none."""
        self.key = key if key in topics() else None
        self.refresh()

    def refresh(self) -> None:
        """Show the text, or all of them, with nothing searched for."""
        self.field.clear()
        self._on_words("")

    def focus_first(self) -> None:
        """Put the keyboard on the text, or on the field where all are shown."""
        if self.key is None:
            self.field.setFocus()
        else:
            super().focus_first()

    @Slot(str)
    def _on_words(self, words: str) -> None:
        chosen = topics()[self.key] if self.key is not None and not words.strip() else None
        self.show_detail(contents(words.strip()) if chosen is None else topic_detail(chosen))
