"""Last good days of every fitted part, calculated from the raw sheets alone.

Rules, common practice with no published source: the last good day is the day before the anniversary; months are added
from the anchor in one step and clamped; marked dates count from the first day of what is marked; a limit on use ends
where the highest of three paces (booked, the last 90 days, the same 90 days a year ago) eats up what is left. A cell
ends earlier where its own calibrations foretell it, which only ever shortens (tests/independent/drift.py).
"""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.independent.cells import LINEARITY, Cells
from tests.independent.drift import foretold
from tests.independent.sheet_reading import Folder, Row, add_months, day_before, first_day, moment

Seen = Mapping[str, Sequence[tuple[dt.date, float, float | None]]]
"""Date, linearity in percent and normalised mV in air of the workshop's calibrations, oldest first, by part."""
Span = tuple[str, dt.datetime, dt.datetime]
FOREVER = dt.datetime(9999, 1, 1)
USES = ("hours", "dives", "hires")


class Due:
    """Everything that the calculation needs, gathered once from a folder of sheets; seen: what calibrations gave."""

    def __init__(self, folder: Path | str, seen: Seen | None = None) -> None:
        self.seen = seen or {}
        self._foretold: dict[str, dt.date | None] = {}
        self.sheets = Folder(folder)
        self.cell_limits = {
            (row["part_type"], row["name"]): float(row["amount"]) for row in self.sheets["limits"] if row["part_type"]
        }
        self.parts = self.sheets.by("parts", "record")
        self.lives = self.sheets.grouped("part_type_lives", "part_type")
        self.tests = self.sheets.grouped("part_tests", "part")
        self.fittings = self.sheets.grouped("fittings", "part")
        self.type_names = {row["code"]: row["name"] for row in self.sheets["part_types"]}
        self.uses = self._uses()
        self.bookings = self.sheets.by("bookings", "code")

    def _uses(self) -> dict[str, dict[str, list[tuple[dt.datetime, float]]]]:
        uses: dict[str, dict[str, list[tuple[dt.datetime, float]]]] = {}
        for run in self.sheets["runs"]:
            of_unit = uses.setdefault(run["unit"], {use: [] for use in USES})
            at, dives = dt.datetime.fromisoformat(run["started_at"]), float(run["dives"] or 1)
            # Where only dive time is known, ten minutes a dive are added (common practice, no published source).
            minutes = float(run["minutes"]) + (10 * dives if run["clock"] == "dive" else 0)
            of_unit["hours"].append((at, minutes / 60))
            of_unit["dives"].append((at, dives))
        for line in self.sheets["hire_lines"]:
            if line["out_at"]:
                of_unit = uses.setdefault(line["unit"], {use: [] for use in USES})
                of_unit["hires"].append((dt.datetime.fromisoformat(line["out_at"]), 1.0))
        return uses

    def spans(self, part: str) -> list[Span]:
        """Unit, from and to of every stay of a part in a unit, its own or its host's."""
        found: list[Span] = []
        for row in self.fittings.get(part, []):
            start, end = moment(row["fitted_at"]), moment(row["removed_at"]) or FOREVER
            assert start is not None
            if row["unit"]:
                found.append((row["unit"], start, end))
            else:
                for unit, host_start, host_end in self.spans(row["host_part"]):
                    if max(start, host_start) < min(end, host_end):
                        found.append((unit, max(start, host_start), min(end, host_end)))
        return found

    def used(self, part: str, use: str) -> float:
        """Hours, dives or hires of a part over all its stays."""
        return sum(
            amount
            for unit, start, end in self.spans(part)
            for at, amount in self.uses.get(unit, {}).get(use, [])
            if start <= at < end
        )

    def pace(self, unit: str, use: str, on: dt.date) -> float:
        """The highest of three paces a day: booked, the last 90 days, the same 90 days a year ago."""
        events = self.uses.get(unit, {}).get(use, [])

        def between(first: dt.date, last: dt.date) -> float:
            return sum(amount for at, amount in events if first <= at.date() <= last) / 90

        trailing = between(on - dt.timedelta(days=90), day_before(on))
        year_ago = add_months(on, -12)
        return max(trailing, between(year_ago, year_ago + dt.timedelta(days=89)), self._booked(unit, use, on))

    def _booked(self, unit: str, use: str, on: dt.date) -> float:
        total = 0.0
        for line in self.sheets["hire_lines"]:
            if line["unit"] != unit or line["received_at"]:
                continue
            booking = self.bookings[line["booking"]]
            starts, ends = dt.date.fromisoformat(booking["starts_on"]), dt.date.fromisoformat(booking["ends_on"])
            horizon = on + dt.timedelta(days=89)
            days = (min(ends, horizon) - max(starts, on)).days + 1
            if booking["cancelled_at"] or days <= 0:
                continue
            ahead = 0.0 if line["out_at"] else 1.0
            # Planned minutes are those of one fill, and one fill a day is assumed.
            total += {"hours": float(booking["planned_minutes"] or 0) / 60 * days, "dives": 0.0, "hires": ahead}[use]
        return total / 90

    def last_good(self, part: str, unit: str, fitted: dt.date, life: Row, on: dt.date) -> tuple[dt.date | None, str]:
        """The last good day of a fitted part by one limit, None with 'unknown' or 'open ended' where it has none."""
        row, basis, amount = self.parts[part], life["basis"], float(life["amount"])
        if basis in USES:
            return self._by_use(part, unit, basis, amount, on)
        if basis == "fixed_date":
            fixed = first_day(row["fixed_on"])
            return (fixed, "dated") if fixed else (None, "unknown")
        if basis == "test_interval":
            done = [d for t in self.tests.get(part, []) if t["kind"] == life["test"] and t["passed"] == "yes"
                    and (d := first_day(t["done_on"]))]  # fmt: skip
            anchor = max(done, default=None)
        else:
            anchor = {"made": first_day(row["made_on"]), "opened": first_day(row["opened_on"]), "fitted": fitted}[basis]
        if anchor is None:
            return None, "unknown"
        if life["unit"] == "days":
            return day_before(anchor + dt.timedelta(days=int(amount))), "dated"
        return day_before(add_months(anchor, int(amount))), "dated"

    def _by_use(self, part: str, unit: str, use: str, amount: float, on: dt.date) -> tuple[dt.date | None, str]:
        left = amount - self.used(part, use)
        if left <= 0:
            return day_before(on), "dated"
        pace = self.pace(unit, use, on)
        if pace * 36_525 <= left:
            return None, "open ended"
        return on + dt.timedelta(days=math.floor(left / pace) - 1), "projected"

    def first_fitted(self, part: str) -> dt.date:
        """The day on which the part was first fitted anywhere: taking it out and back makes it no younger."""
        listed = [row["fitted_at"] for row in self.sheets["fittings"] if row["part"] == part]
        return min(dt.datetime.fromisoformat(each).date() for each in listed)

    def rows(self, on: dt.date) -> list[dict[str, Any]]:
        """One row a fitted part and limit, storage left out, in the order of the fittings sheet."""
        found = []
        for fitting in self.sheets["fittings"]:
            if fitting["removed_at"]:
                continue
            part = fitting["part"]
            unit = next((u for u, start, end in self.spans(part) if end == FOREVER), None)
            if unit is None:
                continue
            code = self.parts[part]["part_type"]
            fitted = self.first_fitted(part)
            for life in self.lives.get(code, []):
                if life["basis"] == "storage":
                    continue
                day, state = self.last_good(part, unit, fitted, life, on)
                days_left = None if day is None else (day - on).days
                found.append(
                    {
                        "unit": unit, "slot": fitting["slot"], "part_type": code, "part": part,
                        "item": f"{self.type_names[code]}, {life['test'] or life['basis']}", "last_good_day": day,
                        "basis": life["basis"], "test": life["test"], "days_left": days_left,
                        "state": "past" if days_left is not None and days_left < 0 else state,
                        "projected": life["basis"] in USES,
                    }
                )  # fmt: skip
        return found

    def governing(self, on: dt.date) -> list[dict[str, Any]]:
        """One row a fitted part: the limit that ends first; where a limit is unknown, `unknown` names it."""
        by_part: dict[str, list[dict[str, Any]]] = {}
        for row in self.rows(on):
            by_part.setdefault(row["part"], []).append(row)
        found = []
        for rows in by_part.values():
            dated = [row for row in rows if row["last_good_day"] is not None]
            first = min(dated, key=lambda row: row["last_good_day"]) if dated else rows[0]
            day = self.foretold(rows[0]["part"], rows[0]["part_type"])
            if day is not None and (not dated or day < first["last_good_day"]):
                first = {**first, "last_good_day": day, "basis": "forecast", "days_left": (day - on).days,
                         "projected": True}  # fmt: skip
            found.append({**first, "unknown": [row["basis"] for row in rows if row["state"] == "unknown"]})
        return found

    def foretold(self, part: str, part_type: str) -> dt.date | None:
        """The day that a cell's own calibrations foretell, against its part type's limits."""
        if part in self.seen and part not in self._foretold:
            low = self.cell_limits.get((part_type, "linearity low"), LINEARITY[0])
            air_low = self.cell_limits.get((part_type, "cell air low"), 8.0)
            self._foretold[part] = foretold(self.seen[part], low, air_low)
        return self._foretold.get(part)

    def within(self, on: dt.date, days: int) -> list[dict[str, Any]]:
        """Parts whose governing last good day lies within so many days or is past, the earliest first."""
        rows = [row for row in self.governing(on) if row["days_left"] is not None and row["days_left"] <= days]
        return sorted(rows, key=lambda row: (row["last_good_day"], row["unit"], row["slot"]))

    def rejected(self, on: dt.date) -> list[dict[str, Any]]:
        """Fitted parts that a measurement rejected and none passed since: their last good day is the one before it.

        A cell is rejected by its calibrations, any other part by its bench tests, of which one at the same sort of
        supply lifts another.
        """
        latest, failed = Cells(self.sheets).latest(), self.failed_tests()
        found = []
        for row in self.governing(on):
            judged = latest.get(row["part"])
            at = judged.at if judged is not None and judged.verdict == "reject" else failed.get(row["part"])
            if at is not None:
                day = day_before(dt.date.fromisoformat(at[:10]))
                found.append({**row, "last_good_day": min(day, row["last_good_day"] or day), "basis": "reject",
                              "days_left": (day - on).days, "state": "past"})  # fmt: skip
        return found

    def failed_tests(self) -> dict[str, str]:
        """When each part's bench test last failed, where no later one of the same kind and supply passed."""
        last: dict[tuple[str, str, str], Row] = {}
        for row in sorted(self.sheets["bench_tests"], key=lambda each: each["at"]):
            if row["part"] and row["result"] != "repeat":
                supply = float(row["supply_bar"] or -1)
                sort = "none" if supply < 0 else "full" if supply >= 150 else "low" if supply <= 60 else "between"
                last[row["part"], row["kind"], sort] = row
        return {part: row["at"] for (part, _, _), row in last.items() if row["result"] == "reject"}

    def stored(self) -> list[dict[str, Any]]:
        """Last good day of parts in stock by their storage limit, counted from the cure quarter's last day.

        Cure date taken as the last day of the calendar quarter: SAE ARP5316, second-hand.
        """
        found = []
        for part, row in self.parts.items():
            made = first_day(row["made_on"])
            for life in self.lives.get(row["part_type"], []):
                if row["state"] == "stock" and life["basis"] == "storage" and made:
                    quarter_end = day_before(add_months(made.replace(month=3 * ((made.month - 1) // 3) + 1, day=1), 3))
                    day = day_before(add_months(quarter_end, int(float(life["amount"]))))
                    found.append({"part": part, "part_type": row["part_type"], "last_good_day": day})
        return found


def due(folder: Path | str, on: dt.date | None = None, within: int = 60) -> list[dict[str, Any]]:
    """The due list of a folder of sheets on a day (the stated day where none is given)."""
    calculation = Due(folder)
    return calculation.within(on or calculation.sheets.stated_day, within)


def amount_used(folder: Path | str, part: str, use: str) -> float:
    """Hours, dives or hires of one part so far."""
    return Due(folder).used(part, use)
