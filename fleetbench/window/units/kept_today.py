"""Today as it was last calculated, kept so that the window has something to show while the records are opened.

It is shown only where the journal's head and the site's day are still those it was made under, and says when it was
made. A line leads to its unit or booking, which is shown once the records are open. It holds no verdict, since fitness
may have changed with the clock alone, nor the words that nothing is amiss, and no name, since names can be erased:
which units go out, come back, are late or on the bench, by tag, booking and day.
"""

import json
import os
from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say
from fleetbench.records.core.plain_file import head_at_a_glance
from fleetbench.settings import data_folder
from fleetbench.window.detail.detail import Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.look.marks import UNKNOWN
from fleetbench.window.look.theme import Theme
from fleetbench.window.look.words import NONE
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey

WITHOUT_VERDICT_AND_NAME = (
    "Unit", "Booking", "From", "To", say("Back by"), say("Late by"), "What", say("Last valid day"), say("Days left"),
)  # fmt: skip
"""Columns that are kept; every other one may hold a verdict, a name or words that somebody wrote."""

WITHOUT_VERDICT = (
    "Late", say("Out today"), say("Back today"), say("Still without units this week"), say("Here, not inspected"),
        say("On the bench"),
    say("Out this week"), say("Back this week"), say("Ends this week"),
)  # fmt: skip
"""Tables that are kept, where they have a line: that one is missing says nothing."""

LEADS_TO = (("Unit", "units"), ("Booking", "hires"))
"""Columns whose cell is the key of a page."""

AGAIN = UNKNOWN.worded("being calculated again: fitness is not shown")


class KeptToday:
    """The file in which Today of one database is kept."""

    def __init__(self, folder: Path, database: Path) -> None:
        self._database = database
        self._under: str | None = None
        self.file = folder / f"today-{sha256(str(database.resolve()).encode()).hexdigest()[:16]}.json"

    def page(self, theme: Theme, parent: QWidget) -> RecordPage | None:
        """A page with what was kept, None where that may be shown no more."""
        detail = self.shown()
        if detail is None:
            return None
        made = RecordPage(theme, None, None, parent)
        made.content.setContentsMargins(0, 0, 0, 0)
        made.show_detail(detail)
        return made

    def again(self, context: PageContext) -> None:
        """Keep Today as it stands now, where anything was written since it was kept; off the GUI thread."""
        # The window is shown before these are read.
        from fleetbench.window.units.today import today_detail
        from fleetbench.workshop.units.today import today_page

        head = self.head()
        if head != self._under:
            self.keep(today_detail(today_page(context.workplace)), head, context.zone, context.workplace.clock())
            self._under = head

    def head(self) -> str | None:
        """The journal's head as it is now; to be asked before Today is calculated, so that it is never the newer."""
        return head_at_a_glance(self._database)

    def keep(self, detail: Detail, head: str | None, zone: ZoneInfo, now: datetime) -> None:
        """Keep what was calculated under a head; nothing where the head is not known or the file cannot be written."""
        if head is None:
            return
        local = now.astimezone(zone)
        kept = {
            "head": head, "day": local.date().isoformat(), "zone": zone.key, "at": f"{local:%H:%M}",
            "title": detail.title, "tables": list(_plain(detail)),
        }  # fmt: skip
        beside = self.file.with_suffix(f".{os.getpid()}")
        try:
            beside.touch(mode=0o600)
            beside.write_text(json.dumps(kept), encoding="utf-8")
            beside.replace(self.file)
        except OSError:
            beside.unlink(missing_ok=True)

    def shown(self, now: datetime | None = None) -> Detail | None:
        """What was kept, marked as old, where head and day are still the same; None in every other case."""
        try:
            kept = json.loads(self.file.read_text(encoding="utf-8"))
            today = (now or datetime.now(UTC)).astimezone(ZoneInfo(kept["zone"])).date().isoformat()
            if kept["day"] != today or not kept["head"] or kept["head"] != self.head():
                return None
            tables = tuple(_table(each) for each in kept["tables"])
            return Detail(str(kept["title"]), say("as of {kept}", kept=kept["at"]), (AGAIN,), tables)
        except (OSError, ValueError, KeyError, TypeError):
            return None


def _plain(detail: Detail) -> Iterator[dict[str, Any]]:
    for part in detail.parts:
        if isinstance(part, Table) and part.title in WITHOUT_VERDICT and part.lines:
            columns = [at for at, name in enumerate(part.headings) if name in WITHOUT_VERDICT_AND_NAME]
            yield {
                "title": part.title,
                "headings": [part.headings[at] for at in columns],
                "lines": [[line.cells[at] for at in columns] for line in part.lines],
                "column": part.column,
                "wide": part.wide,
            }


def _table(kept: dict[str, Any]) -> Table:
    headings = tuple(str(each) for each in kept["headings"])
    lines = tuple(_line(headings, tuple(str(cell) for cell in cells)) for cells in kept["lines"])
    return Table(
        str(kept["title"]),
        headings=headings,
        lines=lines,
        empty="",
        mark_column=None,
        column=int(kept["column"]),
        wide=bool(kept["wide"]),
    )


def _line(headings: tuple[str, ...], cells: tuple[str, ...]) -> Line:
    # Where its next act is done would tell what stops it.
    places = ((PageKey(page, cells[headings.index(name)])) for name, page in LEADS_TO if name in headings)
    return Line(cells, leads_to=next((each for each in places if each.key and each.key != NONE), None))


def kept_of(database: str) -> KeptToday | None:
    """Where Today of a file is kept; a server's is not."""
    file = database.removeprefix("sqlite:///")
    return None if "://" in file else KeptToday(data_folder(), Path(file))
