"""Blame of a head's deviations with its numbers, from the grid and the decision."""

from itertools import combinations
from math import isfinite

import numpy as np

from fleetbench.calc.cells.atmosphere import Array
from fleetbench.calc.cells.blame import Blame, BlameKind, Parts, split
from fleetbench.calc.cells.decision import READER_TOLERANCE, REASONS, Decision, Mask, Reason
from fleetbench.calc.cells.grid import Grid, Judged, Stack
from fleetbench.calc.cells.uncertainty import COVERAGE, Figures
from fleetbench.calc.core.languages import say, strung

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
