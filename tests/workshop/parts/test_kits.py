"""Kits and their least contents, counted stock, places and owners. Common practice, no published source."""

import pytest

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.acts import move_parts, quarantine_part
from fleetbench.workshop.parts.counted import count_stock, counted_stock, fill_kit, list_kits, set_kit_content, use_up
from fleetbench.workshop.parts.receive import Delivery, receive_lot, receive_serials
from fleetbench.workshop.parts.stock import add_owner, add_place, list_places, list_shelf
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock


@pytest.fixture
def bench(sqlite_database: Database, clock: Clock) -> Workplace:
    """The small centre with the technician at the bench."""
    workplace = Workplace(sqlite_database, clock)
    return workplace.as_person(write_centre(workplace.database, clock()).technician)


def test_a_kit_is_filled_up_from_the_shelf_with_what_ends_first_and_the_rest_is_short(bench: Workplace) -> None:
    shelf, van = add_place(bench, "Shelf A", "shelf"), add_place(bench, "Van", "van")
    for serial, made in (("C-LATE", "2026-04"), ("C-SOON", "2026-01")):
        receive_serials(bench, "CELL-L", [serial], Delivery(made=MarkedDate.parse(made), place_id=shelf))
    set_kit_content(bench, van, "CELL-L", 4)
    (line,) = list_kits(bench)
    assert (line.needs.held, line.usable, line.missing, line.short) == (0, 0, 4, 1)
    # Made first ends first: C-SOON in January, C-NEW on 25 March, C-LATE in April; C-OLD is past, C-UNDATED not known.
    assert fill_kit(bench, van, "CELL-L") == ("C-SOON", "C-NEW", "C-LATE")
    (line,) = list_kits(bench)
    assert (line.needs.held, line.usable, line.missing, line.short) == (3, 3, 1, 1)
    with pytest.raises(Refused, match="no usable piece lies on a shelf"):
        fill_kit(bench, van, "CELL-L")


def test_what_cannot_be_used_does_not_count_as_in_the_kit_and_other_kits_are_not_robbed(bench: Workplace) -> None:
    van, box = add_place(bench, "Van", "van"), add_place(bench, "Course box", "kit")
    keys = {row.part.label: row.part.part_id for row in list_shelf(bench)}
    move_parts(bench, [keys["C-OLD"], keys["C-NEW"]], van)
    for place in (van, box):
        set_kit_content(bench, place, "CELL-L", 1)
    lines = {line.needs.place: line for line in list_kits(bench)}
    assert (lines["Van"].needs.held, lines["Van"].usable, lines["Van"].missing) == (2, 1, 0)
    assert (lines["Course box"].missing, lines["Course box"].to_put) == (1, ())
    quarantine_part(bench, keys["C-NEW"], "dented")
    assert {line.needs.place: line.missing for line in list_kits(bench)} == {"Van": 1, "Course box": 1}
    with pytest.raises(Refused, match="choose a kit or a van"):
        set_kit_content(bench, add_place(bench, "Shelf A", "shelf"), "CELL-L", 1)


def test_two_kits_are_never_offered_the_same_piece(bench: Workplace) -> None:
    for name in ("Box 1", "Box 2"):
        set_kit_content(bench, add_place(bench, name, "kit"), "CELL-L", 1)
    first, second = list_kits(bench)
    assert [piece.part.label for piece in first.to_put] == ["C-NEW"]
    assert (second.to_put, second.short) == ((), 1)


def test_counted_stock_tells_lots_counts_and_tickets(bench: Workplace, clock: Clock) -> None:
    receive_lot(bench, "MPV-L", "M1", 5, Delivery())
    receive_lot(bench, "MPV-L", "M2", 2, Delivery())
    ticket = open_ticket(bench, "LK-01", cause="by hand", reason="rebuild")
    use_up(bench, "MPV-L", 1, "rebuild", ticket_id=ticket)
    clock.advance(minutes=1)
    assert count_stock(bench, "MPV-L", "M2", 1, "yearly") == -1
    told = counted_stock(bench, "MPV-L")
    assert {each.lot: each.pieces for each in told.lots} == {"M1": 4, "M2": 1}
    ((count, person),) = told.counts
    assert (count.lot, count.book, count.counted, person) == ("M2", 2, 1, "Tamsin Orrel")
    assert told.tickets == ((ticket, "2026-001"),)
    with pytest.raises(NotFound):
        counted_stock(bench, "NONE")


def test_places_and_owners_are_entered_once_and_listed_with_what_is_there(bench: Workplace) -> None:
    shelf, renter = add_place(bench, "Shelf A", "shelf"), add_owner(bench, "A renter's own", "renter")
    receive_serials(bench, "CELL-L", ["C-7"], Delivery(place_id=shelf, owner_id=renter))
    told = {row.name: (row.what, row.kind, row.parts, row.units) for row in list_places(bench)}
    assert told["Shelf A"] == ("place", "shelf", 1, 0)
    assert told["A renter's own"] == ("owner", "renter", 1, 0)
    assert told["the centre"][3] == 2
    with pytest.raises(Refused, match="is a place already"):
        add_place(bench, " shelf a ", "kit")
    with pytest.raises(Refused, match="is an owner already"):
        add_owner(bench, "The Centre", "loan")
    with pytest.raises(Refused, match="kind"):
        add_place(bench, "Attic", "attic")
