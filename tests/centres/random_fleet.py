"""Small random fleets as sheets, for comparing the due list with an independent calculation. Everything is invented.

A fleet is one to three units whose parts were fitted, taken out and moved at random, in slots of their own and inside
heads that were moved themselves, with limits of every kind on them. Tests in it have passed. Several fleets may be
written as one centre, since reading its sheets costs more than what stands in them: they share the site and nothing
else, each having unit type, part types, limits, parts and bookings of its own.
"""

import csv
import datetime as dt
import random
from pathlib import Path
from typing import Any

from tests.fleet_maker.sheets import COLUMNS

STATED = dt.date(2026, 6, 15)
NOW = dt.datetime(2026, 6, 15, 20, 0, tzinfo=dt.UTC)
TYPES = {
    "HEAD-R": "head", "CELL-R": "cell", "VALVE-R": "relief valve", "BATT-R": "handset battery", "CAN-R": "canister",
}  # fmt: skip
UNIT_SLOTS = (("head", "head", "HEAD-R"), ("relief valve", "relief valve", "VALVE-R"),
              ("handset 1 battery", "handset battery", "BATT-R"))  # fmt: skip
HEAD_SLOTS = (("cell 1", "cell", "CELL-R"), ("cell 2", "cell", "CELL-R"))
Rows = dict[str, list[dict[str, Any]]]
REASONS = ("age", "low output", "fault", "service", "moved")


class RandomFleet:
    """Rows by sheet, drawn from one source of chance; `number` tells the fleets of one centre apart."""

    def __init__(self, chance: random.Random, number: int = 1, rows: Rows | None = None) -> None:
        self.chance, self.number = chance, number
        self.rows: Rows = {name: [] for name in COLUMNS} if rows is None else rows
        self.lives: dict[str, list[str]] = {code: [] for code in TYPES}
        self.parts: dict[str, dict[str, Any]] = {}
        self.seat_of: dict[str, dict[str, Any]] = {}
        if rows is None:
            self._site()
        self._catalogue()
        self.tags = [f"R{number}-{unit}" for unit in range(1, chance.randint(1, 3) + 1)]
        for tag in self.tags:
            self._row("units", "UNI", tag=tag, unit_type=self._own("TYPE-R"), serial=f"S{tag}", owner="The centre",
                      place="Shelf", in_service_on="2023-01-05")  # fmt: skip
        self._history()
        self._use()
        self._tests()

    def _row(self, sheet: str, prefix: str = "", **cells: Any) -> dict[str, Any]:
        listed = self.rows[sheet]
        row = {"record": f"{prefix}-{len(listed) + 1:05d}"} if prefix else {}
        row.update(cells)
        listed.append(row)
        return row

    def _own(self, code: str) -> str:
        """A code of this fleet alone."""
        return f"{code}{self.number}"

    def _day(self, least: int, most: int) -> dt.date:
        """A day so many days before the stated one."""
        return STATED - dt.timedelta(days=self.chance.randint(least, most))

    def _mark(self, day: dt.date) -> str:
        """The day as it may be marked: day, month or quarter."""
        return self.chance.choice(
            (f"{day:%Y-%m-%d}", f"{day:%Y-%m-%d}", f"{day:%Y-%m}", f"{(day.month + 2) // 3}Q{day.year}")
        )

    def _site(self) -> None:
        self._row("centre", name="Random Centre (invented)", code="RC", timezone="Europe/Berlin", altitude_m=10,
                  usual_water_c=12, usual_depth_m=30, stated_day=f"{STATED}")  # fmt: skip
        self._row("owners", "OWN", name="The centre", kind="centre")
        self._row("places", "PLA", name="Shelf", kind="shelf")
        self._row("people", "PER", code="T1", role="technician", name="Invented Person", active="yes")

    def _catalogue(self) -> None:
        self._row("unit_types", code=self._own("TYPE-R"), name="Random unit", build="back-mounted", manual="invented")
        for code, kind in TYPES.items():
            self._row("part_types", code=self._own(code), name=f"Random {kind}", kind=kind, source="invented",
                      assembly="yes" if kind == "head" else "no", stocked_in="piece")  # fmt: skip
        for number, (name, kind, _) in enumerate(UNIT_SLOTS, 1):
            self._row(
                "slots", "SLO", unit_type=self._own("TYPE-R"), name=name, kind=kind, critical="yes", ordinal=number
            )
        for number, (name, kind, _) in enumerate(HEAD_SLOTS, 1):
            self._row(
                "slots", "SLO", assembly_type=self._own("HEAD-R"), name=name, kind=kind, critical="yes", ordinal=number
            )
        for code in ("HEAD-R", "CELL-R", "VALVE-R", "BATT-R"):
            for basis in self.chance.sample(
                ("made", "opened", "fitted", "hours", "dives", "hires", "fixed_date", "service", "oxygen clean",
                 "storage"), self.chance.randint(0, 4)
            ):  # fmt: skip
                self._life(code, basis)

    def _life(self, code: str, basis: str) -> None:
        test = basis if basis in ("service", "oxygen clean") else ""
        amount, unit = {
            "hours": (self.chance.choice((5, 20, 80)), "hours"), "dives": (self.chance.choice((5, 30, 90)), "dives"),
            "hires": (self.chance.choice((2, 6, 20)), "hires"), "fixed_date": (0, "months"),
        }.get(basis, (self.chance.choice((1, 6, 12, 18, 24, 60)), "months"))  # fmt: skip
        if unit == "months" and amount and self.chance.random() < 0.2:
            amount, unit = amount * 30, "days"
        self.lives[code].append(basis)
        self._row("part_type_lives", "LIF", part_type=self._own(code), basis="test_interval" if test else basis,
                  amount=amount, unit=unit, test=test, source="invented")  # fmt: skip

    def _part(self, code: str) -> str:
        made = self._day(700, 1500)
        number = len(self.parts) + 1

        def known() -> bool:
            return bool(self.chance.random() < 0.9)

        row = self._row(
            "parts", "PRT", part_type=self._own(code), serial=f"{code[:4]}{self.number}-{number:04d}",
            owner="The centre", place="Shelf", state="stock", made_on=self._mark(made) if known() else "",
            received_on=f"{made + dt.timedelta(days=100)}",
            opened_on=self._mark(self._day(5, 590)) if known() else "",
            fixed_on=self._mark(self._day(-500, 100)) if known() else "",
        )  # fmt: skip
        self.parts[row["record"]] = row
        return str(row["record"])

    def _history(self) -> None:
        moment = dt.datetime.combine(STATED - dt.timedelta(days=640), dt.time(9))
        heads: list[str] = []
        for _ in range(self.chance.randint(8, 40)):
            moment += dt.timedelta(days=self.chance.randint(0, 28), minutes=self.chance.randint(10, 500))
            if moment.hour in (1, 2):
                moment += dt.timedelta(hours=3)  # a clock that is put forward or back has no such time, or has it twice
            if moment.date() >= STATED:
                return
            if heads and self.chance.random() < 0.5:
                host = self.chance.choice(heads)
                slot, _, code = self.chance.choice(HEAD_SLOTS)
                self._change(moment, code, slot, "", host)
            else:
                slot, _, code = self.chance.choice(UNIT_SLOTS)
                fitted = self._change(moment, code, slot, self.chance.choice(self.tags), "")
                if code == "HEAD-R" and fitted and fitted not in heads:
                    heads.append(fitted)

    def _change(self, moment: dt.datetime, code: str, slot: str, unit: str, host: str) -> str:
        """What was fitted, empty for nothing: the slot is emptied first, and nearly always filled again."""
        when = moment.strftime("%Y-%m-%d %H:%M")
        for part, seat in list(self.seat_of.items()):
            if (seat["slot"], seat["unit"], seat["host_part"]) == (slot, unit, host):
                why = self.chance.choice(REASONS)
                seat.update(removed_at=when, removed_by="T1", why_removed=why)
                del self.seat_of[part]
                self.parts[part]["state"] = "stock" if why == "moved" else "quarantine"
        free = [
            key for key, row in self.parts.items() if row["part_type"] == self._own(code) and row["state"] == "stock"
        ]
        if self.chance.random() < 0.1:
            return ""
        part = self.chance.choice(free) if free and self.chance.random() < 0.6 else self._part(code)
        later = (moment + dt.timedelta(minutes=5)).strftime("%Y-%m-%d %H:%M")
        self.seat_of[part] = self._row("fittings", "FIT", part=part, unit=unit, host_part=host, slot=slot,
                                       fitted_at=later, fitted_by="T1")  # fmt: skip
        self.parts[part].update(state="fitted", place="")
        return part

    def _use(self) -> None:
        for tag in self.tags:
            canister = self._part("CAN-R")
            day = STATED - dt.timedelta(days=620)
            while day < STATED + dt.timedelta(days=80):
                day += dt.timedelta(days=self.chance.randint(3, 70))
                days = self.chance.randint(0, 4)
                if day <= STATED <= day + dt.timedelta(days=days):
                    continue
                self._hire(tag, canister, day, days)
                day += dt.timedelta(days=days)

    def _hire(self, tag: str, canister: str, day: dt.date, days: int) -> None:
        code, back = f"B{len(self.rows['bookings']) + 1}", day + dt.timedelta(days=days)
        self._row("bookings", "BKG", kind="hire", code=code, unit_type=self._own("TYPE-R"), starts_on=f"{day}",
                  ends_on=f"{back}", units_wanted=1, planned_minutes=self.chance.choice(("", 40, 90)))  # fmt: skip
        gone = {"out_at": f"{day} 08:00", "out_by": "T1", "received_at": f"{back} 18:00", "received_by": "T1"}
        line = self._row("hire_lines", "HLI", booking=code, unit=tag, **(gone if day < STATED else {}))
        for n in range(self.chance.randint(0, 3) if day < STATED else 0):
            at = f"{day + dt.timedelta(days=min(n, days))} {9 + 2 * n:02d}:15"
            fill = self._row("fills", "FIL", canister=canister, packed_at=f"{day} 07:00", packed_by="T1", mass_g=2500,
                             checked="yes", hire_line=line["record"])  # fmt: skip
            self._row("runs", "RUN", fill=fill["record"], unit=tag, hire_line=line["record"], started_at=at,
                      minutes=self.chance.randint(10, 120), clock=self.chance.choice(("loop", "dive")),
                      dives=self.chance.randint(1, 3))  # fmt: skip

    def _tests(self) -> None:
        for record, row in self.parts.items():
            for kind in ("service", "oxygen clean"):
                if kind in self.lives[row["part_type"].removesuffix(f"{self.number}")]:
                    for _ in range(self.chance.randint(0, 2)):
                        self._row("part_tests", "PTE", part=record, kind=kind, done_on=f"{self._day(1, 600)}",
                                  passed="yes", done_by="invented")  # fmt: skip

    def with_more(self, count: int) -> "RandomFleet":
        """The same with so many fleets in all in its sheets, drawn from the same chance."""
        for number in range(2, count + 1):
            RandomFleet(self.chance, number, self.rows)
        return self

    def write(self, folder: Path) -> Path:
        """The folder with every sheet in it."""
        folder.mkdir(parents=True, exist_ok=True)
        for name, columns in COLUMNS.items():
            with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as out:
                writer = csv.DictWriter(out, columns.split(","), restval="", lineterminator="\n")
                writer.writeheader()
                writer.writerows(self.rows[name])
        return folder
