"""The pages as they looked when a person last looked at them: ``python -m tests.paper.golden --write``.

Each page is kept as its text and as a small grey picture. Write them anew only after looking at the pages: the
command also puts large pictures into a folder for that (``--look FOLDER``).
"""

import argparse
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

from fleetbench.paper.canisters.labels import write_fill_labels, write_tag_labels
from fleetbench.paper.core.document import PageSize
from fleetbench.paper.due.page import write_due_list
from fleetbench.paper.hires.pages import write_course_board, write_handover, write_return_receipt
from fleetbench.paper.tickets.ticket import write_ticket
from fleetbench.paper.turn_rounds.pages import write_daily_log, write_turn_round, write_turn_round_card
from fleetbench.paper.units.evidence import write_incident
from tests.paper import hire_pages, sample_pages
from tests.paper.pdf_reader import made, pictures, texts

FOLDER = Path(__file__).parent / "golden"
_SCALE = 0.9
_GREYS = 16
_SIDE = 9


@dataclass(frozen=True)
class Golden:
    """One kept page: how it is made."""

    name: str
    write: Callable[..., object]
    rows: Callable[[], object]
    size: PageSize | None = PageSize.A4
    beside: Mapping[str, object] = field(default_factory=dict)

    def pdf(self) -> bytes:
        """The pages as they are now."""
        rows = self.rows()
        sized = {} if self.size is None else {"size": self.size}
        return made(self.write, *(rows if isinstance(rows, tuple) else (rows,)), **sized, **self.beside)


KEPT = (
    Golden("due-list", write_due_list, sample_pages.due),
    Golden("ticket", write_ticket, sample_pages.ticket, beside=sample_pages.TICKET_WITH),
    Golden("incident", write_incident, sample_pages.incident),
    Golden("hand-over", write_handover, sample_pages.handover),
    Golden("hand-over-on-hold", write_handover, sample_pages.handover_on_hold),
    Golden("hand-over-letter", write_handover, sample_pages.handover_long_names, PageSize.LETTER),
    Golden("hand-over-empty", write_handover, sample_pages.handover_empty),
    Golden(
        "not-for-diving", write_handover, lambda: sample_pages.handover(hand_over="not for diving"), PageSize.LETTER
    ),
    Golden("hand-over-signed", write_handover, hire_pages.handover_signed),
    Golden("course-board", write_course_board, hire_pages.board),
    Golden("return-receipt", write_return_receipt, hire_pages.receipt, PageSize.LETTER),
    Golden("daily-log", write_daily_log, sample_pages.form),
    Golden("turn-round-card", write_turn_round_card, sample_pages.form, PageSize.LETTER),
    Golden("turn-round-flood", write_turn_round, sample_pages.turn_round),
    Golden("fill-label", write_fill_labels, lambda: [sample_pages.fill_label()], None),
    Golden("fill-label-scripts", write_fill_labels,
           lambda: [sample_pages.fill_label(diver=name) for name in sample_pages.NAMES_OF_SCRIPTS], None),
    Golden("tag-label", write_tag_labels, lambda: [sample_pages.tag_label()], None),
)  # fmt: skip


def kept_text(golden: Golden) -> Path:
    """Where the text of a kept document stands, a line a page."""
    return FOLDER / f"{golden.name}.txt"


def kept_picture(golden: Golden, page: int) -> Path:
    """Where the picture of a page stands, counted from 1."""
    return FOLDER / f"{golden.name}-{page}.png"


def small(picture: np.ndarray) -> np.ndarray:
    """A picture in few greys, as it is kept."""
    return (picture // _GREYS * _GREYS + _GREYS // 2).astype(np.uint8)


def small_pictures(golden: Golden) -> list[np.ndarray]:
    """The pages now, as they would be kept."""
    return [small(picture) for picture in pictures(golden.pdf(), _SCALE)]


def largest_change(one: np.ndarray, other: np.ndarray) -> float:
    """The largest difference of mean grey between two pictures over squares of nine pixels; 255 where sizes differ.

    Smoothing of edges differs between versions of a renderer and averages out in a square; a word that moved does not.
    """
    if one.shape != other.shape:
        return 255.0
    high, wide = (length // _SIDE * _SIDE for length in one.shape)
    means = [
        picture[:high, :wide].astype(float).reshape(high // _SIDE, _SIDE, wide // _SIDE, _SIDE).mean(axis=(1, 3))
        for picture in (one, other)
    ]
    return float(np.abs(means[0] - means[1]).max())


def write_all() -> None:
    """Keep every page as it is now."""
    FOLDER.mkdir(exist_ok=True)
    for golden in KEPT:
        kept_text(golden).write_text("\n".join(texts(golden.pdf())) + "\n", encoding="utf-8")
        for page, picture in enumerate(small_pictures(golden), start=1):
            image = Image.fromarray(picture).quantize(256 // _GREYS)
            image.save(kept_picture(golden, page), optimize=True)


def look(folder: Path) -> None:
    """Put every page as a large picture into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for golden in KEPT:
        for page, picture in enumerate(pictures(golden.pdf(), 1.8), start=1):
            Image.fromarray(picture).save(folder / f"{golden.name}-{page}.png")


def main(arguments: list[str] | None = None) -> int:
    """Write or show the kept pages."""
    parser = argparse.ArgumentParser(description="The pages as they looked when a person last looked at them.")
    parser.add_argument("--write", action="store_true", help="keep every page as it is now")
    parser.add_argument("--look", type=Path, metavar="FOLDER", help="put large pictures of every page there")
    asked = parser.parse_args(arguments)
    if asked.look is not None:
        look(asked.look)
    if asked.write:
        write_all()
    if asked.look is None and not asked.write:
        parser.print_help()
    return 0


if __name__ == "__main__":
    sys.exit(main())
