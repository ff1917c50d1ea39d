"""What happens between hand-over and hand-back: gas, fills, dives and the divers' own calibrations."""

import datetime as dt
from typing import Any

from tests.fleet_maker import catalogue
from tests.fleet_maker.centre import DAY, Centre, Unit, at
from tests.fleet_maker.season import Booked
from tests.fleet_maker.sensing import Shot

MIN = dt.timedelta(minutes=1)
NET_U_G = 14.1
"""Twice the root of two times the packing scale's standard uncertainty: what weighing it full and empty leaves open."""


class Diving:
    """Hires, courses and try days as they were dived."""

    def __init__(self, centre: Centre) -> None:
        self.centre, self.sheets = centre, centre.sheets
        self.rng = centre.stream("diving")
        self.bailout_rng = centre.stream("bailout gas")
        self.bailed: set[str] = set()
        self.drum: dict[str, Any] = {}
        self.ready_fill: dict[str, Any] | None = None
        self.altitude_mbar = 1011.8

    def line(
        self, unit: Unit, booking: Booked, code: str, diver: str, out_at: dt.datetime, wants: dict[str, Any]
    ) -> dict[str, Any]:
        """The hire line of one unit, with every dive of it recorded."""
        rng = self.rng
        out = booking.ends >= self.centre.stated
        end = at(booking.ends, 16, 30) + int(rng.integers(0, 40)) * MIN
        flooded = rng.random() < 0.015
        row = self.sheets.row(
            "hire_lines", booking=code, unit=unit.tag, diver=diver, out_at=out_at,
            out_by=self.centre.technician(booking.starts),
            hand_over="assembled" if booking.kind == "hire" and rng.random() < 0.7 else "kit",
        )  # fmt: skip
        self.gas(unit, out_at - 35 * MIN)
        self.ready_fill = None
        if row["hand_over"] == "assembled":
            packer = self.centre.technician(booking.starts)
            self.ready_fill = self.pack(unit, out_at - 25 * MIN, packer, row["record"], diver=diver)
            self.sheets.add(
                "openings", unit=unit.tag, at=out_at - 20 * MIN, kind="routine", what="canister in", person=packer
            )
        minutes = dives = 0
        if not out:
            minutes, dives = self._dives(unit, booking, row["record"], diver, out_at, flooded, wants)
            row.update(
                received_at=end, received_by=self.centre.technician(booking.ends), wet=True, flooded=bool(flooded),
                fault=bool(rng.random() < 0.06), loop_minutes=minutes, dives=dives,
            )  # fmt: skip
            if self.ready_fill:
                self.ready_fill.update(
                    discarded_at=end + 15 * MIN, discarded_by=row["received_by"], why_discarded="not used"
                )
            if flooded:
                row["note"] = "Loop flooded on the last dive; canister wet"
        for _, _, part in unit.all_parts():
            part.used["hours"] += minutes / 60
            part.used["dives"] += dives
            part.used["hires"] += 1
        return row

    def _dives(self, unit: Unit, booking: Booked, line: str, diver: str, out_at: dt.datetime, flooded: bool,
               wants: dict[str, Any]) -> tuple[int, int]:  # fmt: skip
        total = dives = 0
        for i in range(booking.days):
            day, last = booking.starts + i * DAY, i == booking.days - 1
            count = max(self._count(booking, i), 1 if last and wants else 0)
            if count == 0 or (i == 0 and out_at.hour >= 14):
                continue
            self._diver_calibration(unit, day, diver)
            if i and i % 3 == 0:
                self.gas(unit, at(day, 7, 40), full=False)
            done, dived = self._one_fill(
                unit, booking, line, diver, day, count, flooded and last, wants if last else {}
            )
            total, dives = total + done, dives + dived
        return total, dives

    def _count(self, booking: Booked, i: int) -> int:
        if booking.kind == "course":
            return (1, 1, 2, 2, 1)[i]
        if booking.kind == "try day":
            return 1
        return int(self.rng.choice([0, 1, 2], p=[0.12, 0.36, 0.52]))

    def _one_fill(self, unit: Unit, booking: Booked, line: str, diver: str, day: dt.date, count: int, flooded: bool,
                  wants: dict[str, Any]) -> tuple[int, int]:  # fmt: skip
        rng = self.rng
        fill = self.ready_fill or self.pack(unit, at(day, 8, 0) + int(rng.integers(0, 30)) * MIN, diver, line)
        self.ready_fill = None
        overrun = wants.get("overrun") or rng.random() < 0.0014
        total, count = 0, 3 if overrun else count
        for n in range(count):
            minutes = int(rng.integers(80, 92)) if overrun else int(max(15, min(95, rng.normal(48, 11))))
            start = at(day, (10, 14, 16)[n], int(rng.integers(0, 50)))
            total += self._run(fill, unit, line, diver, start, minutes, booking.depth)
        if flooded:
            fill["wetted_at"] = at(day, 15, 30)
        if wants.get("keep fill"):
            fill["closed_up_at"] = at(day, 17, 5)
            return total, count
        fill.update(
            discarded_at=at(day, 17, 30) + int(rng.integers(0, 50)) * MIN, discarded_by=diver,
            why_discarded="flooded" if flooded else "end of the day",
        )  # fmt: skip
        if rng.random() < 0.03:
            spare = self.pack(unit, fill["discarded_at"] + 20 * MIN, diver, line)
            spare.update(discarded_at=spare["packed_at"] + 700 * MIN, discarded_by=diver, why_discarded="not used")
        return total, count

    def _run(self, fill: dict[str, Any], unit: Unit, line: str, diver: str, start: dt.datetime, minutes: int,
             depth: int) -> int:  # fmt: skip
        rng = self.rng
        water = self.centre.weather.water_on(start.date())
        dive_clock = rng.random() < 0.15
        self.sheets.add(
            "runs", fill=fill["record"], unit=unit.tag, hire_line=line, diver=diver, started_at=start,
            minutes=minutes - 10 if dive_clock else minutes, clock="dive" if dive_clock else "loop", dives=1,
            coldest_c=None if rng.random() < 0.07 else round(water - float(rng.uniform(0.5, 3.0))),
            deepest_m=None if rng.random() < 0.05 else round(min(float(rng.uniform(0.5, 1.05)) * depth, 38)),
            seen_at_6m_bar=round(float(rng.normal(1.52, 0.03)), 2) if rng.random() < 0.25 else None,
        )  # fmt: skip
        return minutes

    def pack(self, unit: Unit, when: dt.datetime, packer: str, line: str | None, *, diver: str | None = None,
             weigh: bool | None = None) -> dict[str, Any]:  # fmt: skip
        """A new fill in the unit's canister from the drum that is open."""
        rng, full = self.rng, 2500 if unit.kind == catalogue.B else 2000
        mass = int(min(max(rng.normal(full, 18), full - 60), full + 60))
        drum = self._drum(mass / 1000, when)
        weighed = weigh if weigh is not None else rng.random() >= 0.06
        return self.sheets.row(
            "fills", canister=unit.slots["canister"].record, container=drum["record"], packed_at=when, packed_by=packer,
            mass_g=mass if weighed else None, scale=self.centre.equipment["Packing scale"] if weighed else None,
            mass_u_g=NET_U_G if weighed else None, checked=True, diver=diver or (packer if line else None),
            hire_line=line,
        )  # fmt: skip

    def _drum(self, kg: float, when: dt.datetime) -> dict[str, Any]:
        stale = bool(self.drum) and (when - self.drum["opened_at"]).days >= 18
        if not self.drum or self.drum["left"] < kg or stale:
            if self.drum:
                self.drum["left_kg"] = 0.0  # what is left of an old drum is tipped out, never added to a fill
            received = when.date() - int(self.rng.integers(6, 40)) * DAY
            number = len(self.sheets.rows["containers"]) + 1
            self.drum = self.sheets.row(
                "containers", part_type="SODA-1", lot=f"SL{number // 6 + 11:03d}", received_kg=20, received_on=received,
                opened_at=when - 15 * MIN, last_good_day=received + 1000 * DAY, place="Course kit",
            )  # fmt: skip
            self.drum["left"] = 20.0
        self.drum["left"] -= kg
        self.drum["left_kg"] = round(self.drum["left"], 2)
        return self.drum

    def _diver_calibration(self, unit: Unit, day: dt.date, diver: str) -> None:
        rng = self.rng
        if rng.random() >= 0.60:
            return
        pressure, temperature, humidity = self.centre.weather.on(day)
        outside = temperature + float(rng.normal(1.5, 1.5))
        by_height = rng.random() < 0.45
        fraction = float(rng.uniform(0.9965, 0.999))
        # A reminder went round some weeks ago, and the logs were filled in well from then on.
        well_kept = day >= self.centre.stated - 45 * DAY
        vented, dry, settled = (rng.random() < share or well_kept for share in (0.96, 0.93, 0.95))
        shown = None if rng.random() < 0.04 else round(100 * fraction + float(rng.normal(0, 0.2)), 1)
        if shown is None and well_kept:
            shown = round(100 * fraction, 1)
        blank = rng.random() < 0.30
        wet = 100 * min(humidity + (0.04 if blank else float(rng.normal(0.04, 0.05))), 0.98)
        when = at(day, 8, 35) + int(rng.integers(0, 20)) * MIN
        row = self.sheets.row(
            "calibrations", unit=unit.tag, person=diver, at=when, made="diver",
            pressure_mbar=self.altitude_mbar if by_height else round(pressure), temperature_c=round(outside),
            pressure_source="altitude" if by_height else "measured",
            humidity=None if blank and not well_kept else round(wet),
            oxygen_shown_percent=shown, analyser=self.centre.equipment["Fill station analyser"] if shown else None,
            head="dry" if dry else "unknown", vented="yes" if vented else "unknown",
            settled="yes" if settled else "unknown",
        )  # fmt: skip
        self.centre.shots.append(
            Shot(
                row["record"], tuple(p.cell or 0 for p in unit.heads_cells), catalogue.READERS[unit.kind], unit.offsets,
                when, pressure, outside, outside, humidity, fraction,
            )
        )  # fmt: skip

    def gas(self, unit: Unit, when: dt.datetime, *, full: bool = True) -> None:
        """Oxygen and diluent filled, and (mostly) analysed."""
        rng, names = self.rng, self.centre.equipment
        if full:
            self._bailout_gas(unit, when)
        for slot in ("oxygen cylinder", "diluent cylinder"):
            part = unit.slots[slot]
            oxygen, helium = (100.0, 0.0) if slot == "oxygen cylinder" else (21.0, 0.0)
            if slot == "diluent cylinder" and full and rng.random() < 0.07:
                oxygen, helium = 18.0, 45.0
            end = int(rng.integers(180, 201)) if full or rng.random() < 0.9 else int(rng.integers(120, 160))
            by = self.centre.technician(when.date())
            self.sheets.add(
                "cylinder_fills", part=part.record, at=when, oxygen_asked=oxygen, helium_asked=helium,
                start_bar=int(rng.integers(20, 110)), end_bar=end, person=by, batch=f"{when:%y%j}",
                oxygen_compatible=True,
            )  # fmt: skip
            if rng.random() < 0.92:
                shown = 99.7 if oxygen == 100 else oxygen
                self.sheets.add(
                    "gas_analyses", part=part.record, at=when + 25 * MIN,
                    oxygen_percent=round(shown + float(rng.normal(0, 0.15)), 1),
                    helium_percent=round(helium + float(rng.normal(0, 0.3)), 1) if helium else None,
                    analyser=names["Fill station analyser"], person=by, by_diver=False,
                )  # fmt: skip

    def _bailout_gas(self, unit: Unit, when: dt.datetime, *, sure: bool = False) -> None:
        """The bailout cylinder topped up where it was breathed from, which is seldom, and mostly analysed."""
        rng, part = self.bailout_rng, unit.slots["bailout cylinder"].record
        if not sure and unit.tag in self.bailed and rng.random() < 0.65:
            return
        self.bailed.add(unit.tag)
        analyser = self.centre.equipment["Fill station analyser"]
        by = self.centre.technician(when.date())
        self.sheets.add(
            "cylinder_fills", part=part, at=when, oxygen_asked=21.0, helium_asked=0.0,
            start_bar=int(rng.integers(60, 160)), end_bar=int(rng.integers(205, 229)), person=by,
            batch=f"{when:%y%j}", oxygen_compatible=True,
        )  # fmt: skip
        if sure or rng.random() < 0.95:
            self.sheets.add(
                "gas_analyses", part=part, at=when + 25 * MIN,
                oxygen_percent=round(21.0 + float(rng.normal(0, 0.15)), 1), analyser=analyser, person=by,
                by_diver=False,
            )  # fmt: skip

    def shelf_gas(self, unit: Unit, when: dt.datetime) -> None:
        """All three cylinders of a unit that stands ready, filled and analysed."""
        self._bailout_gas(unit, when, sure=True)
        rng, by = self.bailout_rng, self.centre.technician(when.date())
        analyser = self.centre.equipment["Fill station analyser"]
        for slot, oxygen, shown, full in (("oxygen cylinder", 100.0, 99.7, 196), ("diluent cylinder", 21.0, 21.0, 222)):
            part = unit.slots[slot].record
            self.sheets.add(
                "cylinder_fills", part=part, at=when, oxygen_asked=oxygen, helium_asked=0.0,
                start_bar=int(rng.integers(20, 110)), end_bar=full - int(rng.integers(0, 12)), person=by,
                batch=f"{when:%y%j}", oxygen_compatible=True,
            )  # fmt: skip
            self.sheets.add(
                "gas_analyses", part=part, at=when + 25 * MIN,
                oxygen_percent=round(shown + float(rng.normal(0, 0.1)), 1), analyser=analyser, person=by,
                by_diver=False,
            )  # fmt: skip
