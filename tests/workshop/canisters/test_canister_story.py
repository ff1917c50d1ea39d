"""A canister's story on its page, its label, its gauge and its answers to a plan."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from fleetbench.calc.canisters.fill import AbsorbentRule
from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.workshop.canisters.absorbent import PlannedDive, fill_outlook, usual_plan, work_choices
from fleetbench.workshop.canisters.history import canister_story, fill_label
from fleetbench.workshop.canisters.packing import (
    close_up,
    discard_fill,
    give_fill,
    mark_flooded,
    pack_canister,
    pack_choices,
)
from fleetbench.workshop.canisters.runs import RunEntry, correct_run, log_run
from fleetbench.workshop.core.find import find
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.absorbent_centre import CANISTER, SPARE, AbsorbentKeys, write_absorbent
from tests.paper.pdf_reader import texts


@pytest.fixture
def workplace(sqlite_database: Any, clock: Any) -> Workplace:
    """An empty workplace on a SQLite file."""
    return Workplace(sqlite_database, clock)


@pytest.fixture
def keys(workplace: Workplace, clock: Any) -> AbsorbentKeys:
    """The small centre with absorbent, written."""
    return write_absorbent(workplace, clock)


@pytest.fixture
def bench(workplace: Workplace, keys: AbsorbentKeys) -> Workplace:
    """The workplace with the technician at the bench."""
    return workplace.as_person(keys.centre.technician)


@pytest.fixture
def part_id(bench: Workplace, keys: AbsorbentKeys) -> int:
    """The canister of LK-01, packed for today's hire."""
    pack_canister(bench, CANISTER, keys.open_one, tare_g=1240.0, filled_g=3740.0, looked_at=True, line_id=keys.line)
    return pack_choices(bench, CANISTER).part_id


def test_a_day_and_a_night_of_one_fill_read_as_one_story(bench: Workplace, part_id: int, clock: Any) -> None:
    for water in (12, None, 14):
        clock.advance(hours=2)
        began = clock() - timedelta(minutes=40)
        log_run(bench, CANISTER, RunEntry(minutes=40, coldest_c=water, deepest_m=18, started_at=began))
    clock.advance(minutes=30)
    close_up(bench, CANISTER, note="lid on, in the dry room")
    clock.advance(hours=15)
    discard_fill(bench, CANISTER, "hire over")
    story = canister_story(bench, part_id)
    (fill,) = story.fills
    assert [line.what for line in fill.lines] == ["packed", "run", "run", "run", "closed up", "discarded"]
    assert [line.person for line in fill.lines] == [
        "Tamsin Orrel", *["Ines Quell"] * 3, "Tamsin Orrel", "Tamsin Orrel"
    ]  # fmt: skip
    assert fill.lines[0].words == (
        "packed, 2500 g (3740 g filled, 1240 g empty), lot F-1, seal, seat, spacer and spring looked at"
    )
    assert fill.lines[2].words == "40 loop minutes in LK-01, coldest water not known, 18 m"
    assert fill.lines[4].words == "closed up partly used; no hour is won by it (lid on, in the dry room)"
    assert fill.lines[5].words == "discarded: hire over"
    # Invented table: 180 min at 12 C and 20 m; unknown water is the row of 4 C and 40 m, 120 min.
    used = [line.used for line in fill.lines if line.what == "run"]
    assert used == [pytest.approx(40 / 180), pytest.approx(40 / 180 + 40 / 120), pytest.approx(80 / 180 + 40 / 120)]
    assert (fill.standing, story.clocks) == (False, ())
    assert [line.act for line, _person in reversed(story.journal)] == [
        "pack canister", "log run", "log run", "log run", "close up canister", "discard fill"
    ]  # fmt: skip


def test_giving_on_a_flood_and_a_correction_stand_in_the_story_too(
    bench: Workplace, part_id: int, keys: AbsorbentKeys, clock: Any
) -> None:
    give_fill(bench, CANISTER, diver_id=keys.other)
    clock.advance(hours=2)
    began = clock() - timedelta(minutes=6)
    run = log_run(bench, CANISTER, RunEntry(minutes=6, coldest_c=12, deepest_m=18, started_at=began))
    right = RunEntry(minutes=60, coldest_c=12, deepest_m=18, started_at=clock() - timedelta(minutes=60))
    correct_run(bench, CANISTER, run, reason="typing", instead=right)
    clock.advance(minutes=5)
    mark_flooded(bench, CANISTER)
    lines = canister_story(bench, part_id).fills[0].lines
    words = [line.words for line in lines]
    assert "for Odo Brandt" in words
    assert "run of 6 min from 2026-05-04 11:24 left out of the count: typing" in words
    assert "flooded: the fill is spent" in words
    assert [line.words for line in lines if line.what == "run"] == ["60 loop minutes in LK-01, 12 °C, 18 m"]


def test_clocks_run_from_first_use_from_opening_and_to_the_lots_last_day(
    bench: Workplace, part_id: int, clock: Any
) -> None:
    before = {each.rule: each for each in canister_story(bench, part_id).clocks}
    assert before[AbsorbentRule.FIRST_USE].began is None and before[AbsorbentRule.FIRST_USE].known
    started = clock.advance(hours=1)
    clock.advance(hours=1)
    log_run(bench, CANISTER, RunEntry(minutes=40, started_at=started))
    after = {each.rule: each for each in canister_story(bench, part_id).clocks}
    assert after[AbsorbentRule.FIRST_USE].left(clock()) == timedelta(hours=23)
    assert after[AbsorbentRule.OPENED].left(clock()) == timedelta(hours=336 - 48 - 2)


def test_the_label_says_what_was_packed_and_never_what_is_left(
    bench: Workplace, part_id: int, clock: Any, tmp_path: Path
) -> None:
    clock.advance(hours=2)
    began = clock() - timedelta(minutes=60)
    log_run(bench, CANISTER, RunEntry(minutes=60, coldest_c=12, deepest_m=18, started_at=began))
    label = fill_label(bench, part_id)
    assert (label.fill, label.canister, label.packed_at) == ("FILL-1", CANISTER, datetime(2026, 5, 4, 9, 30))
    assert (label.mass_g, label.lot, label.diver, label.booking) == (2500.0, "F-1", "Ines Quell", "H-7")
    assert label.diver_code == "R1"
    # Usual 12 C and 30 m falls to the row of 12 C and 40 m, the worst row is that of 4 C.
    assert [(line.minutes, line.water_c, line.depth_m) for line in label.rated] == [(150, 12, 40), (120, 4, 40)]
    # First use at 10:30 at the site, and 24 hours from it end before the container's 336.
    assert label.discard_by == datetime(2026, 5, 5, 10, 30)
    path = tmp_path / "label.pdf"
    assert write_fill_labels([label], path, centre="Invented Lake Centre") == 1
    (text,) = texts(path.read_bytes())
    for word in ("FILL-1", CANISTER, "2026-05-04 09:30", "Tamsin Orrel", "2500 g", "F-1", "Ines Quell",
                 "150 min at 12 °C, 40 m, 1.35 L/min CO2", "discard by 2026-05-05 10:30",
                 "or 24 h after first use", "ONE DIVER ONLY", "loop"):  # fmt: skip
        assert word in text
    left = fill_outlook(bench).gauges[part_id].minutes
    assert left == pytest.approx(100.0)
    assert "100" not in text and "left" not in text


def test_an_unknown_fill_or_canister_is_not_found(bench: Workplace, part_id: int) -> None:
    with pytest.raises(NotFound, match="no such fill was packed in it"):
        fill_label(bench, part_id, 77)
    with pytest.raises(NotFound, match="no canister has this key"):
        canister_story(bench, 10_000)


def test_a_plan_is_answered_with_margin_and_reason_for_every_canister(
    bench: Workplace, part_id: int, keys: AbsorbentKeys
) -> None:
    found = fill_outlook(bench, PlannedDive(100, 12, 20))
    answer = found.answer_of(part_id)
    assert answer is not None
    assert (answer.answer, answer.minutes, answer.margin) == (True, pytest.approx(180), pytest.approx(80))
    assert "180 min rated at 12 °C, 20 m" in answer.reason
    assert [each.answer for each in found.answers] == [True, False, False]
    assert {each.reason for each in found.answers if not each.answer} == {"nothing is packed in it"}


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (PlannedDive(181, 12, 20), "180 min rated"),
        (PlannedDive(60, 3, 20), "colder or deeper than the canister's rated table"),
        (PlannedDive(60, 12, 41), "colder or deeper than the canister's rated table"),
        (PlannedDive(120, 12, 20, 2.7), "180 min rated"),
    ],
)
def test_too_long_too_cold_too_deep_or_too_hard_is_a_no_with_its_reason(
    bench: Workplace, part_id: int, asked: PlannedDive, said: str
) -> None:
    answer = fill_outlook(bench, asked).answer_of(part_id)
    assert answer is not None and not answer.answer and answer.margin < 0
    assert said in answer.reason


def test_a_plan_out_of_reason_is_refused_with_its_field(bench: Workplace, part_id: int) -> None:
    for asked, field in (
        (PlannedDive(0, 12, 20), "minutes"),
        (PlannedDive(60, -40, 20), "water"),
        (PlannedDive(60, 12, -1), "depth"),
    ):
        with pytest.raises(Refused, match=f"^{field}:"):
            fill_outlook(bench, asked)


def test_the_gauge_is_full_when_fresh_and_empty_when_spent(bench: Workplace, part_id: int, clock: Any) -> None:
    assert fill_outlook(bench).gauges[part_id].share == 1.0
    mark_flooded(bench, CANISTER)
    gauge = fill_outlook(bench).gauges[part_id]
    assert (gauge.share, gauge.minutes, gauge.reason) == (0.0, 0.0, "the fill was wetted")


def test_work_is_chosen_from_published_rates_and_the_rated_one_comes_first(bench: Workplace, part_id: int) -> None:
    choices = work_choices()
    assert choices[0].co2_l_min is None
    rates = [choice.co2_l_min for choice in choices[1:]]
    assert rates == sorted(rates)
    assert all(choice.source for choice in choices)
    assert usual_plan(bench) == PlannedDive(60.0, 12.0, 30.0)


def test_a_plan_for_many_canisters_takes_no_more_statements_than_for_one(
    bench: Workplace, part_id: int, keys: AbsorbentKeys
) -> None:
    def statements() -> int:
        seen: list[str] = []

        def note(*details: Any) -> None:
            seen.append(details[2])

        event.listen(bench.database.engine, "before_cursor_execute", note)
        fill_outlook(bench)
        canister_story(bench, part_id)
        event.remove(bench.database.engine, "before_cursor_execute", note)
        return len(seen)

    before = statements()
    pack_canister(bench, SPARE, keys.open_one, tare_g=0.0, filled_g=2400.0)
    assert statements() == before


def test_the_story_of_a_night_with_a_clock_change_keeps_its_order(workplace: Workplace, clock: Any) -> None:
    # At 01:00 UTC on 25 October 2026 central Europe goes back from 03:00 to 02:00 (EU directive 2000/84/EC), so a run
    # begun at 02:40 by the wall comes before one begun at 02:10 by the wall.
    clock.now = datetime(2026, 10, 24, 20, 0, tzinfo=UTC)
    keys = write_absorbent(workplace, clock)
    bench = workplace.as_person(keys.centre.technician)
    pack_canister(bench, CANISTER, keys.open_one, tare_g=0.0, filled_g=2500.0, line_id=keys.line)
    clock.now = datetime(2026, 10, 25, 3, 0, tzinfo=UTC)
    second = log_run(bench, CANISTER, RunEntry(minutes=20, started_at=datetime(2026, 10, 25, 1, 10, tzinfo=UTC)))
    first = log_run(bench, CANISTER, RunEntry(minutes=20, started_at=datetime(2026, 10, 25, 0, 40, tzinfo=UTC)))
    lines = canister_story(bench, pack_choices(bench, CANISTER).part_id).fills[0].lines
    assert [line.run_id for line in lines] == [None, first, second]


def test_the_code_on_a_label_leads_to_the_canister_and_says_when_the_fill_is_gone(
    bench: Workplace, part_id: int, clock: Any
) -> None:
    (hit,) = find(bench, " fill-1 ")
    assert (hit.kind, hit.key, hit.title, hit.exact) == ("canister", str(part_id), "FILL-1", True)
    assert hit.detail == f"fill of canister {CANISTER}, in it now"
    discard_fill(bench, CANISTER, "used up")
    assert find(bench, "FILL-1")[0].detail.endswith("discarded 2026-05-04")
    assert find(bench, "FILL-99") == ()
