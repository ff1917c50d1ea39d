"""Judgement of the oxygen cells of one head: verdict, figures with uncertainty, finding, next step and blame per cell.

Blame is told with its numbers, from the grid and the decision.

``judge`` takes a ``CalibrationInput`` (cell_readings) and gives a ``HeadOutcome``, ``judge_many`` those of many. The
numbers come from ``uncertainty.figures``, the verdicts from ``decision.decide``, both shared with the simulation that
measures them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import isfinite

import numpy as np

from fleetbench.calc.cells.blame import Blame, BlameKind, Parts, split
from fleetbench.calc.cells.decision import READER_TOLERANCE, REASONS, Decision, Mask, Reason, decide
from fleetbench.calc.cells.drift import PotFinding
from fleetbench.calc.cells.grid import Grid, Judged, Stack, ambient_of, grid_of
from fleetbench.calc.cells.readings import (
    DEFAULT_LIMITS,
    AcceptedFigures,
    Answer,
    CalibrationInput,
    CellHistory,
    CellLimits,
    CellReadings,
    Conditions,
    Gas,
    HeadState,
    PressureSource,
    conditions_from_altitude,
)
from fleetbench.calc.cells.uncertainty import COVERAGE, REJECT, Array, Figures, Standing, figures, margin, verdict_of
from fleetbench.calc.cells.words import CellFinding, cell_findings, warnings_of
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict

_NO_OUTPUT = 1.0
_NO_OUTPUT_MV = 1e-2

_CELL_REASONS = (Reason.BELOW_LIMIT, Reason.CURRENT_LIMITED, Reason.LIMITED_BEFORE, Reason.MV_OUT_OF_LIMITS)


def explain(judged: Judged, parts: Parts, *, with_history: bool) -> Blame:
    """Who is to blame: common to the head, a handset, a cell or a contact, the first that the pattern supports."""
    grid, decision = judged.grid, judged.decision
    kind, where, sentence = _verdict(judged, parts)
    known = bool(np.isfinite(decision.shift))
    return Blame(
        kind=kind,
        where=where,
        common=_percent(parts.common),
        readers=tuple(zip(grid.readers, _percents(parts.readers), strict=True)),
        cells=tuple(zip(grid.cells, _percents(parts.cells), strict=True)),
        contacts=tuple(
            (grid.cells[row], reader, part)
            for row, parts_of in enumerate(parts.contacts)
            for reader, part in zip(grid.readers, _percents(parts_of), strict=True)
            if isfinite(part)
        ),
        against=say("the last accepted calibration") if with_history else "100 %",
        shift=100.0 * float(decision.shift) if known else None,
        shift_threshold=100.0 * float(decision.shift_threshold) if known else None,
        sentence=sentence,
    )


def _percent(log_part: Array) -> float:
    return float(100.0 * np.expm1(log_part))


def _percents(log_parts: Array) -> list[float]:
    found: list[float] = (100.0 * np.expm1(log_parts)).tolist()
    return found


def deviations(stack: Stack, values: Figures) -> tuple[Parts, Mask]:
    """How each reading stands off, split, and which heads have a last accepted figure of every reading.

    Log linearity over that figure where every reading has one, else over 100 %.
    """
    accepted = stack.accepted_linearity()
    with_history = np.all(np.isfinite(accepted) | ~stack.read, axis=(-2, -1))
    reference = np.where(with_history[:, None, None], accepted, 100.0)
    shown = np.isfinite(values.air_normal) & np.isfinite(values.oxygen_normal)
    # No output has no logarithm; one per cent stands for it, so that it still counts as the largest deviation.
    linearity = np.fmax(np.where(np.isnan(values.linearity), 0.0, values.linearity), _NO_OUTPUT)
    return split(np.where(shown, np.log(linearity / reference), np.nan)), np.asarray(with_history)


def _verdict(judged: Judged, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    grid, decision = judged.grid, judged.decision
    if bool(decision.common_low) or bool(decision.shifted_up):
        return _common(decision, parts)
    if np.any(decision.differ):
        return _in_another_order(grid) or _reader_or_contact(judged, parts)
    bad = [name for name, code in zip(grid.cells, decision.reason, strict=True) if REASONS[int(code)] in _CELL_REASONS]
    if bad:
        return (
            BlameKind.CELL,
            tuple(bad),
            say("The fault is in {bad}: the same on every reader that shows it.", bad=_and(bad)),
        )
    return BlameKind.NONE, (), say("Nothing stands off.")


def _common(decision: Decision, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    moved = float(decision.shift) if np.isfinite(decision.shift) else float(parts.common)
    amount = f"{100.0 * np.expm1(moved):+.1f} %"
    if bool(decision.shifted_up):
        causes = say("over-pressure, a damp air point or a wrong pressure")
        return BlameKind.COMMON, (), say("All cells moved {amount} together: {causes}.", amount=amount, causes=causes)
    causes = say("gas not pure, head not flushed, wrong pressure, or cells ageing together")
    return BlameKind.COMMON, (), say("All cells stand off {amount} together: {causes}.", amount=amount, causes=causes)


def _in_another_order(grid: Grid) -> tuple[BlameKind, tuple[str, ...], str] | None:
    """Two readers that show the same figures on other cells at one point, within what their gains may differ by."""
    for point in ("air", "oxygen"):
        shown = _shown(grid, f"{point}_mv")
        for one, other in combinations(range(len(grid.readers)), 2):
            pair = np.log(np.maximum(shown[:, (one, other)], _NO_OUTPUT_MV))
            pair = pair[np.all(np.isfinite(pair), axis=1)]
            apart = np.abs(np.diff(pair, axis=1))
            sorted_apart = np.max(np.abs(np.diff(np.sort(pair, axis=0), axis=1)), initial=0.0)
            if np.count_nonzero(apart > READER_TOLERANCE) >= 2 and sorted_apart < min(
                READER_TOLERANCE, float(np.max(apart)) / 2
            ):
                names = (grid.readers[one], grid.readers[other])
                said = say(
                    "{names} show the same figures in {point} on other cells", names=_and(list(names)), point=point
                )
                return (
                    BlameKind.HANDSET,
                    names,
                    say("{said}: read again which figure belongs to which cell.", said=said),
                )
    return None


def _shown(grid: Grid, point: str) -> Array:
    """mV at a point by cell and reader, NaN where there is none."""
    shown = np.full(grid.shape, np.nan)
    for at, row in grid.rows.items():
        shown[at] = np.nan if (mv := getattr(row, point)) is None else mv
    return shown


def _reader_or_contact(judged: Judged, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    """Handset where all cells shifted on one of them, else the contact of the cell that stands off on one."""
    grid, values, decision = judged.grid, judged.values, judged.decision
    level = _levels(judged)
    if np.count_nonzero(decision.differ) > 1:
        tolerance = COVERAGE * np.where(np.isfinite(values.own_u), values.own_u, 0.0)
        by_reader = np.abs(parts.readers) - np.max(tolerance, axis=0)
        worst = int(np.argmax(by_reader))
        if by_reader[worst] > 0.0:
            name, amount = grid.readers[worst], _percent(parts.readers[worst])
            return (
                BlameKind.HANDSET,
                (name,),
                say("All cells read {amount:+.1f} % on {name} alone.", amount=amount, name=name),
            )
        return _by_gain(grid.readers, level)
    row = int(np.argmax(decision.differ))
    contact = np.where(np.isfinite(parts.contacts[row]), parts.contacts[row], 0.0)
    column = int(np.argmax(np.abs(contact)))
    amount = _percent(contact[column])
    if contact[column] == 0.0:
        shown = np.where(np.isfinite(level[row]), level[row], np.inf)
        column = int(np.argmin(shown))
        amount = _percent(level[row, column] - np.max(np.where(np.isfinite(level[row]), level[row], -np.inf)))
    cell, reader = grid.cells[row], grid.readers[column]
    return (
        BlameKind.CONTACT,
        (cell, reader),
        say(
            "{cell} stands off {amount:+.1f} % on {reader} alone: contact or wiring.",
            cell=cell,
            amount=amount,
            reader=reader,
        ),
    )


def _levels(judged: Judged) -> Array:
    """Log of each cell's normalised mV on each reader, in oxygen where two readers show it, else in air; NaN unread."""
    values = judged.values
    in_oxygen = np.count_nonzero(np.isfinite(values.oxygen_normal), axis=-1, keepdims=True) >= 2
    shown = np.where(in_oxygen, values.oxygen_normal, values.air_normal)
    return np.log(np.maximum(shown, _NO_OUTPUT_MV))


def _by_gain(readers: tuple[str, ...], level: Array) -> tuple[BlameKind, tuple[str, ...], str]:
    """The handset whose mV stand off from the others' on all cells; with two, which of them is wrong is not told."""
    means = [float(np.mean(row[np.isfinite(row)])) for row in level if np.any(np.isfinite(row))]
    rows = [row for row in level if np.any(np.isfinite(row))]
    gains = []
    for column in range(len(readers)):
        off = [row[column] - mean for row, mean in zip(rows, means, strict=True) if np.isfinite(row[column])]
        gains.append(float(np.median(off)) if off else 0.0)
    spread = _percent(np.asarray(max(gains) - min(gains)))
    where = (readers[int(np.argmax(np.abs(gains)))],) if len(readers) > 2 else readers
    return (
        BlameKind.HANDSET,
        where,
        say("Readers differ in mV by {spread:.1f} %: check them with a reference voltage.", spread=spread),
    )


def _and(names: list[str]) -> str:
    return strung(", ", names)


__all__ = [
    "DEFAULT_LIMITS",
    "AcceptedFigures",
    "Answer",
    "Blame",
    "BlameKind",
    "CalibrationInput",
    "CellFinding",
    "CellHistory",
    "CellLimits",
    "CellOutcome",
    "CellReadings",
    "Conditions",
    "Gas",
    "HeadOutcome",
    "HeadState",
    "PressureSource",
    "ReaderFigures",
    "Reason",
    "conditions_from_altitude",
    "judge",
    "judge_many",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderFigures:
    """What one reader says of one cell: linearity and expanded_u in percent, mV normalised, sensitivities in mV/bar.

    shared_u is the part of linearity's relative standard uncertainty that room and gas give.
    None where it cannot be computed (no reading, no analysed gas, no output in air). can_decide is False for a display
    too coarse to prove any cell. verdict is this reader's alone. pot holds the points above 1 bar, if taken.
    """

    reader: str
    verdict: Verdict
    linearity: float | None
    expanded_u: float | None
    air_mv_normal: float | None
    air_mv_expanded_u: float | None
    oxygen_mv_normal: float | None
    oxygen_mv_expanded_u: float | None
    sensitivity_air: float | None
    sensitivity_oxygen: float | None
    shared_u: float | None
    can_decide: bool
    pot: PotFinding | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CellOutcome:
    """Outcome of one cell.

    The figures are those of the reader that governs (the worst; ``reader`` names it): linearity, expanded_u and margin
    in percent, margin negative where the interval crosses a limit; mV at 1013.25 mbar dry air and pure oxygen;
    sensitivities in mV/bar. reason is the machine-readable ground of the verdict, which the next visit's
    ``CellHistory`` counts.
    findings holds each finding on its own (low output and non-linearity are two); finding joins them in one text.
    verified_up_to_bar is None unless the cell may be used. limited_from_bar is the lowest pot pressure at which it left
    its line, now or before, as long as that stands, and limited_proven whether a visit rejected it for that; both go
    into the next visit's history. new_evidence: this visit counts beside an undecided one before (decision's rule 1).
    """

    cell: str
    verdict: Verdict
    reason: Reason
    reader: str
    linearity: float | None
    expanded_u: float | None
    margin: float | None
    air_mv_normal: float | None
    oxygen_mv_normal: float | None
    sensitivity_air: float | None
    sensitivity_oxygen: float | None
    readers: tuple[ReaderFigures, ...]
    verified_up_to_bar: float | None
    limited_from_bar: float | None
    limited_proven: bool
    new_evidence: bool
    findings: tuple[CellFinding, ...]
    finding: str
    next_step: str
    limits: CellLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadOutcome:
    """Outcome of one head: cells in the order of their readings, blame, warnings, oxygen partial pressures in bar.

    oxygen_po2_bar is None without an analysed gas. worst is the head's verdict.
    """

    cells: tuple[CellOutcome, ...]
    blame: Blame
    warnings: tuple[str, ...]
    air_po2_bar: float
    oxygen_po2_bar: float | None
    worst: Verdict


_Numbers = Mapping[str, list[list[float]]]
"""What the readers of a head say by what it is, then by row and column: not finite where there is nothing."""

_NUMBERS = {
    "linearity": "linearity", "expanded_u": "linearity_expanded",
    "air_mv_normal": "air_normal", "air_mv_expanded_u": "air_normal_expanded",
    "oxygen_mv_normal": "oxygen_normal", "oxygen_mv_expanded_u": "oxygen_normal_expanded",
    "sensitivity_air": "sensitivity_air", "sensitivity_oxygen": "sensitivity_oxygen", "shared_u": "shared_u",
}  # fmt: skip


def judge(given: CalibrationInput) -> HeadOutcome:
    """Outcome of a calibration: one verdict a cell, from every reader that shows it in mV, each on its own.

    Sensitivity S = mV / pO2 at each point, linearity = S_oxygen / S_air; expanded uncertainty by JCGM 100:2008, verdict
    by guard band (JCGM 106:2012), the rules of the bench in ``decision.decide``. Missing, stale or unclear data never
    pass.
    Raises ValueError naming field and remedy for input that no bench can give (see ``cell_readings``).
    """
    (found,) = judge_many([given])
    if isinstance(found, ValueError):
        raise found
    return found


def judge_many(given: Sequence[CalibrationInput]) -> list[HeadOutcome | ValueError]:
    """The outcome of each, or what ``judge`` raises of it; they share their arrays and nothing else."""
    grids = [grid_of(each) for each in given]
    try:
        return [*_outcomes(Stack(grids))] if grids else []
    except ValueError as fault:  # is told of its own head only
        return [fault] if len(grids) == 1 else [each for one in given for each in judge_many([one])]


def _outcomes(stack: Stack) -> list[HeadOutcome]:
    values = figures(ambient_of(stack.given), stack.shown())
    own = [values.of_head(head, grid.shape) for head, grid in enumerate(stack.grids)]
    pots = [grid.pots(each) for grid, each in zip(stack.grids, own, strict=True)]
    decision = decide(values, stack.bounds(), stack.circumstances(pots))
    numbers = {name: np.broadcast_to(getattr(values, of), stack.shape).tolist() for name, of in _NUMBERS.items()}
    parts, with_history = deviations(stack, values)
    found = []
    for head, grid in enumerate(stack.grids):
        judged = Judged(grid, own[head], pots[head], decision.of_head(head, grid.shape))
        blame = explain(judged, parts.of_head(head, grid.shape), with_history=bool(with_history[head]))
        found.append(_head_outcome(judged, {name: shown[head] for name, shown in numbers.items()}, blame))
    return found


def _head_outcome(judged: Judged, numbers: _Numbers, blame: Blame) -> HeadOutcome:
    given, values = judged.grid.given, judged.values
    outcomes = tuple(_cell_outcome(judged, place, numbers) for place in range(len(judged.grid.cells)))
    return HeadOutcome(
        cells=outcomes,
        blame=blame,
        warnings=warnings_of(given, judged.decision),
        air_po2_bar=float(values.air_po2),
        oxygen_po2_bar=None if given.gas.oxygen_fraction is None else float(values.oxygen_po2),
        worst=max((outcome.verdict for outcome in outcomes), key=lambda verdict: verdict.severity),
    )


def _reader_figures(judged: Judged, at: tuple[int, int], numbers: _Numbers) -> ReaderFigures:
    row, column = at
    found = {name: value if isfinite(value := shown[row][column]) else None for name, shown in numbers.items()}
    return ReaderFigures(
        reader=judged.grid.readers[column],
        verdict=verdict_of(int(judged.decision.reader_severity[at])),
        can_decide=not bool(judged.decision.coarse[at]),
        pot=judged.pots.get(at),
        **found,
    )


def _governing(judged: Judged, place: int) -> int:
    """Column of the reader that governs a cell: the worst verdict, of those that can decide; then the least margin."""
    values, decision = judged.values, judged.decision

    def rank(column: int) -> tuple[int, bool, float]:
        low_end = values.linearity[place, column] - values.linearity_expanded[place, column]
        severity = int(decision.reader_severity[place, column])
        coarse = bool(decision.coarse[place, column])
        counts = not coarse or severity == REJECT
        return severity if counts else -1, not coarse, 0.0 if np.isnan(low_end) else -float(low_end)

    return max(judged.grid.columns_of(place), key=rank)


def _cell_outcome(judged: Judged, place: int, numbers: _Numbers) -> CellOutcome:
    grid, decision = judged.grid, judged.decision
    cell = grid.cells[place]
    limits = grid.given.limits_of(cell)
    rows = {column: _reader_figures(judged, (place, column), numbers) for column in grid.columns_of(place)}
    column = _governing(judged, place)
    lead = rows[column]
    verdict = verdict_of(int(decision.severity[place]))
    findings, next_step = cell_findings(judged, (place, column))
    limited_from, proven = _limited(judged, place, verdict)
    known = lead.linearity is not None and lead.expanded_u is not None
    return CellOutcome(
        cell=cell,
        verdict=verdict,
        reason=REASONS[int(decision.reason[place])],
        reader=lead.reader,
        linearity=lead.linearity,
        expanded_u=lead.expanded_u,
        margin=margin(lead.linearity or 0.0, lead.expanded_u or 0.0, limits.linearity_low, limits.linearity_high)
        if known
        else None,
        air_mv_normal=lead.air_mv_normal,
        oxygen_mv_normal=lead.oxygen_mv_normal,
        sensitivity_air=lead.sensitivity_air,
        sensitivity_oxygen=lead.sensitivity_oxygen,
        readers=tuple(rows.values()),
        verified_up_to_bar=_verified(verdict, float(judged.values.oxygen_po2), rows.values()),
        limited_from_bar=limited_from,
        limited_proven=proven,
        new_evidence=bool(decision.new_evidence[place]),
        findings=findings,
        finding=strung(" ", (finding.sentence for finding in findings)),
        next_step=next_step,
        limits=limits,
    )


def _limited(judged: Judged, place: int, verdict: Verdict) -> tuple[float | None, bool]:
    """Lowest pot pressure in bar at which a cell is held to have left its line, and whether a visit proved it."""
    before = judged.grid.given.history_of(judged.grid.cells[place])
    stands = bool(judged.decision.limited[place])
    proven_now = verdict is Verdict.REJECT and bool(judged.decision.departed[place])
    proven = proven_now or (stands and before.limited_proven)
    meant = (Standing.BELOW,) if proven else (Standing.BELOW, Standing.ACROSS)
    counts = proven_now or (not proven and verdict not in (Verdict.PASS, Verdict.WATCH))
    pots = [finding for (row, _), finding in judged.pots.items() if row == place and counts]
    found = [point.po2_bar for pot in pots for point in pot.points if point.standing in meant]
    earlier = [before.limited_before] if stands and before.limited_before is not None else []
    if proven and not before.limited_proven and found:
        earlier = []
    return min([*earlier, *found], default=None), proven


def _verified(verdict: Verdict, oxygen_po2: float, rows: Iterable[ReaderFigures]) -> float | None:
    """Highest oxygen partial pressure in bar at which a usable cell was shown to be right, None for any other."""
    if verdict not in (Verdict.PASS, Verdict.WATCH):
        return None
    reached = [row.pot.verified_up_to_bar for row in rows if row.pot and row.pot.verified_up_to_bar is not None]
    return max([oxygen_po2, *reached])
