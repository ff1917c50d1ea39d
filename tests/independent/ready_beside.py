"""Handsets, pot points, gas side, mouthpiece, signer and diver of a unit, calculated from the raw sheets alone.

Every freshness limit here is common practice with no published source, asked for ahead of the hand-over, so that work
undone at the desk advises. The oxygen pressure of room air is the CIPM-2007 fraction of the dry pressure; the
saturation pressure of water is from the IAPWS-IF97 formulation as the `iapws` package gives it.
"""

import datetime as dt
from collections.abc import Iterable

from iapws.iapws97 import _PSat_T  # type: ignore[import-untyped]

from tests.independent.due import Due
from tests.independent.sheet_reading import Row, moment, number

RANK = ("ok", "advise", "stop")
Check = dict[str, str]
OXYGEN_IN_DRY_AIR = 0.20939
LOCK_UP = "intermediate pressure"
NEEDS = {
    "oxygen first stage": LOCK_UP, "diluent first stage": LOCK_UP, "solenoid": "solenoid",
    "addition valve": "addition valve", "relief valve": "opening pressure", "injector": "injector flow",
}  # fmt: skip
OPENS = {"one-way valve", "loop set", "mouthpiece valve", "hose", "counterlung", "head"}


class Beside:
    """What stands beside cells, loop, lives and gas; inside: the open fittings of each unit."""

    def __init__(self, due: Due, inside: dict[str, list[Row]]) -> None:
        self.due, self.sheets, self.inside = due, due.sheets, inside
        self.types = {row["tag"]: row["unit_type"] for row in self.sheets["units"]}
        self.kinds = {(row["unit_type"] or row["assembly_type"], row["name"]): row["kind"]
                      for row in self.sheets["slots"]}  # fmt: skip
        self.kind_of = {row["code"]: row["kind"] for row in self.sheets["part_types"]}
        self.tests = self.sheets.grouped("bench_tests", "unit")
        self.settings = self.sheets.grouped("handset_settings", "unit")
        self.calibrations = self.sheets.grouped("calibrations", "unit")
        self.by_record = self.sheets.by("calibrations", "record")
        self.readings = self.sheets.grouped("readings", "cell")
        self.tickets = self.sheets.grouped("tickets", "unit")
        self.cards = self.sheets.grouped("turn_rounds", "unit")
        self.openings = self.sheets.grouped("openings", "unit")
        self.papers = self.sheets.grouped("qualifications", "person")
        self.harness = {row["tag"]: row["harness"] for row in self.sheets["units"]}

    def checks(
        self, unit: str, first: dt.date, last: dt.date, kind: str, line: Row | None, booking: Row | None
    ) -> list[Check]:
        """All of them for one unit and a span of days; line: the unit's promise over these days."""
        found = [
            self.handsets(unit), self.high_point(unit, first), self.agreement(unit), self.gas_side(unit, first),
            self.mouthpiece(unit, first), self.signer(unit),
            _check("accessories", ["advise"], "to do: nothing is counted out"),
        ]  # fmt: skip
        if kind == "kit":
            found.append(_check("absorbent sent along", ["advise"], "to do: nothing is weighed out"))
        if line is not None and booking is not None:
            found.append(self.diver(unit, first, last, line, booking))
        return found

    def _of_kind(self, unit: str, kind: str) -> list[Row]:
        return [row for row in self.inside.get(unit, []) if self._slot_kind(unit, row) == kind]

    def _slot_kind(self, unit: str, row: Row) -> str:
        host = self.due.parts[row["host_part"]]["part_type"] if row["host_part"] else self.types[unit]
        return self.kinds[host, row["slot"]]

    # handsets and cells

    def handsets(self, unit: str) -> Check:
        """Calibrated in themselves after the last change of cell, head or handset, and read back in air."""
        changed = max((row["fitted_at"] for kind in ("cell", "head", "handset") for row in self._of_kind(unit, kind)),
                      default="")  # fmt: skip
        results = []
        for reader in self.sheets["readers"]:
            if reader["unit_type"] != self.types[unit] or reader["kind"] != "handset":
                continue
            mine = [row for row in self.settings.get(unit, []) if row["reader"] == reader["name"]]
            last = max(mine, key=lambda row: row["at"], default=None)
            air = number(last["shown_air_bar"]) if last else None
            if last is None or changed >= last["at"]:
                results.append("stop")
            elif air is None:
                results.append("advise")
            else:
                results.append(self._back_in_air(last, air))
        return _check("handset calibration", results)

    def _back_in_air(self, stored: Row, air: float) -> str:
        """0.19 to 0.23 bar at 1013.25 mbar and dry, in proportion to the room's own oxygen; over 7 % off it, advise.

        Oxygen of the air by CIPM-2007 (0.20939), vapour by IAPWS-IF97; the band itself is common practice, no published
        source.
        """
        room = self.by_record.get(stored["calibration"], {})
        pressure = number(room.get("pressure_mbar", "")) or number(stored["pressure_set_mbar"])
        if pressure is None:
            return "advise" if 0.19 <= air <= 0.23 else "stop"
        humidity, celsius = number(room.get("humidity", "")), number(room.get("temperature_c", ""))
        warm = 35.0 if celsius is None else celsius
        vapour = _PSat_T(273.15 + warm) * 1e4
        known = humidity is not None and celsius is not None
        share = humidity / 100 if humidity is not None else 0.0
        dry = OXYGEN_IN_DRY_AIR * (pressure - (share * vapour if known else 0.0)) / 1000
        moist = OXYGEN_IN_DRY_AIR * (pressure - (share if known else 1.0) * vapour) / 1000
        held = OXYGEN_IN_DRY_AIR * 1.01325
        if not 0.19 / held * moist <= air <= 0.23 / held * dry:
            return "stop"
        return "ok" if moist * 0.93 <= air <= dry * 1.07 else "advise"

    def high_point(self, unit: str, first: dt.date) -> Check:
        """Each cell seen above 1 bar since it was fitted, within half a year."""
        results = []
        for row in self._of_kind(unit, "cell"):
            seen = [
                self.by_record[each["calibration"]]["at"]
                for each in self.readings.get(row["part"], [])
                if each["point"] == "pot" and (each["mv"] or each["po2_shown_bar"]) and float(each["pot_bar"]) > 1
            ]
            last = max((at for at in seen if at >= row["fitted_at"]), default=None)
            fresh = last is not None and (first - dt.date.fromisoformat(last[:10])).days <= 183
            results.append("ok" if fresh else "advise")
        return _check("point above 1 bar", results)

    def agreement(self, unit: str) -> Check:
        """How far handsets lie apart on a cell in oxygen, each by its own air point; where one reads it, nothing."""
        several = sum(row["unit_type"] == self.types[unit] and row["kind"] == "handset"
                      for row in self.sheets["readers"]) > 1  # fmt: skip
        results = []
        for row in self._of_kind(unit, "cell") if several else ():
            since = [
                each
                for each in self.readings.get(row["part"], [])
                if each["point"] in ("air", "oxygen") and self.by_record[each["calibration"]]["at"] >= row["fitted_at"]
            ]
            for made in ("workshop", "diver"):
                mine = [each for each in since if self.by_record[each["calibration"]]["made"] == made]
                if mine:
                    results.append(self._apart(mine))
                    break
        return _check("handset agreement", results)

    def _apart(self, readings: list[Row]) -> str:
        record = max((each["calibration"] for each in readings), key=lambda one: (self.by_record[one]["at"], one))
        calibration = self.by_record[record]
        shown: dict[str, dict[str, list[float]]] = {}
        for each in readings:
            if each["calibration"] == record and each["mv"]:
                shown.setdefault(each["reader"], {}).setdefault(each["point"], []).append(float(each["mv"]))
        ratios = [_mean(points["oxygen"]) / _mean(points["air"]) for points in shown.values() if len(points) == 2]
        if len(ratios) < 2:
            return "stop"
        humidity = (number(calibration["humidity"]) or 50.0) / 100
        vapour = humidity * _PSat_T(273.15 + float(calibration["temperature_c"])) * 1e4
        air_bar = OXYGEN_IN_DRY_AIR * (float(calibration["pressure_mbar"]) - vapour) / 1000
        apart = (max(ratios) - min(ratios)) * air_bar
        return "stop" if apart > 0.10 else "advise" if apart > 0.05 else "ok"

    # tests by slot

    def gas_side(self, unit: str, first: dt.date) -> Check:
        """Intermediate pressure at both ends, solenoid, addition, relief, injector: since fitted, within a year."""
        results = []
        for row in self.inside.get(unit, []):
            kind = NEEDS.get(self._slot_kind(unit, row))
            ends: Iterable[tuple[float, float]] = ((150, 999), (0, 60)) if kind == LOCK_UP else ((-1, 999),)
            for low, high in ends if kind else ():
                mine = [
                    each
                    for each in self.tests.get(unit, [])
                    if each["kind"] == kind and each["part"] in ("", row["part"])
                    and (kind != LOCK_UP or low <= (number(each["supply_bar"]) or -5) <= high)
                ]  # fmt: skip
                results.append(_fresh(mine, row["fitted_at"], first, 365, 90))
        return _check("intermediate pressure and gas addition", results)

    def mouthpiece(self, unit: str, first: dt.date) -> Check:
        """The mouthpiece or bailout valve works: since the loop was last opened for work, within a month."""
        opened = [row["at"] for row in self.openings.get(unit, []) if row["kind"] == "workshop"]
        fitted = [row["fitted_at"] for row in self.inside.get(unit, []) if self._slot_kind(unit, row) in OPENS]
        since = max((*opened, *fitted), default="")
        results = []
        for kind in ("mouthpiece valve", "bailout valve"):
            for row in self._of_kind(unit, kind):
                of_this = [each for each in self.tests.get(unit, []) if each["part"] in ("", row["part"])]
                mine = [each for each in of_this if each["kind"] == kind and each["at"] != since]
                results.append(_fresh(mine, since, first, None, 30))
        return _check("bailout or mouthpiece valve", results)

    # people

    def signer(self, unit: str) -> Check:
        """Who signed the last ticket or turn-round card held a technician's paper for the type on that day."""
        signed = [(row["signed_at"], row["signed_by"]) for row in self.tickets.get(unit, []) if row["signed_at"]]
        signed += [(row["finished_at"], row["finished_by"]) for row in self.cards.get(unit, []) if row["finished_at"]]
        if not signed:
            return _check("signer", ["stop"])
        at, by = max(signed)
        held = self._holds(by, ("technician",), unit, dt.date.fromisoformat(at[:10]))
        return _check("signer", ["ok" if held else "stop"])

    def _holds(self, person: str, kinds: tuple[str, ...], unit: str, on: dt.date) -> bool | None:
        mine = [row for row in self.papers.get(person, []) if row["kind"] in kinds]
        if not mine:
            return None
        return any(
            row["unit_type"] in ("", self.types[unit])
            and (not row["valid_until"] or dt.date.fromisoformat(row["valid_until"]) >= on)
            for row in mine
        )

    def diver(self, unit: str, first: dt.date, last: dt.date, line: Row, booking: Row) -> Check:
        """A student under a current instructor; anybody else with a paper for the type, a dive within half a year."""
        diver = line["diver"] or booking["renter"]
        if booking["kind"] in ("course", "try day") and (not diver or diver != booking["instructor"]):
            held = self._holds(booking["instructor"], ("instructor",), unit, last) if booking["instructor"] else None
            return _check("diver", ["ok" if held else "stop"])
        held = self._holds(diver, ("diver", "instructor"), unit, last) if diver else None
        if not held:
            return _check("diver", ["stop" if held is False else "advise"])
        dives = [
            row["received_at"]
            for row in self.sheets["hire_lines"]
            if row["diver"] == diver and row["received_at"] and self.types[row["unit"]] == self.types[unit]
            and ((number(row["dives"]) or 0) > 0 or (number(row["loop_minutes"]) or 0) > 0)
        ]  # fmt: skip
        latest = moment(max(dives)) if dives else None
        fresh = latest is not None and (first - latest.date()).days <= 183
        return _check("diver", ["ok" if fresh else "advise"])


def _fresh(tests: list[Row], since: str, first: dt.date, stop: int | None, advise: int) -> str:
    if not tests:
        return "stop"
    last = max(tests, key=lambda row: (row["at"], row["record"]))
    if last["result"] not in ("pass", "watch") or last["at"] < since:
        return "stop"
    age = (first - dt.date.fromisoformat(last["at"][:10])).days
    return "stop" if stop is not None and age > stop else "advise" if age > advise else "ok"


def _mean(figures: list[float]) -> float:
    return sum(figures) / len(figures)


def _check(name: str, results: Iterable[str], evidence: str = "") -> Check:
    return {"check": name, "result": max(results, key=RANK.index, default="ok"), "evidence": evidence}
