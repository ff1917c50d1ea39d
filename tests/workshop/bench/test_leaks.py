"""Where a loop leaks, noted with its test and gathered by place; common practice, no published source."""

from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.bench.tests import record_test
from fleetbench.workshop.bench.valves import leak_desk, leak_places, note_leak
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.list import list_tickets, ticket_page
from fleetbench.workshop.tickets.work import open_ticket
from fleetbench.workshop.units.schematic import unit_schematic
from tests.centres.bench_centre import Keys, write_centre


@pytest.fixture
def bench(workplace: Workplace, clock: Any) -> Workplace:
    """The small centre with the technician at the bench."""
    keys: Keys = write_centre(workplace.database, clock())
    return workplace.as_person(keys.technician)


def loop(bench: Workplace, clock: Any, held: bool) -> None:
    clock.advance(hours=1)
    record_test(bench, "LK-01", "loop negative", held=held, watched_minutes=3)


def test_a_place_that_was_tight_and_leaks_again_comes_first_and_stands_on_the_drawing(
    bench: Workplace, clock: Any
) -> None:
    places = leak_desk(bench, "LK-01").places
    assert "loop set" in places and "inhale one-way valve" in places and "handset 1 battery" not in places
    loop(bench, clock, held=False)
    note_leak(bench, "LK-01", slot="head", method="soapy water")
    clock.advance(minutes=20)
    note_leak(bench, "LK-01", slot="loop set", method="under water")
    note_leak(bench, "LK-01", slot="loop set", method="by ear")  # the same search, told twice
    loop(bench, clock, held=True)
    loop(bench, clock, held=False)
    found = note_leak(bench, "LK-01", slot="loop set", method="soapy water", place="second groove")
    assert (found.place, len(found.found), found.again, found.tight) == ("loop set", 3, 1, False)
    assert [(each.place, each.again, each.tight) for each in leak_places(bench, "LK-01")] == [
        ("loop set", 1, False), ("head", 0, True),
    ]  # fmt: skip
    (head,) = (each for each in unit_schematic(bench, "LK-01").stations() if each.slot == "head")
    assert head.words.endswith("Loop leaked once, last found by soapy water; tight since")
    assert verify(bench.database).first_break is None


def test_a_ticket_tells_the_hour_of_a_leak_as_the_site_s_clock_shows_it(bench: Workplace, clock: Any) -> None:
    opened = open_ticket(bench, "LK-01", cause="failed test", reason="loop leaks")
    record_test(bench, "LK-01", "loop negative", held=False, watched_minutes=3, ticket_id=opened)
    note_leak(bench, "LK-01", slot="head", method="soapy water")
    (told,) = ticket_page(bench, list_tickets(bench)[0].number).leaks
    assert f"{clock().astimezone(ZoneInfo('Europe/Berlin')):%Y-%m-%d %H:%M} by" in told


def test_a_leak_needs_a_test_that_did_not_hold_a_place_and_a_method(bench: Workplace, clock: Any) -> None:
    with pytest.raises(Refused, match="leak: the last loop test held"):
        note_leak(bench, "LK-01", slot="head", method="soapy water")
    loop(bench, clock, held=False)
    for given, line in (
        ({"slot": None, "method": "soapy water"}, "place: is empty"),
        ({"slot": "boiler", "method": "soapy water"}, "slot boiler: unit LK-01 has no slot"),
        ({"slot": "head", "method": "guessing"}, "method: 'guessing' is not known"),
    ):
        with pytest.raises(Refused, match=line):
            note_leak(bench, "LK-01", **given)  # type: ignore[arg-type]
    note_leak(bench, "LK-01", slot=None, method="by ear", place="between hose and canister")
    ((key, place),) = leak_desk(bench, "LK-01").newest
    assert place == "between hose and canister"
    note_leak(bench, "LK-01", slot="head", method="by ear", instead_of=key)
    assert [each.place for each in leak_places(bench, "LK-01")] == ["head"]
    clock.advance(minutes=11)
    ((key, _place),) = ((each, "") for each in (key + 1,))
    with pytest.raises(Refused, match="more than ten minutes ago"):
        note_leak(bench, "LK-01", slot="head", method="by ear", instead_of=key)
    loop(bench, clock, held=True)
    assert leak_desk(bench, "LK-01").why_not
