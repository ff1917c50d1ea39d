"""What is kept of a judged cell beside its figures: how far its readers stand apart, and what is to blame."""

from fleetbench.calc.cells.judge import BlameKind, CalibrationOutcome, CellOutcome


def reader_gap_bar(cell: CellOutcome, oxygen_po2_bar: float | None) -> float | None:
    """Largest difference in bar between two readers of a cell in oxygen, each by its own air point; None if alone."""
    shown = [row.linearity / 100 * oxygen_po2_bar for row in cell.readers if row.linearity and oxygen_po2_bar]
    return max(shown) - min(shown) if len(shown) > 1 else None


def blame_word(cell: CellOutcome, outcome: CalibrationOutcome) -> str | None:
    """What is to blame for a cell's deviation in one word, None where nothing is."""
    blame = outcome.blame
    if blame.kind is BlameKind.NONE:
        return None
    shared = blame.kind in (BlameKind.COMMON, BlameKind.HANDSET)
    return blame.kind.value if shared or cell.cell in blame.where else None
