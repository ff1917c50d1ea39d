"""Calls to divers who are out with a unit on hold; that only an answer ends it is common practice, no published
source."""

from datetime import timedelta
from typing import Any

import pytest

from fleetbench.calc.hires.promises import CallFact, is_told
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import unit_page
from fleetbench.workshop.units.today import TodayPage, calls_on, note_call, today_page
from tests.centres.ready_centre import Centre


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, one unit out on hire H-7 and on hold."""
    centre = Centre(workplace, clock)
    centre.change(BookingUnit, centre.keys.line, out_at=centre.ago(0.1), hand_over="kit")
    centre.hold(unit_id=centre.one, reason="lot recalled")
    return centre


def listed(page: TodayPage) -> tuple[list[str], list[str]]:
    return [line.unit for line in page.ring_the_renter], [line.unit for line in page.rung]


def test_only_an_answer_that_ends_it_takes_a_diver_off_the_list_and_a_new_hold_puts_them_back(centre: Centre) -> None:
    workplace, line = centre.workplace, centre.keys.line
    (to_ring,) = today_page(workplace).ring_the_renter
    assert (to_ring.line_id, to_ring.told) == (line, "it must not be dived")
    centre.clock.advance(minutes=5)
    for answer in ("no answer", "message left", "means to dive it"):
        again = centre.clock() + timedelta(minutes=30)
        note_call(workplace, line, told=to_ring.told, answer=answer, again_at=again)
        assert listed(today_page(workplace)) == (["LK-01"], [])
        centre.clock.advance(minutes=31)
    assert "; means to dive it, " in today_page(workplace).ring_the_renter[0].next_act
    note_call(workplace, line, told="another matter", answer="will bring it back")
    assert listed(today_page(workplace)) == (["LK-01"], [])  # something else was spoken of
    centre.clock.advance(minutes=1)
    said = note_call(workplace, line, told=to_ring.told, answer="will not dive it", words="heard it from the club")
    assert said == "LK-01: will not dive it."
    assert listed(today_page(workplace)) == ([], ["LK-01"])
    centre.clock.advance(minutes=1)
    centre.hold(unit_id=centre.one, reason="a second recall", placed_at=centre.clock())
    assert listed(today_page(workplace)) == (["LK-01"], [])
    calls = unit_page(workplace, "LK-01").calls
    assert [each.fact.answer for each in calls][-1] == "will not dive it" and len(calls) == 5
    assert calls[-1].words == "Call: heard it from the club"
    assert calls == calls_on(workplace, 1) and verify(workplace.database).first_break is None


def test_a_call_says_what_is_next_and_is_about_a_unit_that_is_out(centre: Centre) -> None:
    workplace, line = centre.workplace, centre.keys.line
    for given, words in (
        ({"answer": "no answer"}, "ring again: 'no answer' does not end it"),
        ({"answer": "no answer", "again_at": centre.ago(0.1)}, "ring again: lies in the past"),
        ({"answer": "perhaps"}, "answer: 'perhaps' is not known"),
    ):
        with pytest.raises(Refused, match=words):
            note_call(workplace, line, told="it must not be dived", **given)  # type: ignore[arg-type]
    centre.change(BookingUnit, line, received_at=centre.ago(0))
    with pytest.raises(Refused, match="is not out on this booking"):
        note_call(workplace, line, told="it must not be dived", answer="will not dive it")


def test_a_later_call_that_reached_nobody_puts_the_diver_back(centre: Centre) -> None:
    now = centre.clock()
    agreed = CallFact(now, "not after 3 May", "will not dive it")
    assert is_told([agreed], "not after 3 May", [now])
    assert not is_told([agreed], "it must not be dived", [])
    later = CallFact(now + timedelta(hours=1), "not after 3 May", "no answer")
    assert not is_told([agreed, later], "not after 3 May", [])
    assert not is_told([], "it must not be dived", [])
