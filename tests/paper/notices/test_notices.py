"""Units on which a notice is not done, and a recall with everything that it touched, on paper."""

from datetime import date

from fleetbench.paper.core.shapes import (
    NoticeListFacts,
    NoticeUnitRow,
    RecallFacts,
    RecallHireRow,
    RecallPartRow,
    RecallUnitRow,
)
from fleetbench.paper.notices.pages import write_notice_list, write_recall
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts


def not_done(number: str, unit: str, **changes: object) -> NoticeUnitRow:
    given = {"number": number, "title": "Cells may drift", "action": "swap the cell", "weight": "stop",
             "by_when": date(2026, 5, 3), "late": True, "unit": unit, "place": "Shelf 1",
             "why": ("Oxygen cell A C-1, lot L1 in cell 1",), **changes}  # fmt: skip
    return NoticeUnitRow(**given)  # type: ignore[arg-type]


def listed(*rows: NoticeUnitRow) -> str:
    facts = NoticeListFacts(sample_pages.LETTERHEAD, "NOTICES-2026-05-07", date(2026, 5, 7), rows)
    return " ".join(texts(made(write_notice_list, facts)))


def test_each_notice_names_its_units_what_is_in_them_and_what_to_do_by_when() -> None:
    undated = not_done("N-2", "KB-01", by_when=None, late=False)
    text = listed(not_done("N-1", "KB-01"), not_done("N-1", "KB-02"), undated)
    assert "2 units with something not done" in text and "2 after the last day for it" in text
    assert "stops the unit; by 2026-05-03, past. To do: swap the cell" in text
    assert "at once" in text and "lot L1 in cell 1" in text


def test_an_empty_list_says_that_every_notice_is_done_as_far_as_the_records_go() -> None:
    assert "as far as the records go" in listed()


def test_a_recall_names_whom_to_ring_first_then_units_parts_and_other_hires() -> None:
    facts = RecallFacts(
        sample_pages.LETTERHEAD, "RECALL L1", "Recall of lot L1", "Output falls.", "swap it", date(2026, 5, 7), None,
        "stop",
        (RecallUnitRow("KB-01", None, True, ("in cell 1",)), RecallUnitRow("KB-02", "Shelf 2", False, ("was",))),
        (RecallPartRow("C-1", "Oxygen cell A", "fitted", "KB-01, cell 1"),),
        (RecallHireRow("H-1", "hire", "KB-01", "Zoë", date(2026, 5, 1), date(2026, 5, 9), "out now"),
         RecallHireRow("H-0", "hire", "KB-02", None, date(2026, 4, 1), date(2026, 4, 9), "back")),
    )  # fmt: skip
    text = " ".join(texts(made(write_recall, facts)))
    order = ("Out now: ring first", "H-1, hire", "Units", "KB-02", "Parts and containers", "C-1", "Other hires", "H-0")
    places = [text.index(said) for said in order]
    assert places == sorted(places)
    assert "hold" in text and "not recorded" in text
