"""Findings, next steps and warnings of a calibration in sentences, from the same decision that gave the verdicts."""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

import numpy as np

from fleetbench.calc.cells.decision import REASONS, Decision, Reason
from fleetbench.calc.cells.grid import Judged
from fleetbench.calc.cells.readings import (
    DRYING_HOURS,
    WHOLE_MV,
    Answer,
    CalibrationInput,
    CellLimits,
    HeadState,
    PressureSource,
)
from fleetbench.calc.cells.uncertainty import Standing, verdict_of
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict

_Said = Callable[[], str]
"""Says a sentence only where it is true: hardly any is of a sound head."""


@dataclass(frozen=True, slots=True)
class CellFinding:
    """One finding on one cell, on its own: its machine-readable reason and its sentence."""

    reason: Reason
    sentence: str


_NEXT_STEP = {
    Reason.WITHIN_LIMITS: say("Nothing to do before the next calibration."),
    Reason.LOW_OUTPUT: say("Plan its replacement; it may be used meanwhile as the maker's manual allows."),
    Reason.CANNOT_DECIDE: say("Read the cell with the bench meter, to 0.1 mV or finer."),
    Reason.ABOVE_LIMIT: say(
        "Let the head dry at room temperature for 30 minutes, vent it, and take both points again."
    ),
    Reason.BELOW_LIMIT: say("Take the cell out of use and replace it as the maker's manual says."),
    Reason.MV_OUT_OF_LIMITS: say("Clean and check the contacts, read it once more, and replace the cell if it stays."),
    Reason.CURRENT_LIMITED: say("Take the cell out of use: it cannot show the pressures dived. Replace it."),
    Reason.NOT_VENTED: say("Vent the head to the room, or record its over-pressure, and take the oxygen point again."),
    Reason.SHIFTED_UP: say("Record the pressure in the head, let it dry overnight, and take both points again."),
    Reason.COMMON_LOW: say("Flush again, analyse the gas again, and calibrate another head or a reference cell on it."),
    Reason.READERS_DIFFER: say("Do not replace the cell yet: swap contacts or read it with the bench meter."),
    Reason.NOT_SETTLED: say("Wait until every cell has settled in oxygen, and take the point again."),
    Reason.GAS_NOT_ANALYSED: say("Analyse the gas, then take the oxygen point."),
    Reason.MISSING: say("Take the missing reading."),
    Reason.HEAD_DAMP: say("Dry the head, leave it at room temperature for 30 minutes, and calibrate again."),
    Reason.EQUIPMENT: say("Calibrate again with test equipment that is in date."),
    Reason.LIMITED_BEFORE: say("Keep the cell out of use or replace it: only a pressure-pot point can clear it."),
    Reason.POT_UNDECIDED: say("Take the pressure-pot point again: nothing else can decide it."),
    Reason.REJECTED_BEFORE: say("Calibrate it once more after a new flush; in limits a second time, it may be used."),
}
_ACROSS_STEP = {
    Verdict.REPEAT: say(
        "Flush again and take the oxygen point again; a zero reading or finer meter narrows the interval."
    ),
    Verdict.WATCH: say("It may be used meanwhile; calibrate it before each release and have a replacement at hand."),
    Verdict.REJECT: say("Take the cell out of use and replace it as the maker's manual says."),
}
_ABOVE_AGAIN = say("It stays above the limit after a new measurement: take the cell out of use and replace it.")


def cell_findings(judged: Judged, at: tuple[int, int]) -> tuple[tuple[CellFinding, ...], str]:
    """All findings on a cell, the governing one first, and what to do next; at: the cell's row, its reader's column."""
    decision, (place, _) = judged.decision, at
    reason = REASONS[int(decision.reason[place])]
    verdict = verdict_of(int(decision.severity[place]))
    found = [
        *_about_history(judged, place),
        *_about_circumstances(judged, place),
        *_about_linearity(judged, at, verdict),
        *_about_output(judged, at),
        *_about_pot(judged, place),
    ]
    if not found:
        found = [CellFinding(Reason.WITHIN_LIMITS, say("All figures are inside the limits with their whole interval."))]
    found.sort(key=lambda finding: finding.reason is not reason)
    undecided = reason is Reason.ACROSS_LIMIT and verdict is Verdict.REPEAT
    return tuple(found), _next_step(reason, verdict, _lacking(judged, place) if undecided else "")


def _lacking(judged: Judged, place: int) -> str:
    """What would make the next visit new evidence on a cell, in words; empty where this one has it all."""
    decision = judged.decision
    return strung(
        ", ",
        (
            words
            for lacks, words in (
                (
                    decision.lacks_zero[place],
                    say("each handset's zero (or a reading on another handset or the bench meter)"),
                ),
                (decision.lacks_pressure[place], say("the pressure in the head")),
                (
                    decision.lacks_drying[place],
                    say("the head left dry for {drying_hours:g} hours at room temperature", drying_hours=DRYING_HOURS),
                ),
            )
            if bool(lacks)
        ),
    )


def _next_step(reason: Reason, verdict: Verdict, lacking: str) -> str:
    if lacking:
        return say(
            "Flush again and take both points again, with what a repeat alone cannot show: {lacking}.", lacking=lacking
        )
    if reason is Reason.ACROSS_LIMIT:
        return _ACROSS_STEP.get(verdict, _NEXT_STEP[Reason.WITHIN_LIMITS])
    if reason is Reason.ABOVE_LIMIT and verdict is Verdict.REJECT:
        return _ABOVE_AGAIN
    if reason is Reason.COMMON_LOW and verdict is Verdict.WATCH:
        return say("A new flush shows the same: it may be used meanwhile; compare with another head next time.")
    return _NEXT_STEP[reason]


def _about_history(judged: Judged, place: int) -> list[CellFinding]:
    """What an earlier visit said that this one does not lift."""
    before = judged.grid.given.history_of(judged.grid.cells[place])
    found = []
    if bool(judged.decision.limited[place]) and before.limited_proven:
        found.append(
            CellFinding(
                Reason.LIMITED_BEFORE,
                say(
                    "Rejected before as current-limited at {limited_before:.2f} bar, and no pressure-pot "
                    "point at or above that pressure has shown it in limits since.",
                    limited_before=before.limited_before,
                ),
            )
        )
    elif bool(judged.decision.limited[place]):
        found.append(
            CellFinding(
                Reason.POT_UNDECIDED,
                say(
                    "A pressure-pot point at {limited_before:.2f} bar was left undecided before, and none "
                    "has been taken since.",
                    limited_before=before.limited_before,
                ),
            )
        )
    if before.rejected_before:
        found.append(
            CellFinding(
                Reason.REJECTED_BEFORE,
                say("It was rejected by its readings before: one calibration in limits does not undo that."),
            )
        )
    return found


def _about_circumstances(judged: Judged, place: int) -> list[CellFinding]:
    grid, decision, given = judged.grid, judged.decision, judged.grid.given
    rows = [grid.rows[place, column] for column in grid.columns_of(place)]
    missing = [row.reader for row in rows if row.air_mv is None or row.oxygen_mv is None]
    unsettled = [row.reader for row in rows if row.settled is not Answer.YES]
    coarse = [row for column, row in enumerate(rows) if row.resolution_mv >= WHOLE_MV]
    found: list[tuple[Reason, bool, _Said]] = [
        (
            Reason.EQUIPMENT,
            not given.equipment_in_date,
            lambda: say("Test equipment was out of date, so nothing is shown by it."),
        ),
        (
            Reason.HEAD_DAMP,
            given.head is HeadState.DAMP,
            lambda: say("The head was damp: its air point is not room air."),
        ),
        (
            Reason.GAS_NOT_ANALYSED,
            given.gas.oxygen_fraction is None,
            lambda: say("The gas was not analysed: no oxygen point."),
        ),
        (
            Reason.MISSING,
            bool(missing),
            lambda: say("No reading in air or oxygen on {missing}.", missing=_and(missing)),
        ),
        (
            Reason.NOT_SETTLED,
            bool(unsettled),
            lambda: say("Not shown to have settled in oxygen on {unsettled}.", unsettled=_and(unsettled)),
        ),
        (
            Reason.NOT_VENTED,
            given.vented is not Answer.YES and given.over_pressure_mbar is None,
            lambda: say("The head was not shown to be vented, nor its pressure recorded: a weak cell can look sound."),
        ),
        (
            Reason.CANNOT_DECIDE,
            bool(coarse),
            lambda: say(
                "A display in whole mV ({reader}, u = 0.29 mV) can never decide.",
                reader=_and([row.reader for row in coarse]),
            ),
        ),
        (
            Reason.READERS_DIFFER,
            bool(decision.differ[place]),
            lambda: say("Its readers differ beyond both their uncertainties."),
        ),
        (
            Reason.COMMON_LOW,
            bool(decision.common_low),
            lambda: say("All cells of the head stand low together{decision}.", decision=_shift(decision)),
        ),
        (
            Reason.SHIFTED_UP,
            bool(decision.shifted_up),
            lambda: say(
                "All cells of the head read high together{decision}{judged}.",
                decision=_shift(decision),
                judged=_moved_side(judged),
            ),
        ),
        (
            Reason.NOT_VENTED if given.over_pressure_mbar is None else Reason.HEAD_DAMP,
            bool(decision.by_word[place]),
            lambda: say(
                "In limits only if the head was {given} as was said, and no accepted figures show that it was.",
                given=_claims(given),
            ),
        ),
    ]
    return [CellFinding(reason, sentence()) for reason, holds, sentence in found if holds]


def _shift(decision: Decision) -> str:
    """The shift against the last accepted figures in words, nothing where there are none."""
    if not np.isfinite(decision.shift):
        return ""
    moved, threshold = 100.0 * np.expm1(decision.shift), 100.0 * decision.shift_threshold
    return say(
        ", {moved:+.1f} % from their last accepted figures (noticed from {threshold:.1f} % on)",
        moved=moved,
        threshold=threshold,
    )


def _claims(given: CalibrationInput) -> str:
    return "dry" if given.over_pressure_mbar is not None else say("vented and dry")


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
    cause = say("moist air at the cells or a wrong humidity") if -air > oxygen else say("over-pressure or the gas")
    return say(
        ": {air:+.1f} % in air, {oxygen:+.1f} % in oxygen, which speaks for {cause}",
        air=air,
        oxygen=oxygen,
        cause=cause,
    )


def _and(names: list[str]) -> str:
    return strung(", ", names)


def _about_linearity(judged: Judged, at: tuple[int, int], verdict: Verdict) -> list[CellFinding]:
    grid, values, decision = judged.grid, judged.values, judged.decision
    value, expanded = float(values.linearity[at]), float(values.linearity_expanded[at])
    if not isfinite(value):
        return []
    where = Standing(int(decision.linearity_standing[at]))
    if where in (Standing.INSIDE, Standing.UNKNOWN):
        return []
    limits = grid.given.limits_of(grid.cells[at[0]])
    low, high = limits.linearity_low, limits.linearity_high
    shown = say(
        "Linearity {value:.1f} ± {expanded:.1f} % on {readers}",
        value=value,
        expanded=expanded,
        readers=grid.readers[at[1]],
    )
    if where is Standing.BELOW:
        return [CellFinding(Reason.BELOW_LIMIT, say("{shown} is under {low:g} %.", shown=shown, low=low))]
    if where is Standing.ABOVE:
        return [
            CellFinding(
                Reason.ABOVE_LIMIT,
                say("{shown} is over {high:g} %, nearly always a fault of the measurement.", shown=shown, high=high),
            )
        ]
    limit = low if value - expanded < low else high
    ending = {
        Verdict.WATCH: say(", again after a new flush"),
        Verdict.REJECT: say(" for the third time: it cannot be shown to meet the limit"),
    }
    undecided = REASONS[int(decision.reason[at[0]])] is Reason.ACROSS_LIMIT
    end = ending.get(verdict, "") if undecided else ""
    return [
        CellFinding(
            Reason.ACROSS_LIMIT, say("{shown} reaches across {limit:g} %{end}.", shown=shown, limit=limit, end=end)
        )
    ]


def _about_output(judged: Judged, at: tuple[int, int]) -> list[CellFinding]:
    limits = judged.grid.given.limits_of(judged.grid.cells[at[0]])
    found = (_about_air(judged, at, limits), _about_floor(judged, at, limits))
    return [each for each in found if each is not None]


def _about_air(judged: Judged, at: tuple[int, int], limits: CellLimits) -> CellFinding | None:
    where = Standing(int(judged.decision.air_standing[at]))
    if where in (Standing.INSIDE, Standing.UNKNOWN):
        return None
    shown = say(
        "{air:.1f} ± {air_u:.1f} mV in air at 1013 mbar on {reader}",
        air=float(judged.values.air_normal[at]),
        air_u=float(judged.values.air_normal_expanded[at]),
        reader=judged.grid.readers[at[1]],
    )
    low, high = limits.air_low_mv, limits.air_high_mv
    if where is Standing.BELOW:
        under = say("Low output: {air_shown}, under {low:g} mV.", air_shown=shown, low=low)
        return CellFinding(Reason.MV_OUT_OF_LIMITS, under)
    if where is Standing.ABOVE:
        over = say("High output: {air_shown}, over {high:g} mV.", air_shown=shown, high=high)
        return CellFinding(Reason.ABOVE_LIMIT, over)
    across = say("{air_shown} reaches across a limit of {low:g} to {high:g} mV.", air_shown=shown, low=low, high=high)
    return CellFinding(Reason.ACROSS_LIMIT, across)


def _about_floor(judged: Judged, at: tuple[int, int], limits: CellLimits) -> CellFinding | None:
    where = Standing(int(judged.decision.floor_standing[at]))
    if where not in (Standing.BELOW, Standing.ACROSS):
        return None
    shown = say(
        "{oxygen:.1f} ± {oxygen_u:.1f} mV in oxygen at 1013 mbar on {reader}",
        oxygen=float(judged.values.oxygen_normal[at]),
        oxygen_u=float(judged.values.oxygen_normal_expanded[at]),
        reader=judged.grid.readers[at[1]],
    )
    floor, makers = limits.oxygen_floor_mv, limits.makers_floor
    if where is Standing.ACROSS:
        reason = Reason.ACROSS_LIMIT if makers else Reason.LOW_OUTPUT
        sentence = say("{oxygen_shown} is not shown to be over {floor:g} mV.", oxygen_shown=shown, floor=floor)
        return CellFinding(reason, sentence)
    whose = say("the maker's floor") if makers else say("the usual")
    sentence = say(
        "Low output: {oxygen_shown}, under {whose} {floor:g} mV.", oxygen_shown=shown, whose=whose, floor=floor
    )
    return CellFinding(Reason.MV_OUT_OF_LIMITS if makers else Reason.LOW_OUTPUT, sentence)


def _about_pot(judged: Judged, place: int) -> list[CellFinding]:
    found = []
    for (row, column), finding in judged.pots.items():
        if row != place or finding.largest_departure is None or finding.standing is Standing.INSIDE:
            continue
        if finding.standing is Standing.UNKNOWN:
            found.append(
                CellFinding(Reason.CANNOT_DECIDE, say("The pressure-pot points make no rising line: take them again."))
            )
            continue
        worst = max(finding.points, key=lambda point: abs(point.percent_of_line - 100.0))
        shown = say(
            "At {po2_bar:.2f} bar it reads {percent_of_line:.1f} ± {expanded_u:.1f} % of its line on {readers}",
            po2_bar=worst.po2_bar,
            percent_of_line=worst.percent_of_line,
            expanded_u=worst.expanded_u,
            readers=judged.grid.readers[column],
        )
        reason, ending = {
            Standing.BELOW: (Reason.CURRENT_LIMITED, say(": the cell is current-limited.")),
            Standing.ABOVE: (Reason.ABOVE_LIMIT, say(", over the limit: check the pot's gauge.")),
        }.get(finding.standing, (Reason.ACROSS_LIMIT, say(", which reaches across the limit.")))
        found.append(CellFinding(reason, shown + ending))
    return found


def warnings_of(given: CalibrationInput, decision: Decision) -> tuple[str, ...]:
    """What a reader of the outcome has to know besides the verdicts, in sentences."""
    gas, room = given.gas, given.conditions
    shown = gas.oxygen_fraction
    several = decision.severity.shape[-1] > 1
    notes = (
        (
            above := shown is not None and shown > 1.0,
            say("The analyser showed {value:.1f} %; 100 % is used.", value=(shown or 0) * 100) if above else "",
        ),
        (
            room.pressure_source is PressureSource.ALTITUDE,
            say("Room pressure is that of the altitude, not of today's weather: mV figures are less certain."),
        ),
        (
            shown is not None and gas.oxygen_fraction_u is None,
            say(
                "The analyser's uncertainty is not recorded: ± 2 % oxygen allowed for (common practice, "
                "no published source)."
            ),
        ),
        (
            room.pressure_source is PressureSource.MEASURED and room.pressure_u_mbar is None,
            say(
                "The barometer's uncertainty is not recorded: the pressure counts as no better known "
                "than that of the altitude."
            ),
        ),
        (room.humidity is None, say("Humidity unknown: anything from dry to saturated is allowed for.")),
        (
            given.head is HeadState.UNKNOWN,
            say("Head not known to be dry: up to 100 % humidity allowed for at both points."),
        ),
        (
            several and bool(np.isnan(decision.shift)),
            say(
                "No last accepted calibration to compare with: a short flush cannot be told from cells ageing together."
            ),
        ),
        (
            bool(decision.common_low) and given.comparison_passed is None,
            say("No other head or reference cell on this gas: whether gas or cells are to blame cannot be told."),
        ),
        (
            bool(decision.common_low) and given.comparison_passed is False,
            say(
                "Another head or reference cell on this gas was out of limits too: the gas or the pressure is suspect."
            ),
        ),
        (
            not any(row.pot for row in given.readings),
            say("No point above 1 bar: current limiting cannot be seen."),
        ),
    )
    return tuple(sentence for holds, sentence in notes if holds)
