"""Any grid that can be typed is judged without a fault, and what is missing, stale or unclear never passes."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells import grid
from fleetbench.calc.cells.judge import (
    AcceptedFigures,
    Answer,
    CalibrationInput,
    CellHistory,
    CellReadings,
    Conditions,
    Gas,
    HeadState,
    judge,
    judge_many,
)
from fleetbench.calc.core.verdict import Verdict

USABLE = (Verdict.PASS, Verdict.WATCH)
READERS = ("left", "right", "bench meter")
answers = st.sampled_from(list(Answer))


@st.composite
def readings(draw: st.DrawFn, cell: str, reader: str) -> CellReadings:
    """One reading, from dead over healthy to too high, with gaps and pot points."""
    resolution = draw(st.sampled_from([0.01, 0.1, 0.1, 0.1, 1.0]))
    air = draw(st.one_of(st.none(), st.just(0.0), st.floats(6.0, 14.0)))
    factor = draw(st.one_of(st.just(0.0), st.floats(0.5, 1.3), st.floats(0.94, 1.06)))
    oxygen = draw(st.sampled_from([None, "near", "near", "near"]))
    return CellReadings(
        cell=cell,
        reader=reader,
        air_mv=None if air is None else round(air / resolution) * resolution,
        oxygen_mv=None if oxygen is None else round(4.75 * (air or 10.0) * factor / resolution) * resolution,
        zero_mv=draw(st.sampled_from([None, 0.0, 0.1])),
        resolution_mv=resolution,
        settled=draw(st.sampled_from([Answer.YES, Answer.YES, Answer.YES, Answer.NO, Answer.UNKNOWN])),
        pot=draw(st.sampled_from([(), (), ((1.3, 60.0),), ((0.8, 38.0), (1.6, 74.0))])),
    )


@st.composite
def inputs(draw: st.DrawFn) -> CalibrationInput:
    """A head of one to five cells on one to three readers, some of them not shown, everything else at will."""
    cells = [f"cell {place + 1}" for place in range(draw(st.integers(1, 5)))]
    readers = READERS[: draw(st.integers(1, 3))]
    rows = [draw(readings(cell, reader)) for cell in cells for reader in readers if draw(st.integers(0, 5)) > 0]
    assume(rows)
    kept = tuple(
        AcceptedFigures(reader=name, linearity=100.0, sensitivity_air=48.0, sensitivity_oxygen=48.0) for name in readers
    )
    past = CellHistory(
        undecided_before=draw(st.integers(0, 3)),
        above_before=draw(st.integers(0, 3)),
        accepted=kept if draw(st.booleans()) else (),
    )
    return CalibrationInput(
        conditions=Conditions(
            pressure_mbar=draw(st.floats(700.0, 1050.0)),
            temperature_c=draw(st.floats(2.0, 38.0)),
            humidity=draw(st.one_of(st.none(), st.floats(0.0, 1.0))),
        ),
        gas=Gas(oxygen_fraction=draw(st.sampled_from([None, 0.9, 0.985, 0.995, 1.0, 1.008]))),
        readings=tuple(rows),
        equipment_in_date=draw(st.booleans() | st.just(True)),
        history={cell: past for cell in cells[: draw(st.integers(0, len(cells)))]},
        vented=draw(answers),
        over_pressure_mbar=draw(st.sampled_from([None, None, 0.0, 25.0])),
        head=draw(st.sampled_from(list(HeadState))),
        comparison_passed=draw(st.sampled_from([None, True, False])),
        common_before=draw(st.integers(0, 3)),
    )


@settings(max_examples=250, deadline=None)
@given(inputs())
def test_any_typed_grid_is_judged_and_nothing_unknown_passes(given_input: CalibrationInput) -> None:
    outcome = judge(given_input)
    known = given_input.vented is Answer.YES or given_input.over_pressure_mbar is not None
    clean = given_input.equipment_in_date and given_input.head is not HeadState.DAMP
    for cell in outcome.cells:
        assert cell.finding and cell.next_step
        assert "nan" not in f"{cell.finding} {outcome.blame.sentence}"
        if cell.verdict not in USABLE:
            assert cell.verified_up_to_bar is None
            continue
        assert known and clean and given_input.gas.oxygen_fraction is not None
        rows = [row for row in given_input.readings if row.cell == cell.cell]
        fine = [row for row in rows if row.resolution_mv < 1.0]
        assert fine
        for row in fine:
            assert row.air_mv is not None and row.oxygen_mv is not None
            assert row.settled is Answer.YES


@settings(max_examples=60, deadline=None)
@given(st.lists(inputs(), max_size=6))
def test_heads_judged_beside_each_other_come_out_as_each_alone(heads: list[CalibrationInput]) -> None:
    assert [repr(each) for each in judge_many(heads)] == [repr(judge(each)) for each in heads]


def test_a_head_that_cannot_be_judged_is_told_of_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    room = {"conditions": Conditions(pressure_mbar=1013.0, temperature_c=20.0), "gas": Gas(oxygen_fraction=0.99)}
    row = CellReadings(cell="cell 1", reader="left", air_mv=10.4, oxygen_mv=49.0, settled=Answer.YES)
    sound = CalibrationInput(readings=(row,), equipment_in_date=True, **room)
    spoilt = CalibrationInput(readings=(replace(row, pot=((1.6, 77.0),)),), equipment_in_date=True, **room)

    def no_line(*_points: object, **_limits: object) -> None:
        raise ValueError("points: a line needs two points at different places")

    monkeypatch.setattr(grid, "hold_against_line", no_line)
    first, fault, last = judge_many([sound, spoilt, sound])
    assert repr(first) == repr(last) == repr(judge(sound))
    assert isinstance(fault, ValueError) and "two points" in str(fault)
    with pytest.raises(ValueError, match="two points"):
        judge(spoilt)
