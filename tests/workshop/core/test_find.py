"""The find box: what a typed or scanned text leads to."""

from typing import Any

import pytest

from fleetbench.records.units.tables import Unit
from fleetbench.workshop.core.find import find
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.ready_centre import Centre, counted


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def hits(centre: Centre, text: str) -> list[tuple[str, str]]:
    return [(hit.kind, hit.key) for hit in find(centre.workplace, text)]


def test_a_tag_a_former_tag_and_a_serial_lead_to_the_unit_whatever_their_case(centre: Centre) -> None:
    centre.change(Unit, centre.one, tag="LK-91", former_tag="LK-01")
    for text in ("lk-91", " LK-91\n", "lk-01", "s-lk-01"):
        assert hits(centre, text)[0] == ("unit", "LK-91"), text


def test_serials_and_lots_lead_to_parts_by_their_kind(centre: Centre) -> None:
    assert hits(centre, "c-new") == [("cell", str(centre.part("C-NEW")))]
    assert hits(centre, "CAN-SPARE") == [("canister", str(centre.part("CAN-SPARE")))]
    assert {kind for kind, _ in hits(centre, "L2")} == {"cell"}
    assert hits(centre, "F-1")[0][0] == "container"


def test_a_ticket_a_booking_and_a_person_are_found(centre: Centre) -> None:
    centre.ticket(centre.one, 14)
    assert hits(centre, "2026-14") == hits(centre, "2026-014") == [("ticket", "2026-014")]
    assert ("booking", "H-7") in hits(centre, "h-7")
    centre.person("R9", "renter", "Ąsa Żółć")
    assert [kind for kind, _ in hits(centre, "ŻÓŁĆ")] == ["person"]


def test_exact_finds_come_before_those_that_only_hold_the_text(centre: Centre) -> None:
    found = find(centre.workplace, "LK-01")
    assert found[0].kind == "unit"
    assert [hit.exact for hit in found] == sorted((hit.exact for hit in found), reverse=True)


@pytest.mark.parametrize("text", ["", "   ", "%", "_", "\\", "' OR 1=1 --", "no such thing"])
def test_signs_of_a_pattern_or_a_query_are_plain_text(centre: Centre, text: str) -> None:
    assert find(centre.workplace, text) == ()


def test_at_most_fifty_are_shown_in_a_fixed_number_of_statements(centre: Centre, sample_workplace: Workplace) -> None:
    with counted(centre.workplace) as few:
        find(centre.workplace, "C")
    with counted(sample_workplace) as many:
        assert len(find(sample_workplace, "C")) == 50
    assert len(few) == len(many)
