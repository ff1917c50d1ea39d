"""Prints how the house stands: `python -m tests.house [FOLDER OF ANOTHER STATE ...]`, figures side by side."""

import sys
from pathlib import Path

from tests.house.counts import read_house, size_rows, summary

OWN = Path(__file__).parents[2] / "fleetbench"
HEAD = ("floor", "modules", "lines", "lines a module", "functions", "lines a function", "typed")


def main() -> None:
    """Size by floor of the last folder named, and the summary of each."""
    houses = [read_house(Path(each)) for each in sys.argv[1:] or [str(OWN)]]
    for row in (HEAD, *size_rows(houses[-1])):
        print("  ".join(f"{each:<18}" for each in row))
    print()
    found = [summary(each) for each in houses]
    for name in found[0]:
        print(f"{name:<40}", *(f"{each[name]!s:>16}" for each in found))


if __name__ == "__main__":
    main()
