"""One PDF: the page sizes, the canvas with its safe settings, the letterhead and the frame that every page carries.

Files that appear whole or not at all, readable by their owner only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from typing import BinaryIO

from reportlab import rl_config
from reportlab.lib import pagesizes

from fleetbench.calc.core.languages import say, shown, spoken_here, strung, worded
from fleetbench.paper.core.marks import sheet_texts
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, whole_line
from fleetbench.paper.core.tags import Artifact, Tag, TaggedCanvas
from fleetbench.records.core.errors import NotFound
from fleetbench.records.upkeep.verify import journal_end
from fleetbench.records.upkeep.witness import desk_fingerprint
from fleetbench.settings import data_place
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.people.list import list_people

# Nothing that a page prints may make the library fetch anything.
rl_config.trustedHosts = []
rl_config.trustedSchemes = []
# Streams stay binary: text made of them would be a quarter longer.
rl_config.useA85 = 0

MARGIN = 36.0
HEAD_HEIGHT = 62.0
FOOT_HEIGHT = 42.0
# Leaves the four modules of white that ISO/IEC 18004 asks for round a code, to the rule below and the tag beside it.
_CODE_SIDE = 45.0
_TAG_ROOM = 118.0


_HASH_SHOWN = 16


class PageSize(Enum):
    """Paper, as width and height in points."""

    A4 = pagesizes.A4
    LETTER = pagesizes.LETTER

    @property
    def wide(self) -> float:
        """Width in points."""
        return float(self.value[0])

    @property
    def high(self) -> float:
        """Height in points."""
        return float(self.value[1])

    @property
    def inner(self) -> float:
        """Width between the margins."""
        return self.wide - 2 * MARGIN

    @property
    def room(self) -> float:
        """Height between head and foot."""
        return self.high - 2 * MARGIN - HEAD_HEIGHT - FOOT_HEIGHT


@dataclass(frozen=True, slots=True)
class Letterhead:
    """What every page says of itself.

    printed_at: the moment of printing, as text with its zone, passed in so that the same data prints the same bytes.
    at: that moment itself, which the file tells as its date. journal_entry, journal_hash: last entry of the journal
    then, which `verify --head` compares. desk_key: the fingerprint of the key with which this desk signs the heads that
    it keeps elsewhere. size: the paper on which pages are printed here.
    """

    centre: str
    printed_at: str
    telephone: str | None = None
    printed_by: str | None = None
    journal_entry: int | None = None
    journal_hash: str | None = None
    desk_key: str | None = None
    address: str | None = None
    currency: str | None = None
    at: datetime | None = None
    size: PageSize = PageSize.A4

    @property
    def from_whom(self) -> str:
        """The centre's name, with its address where it is recorded."""
        return self.centre if self.address is None else strung(", ", (self.centre, self.address))


def letterhead(workplace: Workplace) -> Letterhead:
    """The letterhead of a page printed now; the hash is cut to its first 16 characters."""
    try:
        centre = read_centre(workplace)
    except NotFound:  # a list can be printed before the centre itself is entered
        centre = None
    number, digest = journal_end(workplace.database)
    by = next((person.name for person in list_people(workplace) if person.person_id == workplace.person_id), None)
    return Letterhead(
        centre=centre.name if centre is not None else say("centre not entered yet"),
        printed_at=f"{workplace.clock().astimezone(workplace.zone()):%Y-%m-%d %H:%M %Z}",
        telephone=centre.telephone if centre is not None else None,
        address=centre.address if centre is not None else None,
        currency=centre.currency if centre is not None else None,
        printed_by=by,
        journal_entry=number or None,
        journal_hash=None if digest is None else digest[:_HASH_SHOWN],
        desk_key=desk_fingerprint(data_place()),
        at=workplace.clock().astimezone(workplace.zone()),
        size=PageSize[workplace.paper().upper()],
    )


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the head of each page. code: what the QR holds, the unit's tag; None for a page of many units."""

    letterhead: Letterhead
    title: str
    record: str
    subtitle: str = ""
    code: str | None = field(default=None, kw_only=True)
    code_word: str = field(default="", kw_only=True)


def new_canvas(
    stream: BinaryIO,
    size: tuple[float, float],
    title: str,
    author: str,
    language: str | None = None,
    at: datetime | None = None,
    *,
    archival: bool = True,
) -> TaggedCanvas:
    """A canvas that writes the same bytes for the same marks; at: when the page was made, which the file tells.

    language: None is that in which what is said is shown.
    archival: whether the file says that it is fit for an archive; a form to fill in is not.
    """
    spoken = language or spoken_here()
    return TaggedCanvas(
        stream, size, REGULAR, title=shown(title), author=author, language=spoken, at=at, archival=archival
    )


def draw_head(pen: Pen, size: PageSize, heading: Heading, *, again: bool = False) -> None:
    """Draw the head of one page: centre, title, code; again: of a further page, on which nobody has to hear it."""
    with pen.tagged(Artifact.HEAD if again else None):
        _draw_head(pen, size, heading)


def draw_foot(pen: Pen, size: PageSize, heading: Heading, page: int, pages: int) -> None:
    """Draw the foot of one page: cautions, record number, printed at, page x of y; it is heard at the last page."""
    with pen.tagged(Artifact.FOOT if page < pages else None):
        _draw_foot(pen, size, heading, page, pages)


def _draw_head(pen: Pen, size: PageSize, heading: Heading) -> None:
    right, top = size.wide - MARGIN, MARGIN
    room = size.inner if heading.code is None else size.inner - _CODE_SIDE - 16 - _TAG_ROOM
    with pen.tagged(Tag("H1")):
        pen.fit(MARGIN, top + 31, shown(heading.title), room, 20, BOLD)
    pen.fit(MARGIN, top + 47, heading.subtitle, room, 9)
    pen.fit(MARGIN, top + 9, heading.letterhead.from_whom, room, 8.5)
    if heading.code is not None:
        left = right - _CODE_SIDE - 10 - _TAG_ROOM
        pen.fit(left, top + 9, heading.code_word, _TAG_ROOM, 7.5, align=Align.RIGHT)
        # Whole at any length: the beginning of a tag can be another unit's.
        tag, fitting = whole_line(heading.code, 23, _TAG_ROOM, 0)
        pen.text(left + _TAG_ROOM, top + 33, tag, fitting, BOLD, Align.RIGHT)
        pen.code(right - _CODE_SIDE, top, heading.code, _CODE_SIDE)
    pen.rule(MARGIN, top + HEAD_HEIGHT - 7, size.inner, 1.2)


def _draw_foot(pen: Pen, size: PageSize, heading: Heading, page: int, pages: int) -> None:
    texts = sheet_texts()
    top = size.high - MARGIN - FOOT_HEIGHT + 6
    pen.rule(MARGIN, top, size.inner, 0.8)
    for place, line in enumerate(texts.cautions):
        pen.fit(MARGIN, top + 9 + 8.4 * place, worded(line), size.inner, 7.2, BOLD if place == 0 else "Roboto")
    pen.rule(MARGIN, top + 9 + 8.4 * len(texts.cautions) - 4.6, size.inner, 0.4, 0.6)
    baseline = size.high - MARGIN + 3
    pen.fit(MARGIN, baseline, _origin(heading), size.inner - 70, 7.2)
    pen.text(size.wide - MARGIN, baseline, say("page {page} of {pages}", page=page, pages=pages), 8, BOLD, Align.RIGHT)
    if pen.lacked_glyphs:
        pen.fit(MARGIN, top - 3, worded(texts.lacking_glyph), size.inner, 7, BOLD)


def _origin(heading: Heading) -> str:
    letterhead = heading.letterhead
    parts = [
        say("record {record}", record=heading.record),
        say("printed {printed_at}", printed_at=letterhead.printed_at),
    ]
    if letterhead.printed_by:
        parts.append(say("by {printed_by}", printed_by=letterhead.printed_by))
    if letterhead.journal_entry is not None:
        parts.append(
            say(
                "journal entry {number} {hash}",
                number=letterhead.journal_entry,
                hash=letterhead.journal_hash or NO_HASH,
            )
        )
    if letterhead.desk_key is not None:
        parts.append(say("desk key {desk_key}", desk_key=letterhead.desk_key))
    return strung("   ", parts)


NO_HASH = say("(hash not recorded)")


def joined(words: Sequence[str]) -> str:
    """The words that are there, set apart by wide spaces."""
    return strung("   ", (word for word in words if word))
