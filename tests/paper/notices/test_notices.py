"""Units on which a notice is not done, and a recall with everything that it touched, on paper."""

from datetime import date

from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Exposure, NoticeFacts
from fleetbench.paper.notices.pages import write_notice_list, write_recall
from fleetbench.workshop.notices.acts import NotDone, NoticePage
from fleetbench.workshop.notices.touched import Touched, TouchedHire, TouchedPart, TouchedUnit
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, texts


def not_done(number: str, unit: str, by_when: date | None = date(2026, 5, 3), late: bool = True) -> NotDone:
    notice = NoticeFacts(number=number, issued_on=date(2026, 5, 1), title="Cells may drift", text="", by_when=by_when,
                         action="swap the cell")  # fmt: skip
    return NotDone(notice, TouchedUnit(1, unit, "Shelf 1", True, ("Oxygen cell A C-1, lot L1 in cell 1",)), late)


def listed(*rows: NotDone) -> str:
    return " ".join(texts(made(write_notice_list, rows, on=date(2026, 5, 7))))


def test_each_notice_names_its_units_what_is_in_them_and_what_to_do_by_when() -> None:
    undated = not_done("N-2", "KB-01", by_when=None, late=False)
    text = listed(not_done("N-1", "KB-01"), not_done("N-1", "KB-02"), undated)
    assert "2 units with something not done" in text and "2 after the last day for it" in text
    assert "stops the unit; by 2026-05-03, past. To do: swap the cell" in text
    assert "at once" in text and "lot L1 in cell 1" in text


def test_an_empty_list_says_that_every_notice_is_done_as_far_as_the_records_go() -> None:
    assert "as far as the records go" in listed()


def test_a_recall_names_whom_to_ring_first_then_units_parts_and_other_hires() -> None:
    some = Distinct()
    touched = some.row(
        Touched,
        units=(some.row(TouchedUnit, unit="KB-01", place=None, now=True, why=("in cell 1",)),
               some.row(TouchedUnit, unit="KB-02", place="Shelf 2", now=False, why=("was",))),
        parts=(some.row(TouchedPart, part="C-1", unit="KB-01", slot="cell 1"),),
        hires=(some.row(TouchedHire, booking="H-1", kind="hire", unit="KB-01", diver="Zoë", state=HireState.OUT,
                        exposure=Exposure.DIVED, dives=2),
               some.row(TouchedHire, booking="H-0", unit="KB-02", diver=None, renter=None, state=HireState.BACK,
                        exposure=Exposure.MAY, dives=0)),
        containers=(),
    )  # fmt: skip
    notice = some.row(NoticeFacts, number="RECALL L1", weight="stop", by_when=None)
    facts = some.row(NoticePage, notice=notice, touched=touched)
    text = " ".join(texts(made(write_recall, facts)))
    order = ("Out now: ring first", "H-1, hire", "Units", "KB-02", "Parts and containers", "C-1", "Other hires", "H-0")
    places = [text.index(said) for said in order]
    assert places == sorted(places)
    assert "dived with it, 2 dives" in text and "may have dived with it" in text
    assert "hold" in text and "not recorded" in text
