"""A list as text for a spreadsheet: tab-separated, with nothing in it that a spreadsheet would run."""

from collections.abc import Iterable, Sequence

_STARTS_A_FORMULA = ("=", "+", "-", "@")


def neutral(cell: str) -> str:
    """The cell on one line that no spreadsheet takes for a formula: a risky first sign gets an apostrophe before it."""
    line = " ".join(cell.replace("\t", " ").splitlines())
    risky = cell.startswith(("\t", "\r", "\n")) or line.lstrip().startswith(_STARTS_A_FORMULA)
    return f"'{line}" if risky else line


def tab_separated(titles: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Titles and rows as tab-separated lines, each cell neutral."""
    return "".join("\t".join(neutral(cell) for cell in line) + "\n" for line in (titles, *rows))
