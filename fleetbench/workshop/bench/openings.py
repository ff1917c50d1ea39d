"""What a routine opening leaves for the diver to do; a workshop opening holds the unit instead."""

from fleetbench.records.bench.reads import read_last_tests, read_openings
from fleetbench.records.core.errors import NotFound
from fleetbench.records.units.reads import read_units
from fleetbench.workshop.core.centre import day_of
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.service_plan import service_lines

RELEASE_KINDS = ("one-way valve", "loop negative", "loop positive")
TO_DO = "test the one-way valves and the loop again before the dive"


def after_routine_openings(shop: Shop, tag: str) -> tuple[str, ...]:
    """A sentence for the diver where a unit had a routine opening after its valves and loop were last tested.

    With it what the service plan asks for at every assembly and was not done since the last one.
    One sentence for the last such opening: one test by the diver serves for all of them. NotFound for an unknown tag.
    One-way valves are tested at every assembly, and routine openings are the diver's own: common practice, no
    published source.
    """
    day = day_of(shop)
    with shop.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(f"unit {tag}: no unit has this tag; check the tag or look it up with find")
        openings = read_openings(connection, unit_id=found[0].unit_id)
        tests = read_last_tests(connection, found[0].unit_id, kinds=RELEASE_KINDS)
    tested = max((test.at for test in tests), default=None)
    since = [each for each in openings if each.kind == "routine" and (tested is None or each.at > tested)]
    assembled = tuple(
        f"{line.text} ({line.source})" for line in service_lines(shop, tag) if line.at_assembly and line.due
    )
    if not since:
        return assembled
    return (f"{since[-1].what} on {day.of(since[-1].at).isoformat()}: {TO_DO}", *assembled)
