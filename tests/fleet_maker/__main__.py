"""`python -m tests.fleet_maker OUT`: write the invented centre's sheets into a folder."""

import argparse
import datetime as dt
import gc
from pathlib import Path

from tests.fleet_maker.answers import write_answers
from tests.fleet_maker.centre import STATED_DAY
from tests.fleet_maker.history import make_centre
from tests.fleet_maker.sheets import write


def main() -> None:
    """Read the options, make the centre, write the sheets."""
    parser = argparse.ArgumentParser(prog="python -m tests.fleet_maker", description=__doc__)
    parser.add_argument("out", type=Path, help="folder for the sheets")
    parser.add_argument("--units", type=int, default=14, help="size of the fleet (14)")
    parser.add_argument("--seed", type=int, default=20260615, help="same seed, same bytes")
    parser.add_argument("--months", type=int, default=26, help="months of history (26)")
    parser.add_argument(
        "--stated-day", type=dt.date.fromisoformat, default=STATED_DAY, help="the day the centre is seen on"
    )
    parser.add_argument("--dirty", action="store_true", help="with the dirt of a real centre's sheets, and faults.csv")
    asked = parser.parse_args()
    gc.disable()  # millions of rows that all live to the end: collecting them costs half the time and frees nothing
    centre = make_centre(asked.units, asked.seed, asked.months)
    grids = centre.sheets.grid(asked.stated_day - STATED_DAY)
    if asked.dirty:
        from tests.fleet_maker.dirt import soil

        soil(grids, asked.out, asked.seed)
    else:
        write(grids, asked.out)
        write_answers(centre, asked.out)


if __name__ == "__main__":
    main()
