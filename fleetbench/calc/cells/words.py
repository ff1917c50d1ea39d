"""Findings, next steps and warnings of a calibration in sentences, from the same decision that gave the verdicts."""

from dataclasses import dataclass

import numpy as np

from fleetbench.calc.cells.decision import REASONS, Decision, Reason
from fleetbench.calc.cells.grid import Judged
from fleetbench.calc.cells.guard import Standing
from fleetbench.calc.cells.readings import DRYING_HOURS, WHOLE_MV, Answer, CalibrationInput, HeadState, PressureSource
from fleetbench.calc.core.verdict import Verdict


@dataclass(frozen=True, slots=True)
class CellFinding:
    """One finding on one cell, on its own: its machine-readable reason and its sentence."""

    reason: Reason
    sentence: str


_NEXT_STEP = {
    Reason.WITHIN_LIMITS: "Nothing to do before the next calibration.",
    Reason.LOW_OUTPUT: "Plan its replacement; it may be used meanwhile as the maker's manual allows.",
    Reason.CANNOT_DECIDE: "Read the cell with the bench meter, to 0.1 mV or finer.",
    Reason.ABOVE_LIMIT: "Let the head dry at room temperature for 30 minutes, vent it, and take both points again.",
    Reason.BELOW_LIMIT: "Take the cell out of use and replace it as the maker's manual says.",
    Reason.MV_OUT_OF_LIMITS: "Clean and check the contacts, read it once more, and replace the cell if it stays.",
    Reason.CURRENT_LIMITED: "Take the cell out of use: it cannot show the pressures dived. Replace it.",
    Reason.NOT_VENTED: "Vent the head to the room, or record its over-pressure, and take the oxygen point again.",
    Reason.SHIFTED_UP: "Record the pressure in the head, let it dry overnight, and take both points again.",
    Reason.COMMON_LOW: "Flush again, analyse the gas again, and calibrate another head or a reference cell on it.",
    Reason.READERS_DIFFER: "Do not replace the cell yet: swap contacts or read it with the bench meter.",
    Reason.NOT_SETTLED: "Wait until every cell has settled in oxygen, and take the point again.",
    Reason.GAS_NOT_ANALYSED: "Analyse the gas, then take the oxygen point.",
    Reason.MISSING: "Take the missing reading.",
    Reason.HEAD_DAMP: "Dry the head, leave it at room temperature for 30 minutes, and calibrate again.",
    Reason.EQUIPMENT: "Calibrate again with test equipment that is in date.",
    Reason.LIMITED_BEFORE: "Keep the cell out of use or replace it: only a pressure-pot point can clear it.",
    Reason.POT_UNDECIDED: "Take the pressure-pot point again: nothing else can decide it.",
    Reason.REJECTED_BEFORE: "Calibrate it once more after a new flush; in limits a second time, it may be used.",
}
_ACROSS_STEP = {
    Verdict.REPEAT: "Flush again and take the oxygen point again; a zero reading or finer meter narrows the interval.",
    Verdict.WATCH: "It may be used meanwhile; calibrate it before each release and have a replacement at hand.",
    Verdict.REJECT: "Take the cell out of use and replace it as the maker's manual says.",
}
_ABOVE_AGAIN = "It stays above the limit after a new measurement: take the cell out of use and replace it."


def cell_findings(judged: Judged, place: int, lead: str) -> tuple[tuple[CellFinding, ...], str]:
    """All findings on a cell, the governing one first, and what to do next; lead is the reader that governs."""
    grid, decision = judged.grid, judged.decision
    reason = REASONS[int(decision.reason[place])]
    verdict = list(Verdict)[int(decision.severity[place])]
    at = (place, grid.readers.index(lead))
    found = [
        *_about_history(judged, place),
        *_about_circumstances(judged, place),
        *_about_linearity(judged, at, verdict),
        *_about_output(judged, at),
        *_about_pot(judged, place),
    ]
    if not found:
        found = [CellFinding(Reason.WITHIN_LIMITS, "All figures are inside the limits with their whole interval.")]
    found.sort(key=lambda finding: finding.reason is not reason)
    return tuple(found), _next_step(reason, verdict, _lacking(judged, place))


def _lacking(judged: Judged, place: int) -> str:
    """What would make the next visit new evidence on a cell, in words; empty where this one has it all."""
    decision = judged.decision
    return ", ".join(
        words
        for lacks, words in (
            (decision.lacks_zero[place], "each handset's zero (or a reading on another handset or the bench meter)"),
            (decision.lacks_pressure[place], "the pressure in the head"),
            (decision.lacks_drying[place], f"the head left dry for {DRYING_HOURS:g} hours at room temperature"),
        )
        if bool(lacks)
    )


def _next_step(reason: Reason, verdict: Verdict, lacking: str = "") -> str:
    if reason is Reason.ACROSS_LIMIT and verdict is Verdict.REPEAT and lacking:
        return f"Flush again and take both points again, with what a repeat alone cannot show: {lacking}."
    if reason is Reason.ACROSS_LIMIT:
        return _ACROSS_STEP.get(verdict, _NEXT_STEP[Reason.WITHIN_LIMITS])
    if reason is Reason.ABOVE_LIMIT and verdict is Verdict.REJECT:
        return _ABOVE_AGAIN
    if reason is Reason.COMMON_LOW and verdict is Verdict.WATCH:
        return "A new flush shows the same: it may be used meanwhile; compare with another head next time."
    return _NEXT_STEP[reason]


def _about_history(judged: Judged, place: int) -> list[CellFinding]:
    """What an earlier visit said that this one does not lift."""
    before = judged.grid.given.history_of(judged.grid.cells[place])
    found = []
    if bool(judged.decision.limited[place]) and before.limited_proven:
        found.append(
            CellFinding(
                Reason.LIMITED_BEFORE,
                f"Rejected before as current-limited at {before.limited_before:.2f} bar, and no pressure-pot point at"
                " or above that pressure has shown it in limits since.",
            )
        )
    elif bool(judged.decision.limited[place]):
        found.append(
            CellFinding(
                Reason.POT_UNDECIDED,
                f"A pressure-pot point at {before.limited_before:.2f} bar was left undecided before, and none has been"
                " taken since.",
            )
        )
    if before.rejected_before:
        found.append(
            CellFinding(
                Reason.REJECTED_BEFORE,
                "It was rejected by its readings before: one calibration in limits does not undo that.",
            )
        )
    return found


def _about_circumstances(judged: Judged, place: int) -> list[CellFinding]:
    grid, decision, given = judged.grid, judged.decision, judged.grid.given
    rows = [grid.rows[place, int(column)] for column in np.flatnonzero(grid.read[place])]
    missing = [row.reader for row in rows if row.air_mv is None or row.oxygen_mv is None]
    unsettled = [row.reader for row in rows if row.settled is not Answer.YES]
    coarse = [row for column, row in enumerate(rows) if row.resolution_mv >= WHOLE_MV]
    found = [
        (Reason.EQUIPMENT, not given.equipment_in_date, "Test equipment was out of date, so nothing is shown by it."),
        (Reason.HEAD_DAMP, given.head is HeadState.DAMP, "The head was damp: its air point is not room air."),
        (Reason.GAS_NOT_ANALYSED, given.gas.oxygen_fraction is None, "The gas was not analysed: no oxygen point."),
        (Reason.MISSING, bool(missing), f"No reading in air or oxygen on {_and(missing)}."),
        (Reason.NOT_SETTLED, bool(unsettled), f"Not shown to have settled in oxygen on {_and(unsettled)}."),
        (
            Reason.NOT_VENTED,
            given.vented is not Answer.YES and given.over_pressure_mbar is None,
            "The head was not shown to be vented, nor its pressure recorded: a weak cell can look sound.",
        ),
        (
            Reason.CANNOT_DECIDE,
            bool(coarse),
            f"A display in whole mV ({_and([row.reader for row in coarse])}, u = 0.29 mV) can never decide.",
        ),
        (Reason.READERS_DIFFER, bool(decision.differ[place]), "Its readers differ beyond both their uncertainties."),
        (Reason.COMMON_LOW, bool(decision.common_low), f"All cells of the head stand low together{_shift(decision)}."),
        (
            Reason.SHIFTED_UP,
            bool(decision.shifted_up),
            f"All cells of the head read high together{_shift(decision)}{_moved_side(judged)}.",
        ),
        (
            Reason.NOT_VENTED if given.over_pressure_mbar is None else Reason.HEAD_DAMP,
            bool(decision.by_word[place]),
            f"In limits only if the head was {_claims(given)} as was said, and no accepted figures show that it was.",
        ),
    ]
    return [CellFinding(reason, sentence) for reason, holds, sentence in found if holds]


def _shift(decision: Decision) -> str:
    """The shift against the last accepted figures in words, nothing where there are none."""
    if not np.isfinite(decision.shift):
        return ""
    moved, threshold = 100.0 * np.expm1(decision.shift), 100.0 * decision.shift_threshold
    return f", {moved:+.1f} % from their last accepted figures (noticed from {threshold:.1f} % on)"


def _claims(given: CalibrationInput) -> str:
    return "dry" if given.over_pressure_mbar is not None else "vented and dry"


def _moved_side(judged: Judged) -> str:
    """Which point moved against the last accepted figures, in words: that tells over-pressure from moist air."""
    sides = []
    for name, now in (("air", judged.values.sensitivity_air), ("oxygen", judged.values.sensitivity_oxygen)):
        moved = [
            now[at] / getattr(past, f"sensitivity_{name}") - 1.0
            for at, row in judged.grid.rows.items()
            for past in judged.grid.given.history_of(row.cell).accepted
            if past.reader == row.reader and getattr(past, f"sensitivity_{name}") > 0.0
        ]
        sides.append(100.0 * float(np.median(moved)) if moved else float("nan"))
    if not np.all(np.isfinite(sides)):
        return ""
    air, oxygen = sides
    cause = "moist air at the cells or a wrong humidity" if -air > oxygen else "over-pressure or the gas"
    return f": {air:+.1f} % in air, {oxygen:+.1f} % in oxygen, which speaks for {cause}"


def _and(names: list[str]) -> str:
    return ", ".join(names)


def _about_linearity(judged: Judged, at: tuple[int, int], verdict: Verdict) -> list[CellFinding]:
    grid, values, decision = judged.grid, judged.values, judged.decision
    value, expanded = float(values.linearity[at]), float(values.linearity_expanded[at])
    if not np.isfinite(value):
        return []
    low, high = float(grid.bounds.linearity_low[at[0], 0]), float(grid.bounds.linearity_high[at[0], 0])
    shown = f"Linearity {value:.1f} ± {expanded:.1f} % on {grid.readers[at[1]]}"
    where = Standing(int(decision.linearity_standing[at]))
    if where is Standing.BELOW:
        return [CellFinding(Reason.BELOW_LIMIT, f"{shown} is under {low:g} %.")]
    if where is Standing.ABOVE:
        return [
            CellFinding(Reason.ABOVE_LIMIT, f"{shown} is over {high:g} %, nearly always a fault of the measurement.")
        ]
    if where is Standing.ACROSS:
        limit = low if value - expanded < low else high
        ending = {
            Verdict.WATCH: ", again after a new flush",
            Verdict.REJECT: " for the third time: it cannot be shown to meet the limit",
        }
        undecided = REASONS[int(decision.reason[at[0]])] is Reason.ACROSS_LIMIT
        end = ending.get(verdict, "") if undecided else ""
        return [CellFinding(Reason.ACROSS_LIMIT, f"{shown} reaches across {limit:g} %{end}.")]
    return []


def _about_output(judged: Judged, at: tuple[int, int]) -> list[CellFinding]:
    grid, values, decision = judged.grid, judged.values, judged.decision
    found: list[CellFinding] = []
    place = at[0]
    reader = grid.readers[at[1]]
    low, high = float(grid.bounds.air_low[place, 0]), float(grid.bounds.air_high[place, 0])
    floor, makers = float(grid.bounds.oxygen_floor[place, 0]), bool(grid.bounds.makers_floor[place, 0])
    air, air_u = float(values.air_normal[at]), float(values.air_normal_expanded[at])
    oxygen, oxygen_u = float(values.oxygen_normal[at]), float(values.oxygen_normal_expanded[at])
    air_at, floor_at = Standing(int(decision.air_standing[at])), Standing(int(decision.floor_standing[at]))
    air_shown = f"{air:.1f} ± {air_u:.1f} mV in air at 1013 mbar on {reader}"
    if air_at is Standing.BELOW:
        found.append(CellFinding(Reason.MV_OUT_OF_LIMITS, f"Low output: {air_shown}, under {low:g} mV."))
    elif air_at is Standing.ABOVE:
        found.append(CellFinding(Reason.ABOVE_LIMIT, f"High output: {air_shown}, over {high:g} mV."))
    elif air_at is Standing.ACROSS:
        found.append(CellFinding(Reason.ACROSS_LIMIT, f"{air_shown} reaches across a limit of {low:g} to {high:g} mV."))
    oxygen_shown = f"{oxygen:.1f} ± {oxygen_u:.1f} mV in oxygen at 1013 mbar on {reader}"
    if floor_at is Standing.BELOW:
        reason = Reason.MV_OUT_OF_LIMITS if makers else Reason.LOW_OUTPUT
        whose = "the maker's floor" if makers else "the usual"
        found.append(CellFinding(reason, f"Low output: {oxygen_shown}, under {whose} {floor:g} mV."))
    elif floor_at is Standing.ACROSS:
        reason = Reason.ACROSS_LIMIT if makers else Reason.LOW_OUTPUT
        found.append(CellFinding(reason, f"{oxygen_shown} is not shown to be over {floor:g} mV."))
    return found


def _about_pot(judged: Judged, place: int) -> list[CellFinding]:
    found = []
    for (row, column), finding in judged.pots.items():
        if row != place or finding.largest_departure is None or finding.standing is Standing.INSIDE:
            continue
        if finding.standing is Standing.UNKNOWN:
            found.append(
                CellFinding(Reason.CANNOT_DECIDE, "The pressure-pot points make no rising line: take them again.")
            )
            continue
        worst = max(finding.points, key=lambda point: abs(point.percent_of_line - 100.0))
        shown = (
            f"At {worst.po2_bar:.2f} bar it reads {worst.percent_of_line:.1f} ± {worst.expanded_u:.1f} % of its line"
            f" on {judged.grid.readers[column]}"
        )
        reason, ending = {
            Standing.BELOW: (Reason.CURRENT_LIMITED, ": the cell is current-limited."),
            Standing.ABOVE: (Reason.ABOVE_LIMIT, ", over the limit: check the pot's gauge."),
        }.get(finding.standing, (Reason.ACROSS_LIMIT, ", which reaches across the limit."))
        found.append(CellFinding(reason, shown + ending))
    return found


def warnings_of(given: CalibrationInput, decision: Decision) -> tuple[str, ...]:
    """What a reader of the outcome has to know besides the verdicts, in sentences."""
    gas, room = given.gas, given.conditions
    shown = gas.oxygen_fraction
    several = decision.severity.shape[-1] > 1
    notes = (
        (shown is not None and shown > 1.0, f"The analyser showed {(shown or 0) * 100:.1f} %; 100 % is used."),
        (
            room.pressure_source is PressureSource.ALTITUDE,
            "Room pressure is that of the altitude, not of today's weather: mV figures are less certain.",
        ),
        (
            shown is not None and gas.oxygen_fraction_u is None,
            "The analyser's uncertainty is not recorded: ± 2 % oxygen allowed for (common practice, no published"
            " source).",
        ),
        (
            room.pressure_source is PressureSource.MEASURED and room.pressure_u_mbar is None,
            "The barometer's uncertainty is not recorded: the pressure counts as no better known than that of the"
            " altitude.",
        ),
        (room.humidity is None, "Humidity unknown: anything from dry to saturated is allowed for."),
        (given.head is HeadState.UNKNOWN, "Head not known to be dry: up to 100 % humidity allowed for at both points."),
        (
            several and bool(np.isnan(decision.shift)),
            "No last accepted calibration to compare with: a short flush cannot be told from cells ageing together.",
        ),
        (
            bool(decision.common_low) and given.comparison_passed is None,
            "No other head or reference cell on this gas: whether gas or cells are to blame cannot be told.",
        ),
        (
            bool(decision.common_low) and given.comparison_passed is False,
            "Another head or reference cell on this gas was out of limits too: the gas or the pressure is suspect.",
        ),
        (
            not any(row.pot for row in given.readings),
            "No point above 1 bar: current limiting cannot be seen.",
        ),
    )
    return tuple(sentence for holds, sentence in notes if holds)
