"""Speed of what people wait for, as ratios to floors in the same run: `python -m tests.benchmarks [--units N]`.

Bars: start-up to a usable window 1.5 times its floor; the due list of 1,000 units 2.5 times the bare driver.
"""

import argparse
import tempfile
from pathlib import Path

from tests.benchmarks import due_list, fleets, startup
from tests.benchmarks.startup import Pair

BARS = {"start-up": 1.5, "due list": 2.5}


def line(name: str, units: int, pair: Pair) -> str:
    """One figure in words, with its bar."""
    bar = BARS[name]
    kept = "kept" if pair.ratio <= bar else "MISSED"
    return (
        f"{name:<9} {units:>6} units: {pair.seconds * 1000:8.1f} ms, floor {pair.floor * 1000:8.1f} ms, "
        f"ratio {pair.ratio:5.2f} (bar {bar}: {kept})"
    )


def main() -> None:
    """Measure at the sample's size and at a large one, and print each beside its floor."""
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    words.add_argument("--units", type=int, default=1000, help="size of the large fleet")
    words.add_argument("--months", type=int, default=3, help="months of history of the large fleet")
    chosen = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for units, months in ((14, 26), (chosen.units, chosen.months)):
            database = fleets.build(Path(folder) / str(units), units, months)
            print(line("start-up", units, startup.measure(database)), flush=True)
            print(line("due list", units, due_list.measure(database)), flush=True)


if __name__ == "__main__":
    main()
