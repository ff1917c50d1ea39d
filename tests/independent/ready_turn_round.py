"""Disinfection, alarms, firmware, floods, idleness, service and equipment of a unit, from the raw sheets alone.

Every freshness limit here is common practice with no published source.
"""

import datetime as dt
from collections.abc import Iterable

from tests.independent.due import Due
from tests.independent.sheet_reading import Row, add_months, day_before, moment, number

RANK = ("ok", "advise", "stop")
Check = dict[str, str]
HANGS = dt.timedelta(hours=12)


class TurnRounds:
    """What a turn-round leaves of each unit; inside: the open fittings of each unit."""

    def __init__(self, due: Due, inside: dict[str, list[Row]]) -> None:
        self.due, self.sheets, self.inside = due, due.sheets, inside
        self.types = {row["tag"]: row["unit_type"] for row in self.sheets["units"]}
        self.kinds = {(row["unit_type"] or row["assembly_type"], row["name"]): row["kind"]
                      for row in self.sheets["slots"]}  # fmt: skip
        self.tests = self.sheets.grouped("bench_tests", "unit")
        self.cards = self.sheets.grouped("turn_rounds", "unit")
        self.cleaned = self.sheets.grouped("disinfections", "unit")
        self.dried = self.sheets.grouped("dryings", "disinfection")
        self.looks = self.sheets.grouped("handset_looks", "unit")
        self.tools = self.sheets.by("equipment", "record")
        self.back = {
            tag: max((row["received_at"] for row in rows), default="")
            for tag, rows in self.sheets.grouped("hire_lines", "unit").items()
        }
        self.out = {row["unit"] for row in self.sheets["hire_lines"] if row["out_at"] and not row["received_at"]}

    def checks(self, unit: str, first: dt.date, last: dt.date, now: dt.datetime) -> list[Check]:
        """All of them for one unit and a span of days; now: the site's present time."""
        at = now if first <= now.date() else dt.datetime.combine(first, dt.time(12))
        return [
            self.disinfected(unit, first, at), self.alarms(unit, first), self.firmware(unit), self.flood(unit),
            self.idle(unit, first), self.service(unit, last, now.date()), self.equipment(unit),
        ]  # fmt: skip

    def _of_kind(self, unit: str, kind: str) -> list[Row]:
        found = []
        for row in self.inside.get(unit, []):
            host = self.due.parts[row["host_part"]]["part_type"] if row["host_part"] else self.types[unit]
            if self.kinds[host, row["slot"]] == kind:
                found.append(row)
        return found

    def disinfected(self, unit: str, first: dt.date, at: dt.datetime) -> Check:
        """After the last diver, within a month in store, and found dry; damp while it must hang."""
        last = max(self.cleaned.get(unit, []), key=lambda row: row["at"], default=None)
        if last is None or last["at"] <= self.back.get(unit, ""):
            return _check("disinfected and dry", ["stop"])
        age = (first - dt.date.fromisoformat(last["at"][:10])).days
        results = ["advise" if age > 30 else "ok"]
        look = max(self.dried.get(last["record"], []), key=lambda row: row["at"], default=None)
        if look is not None:
            results.append("ok" if look["dry"] == "yes" else "stop")
        elif not last["dry_at"]:
            cleaned = moment(last["at"])
            results.append("stop" if cleaned is not None and at < cleaned + HANGS else "advise")
        return _check("disinfected and dry", results)

    def alarms(self, unit: str, first: dt.date) -> Check:
        """Alarms, and the set-point where a solenoid holds it, since the last change of head or handset."""
        kinds = ["alarms", *(["set-point held"] if self._of_kind(unit, "solenoid") else [])]
        changed = max(
            (row["fitted_at"] for kind in ("head", "handset") for row in self._of_kind(unit, kind)), default=""
        )
        results = []
        for kind in kinds:
            mine = [row for row in self.tests.get(unit, []) if row["kind"] == kind]
            last = max(mine, key=lambda row: (row["at"], row["record"]), default=None)
            short = last is not None and kind == "set-point held" and (number(last["watched_minutes"]) or 5) < 5
            if last is None or last["result"] not in ("pass", "watch") or last["at"] <= changed or short:
                results.append("stop")
            else:
                age = (first - dt.date.fromisoformat(last["at"][:10])).days
                results.append("advise" if age > 30 else "ok")
        return _check("alarms, displays and set-point", results)

    def firmware(self, unit: str) -> Check:
        """On the type's list and alike; settings reset and the last diver's data cleared since the return."""
        shown = [self.due.parts[row["part"]]["firmware"] for row in self._of_kind(unit, "handset")]
        allowed = {row["version"] for row in self.sheets["approved_firmware"] if row["unit_type"] == self.types[unit]}
        results = ["stop" if len(set(shown)) > 1 or any(each not in allowed for each in shown) else "ok"]
        back = self.back.get(unit, "")
        looks = sorted((row for row in self.looks.get(unit, []) if row["at"] > back), key=lambda row: row["at"])
        resets = [row["settings_reset"] for row in looks if row["settings_reset"]]
        data = [row["previous_data"] for row in looks if row["previous_data"]]
        if back or looks:
            results.append("ok" if resets and resets[-1] == "yes" else "advise")
            results.append("ok" if data and data[-1] == "cleared" else "advise")
        return _check("firmware and settings", results)

    def flood(self, unit: str) -> Check:
        """A flood is over only with the finished card of a flood."""
        floods = [row["flooded_at"] for row in self.cards.get(unit, []) if row["flooded_at"]]
        floods += [row["received_at"] for row in self.sheets["hire_lines"]
                   if row["unit"] == unit and row["flooded"] == "yes"]  # fmt: skip
        tested = max((row["finished_at"] for row in self.cards.get(unit, []) if row["flooded_at"]), default="")
        return _check("flood", ["stop" if floods and tested <= max(floods) else "ok"])

    def idle(self, unit: str, first: dt.date) -> Check:
        """Neither run, nor back, nor turned round for two months."""
        known = [row["started_at"] for row in self.sheets["runs"] if row["unit"] == unit]
        known += [self.back.get(unit, ""), *(row["finished_at"] for row in self.cards.get(unit, []))]
        if unit in self.out:
            return _check("idle", ["advise" if (first - self.sheets.stated_day).days > 60 else "ok"])
        last = max(known, default="")
        fresh = bool(last) and (first - dt.date.fromisoformat(last[:10])).days <= 60
        return _check("idle", ["ok" if fresh else "advise"])

    def service(self, unit: str, last: dt.date, today: dt.date) -> Check:
        """The critical tasks of the plan that come round by months or hours, through the last day."""
        results = []
        for task in self.sheets["service_tasks"]:
            if task["unit_type"] != self.types[unit] or task["critical"] != "yes":
                continue
            if task["basis"] not in ("months", "hours", "dives", "hires"):
                continue
            day = self._service_ends(unit, task, today)
            left = -1 if day is None else (day - last).days
            results.append("stop" if left < 0 else "advise" if left < 30 else "ok")
        return _check("periodic service", results)

    def _service_ends(self, unit: str, task: Row, today: dt.date) -> dt.date | None:
        work = {row["task"] for row in self.sheets["service_work"] if row["service_task"] == task["record"]}
        signed = {row["record"]: row for row in self.sheets["tickets"] if row["unit"] == unit and row["signed_at"]}
        done = max(
            (
                row["settled_at"]
                for row in self.sheets["tasks"]
                if row["record"] in work and row["ticket"] in signed and row["state"] == "done"
            ),
            default="",
        )
        if not done:
            return None
        amount = float(task["amount"])
        if task["basis"] == "months":
            return day_before(add_months(dt.date.fromisoformat(done[:10]), int(amount)))
        since = moment(done)
        uses = self.due.uses.get(unit, {}).get(task["basis"], [])
        used = sum(figure for at, figure in uses if since is not None and at >= since)
        pace = self.due.pace(unit, task["basis"], today)
        if used >= amount:
            return day_before(today)
        return dt.date.max if pace <= 0 else today + dt.timedelta(days=int((amount - used) / pace))

    def equipment(self, unit: str) -> Check:
        """What the last workshop calibration, last tests and standing fill were made with was in date then."""
        seated = {row["part"] for row in self.inside.get(unit, [])}
        results = []
        done = [row for row in self.sheets["calibrations"] if row["unit"] == unit and row["made"] == "workshop"]
        for row in sorted(done, key=lambda each: (each["at"], each["record"]))[-1:]:
            results += ["stop" if self._late(row[tool], row["at"]) else "ok" for tool in ("analyser", "barometer")
                        if row[tool]]  # fmt: skip
        latest: dict[tuple[str, ...], Row] = {}
        for row in sorted(self.tests.get(unit, []), key=lambda each: (each["at"], each["record"])):
            bar = number(row["supply_bar"])
            supply = "" if bar is None else "full" if bar >= 150 else "low" if bar <= 60 else ""
            latest[row["kind"], row["direction"], row["part"], supply] = row
        for row in latest.values():
            if row["equipment"] and (not row["part"] or row["part"] in seated):
                results.append("advise" if self._late(row["equipment"], row["at"]) else "ok")
        return _check("test equipment", results)

    def _late(self, tool: str, at: str) -> bool:
        good = self.tools[tool]["last_good_day"]
        return not good or at[:10] > good


def _check(name: str, results: Iterable[str]) -> Check:
    return {"check": name, "result": max(results, key=RANK.index, default="ok"), "evidence": ""}
