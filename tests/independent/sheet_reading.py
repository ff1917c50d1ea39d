"""The raw sheets as lists of dicts, and the few ways in which their cells are read."""

import csv
import datetime as dt
from calendar import monthrange
from pathlib import Path

Row = dict[str, str]


class Folder:
    """Sheets of one folder, each read once."""

    def __init__(self, folder: Path | str) -> None:
        self.folder = Path(folder)
        self._sheets: dict[str, list[Row]] = {}

    def __getitem__(self, sheet: str) -> list[Row]:
        """The rows of one sheet."""
        if sheet not in self._sheets:
            with (self.folder / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
                self._sheets[sheet] = list(csv.DictReader(file))
        return self._sheets[sheet]

    def by(self, sheet: str, column: str) -> dict[str, Row]:
        """Rows of a sheet by a column that is unique."""
        return {row[column]: row for row in self[sheet]}

    def grouped(self, sheet: str, column: str) -> dict[str, list[Row]]:
        """Rows of a sheet by a column that is not."""
        groups: dict[str, list[Row]] = {}
        for row in self[sheet]:
            groups.setdefault(row[column], []).append(row)
        return groups

    @property
    def stated_day(self) -> dt.date:
        """The day on which the centre is seen."""
        return dt.date.fromisoformat(self["centre"][0]["stated_day"])


def number(text: str) -> float | None:
    """A number, None where the cell is empty."""
    return float(text) if text else None


def moment(text: str) -> dt.datetime | None:
    """A local time, None where the cell is empty."""
    return dt.datetime.fromisoformat(text) if text else None


def first_day(text: str) -> dt.date | None:
    """First day of what is marked: a day, a month (2025-03) or a quarter (2Q2025)."""
    if not text:
        return None
    if text[1:2] == "Q":
        return dt.date(int(text[2:]), 3 * int(text[0]) - 2, 1)
    if len(text) == 7:
        return dt.date(int(text[:4]), int(text[5:]), 1)
    return dt.date.fromisoformat(text[:10])


def add_months(anchor: dt.date, months: int) -> dt.date:
    """The day so many months after the anchor, clamped to the end of its month; counted from the anchor in one step."""
    index = anchor.year * 12 + anchor.month - 1 + months
    year, month = divmod(index, 12)
    return dt.date(year, month + 1, min(anchor.day, monthrange(year, month + 1)[1]))


def day_before(day: dt.date) -> dt.date:
    """The day before."""
    return day - dt.timedelta(days=1)
