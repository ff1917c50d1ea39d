"""Judgement of whole heads: verdict, reason, words and refusals. Readings are invented; rules without a source are
common practice, no published source."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetbench.calc.cells.grid import ambient_of
from fleetbench.calc.cells.judge import (
    AcceptedFigures,
    Answer,
    BlameKind,
    CalibrationInput,
    CellHistory,
    CellLimits,
    CellOutcome,
    CellReadings,
    Conditions,
    Gas,
    HeadOutcome,
    HeadState,
    PressureSource,
    Reason,
    conditions_from_altitude,
    judge,
)
from fleetbench.calc.core.verdict import Verdict
from tests.independent.visits import Room, Visit
from tests.independent.visits import linearity as apart

STATED = {"pressure_u_mbar": 1.0, "temperature_u_c": 0.5, "humidity_u": 0.03}
ROOM = Conditions(pressure_mbar=1013.25, temperature_c=20.0, humidity=0.5, **STATED)
ANALYSED = Gas(oxygen_fraction=0.995, oxygen_fraction_u=0.003)
AIR_BAR = 0.20939 * (1013.25 - 0.5 * 23.32596) / 1000  # CIPM-2007, WMO-No. 8
OXYGEN_BAR = 0.995 * 1.01325


def row(cell: int, reader: str, linearity: float, air: float = 10.4, **more: object) -> CellReadings:
    """A reading of a cell with this true linearity in percent, rounded to 0.1 mV; ``cell`` is its position."""
    oxygen = air / AIR_BAR * OXYGEN_BAR * linearity / 100
    values = {"air_mv": round(air, 1), "oxygen_mv": round(oxygen, 1), "settled": Answer.YES} | more
    return CellReadings(cell=f"cell {cell}", reader=reader, **values)  # type: ignore[arg-type]


def grid(*linearities: float, readers: tuple[str, ...] = ("left", "right"), **more: object) -> tuple[CellReadings, ...]:
    """Cells of these linearities on every reader, with slightly different outputs."""
    return tuple(
        row(place + 1, reader, linearity, 10.4 + 0.3 * place, **more)
        for place, linearity in enumerate(linearities)
        for reader in readers
    )


def head(readings: tuple[CellReadings, ...], **change: object) -> CalibrationInput:
    """A dry, vented head in a measured room with analysed gas, with changes."""
    ordinary: dict[str, object] = {
        "conditions": ROOM,
        "gas": ANALYSED,
        "readings": readings,
        "equipment_in_date": True,
        "vented": Answer.YES,
        "head": HeadState.DRY,
    }
    return CalibrationInput(**(ordinary | change))  # type: ignore[arg-type]


MEASURED: dict[str, object] = {"over_pressure_mbar": 0.0, "hours_since_last": 24.0}
"""The head's pressure recorded, and the head left to dry."""


def verdicts(outcome: HeadOutcome) -> list[Verdict]:
    """Verdicts in the order of the cells."""
    return [cell.verdict for cell in outcome.cells]


def one(linearity: float, **change: object) -> CellOutcome:
    """Outcome of the first of three cells, the others sound."""
    return judge(head(grid(linearity, 99.5, 100.5), **change)).cells[0]


def history(linearity: float, cells: int = 3, readers: tuple[str, ...] = ("left", "right")) -> dict[str, CellHistory]:
    """Every cell last accepted at this linearity."""
    kept = tuple(
        AcceptedFigures(reader=name, linearity=linearity, sensitivity_air=49.0, sensitivity_oxygen=49.0)
        for name in readers
    )
    return {f"cell {place + 1}": CellHistory(accepted=kept) for place in range(cells)}


# --- one cell --------------------------------------------------------------------------------------------------------


def test_a_sound_head_passes_and_says_what_it_was_verified_to() -> None:
    outcome = judge(head(grid(99.0, 100.0, 101.0)))
    assert verdicts(outcome) == [Verdict.PASS] * 3
    assert outcome.worst is Verdict.PASS
    assert outcome.blame.kind is BlameKind.NONE
    assert outcome.air_po2_bar == pytest.approx(AIR_BAR)
    assert outcome.oxygen_po2_bar == pytest.approx(OXYGEN_BAR)
    for cell in outcome.cells:
        assert cell.reason is Reason.WITHIN_LIMITS
        assert cell.verified_up_to_bar == pytest.approx(OXYGEN_BAR)
        assert cell.margin is not None and cell.margin > 0


def test_figures_are_those_worked_by_hand() -> None:
    cell = judge(head((row(1, "left", 100.0, air_mv=10.0, oxygen_mv=47.0),))).cells[0]
    assert cell.sensitivity_air == pytest.approx(10.0 / AIR_BAR)
    assert cell.sensitivity_oxygen == pytest.approx(47.0 / OXYGEN_BAR)
    assert cell.linearity == pytest.approx(100 * 47.0 / OXYGEN_BAR * AIR_BAR / 10.0)
    assert cell.air_mv_normal == pytest.approx(10.0 / AIR_BAR * 0.212164, abs=1e-4)
    assert cell.oxygen_mv_normal == pytest.approx(47.0 / OXYGEN_BAR * 1.01325)


def test_a_cell_under_the_limit_is_rejected_with_value_uncertainty_and_margin_in_words() -> None:
    cell = one(93.0)
    assert (cell.verdict, cell.reason) == (Verdict.REJECT, Reason.BELOW_LIMIT)
    assert "93." in cell.finding and "±" in cell.finding and "95 %" in cell.finding
    assert cell.margin is not None and cell.margin < -2
    assert cell.verified_up_to_bar is None


@pytest.mark.parametrize(
    ("visits", "verdict", "words"),
    [
        (0, Verdict.REPEAT, "across"),
        (1, Verdict.WATCH, "again after a new flush"),
        (2, Verdict.REJECT, "cannot be shown"),
    ],
)
def test_an_undecided_cell_climbs_the_ladder(visits: int, verdict: Verdict, words: str) -> None:
    cell = one(96.0, history={"cell 1": CellHistory(undecided_before=visits)}, **MEASURED)
    assert (cell.verdict, cell.reason) == (verdict, Reason.ACROSS_LIMIT)
    assert words in cell.finding


STILL = {"cell 1": CellHistory(undecided_before=1, undecided_readers=("left", "right"))}
EVIDENCE: dict[str, tuple[dict[str, object], str]] = {
    "zero": ({"zero_mv": 0.0}, "handset's zero"),
    "pressure": ({"over_pressure_mbar": 0.0}, "the pressure in the head"),
    "drying": ({"hours_since_last": 24.0}, "dry for 12 hours"),
}


@pytest.mark.parametrize("left_out", [None, *EVIDENCE])
def test_an_undecided_cell_is_watched_only_where_no_fault_of_the_first_visit_fits_the_second(
    left_out: str | None,
) -> None:
    change = {key: value for name, (each, _) in EVIDENCE.items() if name != left_out for key, value in each.items()}
    zero = {"zero_mv": change.pop("zero_mv")} if "zero_mv" in change else {}
    cell = judge(head(grid(95.6, 99.5, 100.5, **zero), history=STILL, **change)).cells[0]
    assert cell.reason is Reason.ACROSS_LIMIT
    assert (cell.verdict, cell.new_evidence) == ((Verdict.WATCH, True) if left_out is None else (Verdict.REPEAT, False))
    for name, (_, words) in EVIDENCE.items():
        assert (words in cell.next_step) == (name == left_out)
    again = replace(STILL["cell 1"], undecided_before=2)
    third = judge(head(grid(95.6, 99.5, 100.5, **zero), history={"cell 1": again}, **change)).cells[0]
    assert third.verdict is (Verdict.REJECT if left_out is None else Verdict.REPEAT)


def test_another_reader_is_as_good_as_a_zero() -> None:
    readings = grid(95.6, 99.5, 100.5, readers=("left", "bench meter"))
    assert judge(head(readings, history=STILL, **MEASURED)).cells[0].verdict is Verdict.WATCH
    assert judge(head(grid(95.6, 99.5, 100.5), history=STILL, **MEASURED)).cells[0].verdict is Verdict.REPEAT


def test_pressure_and_drying_are_not_asked_for_where_they_could_not_take_the_value_out_of_limits() -> None:
    # 20 mbar of 1013 are 2.0 %, saturated air of 20 C in place of 50 % is 1.2 % (WMO-No. 8): 97.4 stays over 95.
    wide = grid(97.4, 99.5, 100.5, zero_half_width_mv=0.3)
    for extra, verdict in (({}, Verdict.REPEAT), ({"readers": ("left", "meter")}, Verdict.WATCH)):
        readings = grid(97.4, 99.5, 100.5, zero_half_width_mv=0.3, **extra)
        assert judge(head(readings, history=STILL)).cells[0].verdict is verdict
    assert judge(head(wide, history=STILL)).cells[0].next_step.endswith("bench meter).")


# 20 mbar of over-pressure make 95.9 % read 97.8 %; saturated air at 30 C in place of 40 % makes 95.4 % (WMO-No. 8).
HOT = Conditions(pressure_mbar=1013.25, temperature_c=30.0, humidity=0.4, **STATED)


@pytest.mark.parametrize(
    ("change", "verdict", "reason"),
    [
        ({}, Verdict.REPEAT, Reason.NOT_VENTED),
        ({"over_pressure_mbar": 0.0}, Verdict.PASS, Reason.WITHIN_LIMITS),
        ({"over_pressure_mbar": 0.0, "conditions": HOT}, Verdict.REPEAT, Reason.HEAD_DAMP),
        ({"over_pressure_mbar": 0.0, "conditions": HOT, "hours_since_last": 12.0}, Verdict.PASS, Reason.WITHIN_LIMITS),
        ({"history": history(97.4)}, Verdict.PASS, Reason.WITHIN_LIMITS),
    ],
)
def test_with_nothing_to_compare_a_cell_near_its_limit_is_not_passed_on_what_was_said(
    change: dict[str, object], verdict: Verdict, reason: Reason
) -> None:
    room = change.get("conditions", ROOM)
    assert isinstance(room, Conditions)
    vapour = 6.112 * math.exp(17.62 * room.temperature_c / (243.12 + room.temperature_c))
    air_bar = 0.20939 * (1013.25 - (room.humidity or 0.0) * vapour) / 1000
    readings = tuple(
        replace(r, oxygen_mv=round((r.air_mv or 0.0) / air_bar * OXYGEN_BAR * 0.978, 1)) for r in grid(97.4, 97.4, 97.4)
    )
    cell = judge(head(readings, **change)).cells[0]
    assert (cell.verdict, cell.reason) == (verdict, reason)
    assert ("as was said" in cell.finding) == (verdict is Verdict.REPEAT)


def test_a_head_vented_by_word_only_is_less_certain_than_one_whose_pressure_was_recorded() -> None:
    # JCGM 100:2008, 4.3.7: ± 5 mbar rectangular are 2.9 mbar, 0.28 % of 1013, U = 0.57 %.
    said, recorded = one(99.0).expanded_u or 0.0, one(99.0, over_pressure_mbar=0.0).expanded_u or 0.0
    apart = (198.0 * 5 / 3**0.5 / 1013.25) ** 2 - (198.0 / 1013.25) ** 2
    assert said**2 - recorded**2 == pytest.approx(apart, rel=0.02)


def test_a_head_that_reads_high_together_stays_held_until_pressure_and_drying_speak_for_it() -> None:
    past = history(96.9)
    for before in (0, 1, 2, 5):
        assert judge(head(grid(100.0, 100.2, 100.1), history=past, common_before=before)).worst is Verdict.REPEAT
    for before in (0, 1):
        given = head(grid(100.0, 100.2, 100.1), history=past, common_before=before, **MEASURED)
        assert judge(given).worst is Verdict.REPEAT
    shown = judge(head(grid(100.0, 100.2, 100.1), history=past, common_before=2, **MEASURED))
    assert shown.worst is Verdict.WATCH
    one_alone = judge(head(grid(100.0, 100.2, 100.1), history=past, common_before=2, over_pressure_mbar=0.0))
    assert one_alone.worst is Verdict.REPEAT


@pytest.mark.parametrize(("air", "cause"), [(0.97, "moist air"), (1.0, "over-pressure")])
def test_a_head_that_reads_high_says_which_point_moved(air: float, cause: str) -> None:
    before = judge(head(grid(99.0, 99.2, 98.8), **MEASURED))
    past = {
        cell.cell: CellHistory(
            accepted=tuple(
                AcceptedFigures(
                    reader=r.reader, linearity=r.linearity or 0, sensitivity_air=r.sensitivity_air or 0,
                    sensitivity_oxygen=r.sensitivity_oxygen or 0,
                )
                for r in cell.readers
            )
        )
        for cell in before.cells
    }  # fmt: skip
    now = tuple(
        replace(r, air_mv=round((r.air_mv or 0) * air, 1), oxygen_mv=round((r.oxygen_mv or 0) * (air / 0.97), 1))
        for r in grid(99.0, 99.2, 98.8)
    )
    finding = judge(head(now, history=past)).cells[0].finding
    assert "read high together" in finding
    assert f"speaks for {cause}" in finding


@pytest.mark.parametrize(("visits", "verdict"), [(0, Verdict.REPEAT), (1, Verdict.REJECT)])
def test_too_high_a_linearity_repeats_first_and_is_rejected_the_second_time(visits: int, verdict: Verdict) -> None:
    cell = one(107.0, history={"cell 1": CellHistory(above_before=visits)})
    assert (cell.verdict, cell.reason) == (verdict, Reason.ABOVE_LIMIT)


def test_a_linear_cell_of_low_output_is_watched_and_not_called_non_linear() -> None:
    readings = (*grid(99.5, 100.0)[2:], row(1, "left", 99.5, 8.8), row(1, "right", 99.5, 8.8))
    cell = judge(head(readings)).cells[-1]
    assert (cell.verdict, cell.reason) == (Verdict.WATCH, Reason.LOW_OUTPUT)
    assert [finding.reason for finding in cell.findings] == [Reason.LOW_OUTPUT]


def test_low_output_and_non_linearity_are_two_findings() -> None:
    cell = judge(head((*grid(99.5, 100.0)[2:], row(1, "left", 92.0, 9.0), row(1, "right", 92.0, 9.0)))).cells[-1]
    assert cell.verdict is Verdict.REJECT
    assert {finding.reason for finding in cell.findings} == {Reason.BELOW_LIMIT, Reason.LOW_OUTPUT}


def test_a_makers_floor_rejects_what_common_practice_only_watches() -> None:
    limits = CellLimits(oxygen_floor_mv=45.0, makers_floor=True, source="an invented manual")
    readings = (*grid(99.5, 100.0)[2:], row(1, "left", 99.5, 8.8), row(1, "right", 99.5, 8.8))
    cell = judge(head(readings, limits={"cell 1": limits})).cells[-1]
    assert (cell.verdict, cell.reason) == (Verdict.REJECT, Reason.MV_OUT_OF_LIMITS)
    assert cell.limits.source == "an invented manual"


def test_a_dead_cell_is_rejected_without_a_linearity() -> None:
    readings = (*grid(99.5, 100.0)[2:], *(row(1, name, 0, air_mv=0.0, oxygen_mv=0.0) for name in ("left", "right")))
    cell = judge(head(readings)).cells[-1]
    assert cell.verdict is Verdict.REJECT
    assert cell.linearity is None and cell.margin is None


def test_a_healthy_cell_at_altitude_is_not_rejected_for_its_raw_millivolts() -> None:
    room = Conditions(pressure_mbar=795.0, temperature_c=15.0, humidity=0.4, **STATED)
    air_bar = 0.20939 * (795.0 - 0.4 * 17.01672) / 1000  # WMO-No. 8 at 15 degrees C
    readings = tuple(
        CellReadings(
            cell="cell 1",
            reader=name,
            air_mv=round(48.0 * air_bar, 1),
            oxygen_mv=round(48.0 * 0.795 * 0.995, 1),
            settled=Answer.YES,
        )
        for name in ("left", "right")
    )
    assert readings[0].air_mv is not None and readings[0].air_mv < 8.0
    cell = judge(head(readings, conditions=room)).cells[0]
    assert cell.verdict is Verdict.PASS


# --- what was not known never passes ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"head": HeadState.DAMP}, Reason.HEAD_DAMP),
        ({"vented": Answer.NO}, Reason.NOT_VENTED),
        ({"vented": Answer.UNKNOWN}, Reason.NOT_VENTED),
        ({"gas": Gas(oxygen_fraction=None)}, Reason.GAS_NOT_ANALYSED),
        ({"equipment_in_date": False}, Reason.EQUIPMENT),
    ],
)
def test_a_sound_head_of_which_something_is_not_known_is_repeated(change: dict[str, object], reason: Reason) -> None:
    outcome = judge(head(grid(99.5, 100.0, 100.5), **change))
    assert verdicts(outcome) == [Verdict.REPEAT] * 3
    assert {cell.reason for cell in outcome.cells} == {reason}


def test_nothing_said_passes_nothing() -> None:
    bare = CalibrationInput(
        conditions=ROOM,
        gas=ANALYSED,
        readings=tuple(replace(row, settled=Answer.UNKNOWN) for row in grid(99.5, 100.0, 100.5)),
        equipment_in_date=True,
    )
    assert set(verdicts(judge(bare))) == {Verdict.REPEAT}


@pytest.mark.parametrize("settled", [Answer.NO, Answer.UNKNOWN])
def test_an_oxygen_point_not_shown_to_be_settled_is_repeated_even_where_it_reads_low(settled: Answer) -> None:
    for linearity in (99.5, 90.0):
        readings = (row(1, "left", linearity, settled=settled), *grid(99.0, 99.5, 100.0, readers=("left",))[1:])
        cell = judge(head(readings)).cells[0]
        assert (cell.verdict, cell.reason) == (Verdict.REPEAT, Reason.NOT_SETTLED)


def test_a_missing_reading_on_one_handset_is_repeated() -> None:
    readings = (*grid(99.0, 99.5, 100.0)[1:], row(1, "left", 99.0, oxygen_mv=None))
    cell = next(cell for cell in judge(head(readings)).cells if cell.cell == "cell 1")
    assert (cell.verdict, cell.reason) == (Verdict.REPEAT, Reason.MISSING)


def test_a_cell_that_a_handset_does_not_show_is_not_missing() -> None:
    readings = (*grid(99.0, 99.5, 100.0)[1:],)
    outcome = judge(head(readings))
    assert verdicts(outcome) == [Verdict.PASS] * 3
    assert [len(cell.readers) for cell in sorted(outcome.cells, key=lambda cell: cell.cell)] == [1, 2, 2]


def test_unknown_humidity_and_unknown_head_widen_the_interval_and_never_narrow_it() -> None:
    hot = replace(ROOM, temperature_c=30.0)
    known, no_humidity, no_head = (
        judge(head(grid(99.5, 100.0, 100.5), conditions=conditions, head=state)).cells[0].expanded_u or 0.0
        for conditions, state in (
            (hot, HeadState.DRY),
            (replace(hot, humidity=None), HeadState.DRY),
            (hot, HeadState.UNKNOWN),
        )
    )
    assert no_humidity > 1.5 * known
    assert no_head > 1.5 * known


def test_recorded_over_pressure_is_used_and_over_pressure_makes_a_weak_cell_look_sound() -> None:
    plain = one(98.0).linearity or 0.0
    known = one(98.0, vented=Answer.NO, over_pressure_mbar=30.0)
    assert known.linearity == pytest.approx(plain / (1 + 30.0 / 1013.25))
    assert known.reason is not Reason.NOT_VENTED


def test_an_analyser_that_shows_100_4_per_cent_is_read_as_100_and_said_so() -> None:
    outcome = judge(head(grid(99.5, 100.0, 100.5), gas=Gas(oxygen_fraction=1.004, oxygen_fraction_u=0.003)))
    assert outcome.oxygen_po2_bar == pytest.approx(1.01325)
    assert any("100.4 %" in warning for warning in outcome.warnings)


def test_pressure_from_altitude_widens_the_millivolts_and_is_said() -> None:
    room = conditions_from_altitude(0.0, 20.0, humidity=0.5)
    assert room.pressure_source is PressureSource.ALTITUDE
    outcome = judge(head(grid(99.5, 100.0, 100.5), conditions=room))
    plain = judge(head(grid(99.5, 100.0, 100.5)))
    wide, narrow = outcome.cells[0].readers[0], plain.cells[0].readers[0]
    assert (wide.oxygen_mv_expanded_u or 0) > 1.5 * (narrow.oxygen_mv_expanded_u or 0)
    assert any("altitude" in warning for warning in outcome.warnings)


# --- readers ---------------------------------------------------------------------------------------------------------


def test_a_display_in_whole_millivolts_can_never_decide_and_says_so() -> None:
    readings = grid(100.0, 100.0, 100.0, readers=("left",), resolution_mv=1.0)
    for visits in (0, 1, 2, 5):
        outcome = judge(head(readings, history={"cell 1": CellHistory(undecided_before=visits)}))
        assert verdicts(outcome)[0] is Verdict.REPEAT
        assert outcome.cells[0].reason is Reason.CANNOT_DECIDE
        assert "whole mV" in outcome.cells[0].finding and "bench meter" in outcome.cells[0].next_step


def test_a_whole_millivolt_display_has_no_vote_beside_a_finer_meter() -> None:
    coarse = tuple(
        replace(r, resolution_mv=1.0, air_mv=float(round(r.air_mv or 0)), oxygen_mv=float(round(r.oxygen_mv or 0)))
        for r in grid(99.5, 100.0, 100.5, readers=("left",))
    )
    outcome = judge(head((*coarse, *grid(99.5, 100.0, 100.5, readers=("bench meter",)))))
    assert verdicts(outcome) == [Verdict.PASS] * 3
    assert not outcome.cells[0].readers[0].can_decide


def test_a_zero_reading_narrows_the_interval() -> None:
    plain = judge(head(grid(99.5, 100.0, 100.5))).cells[0].expanded_u or 0
    zeroed = judge(head(grid(99.5, 100.0, 100.5, zero_mv=0.0))).cells[0].expanded_u or 0
    assert zeroed < 0.9 * plain


def test_a_cell_has_the_worst_verdict_of_its_readers_and_never_their_average() -> None:
    readings = (row(1, "left", 97.5), row(1, "right", 96.0), *grid(99.0, 99.5, 100.0)[2:])
    cell = judge(head(readings)).cells[0]
    assert cell.verdict is Verdict.REPEAT
    assert cell.reader == "right"
    assert {reader.verdict for reader in cell.readers} == {Verdict.PASS, Verdict.REPEAT}


def test_cell_low_on_every_handset_is_blamed_on_the_cell() -> None:
    outcome = judge(head(grid(91.0, 99.5, 100.0)))
    assert outcome.blame.kind is BlameKind.CELL
    assert outcome.blame.where == ("cell 1",)
    assert outcome.cells[0].verdict is Verdict.REJECT
    assert dict(outcome.blame.cells)["cell 1"] == pytest.approx(-8.5, abs=1.0)


def test_cell_low_on_one_handset_is_blamed_on_the_contact() -> None:
    outcome = judge(head((row(1, "left", 99.0), row(1, "right", 90.0), *grid(99.0, 99.5, 100.0)[2:])))
    assert outcome.blame.kind is BlameKind.CONTACT
    assert outcome.blame.where == ("cell 1", "right")
    assert (outcome.cells[0].verdict, outcome.cells[0].reason) == (Verdict.REPEAT, Reason.READERS_DIFFER)


def test_cell_without_output_on_one_handset_is_a_contact_too() -> None:
    dead = row(1, "right", 0, air_mv=0.0, oxygen_mv=0.0)
    outcome = judge(head((row(1, "left", 99.0), dead, *grid(99.0, 99.5, 100.0)[2:])))
    assert outcome.blame.where == ("cell 1", "right")
    assert outcome.cells[0].verdict is Verdict.REPEAT
    assert "nan" not in outcome.blame.sentence


def test_all_cells_shifted_on_one_handset_are_blamed_on_that_handset() -> None:
    readings = (*grid(99.0, 99.5, 100.0, readers=("left",)), *grid(94.0, 94.5, 95.0, readers=("right",)))
    outcome = judge(head(readings))
    assert outcome.blame.kind is BlameKind.HANDSET
    assert outcome.blame.where == ("right",)
    assert verdicts(outcome) == [Verdict.REPEAT] * 3


@pytest.mark.parametrize("moved", ["air_mv", "oxygen_mv", "both"])
def test_figures_of_one_handset_on_other_cells_are_said_to_be_that(moved: str) -> None:
    # Typed one cell further on the right handset: 10.2 9.8 10.4 for 10.4 10.2 9.8.
    figures = {"air_mv": (10.4, 10.2, 9.8), "oxygen_mv": (49.0, 48.1, 46.2)}
    told = {name: (*mv[1:], mv[0]) if moved in (name, "both") else mv for name, mv in figures.items()}
    rows = [row(place + 1, reader, 99.0, **{name: mv[place] for name, mv in shown.items()})
            for place in range(3) for reader, shown in (("left", figures), ("right", told))]  # fmt: skip
    outcome = judge(head(tuple(rows), **MEASURED))
    assert outcome.worst is Verdict.REPEAT
    assert "left, right show the same figures in" in outcome.blame.sentence
    assert "read again which figure belongs to which cell" in outcome.blame.sentence


def test_a_handset_without_output_is_blamed_on_the_handset() -> None:
    dead = tuple(row(place, "right", 0, air_mv=0.0, oxygen_mv=0.0) for place in (1, 2, 3))
    outcome = judge(head((*grid(99.0, 99.5, 100.0, readers=("left",)), *dead)))
    assert (outcome.blame.kind, outcome.blame.where) == (BlameKind.HANDSET, ("right",))
    assert verdicts(outcome) == [Verdict.REPEAT] * 3


def test_a_handset_that_reads_all_millivolts_high_is_found_though_linearity_hides_it() -> None:
    high = tuple(
        replace(
            r, reader="right", air_mv=round(1.08 * (r.air_mv or 0), 1), oxygen_mv=round(1.08 * (r.oxygen_mv or 0), 1)
        )
        for r in grid(99.0, 99.5, 100.0, readers=("left",))
    )
    outcome = judge(head((*grid(99.0, 99.5, 100.0, readers=("left",)), *high)))
    assert outcome.blame.kind is BlameKind.HANDSET
    assert verdicts(outcome) == [Verdict.REPEAT] * 3


# --- all cells together ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "comparison", "verdict"),
    [
        (0, None, Verdict.REPEAT),
        (0, True, Verdict.REPEAT),
        (1, None, Verdict.REPEAT),
        (1, False, Verdict.REPEAT),
        (3, None, Verdict.REPEAT),
        (1, True, Verdict.REJECT),
    ],
)
def test_all_cells_low_are_the_gas_until_a_comparison_clears_it(
    before: int, comparison: bool, verdict: Verdict
) -> None:
    outcome = judge(head(grid(92.0, 93.0, 92.5), common_before=before, comparison_passed=comparison))
    assert outcome.blame.kind is BlameKind.COMMON
    assert verdicts(outcome) == [verdict] * 3
    assert outcome.blame.common == pytest.approx(-7.0, abs=0.7)


def test_without_history_the_outcome_says_that_a_short_flush_cannot_be_told_from_ageing() -> None:
    assert any("short flush" in warning for warning in judge(head(grid(99.0, 99.5, 100.0))).warnings)


def test_a_short_flush_is_seen_against_each_cells_last_accepted_figures() -> None:
    # 4 % air left lowers the oxygen point by 0.04 * 0.79 = 3.2 %; every cell still reads inside the limits.
    readings = grid(97.3, 97.3, 97.3)
    assert verdicts(judge(head(readings, **MEASURED))) == [Verdict.PASS] * 3
    outcome = judge(head(readings, history=history(100.5)))
    assert verdicts(outcome) == [Verdict.REPEAT] * 3
    assert outcome.blame.kind is BlameKind.COMMON
    assert outcome.blame.shift == pytest.approx(-3.2, abs=0.3)
    assert outcome.blame.against == "the last accepted calibration"


def test_the_same_shift_after_a_new_flush_is_watched_where_the_cells_are_in_limits() -> None:
    outcome = judge(head(grid(97.3, 97.3, 97.3), history=history(100.5), common_before=1))
    assert verdicts(outcome) == [Verdict.WATCH] * 3


def test_all_cells_shifted_up_are_a_fault_of_the_measurement() -> None:
    outcome = judge(head(grid(100.0, 100.2, 100.1), history=history(96.9)))
    assert verdicts(outcome) == [Verdict.REPEAT] * 3
    assert {cell.reason for cell in outcome.cells} == {Reason.SHIFTED_UP}


def test_an_aged_cell_alone_does_not_hide_behind_the_others() -> None:
    outcome = judge(head(grid(93.0, 100.0, 100.0), history=history(100.0)))
    assert verdicts(outcome) == [Verdict.REJECT, Verdict.PASS, Verdict.PASS]


def test_current_limiting_is_rejected_even_where_the_gas_is_doubted() -> None:
    slope = 10.4 / AIR_BAR * 0.93
    limited = tuple(replace(r, pot=((1.6, round(slope * 1.6 * 0.8, 1)),)) for r in grid(93.0, readers=("left",)))
    outcome = judge(head((*limited, *grid(99.0, 93.0, 93.0, readers=("left",))[1:])))
    assert outcome.blame.kind is BlameKind.COMMON
    assert outcome.cells[0].verdict is Verdict.REJECT
    assert outcome.cells[0].reason is Reason.CURRENT_LIMITED


def potted(bar: float, percent: float) -> dict[str, object]:
    """A pot point at this pressure, at this percentage of the line of a cell with 10.4 mV in air."""
    return {"pot": ((bar, round(10.4 / AIR_BAR * bar * percent / 100, 1)),)}


LIMITED = {"cell 1": CellHistory(limited_before=1.6, limited_proven=True)}
UNDECIDED = {"cell 1": CellHistory(limited_before=1.6)}


def lone(history_of_it: dict[str, CellHistory], linearity: float = 100.0, **more: object) -> CellOutcome:
    """Outcome of a head of one cell with this history."""
    return judge(head((row(1, "left", linearity, **more),), history=history_of_it)).cells[0]


def test_a_current_limited_cell_is_carried_with_the_lowest_pressure_at_which_it_departed() -> None:
    cell = lone({}, pot=((1.3, round(10.4 / AIR_BAR * 1.3, 1)), (1.6, 70.0), (1.8, 72.0)))
    assert (cell.verdict, cell.reason) == (Verdict.REJECT, Reason.CURRENT_LIMITED)
    assert (cell.limited_from_bar, cell.limited_proven) == (1.6, True)


def test_a_cell_rejected_as_current_limited_stays_so_without_a_pot_point() -> None:
    cell = lone(LIMITED)
    assert (cell.verdict, cell.reason) == (Verdict.REJECT, Reason.LIMITED_BEFORE)
    assert "current-limited at 1.60 bar" in cell.finding
    assert cell.next_step.endswith("only a pressure-pot point can clear it.")
    assert cell.verified_up_to_bar is None
    assert (cell.limited_from_bar, cell.limited_proven) == (1.6, True)


@pytest.mark.parametrize(
    ("bar", "percent", "verdict"),
    [
        (1.6, 100.0, Verdict.PASS),
        (1.7, 100.0, Verdict.PASS),
        (1.59, 100.0, Verdict.REJECT),
        (1.6, 96.0, Verdict.REJECT),
        (1.6, 88.0, Verdict.REJECT),
    ],
)
def test_only_a_pot_point_in_limits_that_reaches_as_far_clears_it(bar: float, percent: float, verdict: Verdict) -> None:
    assert lone(LIMITED, **potted(bar, percent)).verdict is verdict


@pytest.mark.parametrize(
    "change",
    [
        {"head": HeadState.DAMP},
        {"vented": Answer.UNKNOWN},
        {"equipment_in_date": False},
        {"gas": Gas(oxygen_fraction=None)},
    ],
)
def test_a_pot_point_of_a_doubtful_visit_clears_nothing(change: dict[str, object]) -> None:
    reading = row(1, "left", 100.0, **potted(1.6, 100.0))
    assert judge(head((reading,), history=LIMITED, **change)).cells[0].verdict is Verdict.REJECT
    assert judge(head((reading,), history=UNDECIDED, **change)).cells[0].verdict is Verdict.REPEAT


def test_a_pot_point_left_undecided_is_not_forgotten_at_the_next_visit_without_one() -> None:
    first = lone({}, **potted(1.6, 95.5))
    assert (first.verdict, first.limited_from_bar, first.limited_proven) == (Verdict.REPEAT, 1.6, False)
    without = lone(UNDECIDED)
    assert (without.verdict, without.reason) == (Verdict.REPEAT, Reason.POT_UNDECIDED)
    assert without.limited_from_bar == 1.6
    assert lone(UNDECIDED, **potted(1.6, 100.0)).verdict is Verdict.PASS
    assert lone(UNDECIDED, **potted(1.6, 88.0)).reason is Reason.CURRENT_LIMITED


def test_a_cell_rejected_by_its_readings_is_at_best_repeated_once() -> None:
    before = {"cell 1": CellHistory(rejected_before=True)}
    cell = lone(before)
    assert (cell.verdict, cell.reason) == (Verdict.REPEAT, Reason.REJECTED_BEFORE)
    assert "one calibration in limits does not undo that" in cell.finding
    assert lone(before, 90.0).verdict is Verdict.REJECT


def test_a_rejected_cell_that_is_then_across_the_limit_goes_on_up_its_ladder() -> None:
    before = {"cell 1": CellHistory(rejected_before=True, undecided_before=1)}
    cell = lone(before, 95.6)
    assert (cell.verdict, cell.reason) == (Verdict.REPEAT, Reason.ACROSS_LIMIT)
    third = {"cell 1": CellHistory(rejected_before=True, undecided_before=2)}
    assert lone(third, 95.6).verdict is Verdict.REPEAT
    given = head((row(1, "left", 95.6),), history=third, **MEASURED)
    assert judge(given).cells[0].verdict is Verdict.REJECT


def test_a_pot_point_on_the_line_raises_what_the_cell_is_verified_to() -> None:
    slope = 10.4 / AIR_BAR * 0.99
    readings = tuple(replace(r, pot=((1.3, round(slope * 1.3, 1)), (1.6, round(slope * 1.6, 1)))) for r in grid(99.0))
    outcome = judge(head((*readings, *grid(99.0, 99.5, 100.0)[2:])))
    assert outcome.cells[0].verdict is Verdict.PASS
    assert outcome.cells[0].verified_up_to_bar == 1.6
    assert outcome.cells[1].verified_up_to_bar == pytest.approx(OXYGEN_BAR)


# --- refusals --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"air_mv": float("nan")}, "air_mv"),
        ({"air_mv": -1.0}, "air_mv"),
        ({"oxygen_mv": float("inf")}, "oxygen_mv"),
        ({"oxygen_mv": -0.1}, "oxygen_mv"),
        ({"zero_mv": 9.0}, "zero_mv"),
        ({"resolution_mv": 0.0}, "resolution_mv"),
        ({"repeatability_mv": -0.1}, "repeatability_mv"),
        ({"pot": ((float("nan"), 60.0),)}, "pot oxygen pressure"),
        ({"pot": ((1.6, -60.0),)}, "pot mV"),
    ],
)
def test_impossible_readings_are_refused_with_field_cell_and_reader_named(
    change: dict[str, object], field: str
) -> None:
    with pytest.raises(ValueError, match=f"{field}.*cell 1.*left"):
        row(1, "left", 99.0, **change)


@pytest.mark.parametrize(
    ("air", "oxygen", "field"),
    [(49.8, 10.4, "swapped"), (104.0, 49.8, "air_mv.*decimal"), (10.4, 290.0, "oxygen_mv.*decimal")],
)
def test_swapped_and_slipped_readings_are_refused_with_the_remedy(air: float, oxygen: float, field: str) -> None:
    with pytest.raises(ValueError, match=field):
        head((row(1, "left", 99.0, air_mv=air, oxygen_mv=oxygen),))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"pressure_mbar": 1.013}, "pressure_mbar"),
        ({"pressure_mbar": float("nan")}, "pressure_mbar"),
        ({"temperature_c": 68.0}, "temperature_c"),
        ({"humidity": 50.0}, "humidity"),
        ({"humidity": -0.1}, "humidity"),
        ({"oxygen_temperature_c": 99.0}, "oxygen_temperature_c"),
        ({"pressure_u_mbar": -1.0}, "pressure_u_mbar"),
    ],
)
def test_impossible_conditions_are_refused_by_name(change: dict[str, float], field: str) -> None:
    with pytest.raises(ValueError, match=field):
        replace(ROOM, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize("fraction", [99.5, 1.02, 0.21, -0.1, float("nan")])
def test_impossible_gas_is_refused_by_name(fraction: float) -> None:
    with pytest.raises(ValueError, match="oxygen_fraction"):
        Gas(oxygen_fraction=fraction)


def test_an_empty_or_doubled_grid_is_refused() -> None:
    with pytest.raises(ValueError, match="readings"):
        head(())
    with pytest.raises(ValueError, match="twice"):
        head((row(1, "left", 99.0), row(1, "left", 99.0)))


# --- properties ------------------------------------------------------------------------------------------------------

LINEARITIES = st.lists(st.floats(88.0, 108.0), min_size=3, max_size=3)


@settings(max_examples=30, deadline=None)
@given(LINEARITIES, st.permutations([0, 1, 2, 3, 4, 5]))
def test_the_order_of_readings_changes_no_outcome(linearities: list[float], order: list[int]) -> None:
    readings = grid(*linearities)
    plain = {cell.cell: cell for cell in judge(head(readings)).cells}
    mixed = {cell.cell: cell for cell in judge(head(tuple(readings[place] for place in order))).cells}
    for name, cell in plain.items():
        assert (cell.verdict, cell.reason) == (mixed[name].verdict, mixed[name].reason)


@settings(max_examples=30, deadline=None)
@given(LINEARITIES, st.floats(0.5, 2.0))
def test_scaling_every_millivolt_and_its_limits_changes_no_outcome(linearities: list[float], scale: float) -> None:
    base = CellLimits()
    limits = replace(
        base,
        air_low_mv=scale * base.air_low_mv,
        air_high_mv=scale * base.air_high_mv,
        oxygen_floor_mv=scale * base.oxygen_floor_mv,
    )
    readings = grid(*linearities)
    scaled = tuple(
        replace(
            r,
            air_mv=scale * (r.air_mv or 0),
            oxygen_mv=scale * (r.oxygen_mv or 0),
            resolution_mv=scale * r.resolution_mv,
            repeatability_mv=scale * r.repeatability_mv,
            zero_half_width_mv=scale * r.zero_half_width_mv,
        )
        for r in readings
    )
    every = {f"cell {place}": limits for place in (1, 2, 3)}
    # A display is coarse by its millivolts, which scale; that rule alone is out of this comparison.
    plain, other = judge(head(readings)), judge(head(scaled, limits=every))
    for one_cell, two in zip(plain.cells, other.cells, strict=True):
        assert one_cell.linearity == pytest.approx(two.linearity)
        assert one_cell.expanded_u == pytest.approx(two.expanded_u)
        if abs(one_cell.margin or 0) > 1e-6:
            assert one_cell.verdict is two.verdict


@settings(max_examples=40, deadline=None)
@given(st.floats(88.0, 99.0), st.floats(0.0, 5.0))
def test_a_lower_oxygen_reading_never_improves_a_verdict(linearity: float, less: float) -> None:
    higher, lower = one(linearity), one(linearity - less)
    assert lower.verdict.severity >= higher.verdict.severity


def test_a_pot_points_interval_holds_what_room_and_gas_leave_open_of_the_line() -> None:
    def pot_u(gas_u: float) -> float:
        gas = Gas(oxygen_fraction=0.995, oxygen_fraction_u=gas_u)
        cell = judge(head((row(1, "left", 100.0, **potted(1.6, 100.0)),), gas=gas)).cells[0]
        assert cell.readers[0].pot is not None
        return cell.readers[0].pot.points[0].expanded_u

    # By hand: the line runs from air through the oxygen point at about 1 bar, whose relative uncertainty is the gas's,
    # and at 1.6 bar (1.6 - 0.21) / (1 - 0.21) of it counts; in quadrature with the rest, k = 2, in percent.
    more = 2.0 * 100.0 * (1.6 - 0.21) / (1.0 - 0.21) / 1.6 * math.sqrt(0.02**2 - 0.003**2) / 0.995
    assert math.sqrt(pot_u(0.02) ** 2 - pot_u(0.003) ** 2) == pytest.approx(more, rel=0.08)


@pytest.mark.parametrize("state", [HeadState.DRY, HeadState.UNKNOWN])
def test_the_hygrometers_uncertainty_widens_linearity(state: HeadState) -> None:
    # JCGM 100:2008, 5.1.2; saturation 73.8 mbar at 40 C: a fraction u of it against the rest of the room's pressure.
    def u(humidity_u: float) -> float:
        warm = replace(ROOM, temperature_c=40.0, humidity=0.5, humidity_u=humidity_u)
        found = one(100.0, conditions=warm, head=state)
        return (found.expanded_u or 0.0) / (found.linearity or 1.0)

    wet = 0.5 if state is HeadState.DRY else 0.75
    more = 2.0 * 73.8 / (1013.25 - wet * 73.8) * 0.10
    assert math.sqrt(u(0.10) ** 2 - u(0.0) ** 2) == pytest.approx(more, rel=0.01)


MUST_BE_KNOWN: list[dict[str, object]] = [
    {"vented": Answer.UNKNOWN},
    {"gas": Gas(oxygen_fraction=None)},
    {"equipment_in_date": False},
]


@pytest.mark.parametrize("change", MUST_BE_KNOWN)
@settings(max_examples=15, deadline=None)
@given(linearities=LINEARITIES)
def test_what_must_be_known_leaves_no_cell_usable_where_it_is_not(
    change: dict[str, object], linearities: list[float]
) -> None:
    known, unknown = judge(head(grid(*linearities))), judge(head(grid(*linearities), **change))
    for more, less in zip(known.cells, unknown.cells, strict=True):
        assert less.verdict in (Verdict.REPEAT, Verdict.REJECT)
        assert less.verdict is Verdict.REPEAT or more.verdict is Verdict.REJECT


WIDER: list[dict[str, object]] = [
    {"head": HeadState.UNKNOWN},
    {"conditions": replace(ROOM, humidity=None)},
    {"gas": Gas(oxygen_fraction=0.995, oxygen_fraction_u=0.01)},
    {"gas": Gas(oxygen_fraction=0.995)},
]


@pytest.mark.parametrize("change", WIDER)
@settings(max_examples=15, deadline=None)
@given(linearities=LINEARITIES)
def test_knowing_less_never_passes_a_cell_that_knowing_more_would_not(
    change: dict[str, object], linearities: list[float]
) -> None:
    known, unknown = judge(head(grid(*linearities))), judge(head(grid(*linearities), **change))
    for more, less in zip(known.cells, unknown.cells, strict=True):
        assert (less.linearity or 0.0) - (less.expanded_u or 0.0) < (more.linearity or 0.0) - (more.expanded_u or 0.0)
        if less.verdict is Verdict.PASS:
            assert more.verdict is Verdict.PASS


@pytest.mark.parametrize("change", WIDER)
def test_knowing_less_leaves_a_cell_undecided_that_knowing_more_passes(change: dict[str, object]) -> None:
    assert one(96.4, **MEASURED).verdict is Verdict.PASS
    assert one(96.4, **MEASURED, **change).verdict is Verdict.REPEAT


@pytest.mark.parametrize("pressure_u", [20.0, None])
def test_a_pressure_that_is_less_known_leaves_an_output_near_its_limit_undecided(pressure_u: float | None) -> None:
    # JCGM 100:2008, 5.1.6: 15 mbar of 1013 are 1.5 % of 8.2 mV (at 1013 mbar, dry), ± 0.25 mV; limit 8 mV.
    reading = (row(1, "left", 100.0, 8.1),)
    assert judge(head(reading)).cells[0].verdict is Verdict.WATCH
    room = replace(ROOM, pressure_u_mbar=pressure_u)
    assert judge(head(reading, conditions=room)).cells[0].verdict is Verdict.REPEAT


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gas": Gas(oxygen_fraction=0.995)}, "The analyser's uncertainty is not recorded: ± 2 % oxygen"),
        ({"conditions": replace(ROOM, pressure_u_mbar=None)}, "The barometer's uncertainty is not recorded"),
    ],
)
def test_an_instrument_without_its_uncertainty_is_never_read_as_a_good_one(
    change: dict[str, object], words: str
) -> None:
    sound, unstated = judge(head(grid(99.0, 100.0))), judge(head(grid(99.0, 100.0), **change))
    assert any(words in line for line in unstated.warnings)
    assert not any("uncertainty is not recorded" in line for line in sound.warnings)


def test_what_is_allowed_for_an_analyser_of_unknown_quality_is_two_per_cent_either_way() -> None:
    # JCGM 100:2008, 4.3.7: a rectangle of half width 2 % has standard uncertainty 2 % / sqrt(3).
    known = one(100.0, gas=Gas(oxygen_fraction=0.995, oxygen_fraction_u=0.0))
    unstated = one(100.0, gas=Gas(oxygen_fraction=0.995))
    both = (known.expanded_u or 0.0, 2.0 * (unstated.linearity or 0.0) * 0.02 / 3.0**0.5 / 0.995)
    assert unstated.expanded_u == pytest.approx(math.hypot(*both), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(LINEARITIES, st.integers(0, 3), st.sampled_from([None, True, False]), st.integers(0, 3))
def test_no_cell_under_the_limit_beyond_its_interval_is_ever_usable(
    linearities: list[float], before: int, comparison: bool | None, undecided: int
) -> None:
    past = {f"cell {place}": CellHistory(undecided_before=undecided) for place in (1, 2, 3)}
    outcome = judge(head(grid(*linearities), common_before=before, comparison_passed=comparison, history=past))
    for cell in outcome.cells:
        if cell.verdict in (Verdict.PASS, Verdict.WATCH):
            assert all((reader.linearity or 0) >= 95.0 for reader in cell.readers)


@settings(max_examples=150, deadline=None)
@given(
    LINEARITIES,
    st.one_of(st.none(), st.floats(1.1, 2.0)),
    st.booleans(),
    st.booleans(),
    st.sampled_from([(), ((1.3, 64.0),), ((1.6, 79.0),), ((1.6, 70.0),)]),
    st.booleans(),
)
def test_what_stood_before_never_makes_a_verdict_better(
    linearities: list[float],
    limited: float | None,
    proven: bool,
    rejected: bool,
    pot: tuple[tuple[float, float], ...],
    damp: bool,
) -> None:
    change: dict[str, object] = {"head": HeadState.DAMP} if damp else {}
    rows = grid(*linearities, pot=pot)
    past = CellHistory(limited_before=limited, limited_proven=proven, rejected_before=rejected)
    without = judge(head(rows, **change))
    told = judge(head(rows, history={cell.cell: past for cell in without.cells}, **change))
    for plain, held in zip(without.cells, told.cells, strict=True):
        assert held.verdict.severity >= plain.verdict.severity
        assert held.verified_up_to_bar is None or limited is None or held.verified_up_to_bar >= limited


@pytest.mark.parametrize(("apart", "differ"), [(1.015, False), (1.045, True)])
def test_two_handsets_four_per_cent_apart_in_both_points_differ(apart: float, differ: bool) -> None:
    # Linearity agrees, so only the mV tell: gains alone may differ by 2 % (common practice, no published source).
    left = row(1, "left", 100.0, 11.0)
    right = replace(left, reader="right", air_mv=round(11.0 * apart, 2), oxygen_mv=(left.oxygen_mv or 0) * apart)
    fine = {"resolution_mv": 0.01, "zero_mv": 0.0}
    cell = judge(head(tuple(replace(each, **fine) for each in (left, right)), **MEASURED)).cells[0]
    assert (cell.reason is Reason.READERS_DIFFER) == differ
    assert cell.verdict is (Verdict.REPEAT if differ else Verdict.PASS)


def test_the_hygrometers_uncertainty_is_kept_where_the_head_is_not_known_to_be_dry() -> None:
    # JCGM 100:2008, 5.1.2: the rectangular 0.25 / sqrt 3 of 50 to 100 % and the hygrometer's own 0.3 add in squares.
    unknown = head(grid(100.0), head=HeadState.UNKNOWN, conditions=replace(ROOM, humidity_u=0.3))
    ambient = ambient_of([unknown])
    assert ambient.air_humidity_u.item() == pytest.approx(math.hypot(0.25 / math.sqrt(3), 0.3))
    assert ambient.air_humidity.item() == pytest.approx(0.75)


@pytest.mark.parametrize("missing", ["mbar_u", "celsius_u", "humidity_u", "fraction_u"])
def test_what_an_instrument_does_not_state_widens_as_an_independent_calculation_says(missing: str) -> None:
    # tests/independent/visits.py: JCGM 100:2008, 5.1.2 and 4.3.7; the wide figures are common practice.
    stated = {"mbar_u": 0.5, "celsius_u": 0.3, "humidity_u": 0.02, "fraction_u": 0.0025}
    found = []
    for known in (stated, {**stated, missing: None}):
        room = Conditions(
            pressure_mbar=1001.5, temperature_c=35.0, humidity=0.6, pressure_u_mbar=known["mbar_u"],
            temperature_u_c=known["celsius_u"], humidity_u=known["humidity_u"],
        )  # fmt: skip
        gas = Gas(oxygen_fraction=0.997, oxygen_fraction_u=known["fraction_u"])
        readings = (row(1, "left", 99.0, air_mv=10.3, oxygen_mv=49.0),)
        cell = judge(head(readings, conditions=room, gas=gas, over_pressure_mbar=0.0)).cells[0]
        assert (cell.linearity, cell.expanded_u) == pytest.approx(
            apart(Room(celsius=35.0, humidity=0.6, **known), Visit("left", 10.3, 49.0)), rel=1e-6
        )
        found.append(cell.expanded_u or 0.0)
    assert found[1] > found[0]
