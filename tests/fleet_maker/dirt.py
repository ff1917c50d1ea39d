"""The dirt of a real centre's sheets, laid on clean ones, with a list of where each speck lies.

A `fault` must be reported by whoever takes the sheets in; what is `tolerated` is taken as it stands.
"""

import csv
import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from tests.fleet_maker.sheets import write

Grid = list[list[str]]
ANSWERS = "answers"
STRAY = "caf\udce9"  # one byte of another encoding in the middle of UTF-8 text


class Soiler:
    """Takes rows at random, changes a cell, and keeps a note of it; no cell is soiled twice."""

    def __init__(self, grids: dict[str, Grid], seed: int) -> None:
        self.grids, self.rng = grids, np.random.default_rng([seed, 77])
        self.notes: list[tuple[str, int, str, str, str]] = []
        self.soiled: set[tuple[str, int]] = set()

    def rows(self, sheet: str, fits: Callable[[dict[str, str]], bool]) -> Iterator[int]:
        """Rows that fit and are still clean, in a random order; as places in the grid."""
        head, *body = self.grids[sheet]
        for place in self.rng.permutation(len(body)):
            row = int(place) + 1
            if (sheet, row) not in self.soiled and fits(dict(zip(head, self.grids[sheet][row], strict=True))):
                yield row

    def cell(self, sheet: str, row: int, column: str) -> str:
        """What stands in a cell."""
        return self.grids[sheet][row][self.grids[sheet][0].index(column)]

    def put(self, sheet: str, row: int, column: str, text: str, kind: str, what: str) -> None:
        """Write a cell and note it, with the row as a spreadsheet counts it."""
        self.grids[sheet][row][self.grids[sheet][0].index(column)] = text
        self.soiled.add((sheet, row))
        self.notes.append((sheet, row + 1, column, kind, what))

    def change(self, sheet: str, column: str, kind: str, what: str, to: Callable[[str], str], count: int = 1,
               where: Callable[[dict[str, str]], bool] | None = None) -> None:  # fmt: skip
        """Change one column in `count` rows."""
        found = self.rows(sheet, lambda row: bool(row[column]) and (where is None or where(row)))
        for _ in range(count):
            row = next(found)
            self.put(sheet, row, column, to(self.cell(sheet, row, column)), kind, what)


def soil(grids: dict[str, Grid], out: Path, seed: int) -> None:
    """Write the sheets with their dirt, and beside them, in a folder of its own, the list of it."""
    soiler = Soiler(grids, seed)
    _dates(soiler)
    _figures(soiler)
    _words(soiler)
    _doubles(soiler)
    _stray_byte(soiler)
    write_soiled(grids, out)
    answers = out / ANSWERS
    answers.mkdir(parents=True, exist_ok=True)
    with (answers / "faults.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["sheet", "row", "column", "kind", "what"])
        writer.writerows(sorted(soiler.notes))


def write_soiled(grids: dict[str, Grid], out: Path) -> None:
    """Write all sheets, with the stray bytes that text cannot hold."""
    write({name: rows for name, rows in grids.items() if name != "findings"}, out)
    lines = out / "findings.csv"
    write({"findings": [[cell.replace(STRAY, "caf\x01") for cell in row] for row in grids["findings"]]}, out)
    lines.write_bytes(lines.read_bytes().replace(b"caf\x01", b"caf\xe9"))


def _dates(soiler: Soiler) -> None:
    def spelt(pattern: str) -> Callable[[str], str]:
        return lambda text: dt.datetime.fromisoformat(text).strftime(pattern)

    soiler.change("parts", "received_on", "fault", "date with points", spelt("%d.%m.%Y"), 2)
    soiler.change("parts", "received_on", "fault", "month only where a day is needed", lambda text: text[:7])
    soiler.change("part_tests", "done_on", "fault", "month in words", spelt("%d %B %Y"))
    soiler.change("part_tests", "done_on", "tolerated", "month only, a marked date", lambda text: text[:7], 3)
    soiler.change("tickets", "opened_at", "fault", "day before month", spelt("%d/%m/%Y %H:%M"))
    soiler.change(
        "gas_analyses", "at", "fault", "month and day that are none", lambda text: f"{text[:5]}13-32{text[10:]}"
    )
    soiler.change("bookings", "starts_on", "fault", "month only where a day is needed", lambda text: text[:7])


def _figures(soiler: Soiler) -> None:
    def diver(row: dict[str, str]) -> bool:
        return row["made"] == "diver"

    soiler.change("calibrations", "humidity", "tolerated", "humidity left blank", lambda text: "", 40, diver)
    soiler.change(
        "calibrations", "oxygen_shown_percent", "tolerated", "analyser showed over 100", lambda text: "100.4", 4, diver
    )
    soiler.change("calibrations", "oxygen_shown_percent", "tolerated", "gas not analysed", lambda text: "", 10, diver)
    soiler.change("readings", "mv", "fault", "decimal point left out", lambda text: text.replace(".", ""), 2,
                  lambda row: row["point"] == "oxygen" and row["mv"] > "30")  # fmt: skip
    soiler.change("readings", "mv", "fault", "decimal comma", lambda text: text.replace(".", ","), 3)
    soiler.change("cylinder_fills", "end_bar", "fault", "decimal comma", lambda text: f"{text},5")
    soiler.change(
        "sessions", "pressure_mbar", "fault", "decimal point left out", lambda text: text.replace(".", "").ljust(5, "2")
    )
    soiler.change(
        "fills", "mass_g", "fault", "a nought too many", lambda text: f"{text}0", 1, lambda row: row["mass_g"] > "2"
    )


def _words(soiler: Soiler) -> None:
    old = next(row[1:3] for row in soiler.grids["units"][1:] if row[2])
    tag, former = old
    for sheet, count in (("hire_lines", 2), ("openings", 4), ("bench_tests", 5), ("disinfections", 1)):
        soiler.change(
            sheet,
            "unit",
            "tolerated",
            "unit under its old tag",
            lambda _: former,
            count,
            lambda row: row["unit"] == tag,
        )
    soiler.change("runs", "unit", "fault", "letter O for a nought: no such unit", lambda text: text.replace("-0", "-O"))
    soiler.change("parts", "serial", "tolerated", "letters for digits", lambda text: text.replace("0", "O"), 2,
                  lambda row: "0" in row["serial"] and not row["part_type"].startswith("CYL"))  # fmt: skip
    soiler.change("equipment", "serial", "tolerated", "letter l for a one", lambda text: text.replace("1", "l"), 1,
                  lambda row: "1" in row["serial"])  # fmt: skip
    soiler.change("people", "name", "tolerated", "spaces before and behind", lambda text: f" {text}  ", 3)
    soiler.change(
        "units", "tag", "tolerated", "space behind", lambda text: f"{text} ", 1, lambda row: row["tag"] == "B-02"
    )
    soiler.change("bookings", "code", "tolerated", "space behind", lambda text: f"{text} ")
    soiler.change("bench_tests", "held", "fault", "neither yes nor no", lambda text: "ok")
    soiler.change("bench_tests", "kind", "fault", "a word that is not known", lambda text: f"{text} again")


def _doubles(soiler: Soiler) -> None:
    def sits(row: dict[str, str]) -> bool:
        return row["slot"] == "cell 2" and not row["removed_at"]

    heads = soiler.rows("fittings", sits)
    first, second = sorted((next(heads), next(heads)))
    soiler.put("fittings", second, "part", soiler.cell("fittings", first, "part"), "fault", "one cell in two heads")
    second = next(soiler.rows("parts", lambda row: row["part_type"] == "CELL-A" and row["state"] == "stock"))
    first = next(row for row in soiler.rows("parts", lambda row: row["part_type"] == "CELL-A") if row < second)
    soiler.put("parts", second, "serial", soiler.cell("parts", first, "serial"), "fault", "one label used twice")
    soiler.soiled.add(("parts", first))
    _late(soiler)


def _late(soiler: Soiler) -> None:
    """A hand-back four days late, of a unit that was not wanted meanwhile."""
    head, *body = soiler.grids["hire_lines"]
    unit, out_at, back = (head.index(name) for name in ("unit", "out_at", "received_at"))
    starts = sorted((row[unit], row[out_at]) for row in body if row[out_at])
    for place in soiler.rows("hire_lines", lambda row: bool(row["received_at"])):
        row = soiler.grids["hire_lines"][place]
        late = dt.datetime.fromisoformat(row[back]) + dt.timedelta(days=4)
        following = [at for tag, at in starts if tag == row[unit] and at > row[out_at]]
        if following and min(following) > str(late + dt.timedelta(days=2)):
            soiler.put(
                "hire_lines",
                place,
                "received_at",
                late.isoformat(" ", "minutes"),
                "tolerated",
                "hand-back four days late",
            )
            return


def _stray_byte(soiler: Soiler) -> None:
    row = next(soiler.rows("findings", lambda _: True))
    soiler.grids["findings"][row][-1] += f", {STRAY}"
    soiler.notes.append(("findings", row + 1, "-", "fault", "a byte that is not UTF-8"))
