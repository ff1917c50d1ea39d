"""Calibrations that do not hang on each other are judged together, and nothing comes out other than one by one."""

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells.judge import CellLimits
from fleetbench.records.cells.reads import CalibrationFacts, ReadingFacts, Said
from fleetbench.workshop.cells import judging
from fleetbench.workshop.cells.judging import BenchBook, RatedTool, judge_in_turn

AT = datetime(2026, 5, 4, 8, tzinfo=UTC)
UNITS, SLOTS, READERS, SPARES = 4, 3, 2, 6
CELLS = UNITS * SLOTS + SPARES
BOOK = BenchBook(
    slots={slot: f"cell {slot}" for slot in range(SLOTS)},
    readers={reader: (f"handset {reader}", 0.1) for reader in range(READERS)},
    shown={(reader, slot): ("mV", 0.1) for reader in range(READERS) for slot in range(SLOTS)},
    limits={1: CellLimits(), 2: CellLimits(oxygen_floor_mv=40.0, makers_floor=True)},
    part_types={part: 1 + part % 2 for part in range(CELLS)},
    tools={
        1: RatedTool("oxygen analyser", 0.25, "%", date(2026, 12, 1)),
        2: RatedTool("barometer", 0.5, "mbar", date(2026, 12, 1)),
        3: RatedTool("hygrometer", 2.0, "%", None),
    },
    hygrometers={1: 3},
    zone=ZoneInfo("UTC"),
)


def fleet_visits(rng: random.Random) -> list[CalibrationFacts]:
    """Visits of a small fleet, oldest first: weak cells among others, cells that change heads, typing errors."""
    seats = {unit: [unit * SLOTS + slot for slot in range(SLOTS)] for unit in range(UNITS)}
    linearity = [rng.uniform(0.94, 1.0) for _ in range(CELLS)]
    found: list[CalibrationFacts] = []
    for number in range(1, rng.randint(5, 25)):
        unit = rng.randrange(UNITS)
        if rng.random() < 0.4:
            seats[unit] = rng.sample(range(CELLS), SLOTS)
        cells = seats[unit][: rng.choice((SLOTS, SLOTS, 2, 1))]
        found.append(_visit(rng, number, unit, readings_of(rng, cells, [linearity[part] for part in cells])))
    return found


def readings_of(rng: random.Random, cells: Sequence[int], linearity: Sequence[float]) -> tuple[ReadingFacts, ...]:
    """What one or two handsets show of cells, now and then with a zero, a pot point, impure gas or a typing error."""
    gas, typed = rng.choice((1.0, 0.93)), rng.choice((1.0,) * 19 + (10.0,))
    found = []
    for slot, (part, share) in enumerate(zip(cells, linearity, strict=True)):
        air = rng.choice((10.3, 10.4, 7.9))
        points = {"air": air, "oxygen": typed * gas * share * air * 4.84}
        if rng.random() < 0.3:
            points["zero"] = 0.0
        if rng.random() < 0.2:
            points["pot"] = share * air * 7.8 * rng.choice((1.0, 0.9))
        for reader in range(rng.choice((1, READERS, READERS))):
            found += [
                ReadingFacts(
                    part_id=part, slot_id=slot, reader_id=reader, point=point, mv=round(mv, 1),
                    pot_bar=1.6 if point == "pot" else None,
                )
                for point, mv in points.items()
            ]  # fmt: skip
    return tuple(found)


def _visit(rng: random.Random, number: int, unit: int, readings: tuple[ReadingFacts, ...]) -> CalibrationFacts:
    said = {row.part_id: Said(verdict=rng.choice(("pass", "reject")), blame="none") for row in readings}
    return CalibrationFacts(
        calibration_id=number, unit_id=unit, at=AT + timedelta(hours=8 * number), pressure_mbar=1001.5,
        pressure_source="measured", temperature_c=19.5, head=rng.choice(("dry", "dry", "damp", "unknown")),
        vented="yes", settled="yes", readings=readings, made=rng.choice(("workshop", "workshop", "diver")),
        humidity=0.55, oxygen_shown_percent=rng.choice((99.7, 99.7, 99.7, None, 120.0)), analyser_id=1, barometer_id=2,
        over_pressure_mbar=rng.choice((0.0, None)), session_id=rng.choice((None, None, 1, 2)),
        comparison_id=rng.choice((None, None, None, number - 1, number - 3, number + 2)),
        said=said if rng.random() < 0.3 else {}, superseded=rng.random() < 0.1,
    )  # fmt: skip


def told(visits: Iterable[CalibrationFacts]) -> list[tuple[int, str]]:
    """What comes out of each visit, or why it is refused, in the order in which it is told."""
    found: list[tuple[int, str]] = []

    def refuse(each: CalibrationFacts, fault: ValueError) -> None:
        found.append((each.calibration_id, str(fault)))

    for each, judged in judge_in_turn(visits, BOOK, refuse):
        found.append((each.calibration_id, repr(judged)))
    return found


def one_by_one(visits: Sequence[CalibrationFacts]) -> list[tuple[int, str]]:
    """The same with every calibration in a wave of its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judging, "_waves", lambda facts: [[place] for place in range(len(facts))])
        return told(visits)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32))
def test_visits_judged_together_come_out_as_one_by_one_and_are_told_in_their_order(seed: int) -> None:
    visits = fleet_visits(random.Random(seed))
    together = told(visits)
    assert together == one_by_one(visits)
    assert [number for number, _ in together] == [each.calibration_id for each in visits]


def test_the_fleet_of_these_tests_is_judged_in_fewer_waves_and_knows_every_fate() -> None:
    visits = fleet_visits(random.Random(3))
    found = " ".join(what for number in range(30) for _, what in told(fleet_visits(random.Random(number))))
    assert len(list(judging._waves(visits))) < len(visits)
    for fate in ("decimal point", "120", "Reason.ACROSS_LIMIT", "Reason.COMMON_LOW", "proven=True", "ABOVE_LIMIT"):
        assert fate in found, fate


def test_a_visit_that_is_refused_changes_nothing_for_the_others_of_its_wave() -> None:
    rng = random.Random(1)
    sound = [
        replace(
            _visit(rng, 1 + unit, unit, readings_of(rng, (3 * unit, 3 * unit + 1), (0.99, 0.99))),
            session_id=None, comparison_id=None, oxygen_shown_percent=99.7,
        )
        for unit in range(3)
    ]  # fmt: skip
    assert len(list(judging._waves(sound))) == 1
    swapped = [replace(row, slot_id=0) for row in sound[1].readings]
    spoilt = [sound[0], replace(sound[1], readings=tuple(swapped)), sound[2]]
    assert [told(spoilt)[place] for place in (0, 2)] == [told(sound)[place] for place in (0, 2)]
    assert "two cells stand in cell 0" in told(spoilt)[1][1]


def test_a_head_that_was_low_with_its_cells_before_is_known_to_be_so_with_new_ones() -> None:
    # Rule 4 of the bench: after a second flush with a comparison in limits each cell has its own verdict.
    rng = random.Random(0)
    dry = {"head": "dry", "over_pressure_mbar": 0.0, "said": {}, "made": "workshop", "superseded": False}

    def visit(number: int, unit: int, cells: tuple[int, ...], oxygen: float, compared: int | None) -> CalibrationFacts:
        readings = tuple(
            ReadingFacts(part_id=part, slot_id=slot, reader_id=0, point=point, mv=mv)
            for slot, part in enumerate(cells)
            for point, mv in (("air", 10.4), ("oxygen", oxygen))
        )
        usual = {"oxygen_shown_percent": 99.7, "session_id": None, "comparison_id": compared}
        return replace(_visit(rng, number, unit, readings), **dry, **usual)  # type: ignore[arg-type]

    sound = [visit(1, 0, (0, 1), 49.3, None), visit(2, 2, (2, 3), 49.3, None)]
    visits = [*sound, visit(3, 1, (4, 5), 44.0, 1), visit(4, 1, (6, 7), 44.0, 2)]
    found = [[row["verdict"] for row in judged.rows] for _, judged in judge_in_turn(visits, BOOK, lambda *_: None)]
    assert found == [["pass"] * 2, ["pass"] * 2, ["repeat"] * 2, ["reject"] * 2]
