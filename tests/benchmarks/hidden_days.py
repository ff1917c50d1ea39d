"""An invented centre as it stood some days earlier, and what its next days, hidden from the program, really used.

Reads sheets only and imports nothing of the program, so that what it counts is not what the program calculates.
"""

import csv
import datetime as dt
from collections import Counter
from pathlib import Path

Grid = dict[str, list[list[str]]]
Row = dict[str, str]

KEPT = (
    "centre", "owners", "places", "people", "unit_types", "part_types", "part_type_lives", "slots", "units", "parts",
    "cylinders", "fittings", "part_tests", "bookings", "hire_lines",
)  # fmt: skip
"""Sheets from which need is calculated; all others are left with their header."""


def rows_of(grid: Grid, sheet: str) -> list[Row]:
    """The rows of a sheet by column."""
    header, *body = grid[sheet]
    return [dict(zip(header, row, strict=True)) for row in body]


def first_uses(grid: Grid) -> list[tuple[dt.date, str]]:
    """(day, part type) of every part taken new from the shelf: its first fitting, a unit's first outfit left out."""
    types = {row["record"]: row["part_type"] for row in rows_of(grid, "parts")}
    seen: set[str] = set()
    found = []
    for row in sorted(rows_of(grid, "fittings"), key=lambda each: (each["fitted_at"], each["record"])):
        if row["part"] not in seen:
            seen.add(row["part"])
            if row["fitted_by"]:
                found.append((dt.date.fromisoformat(row["fitted_at"][:10]), types[row["part"]]))
    return found


def used_between(grid: Grid, after: dt.date, through: dt.date) -> Counter[str]:
    """Pieces of each part type used after one day and through another."""
    return Counter(code for day, code in first_uses(grid) if after < day <= through)


def as_it_stood(grid: Grid, cut: dt.date, ahead: int) -> Grid:
    """The sheets as they could have been written at the end of `cut`; bookings of the next `ahead` days are known."""
    made = {name: [body[0]] for name, body in grid.items()}
    for name in KEPT:
        header = grid[name][0]
        kept = [row for row in map(dict, rows_of(grid, name)) if _take(name, row, cut, ahead)]
        made[name] += [[row[column] for column in header] for row in kept]
    fitted, ever = set(), set()
    columns = made["fittings"][0]
    for cells in made["fittings"][1:]:
        row = dict(zip(columns, cells, strict=True))
        ever.add(row["part"])
        if not row["removed_at"]:
            fitted.add(row["part"])
    _states(made["parts"], fitted, ever)
    known = {row[1] for row in ((r["record"], r["code"]) for r in _rows(made, "bookings"))}
    column = made["hire_lines"][0].index("booking")
    made["hire_lines"] = [made["hire_lines"][0]] + [r for r in made["hire_lines"][1:] if r[column] in known]
    records = {row["record"] for row in _rows(made, "parts")}
    for name in ("cylinders", "part_tests", "fittings"):
        column = made[name][0].index("part")
        made[name] = [made[name][0]] + [row for row in made[name][1:] if row[column] in records]
    return made


def _rows(grid: Grid, sheet: str) -> list[Row]:
    return rows_of(grid, sheet)


def _take(name: str, row: Row, cut: dt.date, ahead: int) -> bool:
    """Whether a row was there at the cut; what happened to it later is wiped out of it."""
    last = cut.isoformat()
    if name == "centre":
        row["stated_day"] = last
    if name == "parts":
        if row["opened_on"] > last:
            row["opened_on"] = ""
        return row["received_on"] <= last
    if name == "fittings":
        row["ticket"] = row["removal_ticket"] = ""
        if row["removed_at"][:10] > last:
            row["removed_at"] = row["removed_by"] = row["why_removed"] = ""
        return row["fitted_at"][:10] <= last
    if name == "part_tests":
        return row["done_on"] <= last
    if name == "bookings":
        if row["cancelled_at"][:10] > last:
            row["cancelled_at"] = ""
        return row["starts_on"] <= (cut + dt.timedelta(days=ahead)).isoformat()
    if name == "hire_lines":
        _as_out(row, last)
    return True


def _as_out(row: Row, last: str) -> None:
    row["note"] = ""
    late = [column for column in ("out_at", "received_at") if row[column][:10] > last]
    if late or not row["received_at"]:
        for column in ("received_at", "received_by", "wet", "flooded", "fault", "loop_minutes", "dives"):
            row[column] = ""
    if "out_at" in late:
        for column in ("out_at", "out_by", "hand_over"):
            row[column] = ""


def _states(parts: list[list[str]], fitted: set[str], ever: set[str]) -> None:
    header = parts[0]
    record, state = header.index("record"), header.index("state")
    for row in parts[1:]:
        now = "fitted" if row[record] in fitted else "scrapped" if row[record] in ever else "stock"
        # A cell that went over on the shelf later still lay there; one that was set aside before stays so.
        row[state] = "quarantine" if row[state] == "quarantine" and now == "stock" else now


def write_grid(grid: Grid, folder: Path) -> None:
    """Write the sheets as CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in grid.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as out:
            csv.writer(out, lineterminator="\n").writerows(rows)
