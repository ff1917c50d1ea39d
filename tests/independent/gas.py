"""What goes along with a unit, calculated from the raw sheets alone: gas, diluent, cylinders, bailout and batteries.

Limits are common practice with no published source; gas laws are CoolProp's. Each answer is asked ahead of the
hand-over, so that an analysis or a reading undone is work still to do, which advises.
"""

import datetime as dt

from CoolProp.CoolProp import PropsSI

from tests.independent.due import FOREVER, Due
from tests.independent.sheet_reading import Row, add_months, day_before, first_day

RANK = ("ok", "advise", "stop")
Check = dict[str, str]
TESTS = ("hydrostatic", "visual")


class Gas:
    """The gas side of all units of a folder of sheets."""

    def __init__(self, due: Due) -> None:
        self.due, self.sheets = due, due.sheets
        self.cylinders = self.sheets.by("cylinders", "part")
        self.fills = self.sheets.grouped("cylinder_fills", "part")
        self.analyses = self.sheets.grouped("gas_analyses", "part")
        self.volts = self.sheets.grouped("bench_tests", "part")
        self.lines = self.sheets.grouped("hire_lines", "unit")
        lives = self.sheets["part_type_lives"]
        self.must_be_clean = {row["part_type"] for row in lives if row["test"] == "oxygen clean"}
        self.types = {row["tag"]: row["unit_type"] for row in self.sheets["units"]}
        self.high = {row["code"]: float(row["set_point_high_bar"]) for row in self.sheets["unit_types"]}
        self.inside: dict[str, list[Row]] = {}
        for row in self.sheets["fittings"]:
            if not row["removed_at"]:
                for unit, _, end in due.spans(row["part"]):
                    if end == FOREVER:
                        self.inside.setdefault(unit, []).append(row)

    def checks(self, unit: str, first: dt.date, last: dt.date, depth_m: float) -> list[Check]:
        """The five checks of a unit for a span of days and a planned depth."""
        return [
            self.gas(unit), self.diluent(unit, depth_m), self.tests(unit, first, last), self.bailout(unit, last),
            self.batteries(unit, first),
        ]  # fmt: skip

    def _of(self, unit: str) -> list[Row]:
        return [row for row in self.inside.get(unit, []) if row["part"] in self.cylinders]

    def _filled(self, part: str) -> Row | None:
        return max(self.fills.get(part, []), key=lambda row: (row["at"], row["record"]), default=None)

    def _analysed(self, part: str) -> Row | None:
        fill = self._filled(part)
        since = [row for row in self.analyses.get(part, []) if fill is None or row["at"] > fill["at"]]
        return max(since, key=lambda row: (row["at"], row["record"]), default=None)

    def gas(self, unit: str) -> Check:
        """Analysed since the last fill and as asked for; full enough, and not used since."""
        return _worst("gas", [self._one(row, unit) for row in self._of(unit)])

    def _one(self, row: Row, unit: str) -> Check:
        part = row["part"]
        fill, seen, facts = self._filled(part), self._analysed(part), self.cylinders[part]
        if fill is None or seen is None or (float(fill["helium_asked"]) and not seen["helium_percent"]):
            return _check("gas", "advise", f"{facts['marking']}: not analysed since filled")
        oxygen, helium = float(seen["oxygen_percent"]), float(seen["helium_percent"] or 0)
        worst = "ok"
        if facts["role"] == "oxygen":
            worst = "advise" if oxygen < 99 else "ok"
        elif abs(oxygen - float(fill["oxygen_asked"])) > 1 + 1e-9 or abs(helium - float(fill["helium_asked"])) > 2:
            worst = "advise"
        back = max((line["received_at"] for line in self.lines.get(unit, []) if line["received_at"]), default="")
        if back > fill["at"] and row["fitted_at"] < back:
            return _check("gas", "advise", f"{facts['marking']}: used since {fill['at']}")
        cold, working = _settled(float(fill["end_bar"]), min(oxygen, 100.0), helium), float(facts["working_bar"])
        low = "stop" if cold > 1.005 * working else "advise" if cold < 0.75 * working else "ok"
        words = f"{facts['marking']}: {oxygen} % for {fill['oxygen_asked']}, {cold:.0f} of {working:g} bar"
        return _check("gas", max(worst, low, key=RANK.index), words)

    def diluent(self, unit: str, depth_m: float) -> Check:
        """Oxygen pressure of the diluent at depth, by depth/10 + 1 bar, against 1.2 bar and the set-point."""
        name = "diluent at planned depth"
        part = next(row["part"] for row in self._of(unit) if self.cylinders[row["part"]]["role"] == "diluent")
        fill, seen = self._filled(part), self._analysed(part)
        if seen is None or (fill and float(fill["helium_asked"]) and not seen["helium_percent"]):
            return _check(name, "advise", "not analysed")
        bar = float(seen["oxygen_percent"]) / 100 * (1 + depth_m / 10)
        high = self.high[self.types[unit]]
        return _check(name, "stop" if bar > 1.2 else "advise" if bar > high - 0.1 else "ok", f"{bar:.2f} bar")

    def tests(self, unit: str, first: dt.date, last: dt.date) -> Check:
        """Cylinders in test through the last day, looked into within a year; the oxygen side clean."""
        name, found = "cylinder test and oxygen-clean", []
        for row in self.inside.get(unit, []):
            code = self.due.parts[row["part"]]["part_type"]
            if row["part"] in self.cylinders:
                ends = self._in_test(row["part"])
                found.append(_check(name, "stop" if ends is None or ends < last else "ok", f"{row['slot']} to {ends}"))
                looked = self._last(row["part"], *TESTS)
                old = looked is None or (first - looked).days > 365
                found.append(_check(name, "advise" if old else "ok", f"{row['slot']} looked into {looked}"))
            if code in self.must_be_clean or self.cylinders.get(row["part"], {}).get("role") == "oxygen":
                found.append(self._clean(row, first))
        return _worst(name, found)

    def _last(self, part: str, *kinds: str) -> dt.date | None:
        days = [first_day(test["done_on"]) for test in self.due.tests.get(part, []) if test["kind"] in kinds]
        return max((day for day in days if day), default=None)

    def _in_test(self, part: str) -> dt.date | None:
        """The day before the earlier anniversary of hydrostatic test and visual; a hydrostatic test is a visual too."""
        ends = []
        for life in self.due.lives[self.due.parts[part]["part_type"]]:
            if life["test"] in TESTS:
                anchor = self._last(part, *(TESTS if life["test"] == "visual" else TESTS[:1]))
                if anchor is None:
                    return None
                ends.append(day_before(add_months(anchor, int(float(life["amount"])))))
        return min(ends, default=None)

    def _clean(self, row: Row, first: dt.date) -> Check:
        name, cleaned = "cylinder test and oxygen-clean", self._last(row["part"], "oxygen clean")
        floods = [
            line["received_at"]
            for unit, start, end in self.due.spans(row["part"])
            for line in self.lines.get(unit, [])
            if line["flooded"] == "yes" and line["received_at"] and start <= _at(line["received_at"]) <= end
        ]
        if cleaned is None or any(day >= str(cleaned) for day in floods):
            return _check(name, "stop", f"{row['slot']} not clean since {cleaned}: flooded {floods}")
        return _check(name, "advise" if (first - cleaned).days > 365 else "ok", f"{row['slot']} clean {cleaned}")

    def bailout(self, unit: str, last: dt.date) -> Check:
        """The bailout cylinder in test, its regulator in service, and its gas analysed since the last fill."""
        slots = {row["slot"]: row["part"] for row in self.inside.get(unit, [])}
        cylinder, regulator = slots["bailout cylinder"], slots.get("bailout regulator")
        served = self._last(regulator, "service") if regulator else None
        serviced = None if served is None else day_before(add_months(served, 12))
        ends = self._in_test(cylinder)
        stop = any(day is None or day < last for day in (ends, serviced))
        undone = self._analysed(cylinder) is None
        words = f"test {ends}, service {serviced}, analysed {not undone}"
        return _check("bailout", "stop" if stop else "advise" if undone else "ok", words)

    def batteries(self, unit: str, first: dt.date) -> Check:
        """Each battery read since it was fitted, within three days, and not under 3.6 V."""
        found = []
        for row in self.inside.get(unit, []):
            if row["slot"].endswith("battery"):
                read = [test for test in self.volts.get(row["part"], [])
                        if test["kind"] == "battery voltage" and test["at"] >= row["fitted_at"]]  # fmt: skip
                last = max(read, key=lambda test: (test["at"], test["record"]), default=None)
                old = last is None or (first - _at(last["at"]).date()).days > 3 or float(last["value"]) < 3.6
                found.append(_check("batteries", "advise" if old else "ok", f"{row['slot']} {last and last['at']}"))
        return _worst("batteries", found)


def _settled(bar: float, oxygen: float, helium: float) -> float:
    """Gauge pressure at 15 C of what showed so much at 20 C, by CoolProp, at constant density."""
    fluid = "Oxygen" if oxygen > 95 else "Air"
    if helium:
        shares = {"Oxygen": oxygen, "Helium": helium, "Nitrogen": 100 - oxygen - helium}
        fluid = "HEOS::" + "&".join(f"{name}[{share / 100}]" for name, share in shares.items())
    density = PropsSI("D", "P", (bar + 1.01325) * 1e5, "T", 293.15, fluid)
    return float(PropsSI("P", "D", density, "T", 288.15, fluid)) / 1e5 - 1.01325


def _at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def _check(name: str, result: str, evidence: str) -> Check:
    return {"check": name, "result": result, "evidence": evidence}


def _worst(name: str, found: list[Check]) -> Check:
    worst = max((each["result"] for each in found), key=RANK.index, default="ok")
    return _check(name, worst, "; ".join(each["evidence"] for each in found if each["result"] == worst != "ok"))
