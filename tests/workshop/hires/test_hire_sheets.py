"""What goes along is counted by name, sheets are signed, and the pages of the hire desk say what was noted."""

from io import BytesIO
from typing import Any

import pytest
from sqlalchemy import update

from fleetbench.printing import print_course_board, print_handover, print_return_receipt, sign_handover
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import AccessoryCount, BookingUnit, SheetSignature, SignatureDrawing, SignedPage
from fleetbench.records.people.retention import erase_within
from fleetbench.records.people.tables import Person
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.hires.handover import (
    Accepting,
    Handing,
    accessories_for,
    counted_along,
    hand_over,
    look_before,
    set_accessories,
)
from fleetbench.workshop.hires.list import handover_facts, hire_lines
from fleetbench.workshop.hires.pages import course_board, return_facts
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.hires.signing import sign_sheet, signatures
from fleetbench.workshop.readiness.hire import Along
from tests.centres.hire_centre import HireCentre
from tests.paper.pdf_reader import texts

DRAWN = (((10, 200), (60, 90), (120, 210)), ((140, 150), (300, 140)))


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> HireCentre:
    """Two units fit to leave, and a list of what goes along with their type."""
    from fleetbench.workshop.core.workplace import Workplace

    made = HireCentre(Workplace(sqlite_database, clock), clock)
    made.make_fit()
    set_accessories(made.workplace.as_person(made.manager), "TYPE-L", [("torch", 1), ("weight", 2)])
    return made


def counts(centre: HireCentre, torch: int = 1, weight: int = 2) -> tuple[tuple[int, int], ...]:
    listed = {each.name: each.accessory_id for each in accessories_for(centre.workplace, "LK-01")}
    return ((listed["torch"], torch), (listed["weight"], weight))


def out(centre: HireCentre, **more: Any) -> int:
    handing = Handing(unit="LK-01", kind="kit", harness="M", deposit=200.0, absorbent_kg=7.5, **more)
    look = look_before(centre.workplace, "LK-01", "H-7", "kit", handing.along)
    accepted = [Accepting("LK-01", check, centre.day(20), "seen") for check in look.to_accept]
    (line,) = hand_over(centre.workplace, "H-7", [handing], accepting=accepted, manager_id=centre.manager, pin="2468")
    return line


def back(centre: HireCentre, line: int, missing: str) -> None:
    centre.clock.advance(hours=6)
    receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=False)
    hand_back(
        centre.workplace, [HandBackEntry(line_id=line, loop_minutes=70, dives=2, missing=missing, deposit_back=150.0)]
    )


def test_what_is_counted_short_is_advised_by_name_and_what_is_all_there_is_not(centre: HireCentre) -> None:
    def advised(along: Along) -> list[str]:
        answer = look_before(centre.workplace, "LK-01", "H-7", "kit", along).assessment
        return [check.evidence for check in answer.advises if check.check == "accessories"]

    assert advised(Along("M", None, counts(centre, weight=1), 7.5)) == ["weight 1 of 2"]
    assert advised(Along("M", None, counts(centre), 7.5)) == []
    (said,) = advised(Along())
    assert "accessories not looked for" in said and "harness size not looked for" in said


def test_a_harness_that_does_not_fit_the_diver_is_advised(centre: HireCentre) -> None:
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.today, last=centre.today, units=("LK-02",),
                         renter_id=centre.keys.other, harnesses=("XL",), last_dives=(centre.day(-10),))  # fmt: skip
    code = book(centre.workplace, entry).code
    answer = look_before(centre.workplace, "LK-02", code, "kit", Along("M", 3, (), 2.5)).assessment
    assert [(check.check, check.evidence) for check in answer.advises] == [
        ("accessories", "harness is size M, the diver needs XL")
    ]


def test_water_far_above_the_centre_asks_for_a_calibration_where_it_is_dived(centre: HireCentre) -> None:
    """At 900 m ISO 2533:1975 gives about 910 mbar, 98 mbar under the 1008 mbar of the calibration."""
    entry = BookingEntry(kind="hire", unit_type="TYPE-L", first=centre.today, last=centre.today, units=("LK-02",),
                         renter_id=centre.keys.other, altitude_m=900.0)  # fmt: skip
    code = book(centre.workplace, entry).code
    answer = look_before(centre.workplace, "LK-02", code, "kit").assessment
    (said,) = (check.evidence for check in answer.advises if check.check == "workshop calibration")
    assert said == "calibrated at 1008 mbar, to be used at 910 mbar"


def test_what_is_named_as_missing_is_counted_back_short_and_the_rest_in_full(centre: HireCentre) -> None:
    line = out(centre, counts=counts(centre))
    back(centre, line, "2 weight")
    assert [(each.name, each.sent, each.back) for each in counted_along(centre.workplace, line)] == [
        ("torch", 1, 1), ("weight", 2, 0),
    ]  # fmt: skip
    facts = return_facts(centre.workplace, line)
    assert (facts.deposit, facts.deposit_back, facts.missing, facts.dives) == (200.0, 150.0, "2 weight", 2)
    stream = BytesIO()
    print_return_receipt(centre.workplace, line, stream)
    (text,) = texts(stream.getvalue())
    for words in ("Return receipt", "Ines Quell", "0, 2 lacking", "2 weight", "150", "70 min"):
        assert words in text, words
    assert verify(centre.workplace.database).first_break is None


def test_a_sheet_signed_by_hand_prints_its_strokes_and_erasing_the_diver_takes_only_the_drawing(
    centre: HireCentre,
) -> None:
    line = out(centre, counts=counts(centre))
    sign_handover(centre.workplace, "H-7", "LK-01", "diver", DRAWN)
    sign_handover(centre.workplace, "H-7", "LK-01", "centre")
    assert [(each.party, each.how, each.strokes) for each in signatures(centre.workplace, line)] == [
        ("diver", "drawn", DRAWN), ("centre", "paper", ()),
    ]  # fmt: skip
    stream = BytesIO()
    print_handover(centre.workplace, handover_facts(centre.workplace, "LK-01", "H-7"), stream)
    text = " ".join(texts(stream.getvalue()))
    for words in ("2 × weight", "Deposit: 200", "7.5 kg sent along in date", "signed on paper", "Tamsin Orrel"):
        assert words in text, words
    with centre.workplace.transaction("write", "test") as act:
        erase_within(act, act.get(Person, centre.keys.renter, "person"))
    assert centre.rows(SignatureDrawing) == [] and centre.rows(SignedPage) == []
    assert [row.party for row in centre.rows(SheetSignature)] == ["diver", "centre"]
    assert signatures(centre.workplace, line)[0].strokes == ()
    assert verify(centre.workplace.database).first_break is None


def test_a_drawing_that_was_changed_behind_the_programs_back_is_shown_no_more(centre: HireCentre) -> None:
    line = out(centre)
    sign_sheet(centre.workplace, "H-7", "LK-01", "diver", DRAWN)
    with centre.workplace.database.engine.begin() as connection:
        connection.execute(update(SignatureDrawing).values(strokes="1,1 2,2 3,3 4,4"))
    assert signatures(centre.workplace, line)[0].strokes == ()


@pytest.mark.parametrize(
    ("strokes", "said"),
    [
        ((((5, 5),),), "hardly more than a dot"),
        ((((0, 0), (5, 5), (9, 9), (2000, 5)),), "leaves its box"),
        ((tuple((each % 900, each % 250) for each in range(5000)),), "too many strokes"),
    ],
)
def test_what_is_no_signature_is_refused(centre: HireCentre, strokes: Any, said: str) -> None:
    out(centre)
    with pytest.raises(Refused, match=said):
        sign_sheet(centre.workplace, "H-7", "LK-01", "diver", strokes)


def test_a_sheet_is_signed_only_once_its_unit_has_left(centre: HireCentre) -> None:
    with pytest.raises(Refused, match="has not left yet"):
        sign_sheet(centre.workplace, "H-7", "LK-01", "diver", DRAWN)


def test_the_board_names_who_has_no_unit_and_what_stands_in_the_way(centre: HireCentre) -> None:
    students = [centre.person(f"S{n}", "student", f"Student {n}") for n in (1, 2)]
    entry = BookingEntry(kind="course", unit_type="TYPE-L", first=centre.day(5), last=centre.day(7),
                         divers=tuple(students), instructor_id=centre.instructor, spares=0, wanted=3,
                         units=("LK-01", "LK-02"), when_full="wait")  # fmt: skip
    booked = book(centre.workplace, entry)
    assert booked.waiting
    board = course_board(centre.workplace, booked.code)
    assert board.rows == () and board.without == ("Student 1", "Student 2", "Pell Aster")
    stream = BytesIO()
    print_course_board(centre.workplace, "H-7", stream)
    (text,) = texts(stream.getvalue())
    assert "LK-01" in text and "Ines Quell" in text and "Hire board" in text
    assert [each.line.unit for each in hire_lines(centre.workplace, "H-7")] == ["LK-01"]


def test_a_list_that_names_one_thing_twice_is_refused_and_what_is_dropped_is_counted_no_more(
    centre: HireCentre,
) -> None:
    manager = centre.workplace.as_person(centre.manager)
    with pytest.raises(Refused, match="stands twice"):
        set_accessories(manager, "TYPE-L", [("torch", 1), ("Torch", 2)])
    set_accessories(manager, "TYPE-L", [("weight", 4)])
    assert [(each.name, each.count) for each in accessories_for(centre.workplace, "LK-01")] == [("weight", 4)]
    assert centre.rows(AccessoryCount) == [] and centre.rows(BookingUnit)[0].out_at is None
