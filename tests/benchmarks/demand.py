"""How well the need of parts is foreseen: the forecast of an invented centre's next 90 days, hidden from the program,
beside the habit of ordering what the last quarter used.

``python -m tests.benchmarks.demand [--json] [--units N] [--seeds N]``. Each seed makes a centre; it is cut off 90 and
180 days before its end, imported, forecast by the program's own functions, and compared with what was really taken new
from the shelf after the cut. The centre is invented and its failures follow its maker's laws: a real one may do worse.
"""

import argparse
import datetime as dt
import json
import sys
import tempfile
from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.benchmarks.hidden_days import as_it_stood, used_between, write_grid

DAYS = 90
LEVEL = 0.95


@dataclass(frozen=True, slots=True)
class Case:
    """One part type after one cut. naive: what the 90 days before the cut used. covers: pieces for the level."""

    seed: int
    cut: str
    code: str
    expected: float
    covers: int
    naive: int
    used: int


def run(units: int, seeds: int, first_seed: int = 20_260_615, backs: tuple[int, ...] = (90, 180)) -> list[Case]:
    """Every case of so many centres."""
    from tests.fleet_maker.centre import STATED_DAY
    from tests.fleet_maker.history import make

    found = []
    for seed in range(first_seed, first_seed + seeds):
        grid = make(units, seed, 26).grid()
        try:
            found += [case for back in backs for case in one_cut(grid, STATED_DAY - dt.timedelta(days=back), seed)]
        except NotTakenIn as fault:
            # The maker of the centre may slip with a seed; the program then refuses its sheets, as it must.
            print(f"seed {seed} left out: {fault}", file=sys.stderr)
    return found


class NotTakenIn(Exception):  # noqa: N818 - it says what happened to the sheets
    """The import refused the sheets of a made centre."""


def one_cut(grid: dict[str, list[list[str]]], cut: dt.date, seed: int) -> list[Case]:
    """The cases of one centre cut off after one day."""
    from fleetbench.records.parts.reads import read_part_types
    from fleetbench.records.upkeep.migrate import open_database
    from fleetbench.workshop.core.workplace import Workplace
    from fleetbench.workshop.import_export.import_folder import import_folder
    from fleetbench.workshop.parts.demand import forecast_need

    evening = dt.datetime.combine(cut, dt.time(20), tzinfo=dt.UTC)
    with tempfile.TemporaryDirectory(prefix="parts-") as folder:
        write_grid(as_it_stood(grid, cut, DAYS), Path(folder) / "sheets")
        workplace = Workplace(open_database(Path(folder) / "fleet.db"), lambda: evening)
        report = import_folder(workplace, Path(folder) / "sheets")
        if report.faults:
            raise NotTakenIn(str(report.faults[0]))
        # The evening's list speaks of tomorrow and the 89 days after it: the day of the cut is spent.
        forecasts = forecast_need(workplace, horizon_days=DAYS)
        with workplace.database.reading() as connection:
            codes = {key: kind.code for key, kind in read_part_types(connection).items()}
        workplace.database.close()
    used = used_between(grid, cut, cut + dt.timedelta(days=DAYS))
    naive = used_between(grid, cut - dt.timedelta(days=DAYS), cut)
    return [
        Case(seed, cut.isoformat(), code, forecasts[key].need.expected if key in forecasts else 0.0,
             forecasts[key].need.covered_by(DAYS, LEVEL) if key in forecasts else 0, naive[code], used[code])
        for key, code in codes.items()
        if key in forecasts or used[code] or naive[code]
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Score:
    """Pieces used and foreseen in all, mean absolute and root mean square error a case, cases covered by the stock."""

    cases: int
    used: float
    foreseen: float
    mean_error: float
    root_error: float
    covered: float


def score(cases: list[Case], method: str) -> Score:
    """The score of `forecast` or `last quarter`."""
    said = [case.expected if method == "forecast" else float(case.naive) for case in cases]
    stock = [case.covers if method == "forecast" else case.naive for case in cases]
    errors = [value - case.used for value, case in zip(said, cases, strict=True)]
    return Score(
        len(cases), sum(case.used for case in cases), sum(said),
        sum(map(abs, errors)) / len(cases), (sum(error**2 for error in errors) / len(cases)) ** 0.5,
        sum(have >= case.used for have, case in zip(stock, cases, strict=True)) / len(cases),
    )  # fmt: skip


def busy(cases: list[Case]) -> list[Case]:
    """Cases of part types of which the centre used at least one a quarter in the mean."""
    uses, count = Counter[str](), Counter[str]()
    for case in cases:
        uses[case.code] += case.used
        count[case.code] += 1
    return [case for case in cases if uses[case.code] >= count[case.code]]


def main() -> int:
    """Run it and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.demand", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print figures as JSON")
    parser.add_argument("--units", type=int, default=14)
    parser.add_argument("--seeds", type=int, default=10)
    asked = parser.parse_args()
    cases = run(asked.units, asked.seeds)
    groups = {"all part types": cases, "used at least once a quarter": busy(cases)}
    for code in sorted({case.code for case in busy(cases)}):
        groups[code] = [case for case in cases if case.code == code]
    scores = {name: {way: score(group, way) for way in ("forecast", "last quarter")} for name, group in groups.items()}
    if asked.json:
        json.dump({name: {way: asdict(s) for way, s in ways.items()} for name, ways in scores.items()}, sys.stdout)
        return 0
    print(f"{asked.seeds} centres of {asked.units} units, cut off 90 and 180 days before their end; 90 hidden days")
    for name, ways in scores.items():
        print(f"  {name}: {ways['forecast'].cases} cases, {ways['forecast'].used:g} pieces used")
        for way, one in ways.items():
            print(f"    {way:13s} foreseen {one.foreseen:7.1f}  mean |error| {one.mean_error:5.2f}  "
                  f"root mean square {one.root_error:5.2f}  enough in {one.covered:6.1%} of cases")  # fmt: skip
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
