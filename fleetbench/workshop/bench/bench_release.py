"""The release tests of a loop as a bench makes them: valves by breath, loop by eye, in one act."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetbench.records.bench.bench_limits import type_facts
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.errors import Refused
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.offers import LOOP_KINDS, loop_limit
from fleetbench.workshop.bench.tests import (
    FINDING_ROOM,
    Bounds,
    RecordedTest,
    answer_of,
    part_tested,
    standing_test,
    tick_lines,
    ticket_at_hand,
)
from fleetbench.workshop.core.figures import figure_or_none
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import somebody


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen of a loop by eye: whether it held, and for how many minutes it was watched."""

    held: bool | None
    minutes: float | None = None


def record_release(
    shop: Shop,
    tag: str,
    *,
    inhale: bool | None,
    exhale: bool | None,
    negative: Seen,
    positive: Seen,
    ticket_id: int | None = None,
    instead_of: Sequence[int] = (),
) -> tuple[RecordedTest, ...]:
    """Valves by breath and loop by eye in one act, each a test of its own; what was not done (None) is not recorded.

    True is held, False leaked or fell. Full evidence at release, common practice, no published source.
    instead_of: tests of the same kinds, not older than ten minutes, that these put right.
    """
    somebody(shop)
    for seen in (negative, positive):
        figure_or_none("watched", seen.minutes, 0, 1440, "enter minutes")
    done: list[tuple[str, str | None, Seen]] = [
        ("one-way valve", "inhale", Seen(inhale)),
        ("one-way valve", "exhale", Seen(exhale)),
    ]
    done += [(kind, None, seen) for kind, seen in zip(LOOP_KINDS, (negative, positive), strict=True)]
    given = [each for each in done if each[2].held is not None]
    if not given:
        raise Refused("tests: nothing was tried; try a valve or watch the loop first")
    with shop.acting("valves by breath, loop by eye", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        named = type_facts(act.session, unit).of_type
        ticket = ticket_at_hand(act, unit, ticket_id)
        earlier = [act.get(BenchTest, key, "bench test") for key in instead_of]
        recorded = []
        for kind, direction, seen in given:
            limit = loop_limit(named, kind) if kind in LOOP_KINDS else None
            answer = answer_of(
                kind, held=seen.held, watched_minutes=seen.minutes, value=None, expanded_u=None, bounds=Bounds(),
                loop_limit=limit,
            )  # fmt: skip
            wrong = next((row.id for row in earlier if (row.kind, row.direction) == (kind, direction)), None)
            row = BenchTest(
                unit_id=unit.id,
                part_id=part_tested(act, unit, kind, direction, None),
                kind=kind,
                direction=direction,
                at=act.at,
                person_id=shop.person_id,
                ticket_id=ticket.id if ticket is not None else None,
                held=seen.held,
                watched_minutes=seen.minutes,
                result=answer.verdict.value,
                supersedes_id=standing_test(act, unit, kind, wrong),
                finding=answer.sentence[:FINDING_ROOM],
            )
            recorded.append((act.add(row), answer))
        return tuple(RecordedTest(test_id=row.id, answer=answer, ticked=tick_lines(act, unit, row))
                     for row, answer in recorded)  # fmt: skip
