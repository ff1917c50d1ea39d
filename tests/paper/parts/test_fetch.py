"""The list of parts to fetch on paper: by place, with what is short. Figures are invented."""

from datetime import date

from fleetbench.paper.parts.pages import write_fetch_list
from fleetbench.records.parts.reads import PartRecord
from fleetbench.workshop.parts.orders import FetchRow
from fleetbench.workshop.parts.stock import ShelfPiece
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, texts

FIRST, LAST = date(2026, 5, 7), date(2026, 5, 21)


def piece(name: str, place: str | None, last: date | None) -> ShelfPiece:
    return ShelfPiece(Distinct().row(PartRecord, serial=name), place, last)


CELLS = FetchRow(7, "CELL-A", "Oxygen cell A", 3, ("B-01, cell 1", "B-01, cell 2", "B-05, cell 3"),
                 (piece("C-101", "Cold store", date(2026, 9, 1)), piece("C-102", "Shelf 1", None)), 1)  # fmt: skip


def printed(*rows: FetchRow) -> str:
    return " ".join(texts(made(write_fetch_list, rows, first=FIRST, last=LAST)))


def test_pieces_stand_by_place_with_their_slots_and_what_is_short_with_its_own() -> None:
    text = printed(CELLS)
    assert "2026-05-07 through 2026-05-21" in text and "2 to take" in text and "1 short" in text
    assert text.index("Cold store") < text.index("C-101") < text.index("Shelf 1") < text.index("C-102")
    assert "2026-09-01" in text and "no limit on the shelf" in text
    assert text.index("Short: no usable piece") < text.index("B-05, cell 3")


def test_a_place_that_is_not_recorded_is_said_and_an_empty_list_says_so() -> None:
    lost = FetchRow(7, "CELL-A", "Oxygen cell A", 1, ("B-01, cell 1",), (piece("C-9", None, None),), 0)
    assert "place not recorded" in printed(lost) and "Short" not in printed(lost)
    assert "Nothing to pick" in printed()


def test_names_from_people_are_text_and_equal_facts_give_equal_bytes() -> None:
    odd = FetchRow(7, "X", "<b>Łódź</b> & =1+1" * 8, 1, ("B-01, cell 1",), (piece("<i>", "A & B", None),), 0)
    assert "<i>" in printed(odd)
    first, second = (made(write_fetch_list, (odd,), first=FIRST, last=LAST) for _ in range(2))
    assert first == second
