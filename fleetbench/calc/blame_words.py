"""Blame of a head's deviations with its numbers, from the grid and the decision."""

import numpy as np

from fleetbench.calc.atmosphere import Array
from fleetbench.calc.blame import Blame, BlameKind, Parts, split
from fleetbench.calc.cell_grid import Grid, Judged
from fleetbench.calc.decision import REASONS, Decision, Reason
from fleetbench.calc.uncertainty import COVERAGE, Figures

_NO_OUTPUT = 1.0

_CELL_REASONS = (Reason.BELOW_LIMIT, Reason.CURRENT_LIMITED, Reason.MV_OUT_OF_LIMITS)


def explain(judged: Judged) -> Blame:
    """Who is to blame: common to the head, a handset, a cell or a contact, the first that the pattern supports."""
    grid, decision = judged.grid, judged.decision
    deviation, against = _deviations(grid, judged.values)
    parts = split(deviation)
    kind, where, sentence = _verdict(judged, parts)
    known = bool(np.isfinite(decision.shift))
    return Blame(
        kind=kind,
        where=where,
        common=_percent(parts.common),
        readers=tuple((name, _percent(part)) for name, part in zip(grid.readers, parts.readers, strict=True)),
        cells=tuple((name, _percent(part)) for name, part in zip(grid.cells, parts.cells, strict=True)),
        contacts=tuple(
            (grid.cells[row], grid.readers[column], _percent(parts.contacts[row, column]))
            for row, column in np.argwhere(np.isfinite(parts.contacts))
        ),
        against=against,
        shift=100.0 * float(decision.shift) if known else None,
        shift_threshold=100.0 * float(decision.shift_threshold) if known else None,
        sentence=sentence,
    )


def _percent(log_part: Array) -> float:
    return float(100.0 * np.expm1(log_part))


def _deviations(grid: Grid, values: Figures) -> tuple[Array, str]:
    """Log linearity over the last accepted figure where every reading has one, else over 100 %, and which it was."""
    accepted = grid.circumstances({}).accepted_linearity
    with_history = bool(np.all(np.isfinite(accepted) | ~grid.read))
    reference = accepted if with_history else np.full(grid.read.shape, 100.0)
    shown = np.isfinite(grid.shown.air) & np.isfinite(values.oxygen_normal)
    # No output has no logarithm; one per cent stands for it, so that it still counts as the largest deviation.
    linearity = np.fmax(np.where(np.isnan(values.linearity), 0.0, values.linearity), _NO_OUTPUT)
    deviation = np.where(shown, np.log(linearity / reference), np.nan)
    return deviation, "the last accepted calibration" if with_history else "100 %"


def _verdict(judged: Judged, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    grid, decision = judged.grid, judged.decision
    if bool(decision.common_low) or bool(decision.shifted_up):
        return _common(decision, parts)
    if np.any(decision.differ):
        return _reader_or_contact(judged, parts)
    bad = [name for name, code in zip(grid.cells, decision.reason, strict=True) if REASONS[int(code)] in _CELL_REASONS]
    if bad:
        return BlameKind.CELL, tuple(bad), f"The fault is in {_and(bad)}: the same on every reader that shows it."
    return BlameKind.NONE, (), "Nothing stands off."


def _common(decision: Decision, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    moved = float(decision.shift) if np.isfinite(decision.shift) else float(parts.common)
    amount = f"{100.0 * np.expm1(moved):+.1f} %"
    if bool(decision.shifted_up):
        causes = "over-pressure, a damp air point or a wrong pressure"
        return BlameKind.COMMON, (), f"All cells moved {amount} together: {causes}."
    causes = "gas not pure, head not flushed, wrong pressure, or cells ageing together"
    return BlameKind.COMMON, (), f"All cells stand off {amount} together: {causes}."


def _reader_or_contact(judged: Judged, parts: Parts) -> tuple[BlameKind, tuple[str, ...], str]:
    """Handset where all cells shifted on one of them, else the contact of the cell that stands off on one."""
    grid, values, decision = judged.grid, judged.values, judged.decision
    tolerance = COVERAGE * np.where(np.isfinite(values.own_u) & grid.read, values.own_u, 0.0)
    if np.count_nonzero(decision.differ) > 1:
        by_reader = np.abs(parts.readers) - np.max(tolerance, axis=0)
        worst = int(np.argmax(by_reader))
        if by_reader[worst] > 0.0:
            name = grid.readers[worst]
            amount = _percent(parts.readers[worst])
            return BlameKind.HANDSET, (name,), f"All cells read {amount:+.1f} % on {name} alone."
        gain = _gains(grid, values)
        name = grid.readers[int(np.nanargmax(np.abs(gain)))]
        return (
            BlameKind.HANDSET,
            (name,) if len(grid.readers) > 2 else grid.readers,
            f"Readers differ in mV on all cells by {100.0 * float(np.nanmax(gain) - np.nanmin(gain)):.1f} %.",
        )
    row = int(np.argmax(decision.differ))
    contact = np.where(np.isfinite(parts.contacts[row]), np.abs(parts.contacts[row]), -1.0)
    column = int(np.argmax(contact))
    if contact[column] <= 0.0:
        column = int(np.nanargmin(np.where(grid.read[row], values.oxygen_normal[row], np.nan)))
    cell, reader = grid.cells[row], grid.readers[column]
    return (
        BlameKind.CONTACT,
        (cell, reader),
        f"{cell} stands off {_percent(parts.contacts[row, column]):+.1f} % on {reader} alone: contact or wiring.",
    )


def _gains(grid: Grid, values: Figures) -> Array:
    """Median over cells of each reader's log mV in oxygen over the cell's mean, (readers,)."""
    logs = np.where(grid.read, np.log(np.fmax(values.oxygen_normal, 1e-3)), np.nan)
    logs = logs[np.any(np.isfinite(logs), axis=-1)]
    return np.asarray(np.nanmedian(logs - np.nanmean(logs, axis=-1, keepdims=True), axis=0))


def _and(names: list[str]) -> str:
    return ", ".join(names)
