"""Whether a unit may go out, calculated from the raw sheets alone: one row a check, by the trade's habits.

Every freshness limit here is common practice with no published source. `result` is ok, advise or stop.
"""

import datetime as dt
import re
from functools import cached_property
from pathlib import Path
from typing import Any

from tests.independent.cells import Cells, Judged
from tests.independent.due import FOREVER, Due, Seen
from tests.independent.gas import Gas
from tests.independent.ready_beside import Beside
from tests.independent.ready_turn_round import TurnRounds
from tests.independent.sheet_reading import Row, day_before, first_day, moment, number

RANK = ("ok", "advise", "stop")
DAY = dt.timedelta(days=1)
Check = dict[str, str]


class Ready:
    """The facts of all units, gathered once from a folder of sheets; seen: what calibrations of cells gave."""

    def __init__(self, folder: Path | str, seen: Seen | None = None) -> None:
        self.due = Due(folder, seen)
        self.sheets = self.due.sheets
        self.verdicts: dict[str, Judged] = Cells(self.sheets).latest()
        self.critical = {(row["unit_type"] or row["assembly_type"], row["name"]): row["critical"] == "yes"
                         for row in self.sheets["slots"]}  # fmt: skip
        self.types = {row["tag"]: row["unit_type"] for row in self.sheets["units"]}
        self.part_types = self.sheets.by("part_types", "code")
        self.limits = {(row["part_type"], row["name"]): float(row["amount"]) for row in self.sheets["limits"]}
        self.calibrations = self.sheets.grouped("calibrations", "unit")
        self.openings = self.sheets.grouped("openings", "unit")
        self.bench_tests = self.sheets.grouped("bench_tests", "unit")
        self.tickets = self.sheets.grouped("tickets", "unit")
        self.tasks = self.sheets.grouped("tasks", "ticket")
        self.fills = self.sheets.grouped("fills", "canister")
        self.runs = self.sheets.grouped("runs", "fill")
        self.containers = self.sheets.by("containers", "record")
        self.lines = self.sheets.by("hire_lines", "record")
        self.inside = self._inside()
        self.gas = Gas(self.due)
        self.beside = Beside(self.due, self.inside)
        self.turned = TurnRounds(self.due, self.inside)
        self.usual_depth = float(self.sheets["centre"][0]["usual_depth_m"])

    def _inside(self) -> dict[str, list[Row]]:
        found: dict[str, list[Row]] = {}
        for row in self.sheets["fittings"]:
            if not row["removed_at"]:
                for unit, _, end in self.due.spans(row["part"]):
                    if end == FOREVER:
                        found.setdefault(unit, []).append(row)
        return found

    @cached_property
    def _lives(self) -> list[dict[str, Any]]:
        """Every life on the stated day, calculated once: the same for every span of days that is asked for."""
        return self.due.rows(self.sheets.stated_day)

    @cached_property
    def _governing(self) -> list[dict[str, Any]]:
        """What governs each fitted part on the stated day, calculated once."""
        return self.due.governing(self.sheets.stated_day)

    def answer(self, unit: str, first: dt.date, last: dt.date, kind: str = "assembled") -> dict[str, Any]:
        """Verdict and checks of a unit for a span of dates; no check at all where it is not for diving."""
        checks: list[Check] = []
        if kind != "not-for-diving":
            checks = [
                self.holds(unit), self.cells(unit), self.calibration(unit, first), self.life(unit, last),
                self.cell_age(unit, last),
                self.notices(unit),
                self.one_way_valves(unit, first), self.loop(unit, first), self.open_tickets(unit),
            ]  # fmt: skip
            checks += self.gas.checks(unit, first, last, self._depth(unit, first, last))
            line = self._promised(unit, first, last)
            booking = self.due.bookings[line["booking"]] if line else None
            checks += self.beside.checks(unit, first, last, kind, line, booking)
            checks += self.turned.checks(unit, first, last, dt.datetime.combine(self.sheets.stated_day, dt.time(12)))
            if kind == "assembled":
                checks.append(self.absorbent(unit, first, last))
            else:
                checks.append(self.left_in_canister(unit, first, last))
            checks = self._with_a_diver(unit, checks)
        stopped = any(check["result"] == "stop" for check in checks)
        return {"unit": unit, "from": first, "to": last, "kind": kind, "verdict": "hold" if stopped else "ready",
                "checks": checks}  # fmt: skip

    def _with_a_diver(self, unit: str, checks: list[Check]) -> list[Check]:
        """Whatever a diver uses up, soils or leaves is not known of a unit that is out: it stops until it is back."""
        out = any(row["unit"] == unit and row["out_at"] and not row["received_at"] for row in self.lines.values())
        soiled = {"one-way valves", "loop", "absorbent", "gas", "diluent at planned depth", "batteries",
                  "disinfected and dry", "absorbent in the canister"}  # fmt: skip
        stopped = [{**each, "result": "stop"} if out and each["check"] in soiled else each for each in checks]
        return [*stopped, check("return", "stop" if out else "ok", "out" if out else "here")]

    def holds(self, unit: str) -> Check:
        """Any hold on the unit or on a part in it that was not lifted, and a hand-back that was never turned round."""
        parts = {row["part"] for row in self.inside.get(unit, [])}
        standing = [
            row
            for row in self.sheets["holds"]
            if not row["lifted_at"] and (row["unit"] == unit or row["part"] in parts)
        ]
        words = [row["reason"] for row in standing]
        back = max((row["received_at"] for row in self.lines.values() if row["unit"] == unit), default="")
        signed = max((row["signed_at"] for row in self.tickets.get(unit, [])), default="")
        if back > signed:
            words.append(f"back since {back} and not released")
        return check("hold", "stop" if words else "ok", "; ".join(words))

    def notices(self, unit: str) -> Check:
        """Notices that cover the unit or a part in it and were not done on it: mandatory ones stop, others advise."""
        done = {row["notice"] for row in self.sheets["notices_done"] if row["unit"] == unit}
        weights = {row["number"]: row["weight"] for row in self.sheets["notices"]}
        rows = [row for row in self.sheets["notice_scopes"] if row["notice"] not in done and self._covers(row, unit)]
        worst = max((weights[row["notice"]] for row in rows), key=RANK.index, default="ok")
        return check("notices", worst, "; ".join(row["notice"] for row in rows))

    def _covers(self, scope: Row, unit: str) -> bool:
        parts = [self.due.parts[row["part"]] for row in self.inside.get(unit, [])]
        if scope["covers"] == "unit type":
            return self.types[unit] == scope["first"]
        if scope["covers"] == "serials":
            kinds = {row["code"]: row["kind"] for row in self.sheets["part_types"]}
            span = scope["first"], scope["last"] or scope["first"]
            return any(
                span[0] <= part["serial"] <= span[1]
                or (not part["serial"] and re.match("cell|hand|head|.*(cylinder|first)", kinds[part["part_type"]]))
                for part in parts
            )
        column = {"part type": "part_type", "lot": "lot", "firmware": "firmware"}[scope["covers"]]
        return any(part[column] == scope["first"] for part in parts)

    def cells(self, unit: str) -> Check:
        """The latest verdict of every fitted cell, the worst of them."""
        worst, words = "ok", []
        for row in self.inside.get(unit, []):
            if self.due.parts[row["part"]]["part_type"].startswith("CELL"):
                verdict = self.verdicts.get(row["part"])
                result = "stop" if verdict is None else {"pass": "ok", "watch": "advise"}.get(verdict.verdict, "stop")
                if result != "ok":
                    words.append(
                        f"{row['slot']}: {verdict.verdict + ', ' + verdict.finding if verdict else 'never calibrated'}"
                    )
                worst = max(worst, result, key=RANK.index)
        return check("cells", worst, "; ".join(words))

    def calibration(self, unit: str, first: dt.date) -> Check:
        """Age of the last workshop calibration; nothing counts from before a cell, head or handset was changed."""
        done = [moment(row["at"]) for row in self.calibrations.get(unit, []) if row["made"] == "workshop"]
        last = max((each for each in done if each), default=None)
        if last is None:
            return check("workshop calibration", "stop", "none")
        kinds = {"cell", "head", "handset"}
        changed = [row["slot"] for row in self.inside.get(unit, [])
                   if self.part_types[self.due.parts[row["part"]]["part_type"]]["kind"] in kinds
                   and (moment(row["fitted_at"]) or FOREVER) > last]  # fmt: skip
        age = (first - last.date()).days
        result = "stop" if age > 30 or changed else "advise" if age > 7 else "ok"
        return check("workshop calibration", result, f"{last}, {age} days before; changed since: {changed}")

    def life(self, unit: str, last: dt.date) -> Check:
        """Lives of all fitted parts through the last day: critical ones stop, others and near ones advise.

        A part that a bench test failed ended the day before it.
        """
        worst, words = "ok", []
        failed = self.due.failed_tests()
        for row in self._lives:
            if row["unit"] != unit or row["part_type"].startswith("CELL"):
                continue
            host = self._host_type(row["part"]) or self.types[unit]
            day, critical = row["last_good_day"], self.critical[host, row["slot"]]
            if row["part"] in failed:
                day = day_before(dt.date.fromisoformat(failed[row["part"]][:10]))
            if (day is None and row["state"] == "unknown") or (day is not None and day < last):
                result = "stop" if critical else "advise"
            elif day is not None and (day - last).days <= 14:
                result = "advise"
            else:
                continue
            words.append(f"{row['slot']} {row['basis']} {day}: {result}")
            worst = max(worst, result, key=RANK.index)
        return check("part life", worst, "; ".join(words))

    def cell_age(self, unit: str, last: dt.date) -> Check:
        """Cells past an age limit or a foretold end stop; under 30 days left, or all of one lot, advises."""
        worst, words, lots = "ok", [], []
        for row in self._governing:
            if row["unit"] != unit or not row["part_type"].startswith("CELL"):
                continue
            lots.append(self.due.parts[row["part"]]["lot"])
            left = -1 if row["last_good_day"] is None or row["unknown"] else (row["last_good_day"] - last).days
            result = "stop" if left < 0 else "advise" if left < 30 else "ok"
            if result != "ok":
                words.append(f"{row['slot']} {row['basis']} {row['last_good_day']}: {result}")
            worst = max(worst, result, key=RANK.index)
        if len(lots) > 1 and len(set(lots)) == 1 and lots[0]:
            words.append(f"all of lot {lots[0]}")
            worst = max(worst, "advise", key=RANK.index)
        return check("cell age", worst, "; ".join(words))

    def _host_type(self, part: str) -> str | None:
        open_row = next(row for row in self.due.fittings[part] if not row["removed_at"])
        return self.due.parts[open_row["host_part"]]["part_type"] if open_row["host_part"] else None

    def one_way_valves(self, unit: str, first: dt.date) -> Check:
        """Both directions tested and held since the last workshop opening."""
        return max((self._tested(unit, first, "one-way valve", way) for way in ("inhale", "exhale")),
                   key=lambda each: RANK.index(each["result"]))  # fmt: skip

    def loop(self, unit: str, first: dt.date) -> Check:
        """Loop negative and positive since the last workshop opening."""
        return max((self._tested(unit, first, kind, "") for kind in ("loop negative", "loop positive")),
                   key=lambda each: RANK.index(each["result"]))  # fmt: skip

    def _tested(self, unit: str, first: dt.date, kind: str, way: str) -> Check:
        name = "one-way valves" if way else "loop"
        rows = [row for row in self.bench_tests.get(unit, [])
                if row["kind"] == kind and (not way or row["direction"] in {way, "both"})]  # fmt: skip
        if not rows:
            return check(name, "stop", f"no {kind} {way} test")
        last = max(rows, key=lambda row: (row["at"], row["record"]))
        opened = max((row["at"] for row in self.openings.get(unit, []) if row["kind"] == "workshop"), default="")
        age = (first - dt.date.fromisoformat(last["at"][:10])).days
        failed = last["result"] in {"repeat", "reject"} or last["held"] == "no"
        result = (
            "stop"
            if failed or last["at"] <= opened or age > 90
            else "advise"
            if age > 30 or last["result"] == "watch"
            else "ok"
        )
        return check(name, result, f"{kind} {way} {last['result']} at {last['at']}, opened {opened}, {age} days before")

    def open_tickets(self, unit: str) -> Check:
        """Critical open tickets and work put off twice stop; cosmetic ones advise."""
        worst, words = "ok", []
        for ticket in self.tickets.get(unit, []):
            if not ticket["signed_at"]:
                worst = max(worst, "stop" if ticket["critical"] == "yes" else "advise", key=RANK.index)
                words.append(f"ticket {ticket['number']}/{ticket['year']} open")
            for task in self.tasks.get(ticket["record"], []):
                if task["state"] == "put off":
                    stop = task["critical"] == "yes" or int(task["times_put_off"]) > 1
                    worst = max(worst, "stop" if stop else "advise", key=RANK.index)
                    words.append(f"put off: {task['text']}")
        return check("open tickets", worst, "; ".join(words))

    # ---- absorbent -------------------------------------------------------------------------------------------------

    def absorbent(self, unit: str, first: dt.date, last: dt.date) -> Check:
        """The fill in the unit's canister, at noon of the first day; none yet is hand-over work still to do."""
        canister = next(row["part"] for row in self.inside[unit] if row["slot"] == "canister")
        fills = [row for row in self.fills.get(canister, []) if not row["discarded_at"]]
        if not fills:
            return check("absorbent", "advise", "to do: no fill packed")
        fill = max(fills, key=lambda row: row["packed_at"])
        stops = self._fill_stops(fill, canister, dt.datetime.combine(first, dt.time(12)))
        promised = self._promised(unit, first, last)
        if promised and fill["diver"] and promised["diver"] and promised["diver"] != fill["diver"]:
            stops.append("another diver's")
        if promised and fill["hire_line"] and promised["record"] != fill["hire_line"]:
            stops.append("of another hire")
        advises = []
        packed = dt.datetime.fromisoformat(fill["packed_at"])
        if not self.runs.get(fill["record"]) and (first - packed.date()).days > 7:
            advises.append("packed over 7 days ago, unused")
        if not fill["mass_g"]:
            advises.append("not weighed")
        return check("absorbent", "stop" if stops else "advise" if advises else "ok", "; ".join(stops + advises))

    def left_in_canister(self, unit: str, first: dt.date, last: dt.date) -> Check:
        """A fill that a kit would take along: what would stop an assembled unit is to be taken out, ahead of time."""
        name = "absorbent in the canister"
        canister = next(row["part"] for row in self.inside[unit] if row["slot"] == "canister")
        if all(row["discarded_at"] for row in self.fills.get(canister, [])):
            return check(name, "ok", "empty")
        found = self.absorbent(unit, first, last)
        return check(name, "ok" if found["result"] == "ok" else "advise", found["evidence"])

    def _depth(self, unit: str, first: dt.date, last: dt.date) -> float:
        """The depth planned on the first booking that touches these days, else the centre's usual one."""
        line = self._promised(unit, first, last)
        planned = number(self.due.bookings[line["booking"]]["planned_depth_m"]) if line else None
        return self.usual_depth if planned is None else planned

    def _promised(self, unit: str, first: dt.date, last: dt.date) -> Row | None:
        """The unit's line on the first booking that touches these days."""
        found = []
        for line in self.lines.values():
            if line["unit"] == unit and not line["received_at"]:
                booking = self.due.bookings[line["booking"]]
                starts, ends = (dt.date.fromisoformat(booking[key]) for key in ("starts_on", "ends_on"))
                if starts <= last and ends >= first and not booking["cancelled_at"]:
                    found.append((starts, line["record"]))
        return self.lines[min(found)[1]] if found else None

    def _fill_stops(self, fill: Row, canister: str, when: dt.datetime) -> list[str]:
        code = self.due.parts[canister]["part_type"]
        runs = self.runs.get(fill["record"], [])
        stops = []
        if runs:
            first_use = min(dt.datetime.fromisoformat(row["started_at"]) for row in runs)
            if when - first_use > dt.timedelta(hours=self.limits.get((code, "hours since first use"), 24.0)):
                stops.append("over the hours since first use")
            if sum(self.share(row, code) for row in runs) >= 1:
                stops.append("spent")
        line = self.lines.get(fill["hire_line"])
        if line and line["received_at"]:
            stops.append("another diver's, of a hire that is over")
        mass = number(fill["mass_g"])
        if mass is not None and mass < self.limits.get((code, "minimum mass"), 0.0):
            stops.append("under the minimum mass")
        if fill["wetted_at"]:
            stops.append("wetted")
        container = self.containers.get(fill["container"])
        opened = moment(container["opened_at"]) if container else None
        open_hours = self.limits.get((code, "hours since opened"))
        if opened and open_hours and when - opened > dt.timedelta(hours=open_hours):
            stops.append("over the hours since its container was opened")
        good = first_day(container["last_good_day"]) if container else None
        if good and good < when.date():
            stops.append("lot past its date")
        return stops

    def share(self, run: Row, code: str) -> float:
        """Share of a fill that one run uses up: colder-or-equal and deeper-or-equal row, the worse one between rows.

        Unknown water or depth is the worst row; beyond the table there is no rating and the fill is spent. A rate that
        is not recorded is taken as the table's own.
        """
        rows = [row for row in self.sheets["rating_rows"] if row["part_type"] == code]
        coldest, deepest = number(run["coldest_c"]), number(run["deepest_m"])
        waters, depths = sorted({float(r["water_c"]) for r in rows}), sorted({float(r["depth_m"]) for r in rows})
        water = waters[0] if coldest is None else max((w for w in waters if w <= coldest), default=None)
        depth = depths[-1] if deepest is None else min((d for d in depths if d >= deepest), default=None)
        if water is None or depth is None:
            return 1.0
        row = next(r for r in rows if float(r["water_c"]) == water and float(r["depth_m"]) == depth)
        minutes = float(run["minutes"]) + (10 * int(run["dives"] or 1) if run["clock"] == "dive" else 0)
        harder = max(1.0, (number(run["co2_l_min"]) or 0.0) / float(row["co2_l_min"]))
        return minutes * harder / float(row["minutes"])


def check(name: str, result: str, evidence: str) -> Check:
    """One check with its result and what it rests on."""
    return {"check": name, "result": result, "evidence": evidence}


def ready(folder: Path | str, unit: str, first: dt.date, last: dt.date, kind: str = "assembled") -> dict[str, Any]:
    """Verdict and checks of one unit of a folder of sheets."""
    return Ready(folder).answer(unit, first, last, kind)
