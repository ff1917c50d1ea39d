"""What is known of one thing, as plain data: facts, states, small tables and ways onward."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from fleetbench.window.look.marks import Mark
from fleetbench.window.shell.place import PageKey

if TYPE_CHECKING:
    # Only named here: to import them would bring numpy into the start of the window.
    from fleetbench.window.forms.photographs import Pictured
    from fleetbench.workshop.bench.valves import TrendSeries
    from fleetbench.workshop.units.schematic import Schematic

UTC = ZoneInfo("UTC")

ACROSS = -1
"""Column of a part that takes the whole width, above the others."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One line: what it is, what it says, its state if it has one, a note under it, and where pressing it leads."""

    label: str
    value: str
    mark: Mark | None = None
    note: str = ""
    leads_to: PageKey | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """Facts that belong together; empty says what it means that there are none, or what to do."""

    title: str
    facts: tuple[Fact, ...]
    empty: str = ""
    column: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a small table: its cells, the state painted in the cell of that number, and where it leads."""

    cells: tuple[str, ...]
    mark: Mark | None = None
    leads_to: PageKey | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A small table inside a page; mark_column is the number of the cell that shows the state of the line.

    wide: it needs the whole width of a narrow page.
    """

    title: str
    headings: tuple[str, ...]
    lines: tuple[Line, ...]
    empty: str = ""
    mark_column: int | None = None
    column: int = 1
    wide: bool = True


class Pictures(NamedTuple):
    """Photographs under a title; wide: as of a table."""

    title: str
    pictures: "tuple[Pictured, ...]"
    column: int = 1
    wide: bool = True


@dataclass(frozen=True, slots=True)
class Badge:
    """Something that is neither good nor bad, such as where a unit is: an icon and a word."""

    icon: str
    word: str


@dataclass(frozen=True, slots=True)
class Onward:
    """Something to do with the thing from its page: a button that leads to another place."""

    text: str
    icon: str
    leads_to: PageKey


@dataclass(frozen=True, slots=True)
class Detail:
    """Everything shown of one thing; flow: a unit's loop and gas sides; trend: what was measured over time.

    source: what it was made from, for a page that acts on it or draws more of it.
    """

    title: str
    subtitle: str = ""
    marks: tuple[Mark, ...] = ()
    parts: tuple[Section | Table | Pictures, ...] = ()
    flow: "Schematic | None" = None
    badges: tuple[Badge, ...] = ()
    onward: tuple[Onward, ...] = ()
    trend: "tuple[TrendSeries, ...]" = ()
    zone: ZoneInfo = UTC
    source: Any = None
