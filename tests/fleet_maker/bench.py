"""A day at the bench: turn-round, parts that ran out, tests, calibration, signature."""

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.fleet_maker import catalogue
from tests.fleet_maker.centre import DAY, Centre, Part, Unit, at
from tests.fleet_maker.sensing import KINDS, Shot, day_number
from tests.fleet_maker.stockroom import cell_lot, fit, new_part, open_cell, remove, take_cell, test

MIN = dt.timedelta(minutes=1)
FAIL_SHARES = (0, 13, 6, 3, 5, 3)
TURN_ROUND_TASKS = (
    "Strip, rinse and disinfect the loop", "Look at the one-way valves and test both ways",
    "Loop negative and positive",
    "Calibrate the cells", "Reset the handsets and clear the last diver's data",
)  # fmt: skip
CHECK_TASKS = ("Replace what runs out", "Look at the one-way valves and test both ways", "Loop negative and positive",
               "Calibrate the cells")  # fmt: skip


@dataclass
class Visit:
    """One unit on one bench day, with what the story wants to happen there."""

    unit: Unit
    day: dt.date
    received: dt.datetime | None = None
    line: str | None = None
    place_in_day: int = 0
    out_same_day: bool = False
    first: bool = False
    wants: dict[str, Any] = field(default_factory=dict)

    @property
    def start(self) -> dt.datetime:
        """When its calibration begins."""
        return at(self.day, 8, 40) + 25 * (self.place_in_day % 14) * MIN


class Bench:
    """The workshop, visit after visit in order of time."""

    def __init__(self, centre: Centre) -> None:
        self.centre, self.sheets = centre, centre.sheets
        self.rng = centre.stream("bench")
        self.fate = centre.stream("fate")
        self.diluent_rng = centre.stream("diluent stages")
        self.session: Any = None
        self.fail_day: dict[int, tuple[float, str]] = {}
        self.spare_head: Part | None = None

    # ---- one visit -------------------------------------------------------------------------------------------------

    def visit(self, visit: Visit) -> str:
        """Do everything one visit asks for; the record number of its ticket."""
        unit, person = visit.unit, self.centre.technician(visit.day)
        ticket = self._open_ticket(visit, person)
        if visit.received:
            self._wash(visit, person, ticket)
        self._heads(visit, person, ticket)
        done = self._replace_what_ran_out(visit, person, ticket)
        self._scripted_failures(visit, person, ticket)
        self._calibrations(visit, person, ticket)
        leak = visit.wants.get("leaking valve")
        self.tests(visit, person, ticket, leak)
        unit.last_visit = visit.day
        self._sign(visit, person, ticket, done)
        return ticket["record"]

    def _open_ticket(self, visit: Visit, person: str) -> dict[str, Any]:
        cause = "turn-round" if visit.received else "due item"
        reason = "Turn-round after hand-back" if visit.received else "Check of a unit that stood idle"
        if visit.first:
            reason = "Taken over from the paper folder: full check"
        if "reason" in visit.wants:
            cause, reason = visit.wants["reason"]
        opened = visit.received + 5 * MIN if visit.received else visit.start - 35 * MIN
        return self.sheets.row(
            "tickets", unit=visit.unit.tag, cause=cause, reason=reason, critical=True, opened_at=opened,
            opened_by=person,
            minutes=0,
        )  # fmt: skip

    def _wash(self, visit: Visit, person: str, ticket: dict[str, Any]) -> None:
        assert visit.received is not None
        evening = visit.received
        self.sheets.add("openings", unit=visit.unit.tag, at=evening + 12 * MIN, kind="routine", what="canister out",
                        person=person, ticket=ticket["record"])  # fmt: skip
        self.sheets.add("openings", unit=visit.unit.tag, at=evening + 25 * MIN, kind="workshop",
                        what="loop stripped for washing, head off", person=person, ticket=ticket["record"])  # fmt: skip
        self.sheets.add(
            "disinfections", unit=visit.unit.tag, at=evening + 40 * MIN, agent="hypochlorite bath", strength="50 ppm",
            contact_minutes=5, rinsed=True, dry_at=at(visit.day, 8, 0), person=person, ticket=ticket["record"],
        )  # fmt: skip

    def _replace_what_ran_out(self, visit: Visit, person: str, ticket: dict[str, Any]) -> int:
        unit, day, done = visit.unit, visit.day, 0
        keep = visit.wants.get("keep", ())
        for host, slot, part in unit.all_parts():
            end = self.centre.last_good(part)
            worn = self.centre.use_left(part) < 0.03
            margin = 12 if part.cell is not None else 15
            if slot in keep or not (worn or (end is not None and end < day + margin * DAY)):
                continue
            if self._serviced(part, day, margin) and not worn:
                continue
            self.swap(visit, host, slot, part, "age", person, ticket, visit.start - 20 * MIN)
            done += 1
        return done

    def _serviced(self, part: Part, day: dt.date, margin: int) -> bool:
        """True where tests and services of the part were all that ran out, and are now done."""
        for basis, amount, which in self.centre.lives.get(part.code, ()):
            if basis != "test_interval":
                continue
            last = part.tests.get(which)
            if last is None or (last["done_on"] + dt.timedelta(days=int(amount * 30.4))) < day + (margin + 5) * DAY:
                by = "Test house (invented)" if part.code.startswith("CYL") else self.centre.technician(day)
                test(self.centre, part, which, day - 1 * DAY if not part.code.startswith("CYL") else day, by)
        end = self.centre.last_good(part)
        return end is None or end >= day + margin * DAY

    def swap(self, visit: Visit, host: Part | None, slot: str, part: Part, why: str, person: str, ticket: dict[str,
                                                                                                               Any],
             when: dt.datetime) -> Part:  # fmt: skip
        """The new part that takes the place of an old one."""
        day = visit.day
        if part.cell is not None:
            new = take_cell(self.centre, part.code, day)
            open_cell(self.centre, new, day)
        else:
            new = new_part(self.centre, part.code, day - int(self.rng.integers(5, 60)) * DAY)
            for basis, _, which in self.centre.lives.get(part.code, ()):
                if basis == "test_interval" and which not in new.tests:
                    test(self.centre, new, which, day - int(self.rng.integers(1, 25)) * DAY, "supplier")
        if part.inner:
            raise ValueError(f"{part.code}: assemblies are serviced, not swapped")
        remove(self.centre, part, when, person, why, ticket["record"])
        fit(self.centre, visit.unit, host, slot, new, when + 4 * MIN, person, ticket["record"])
        if slot not in {"handset 1 battery", "handset 2 battery", "bailout cylinder", "wing"}:
            self.sheets.add("openings", unit=visit.unit.tag, at=when, kind="workshop", what=f"{slot} replaced",
                            person=person, ticket=ticket["record"])  # fmt: skip
        return new

    def _scripted_failures(self, visit: Visit, person: str, ticket: dict[str, Any]) -> None:
        for slot, text in visit.wants.get("failed parts", ()):
            found = [(host, part) for host, name, part in visit.unit.all_parts() if name == slot]
            if not found:
                continue
            host, part = found[0]
            if part.fitted is not None and part.fitted >= visit.start - 22 * MIN:
                continue  # this visit has put a new one in already, by its age
            repair = self.repair_ticket(visit, person, "failed test", text, ticket)
            self.sheets.add("findings", ticket=repair["record"], at=visit.start - 25 * MIN, person=person, text=text)
            self.swap(visit, host, slot, part, "fault", person, repair, visit.start - 22 * MIN)
            self._task(repair, 1, f"Replace {slot}", visit.start - 15 * MIN, person)
            repair.update(signed_at=visit.start + 45 * MIN, signed_by=person, minutes=25)

    def repair_ticket(self, visit: Visit, person: str, cause: str, text: str, parent: dict[str, Any]) -> dict[str, Any]:
        """A ticket beside the turn-round's own."""
        return self.sheets.row(
            "tickets", unit=visit.unit.tag, cause=cause, reason=text, critical=True, opened_at=visit.start - 28 * MIN,
            opened_by=person, minutes=0, refers_to=parent["record"],
        )  # fmt: skip

    # ---- calibration -----------------------------------------------------------------------------------------------

    def _calibrations(self, visit: Visit, person: str, ticket: dict[str, Any]) -> None:
        unit, when = visit.unit, visit.start
        failed = [] if visit.wants.get("no failures") else self._failed_since(unit, visit)
        pot = (visit.day - unit.last_pot).days > 150 or any(kind == "current-limited" for _, kind in failed)
        pot = pot or bool(visit.wants.get("pot"))
        flaw = visit.wants.get("calibration", {})
        if flaw or failed or visit.wants.get("compare"):
            self.calibrate(visit, person, ticket, when, pot=pot, **flaw)
            when += 7 * MIN
        replaced = [slot for slot, _ in failed]
        for slot, kind in failed:
            self._replace_failed(visit, slot, kind, person, ticket, when)
        if failed or not flaw or visit.wants.get("again"):
            for _ in range(2):
                dead = self._dead_on_arrival(unit) if replaced else []
                comparison = self._comparison(visit) if visit.wants.get("compare") else None
                self.calibrate(visit, person, ticket, when + 9 * MIN, pot=pot, comparison=comparison)
                if not dead:
                    break
                when += 10 * MIN
                for slot in dead:
                    self._replace_failed(visit, slot, "dead when new", person, ticket, when)
        if pot:
            unit.last_pot = visit.day

    def _comparison(self, visit: Visit) -> str | None:
        """Another head's calibration on the same gas in the same session."""
        session = self.session["record"] if self.session else None
        for row in self.sheets.rows["calibrations"]:
            if row.get("session") == session and row["unit"] != visit.unit.tag:
                return str(row["record"])
        return None

    def one_lot(self, visit: Visit) -> None:
        """All three cells of a head replaced at once from one new lot: the seed of a fault they will share."""
        code = visit.unit.heads_cells[0].code
        shelf = self.centre.stock.setdefault(code, [])
        known = len(shelf)
        cell_lot(self.centre, code, visit.day - 9 * DAY)
        shelf[:] = shelf[known:] + shelf[:known]
        person, head = self.centre.technician(visit.day), visit.unit.slots["head"]
        ticket = self.repair_ticket(visit, person, "by hand", "All three cells changed at once", {"record": None})
        for slot in ("cell 1", "cell 2", "cell 3"):
            new = self.swap(visit, head, slot, head.inner[slot], "age", person, ticket, visit.start - 26 * MIN)
            self.fail_day[new.cell or 0] = (0.0, "none")
        self._task(ticket, 1, "Replace all cells", visit.start - 18 * MIN, person)
        ticket.update(signed_at=visit.start + 50 * MIN, signed_by=person, minutes=20)

    def _heads(self, visit: Visit, person: str, ticket: dict[str, Any]) -> None:
        """A head is changed as one piece: its cells, their age and their calibrations travel with it."""
        unit, when = visit.unit, visit.start - 30 * MIN
        if visit.wants.get("new head"):
            new = new_part(self.centre, "HEAD-B", visit.day - 20 * DAY)
            test(self.centre, new, "service", visit.day - 15 * DAY, "supplier")
            self.spare_head = unit.slots["head"]
        elif visit.wants.get("spare head") and self.spare_head:
            new, self.spare_head = self.spare_head, None
        else:
            return
        old = unit.slots["head"]
        remove(self.centre, old, when, person, "moved", ticket["record"], state="stock", place="Shelf 3")
        fit(self.centre, unit, None, "head", new, when + 6 * MIN, person, ticket["record"])
        self.sheets.add("openings", unit=unit.tag, at=when, kind="workshop", what="head changed", person=person,
                        ticket=ticket["record"])  # fmt: skip
        if not new.inner:
            for slot in ("cell 1", "cell 2", "cell 3"):
                cell = take_cell(self.centre, "CELL-A", visit.day)
                open_cell(self.centre, cell, visit.day)
                fit(self.centre, unit, new, slot, cell, when + 4 * MIN, person, ticket["record"])
        elif old is not self.spare_head:
            for cell in old.inner.values():
                remove(self.centre, cell, when + 1 * MIN, person, "service", ticket["record"])

    def _failed_since(self, unit: Unit, visit: Visit) -> list[tuple[str, str]]:
        failed = []
        for slot, part in unit.slots["head"].inner.items():
            assert part.cell is not None
            cell = self.centre.cells[part.cell]
            if part.cell not in self.fail_day:
                kind = (
                    KINDS[int(self.fate.choice(6, p=np.array(FAIL_SHARES) / 30))]
                    if self.fate.random() < 0.38
                    else "none"
                )
                kind = "low output" if kind == "dead when new" else kind
                fails = cell.opened + float(self.fate.uniform(70, 330))
                self.fail_day[part.cell] = (fails, kind)
            fails, kind = self.fail_day[part.cell]
            if kind != "none" and cell.kind == "none" and fails <= day_number(visit.day) and part.opened != visit.day:
                before = max(day_number(unit.last_visit), cell.opened) if unit.last_visit > dt.date.min else cell.opened
                self.degrade(part, kind, before, day_number(visit.day))
                cell.limit_bar = visit.wants.get("exact limit", cell.limit_bar)
                failed.append((slot, kind))
        return failed

    def degrade(self, part: Part, kind: str, since: float, until: float) -> None:
        """Let a cell fail between two days, in the way named."""
        assert part.cell is not None
        cell, gap = self.centre.cells[part.cell], max(until - since, 1.0)
        # A fault comes on in the last days of a hire, so that a diver meets it once and not a week long.
        cell.kind, cell.from_day, cell.full_day = kind, until - min(0.45 * gap, 2.2), until - 0.4
        if kind == "low output":
            cell.factor = float(self.fate.uniform(0.60, 0.64))
        elif kind == "not linear":
            cell.limit_bar = float(self.fate.uniform(0.92, 1.02))
        elif kind == "current-limited":
            cell.limit_bar = float(self.fate.uniform(1.4, 1.46))
        else:
            cell.factor = float(self.fate.uniform(0.3, 0.6))

    def _dead_on_arrival(self, unit: Unit) -> list[str]:
        dead = []
        for slot, part in unit.slots["head"].inner.items():
            if part.cell not in self.fail_day and self.fate.random() < 0.03 and part.cell is not None:
                cell = self.centre.cells[part.cell]
                cell.kind, cell.from_day, cell.full_day, cell.factor = "dead when new", 0.0, 1.0, 0.03
                self.fail_day[part.cell] = (0.0, "dead when new")
                dead.append(slot)
        return dead

    def _replace_failed(self, visit: Visit, slot: str, kind: str, person: str, ticket: dict[str, Any],
                        when: dt.datetime) -> None:  # fmt: skip
        words = {
            "low output": "reads low in air and in oxygen", "not linear": "falls short in oxygen",
            "current-limited": "flattens above 1 bar in the pressure pot", "wet or corroded": "reads low,"
            " wet under the face",
            "dead when new": "shows nearly nothing, new from its bag",
        }[kind]  # fmt: skip
        repair = self.repair_ticket(visit, person, "failed test", f"{slot} {words}", ticket)
        repair["opened_at"] = when - 4 * MIN
        self.sheets.add("findings", ticket=repair["record"], at=when - 3 * MIN, person=person, text=f"{slot} {words}")
        head = visit.unit.slots["head"]
        why = {"low output": "low output", "not linear": "low output"}.get(kind, "fault")
        self.swap(visit, head, slot, head.inner[slot], why, person, repair, when)
        self._task(repair, 1, f"Replace {slot} and calibrate", when + 14 * MIN, person)
        repair.update(signed_at=when + 25 * MIN, signed_by=person, minutes=20)

    def calibrate(self, visit: Visit, person: str, ticket: dict[str, Any] | None, when: dt.datetime, *,
                  pot: bool = False,
                  vented: str = "yes", over_mbar: float = 0.0, air_left: float = 0.0, comparison: str | None = None,
                  bad_contact: tuple[int, int, float] | None = None, note: str | None = None) -> str:  # fmt: skip
        """One workshop calibration with its readings to come; its record number."""
        unit = visit.unit
        pressure, temperature, humidity = self.centre.weather.on(visit.day)
        session = self._session(when, person, visit.day)
        true_fraction = session["true"]
        oxygen_c = round(temperature + float(self.rng.normal(0.2, 0.3)), 1)
        unit_blank = self.rng.random() < 0.04 and not visit.wants.get("complete")
        row = self.sheets.row(
            "calibrations", unit=unit.tag, session=session["record"], person=person, at=when, made="workshop",
            pressure_mbar=session["pressure_mbar"], pressure_source="measured", temperature_c=session["temperature_c"],
            oxygen_temperature_c=oxygen_c, humidity=None if unit_blank else session["humidity"],
            oxygen_shown_percent=session["oxygen_shown_percent"], analyser=session["analyser"],
            barometer=session["barometer"], head="dry", vented=vented, settled="yes", comparison=comparison,
            ticket=ticket["record"] if ticket else None, note=note,
        )  # fmt: skip
        readers = catalogue.READERS[unit.kind]
        self.centre.shots.append(
            Shot(
                row["record"], tuple(p.cell or 0 for p in unit.heads_cells), readers, unit.offsets, when,
                pressure, temperature, oxygen_c, humidity, true_fraction, over_mbar, air_left,
                zero=self.rng.random() < 0.3, pot=tuple(round(bar * pressure / 1013.25, 3) for bar in (1.3,
                1.6)) if pot else (),
                settling=(60, 120, 180) if self.rng.random() < 0.3 else (), bad_contact=bad_contact,
            )
        )  # fmt: skip
        if not air_left and vented == "yes" and not bad_contact:
            self._handset_settings(unit, row, when + 9 * MIN, true_fraction, pressure)
        return str(row["record"])

    def _session(self, when: dt.datetime, person: str, day: dt.date) -> dict[str, Any]:
        current = self.session
        if current and current["started_at"] <= when <= current["started_at"] + 110 * MIN:
            return current
        pressure, temperature, humidity = self.centre.weather.on(day)
        true = float(self.rng.uniform(0.9965, 0.999))
        shown = round(true * 100 + float(self.rng.normal(0, 0.08)), 1)
        names = self.centre.equipment
        self.session = self.sheets.row(
            "sessions", started_at=when - 4 * MIN, person=person,
            pressure_mbar=round(pressure + float(self.rng.normal(0, 0.3)), 1), pressure_source="measured",
            temperature_c=round(temperature + float(self.rng.normal(0, 0.15)), 1),
            humidity=round(100 * humidity + float(self.rng.normal(0, 1.0))), oxygen_shown_percent=shown,
            analyser=names["Bench oxygen analyser"], barometer=names["Workshop barometer"],
            hygrometer=names["Workshop hygrometer"], ended_at=when + 112 * MIN,
        )  # fmt: skip
        self.session["true"] = true
        return self.session

    def _handset_settings(self, unit: Unit, row: dict[str, Any], when: dt.datetime, fraction: float,
                          pressure: float) -> None:  # fmt: skip
        for reader in catalogue.READERS[unit.kind]:
            self.sheets.add(
                "handset_settings", calibration=row["record"], unit=unit.tag, reader=reader, at=when,
                fraction_set=round(fraction, 2), pressure_set_mbar=round(pressure),
                shown_oxygen_bar=round(round(fraction, 2) * pressure / 1000 + float(self.rng.normal(0, 0.003)), 2),
                shown_air_bar=round(0.209 * pressure / 1000 + float(self.rng.normal(-0.002, 0.003)), 2),
            )  # fmt: skip

    # ---- tests -----------------------------------------------------------------------------------------------------

    def tests(self, visit: Visit, person: str, ticket: dict[str, Any], leak: str | None = None) -> None:
        """The release tests of a visit, and the others whose turn has come."""
        unit, when = visit.unit, visit.start + 20 * MIN
        loop = unit.slots["loop set"].inner
        if leak:
            self._leak(visit, person, ticket, leak, when - 4 * MIN)
        for direction in ("inhale", "exhale"):
            self._test(unit, "one-way valve", when, person, ticket, part=loop[f"{direction} one-way valve"],
                       direction=direction, held=True, unit_of_value="mL/min",
                       value=float(self.rng.integers(2, 19)) if self.rng.random() < 0.4 else None)  # fmt: skip
        watched = 3.0 if unit.kind == catalogue.B else 2.0
        for kind, start in (("loop negative", -25.0), ("loop positive", 30.0)):
            drop = float(self.rng.uniform(0, 1.4)) if self.rng.random() < 0.4 else None
            self._test(unit, kind, when + 4 * MIN, person, ticket, held=True, watched_minutes=watched,
                       value=None if drop is None else round(abs(start) * drop / 25, 1), unit_of_value="mbar",
                       equipment=self.centre.equipment["Loop manometer"])  # fmt: skip
        self._other_tests(visit, person, ticket, when + 6 * MIN)

    def _leak(self, visit: Visit, person: str, ticket: dict[str, Any], slot: str, when: dt.datetime) -> None:
        """A valve that fails its test and is replaced; the release tests of the whole loop follow."""
        loop, words = visit.unit.slots["loop set"], "leaks back by breath, lip of the valve curled"
        self._test(visit.unit, "one-way valve", when, person, ticket, part=loop.inner[slot], held=False,
                   direction=slot.split(maxsplit=1)[0], value=float(self.rng.integers(55, 90)), unit_of_value="mL/min",
                   result="reject", note=words)  # fmt: skip
        repair = self.repair_ticket(visit, person, "failed test", f"{slot} leaks back", ticket)
        repair["opened_at"] = when + 1 * MIN
        self.sheets.add("findings", ticket=repair["record"], at=when + 1 * MIN, person=person, text=f"{slot} {words}")
        self.swap(visit, loop, slot, loop.inner[slot], "fault", person, repair, when + 1 * MIN)
        self._task(repair, 1, f"Replace {slot} and test again", when + 8 * MIN, person)
        repair.update(signed_at=when + 16 * MIN, signed_by=person, minutes=15)

    def _other_tests(self, visit: Visit, person: str, ticket: dict[str, Any], when: dt.datetime) -> None:
        unit, b = visit.unit, visit.unit.kind == catalogue.B
        creep = visit.wants.get("creeping regulator")

        def turn(name: str, days: int) -> bool:
            due = (visit.day - unit.tested.get(name, dt.date.min)).days > days
            if due:
                unit.tested[name] = visit.day
            return due

        # Every visit strips the loop, and what was stripped is tried before it leaves.
        self._test(unit, "mouthpiece valve", when, person, ticket,
                   part=unit.slots["loop set"].inner["mouthpiece valve"], held=True)  # fmt: skip
        if turn("electric", 25):
            for slot in [name for name in unit.slots if name.endswith("battery")]:
                self._test(unit, "battery voltage", when, person, ticket, part=unit.slots[slot],
                           value=round(float(self.rng.uniform(3.72, 4.15)), 2), unit_of_value="V")  # fmt: skip
            self._test(unit, "alarms", when, person, ticket, held=True)
            if b:
                self._test(unit, "set-point held", when, person, ticket, held=True, watched_minutes=5.0)
        if turn("intermediate", 60) or creep:
            self._intermediate(unit, when, person, ticket, bool(creep))
            self._diluent_stage(unit, when + 14 * MIN, person, ticket)
        new = [slot for slot in ("addition valve", "solenoid") if slot in unit.slots and self._new_since(unit, slot)]
        if turn("valves", 70) or new:
            unit.tested["valves"] = visit.day
            self._test(unit, "addition valve", when, person, ticket, part=unit.slots["addition valve"], held=True)
            self._test(unit, "opening pressure", when, person, ticket, part=unit.slots["relief valve"],
                       value=round(float(self.rng.uniform(28, 36)), 1), unit_of_value="mbar",
                       equipment=self.centre.equipment["Loop manometer"])  # fmt: skip
            if b:
                self._test(unit, "solenoid", when, person, ticket, part=unit.slots["solenoid"], held=True)
            else:
                self._test(unit, "injector flow", when, person, ticket, part=unit.slots["injector"],
                           value=round(float(self.rng.uniform(0.82, 0.9)), 2), unit_of_value="L/min", supply_bar=10.5,
                           equipment=self.centre.equipment["Injector flow meter"])  # fmt: skip

    def _new_since(self, unit: Unit, slot: str) -> bool:
        """Whether the part in a slot was fitted on or after the day on which the valves were last tried."""
        fitted = unit.slots[slot].fitted
        return fitted is not None and fitted.date() >= unit.tested.get("valves", dt.date.min)

    def _intermediate(self, unit: Unit, when: dt.datetime, person: str, ticket: dict[str, Any], creep: bool) -> None:
        low, high = (8.7, 9.7) if unit.kind == catalogue.B else (9.8, 11.0)
        lock_up = float(self.rng.uniform(low, high))
        for supply in (190.0, 50.0):
            value = lock_up - (0.2 if supply < 100 else 0.0) + (2.1 if creep else 0.0)
            self._test(
                unit, "intermediate pressure", when + (6 if supply < 100 else 0) * MIN, person, ticket,
                part=unit.slots["oxygen first stage"], held=not creep, watched_minutes=5.0, value=round(value, 1),
                unit_of_value="bar", supply_bar=supply, equipment=self.centre.equipment["Intermediate pressure gauge"],
                result="reject" if creep else "pass",
                note=f"locked up at {lock_up:.1f} bar and crept for 5 minutes without an end" if creep else None,
            )  # fmt: skip

    def _diluent_stage(self, unit: Unit, when: dt.datetime, person: str, ticket: dict[str, Any]) -> None:
        if "diluent first stage" not in unit.slots:
            return
        lock_up = float(self.diluent_rng.uniform(8.9, 9.6))
        for minutes, supply in ((0, 180.0), (6, 50.0)):
            self._test(
                unit, "intermediate pressure", when + minutes * MIN, person, ticket,
                part=unit.slots["diluent first stage"], held=True, watched_minutes=5.0,
                value=round(lock_up - (0.2 if supply < 100 else 0.0), 1), unit_of_value="bar", supply_bar=supply,
                equipment=self.centre.equipment["Intermediate pressure gauge"],
            )  # fmt: skip

    def _test(self, unit: Unit, kind: str, when: dt.datetime, person: str, ticket: dict[str, Any],
              part: Part | None = None, result: str = "pass", **cells: Any) -> None:  # fmt: skip
        if cells.get("value") is None:
            cells.pop("unit_of_value", None)
        self.sheets.add(
            "bench_tests", unit=unit.tag, part=part.record if part else None, kind=kind, at=when, person=person,
            ticket=ticket["record"], result=result, **cells,
        )  # fmt: skip

    # ---- the end of a visit ----------------------------------------------------------------------------------------

    def _task(self, ticket: dict[str, Any], ordinal: int, text: str, when: dt.datetime | None, person: str | None,
              **cells: Any) -> None:  # fmt: skip
        self.sheets.add(
            "tasks", ticket=ticket["record"], ordinal=ordinal, text=text, critical=cells.pop("critical", True),
            state=cells.pop("state", "done" if when else "to do"), settled_at=when, person=person,
            times_put_off=cells.pop("times_put_off", 0), **cells,
        )  # fmt: skip

    def _sign(self, visit: Visit, person: str, ticket: dict[str, Any], done: int) -> None:
        tasks = TURN_ROUND_TASKS if visit.received else CHECK_TASKS
        leave_open = bool(visit.wants.get("leave open"))
        for ordinal, text in enumerate(tasks, 1):
            settled = None if leave_open and ordinal >= len(tasks) - 1 else visit.start + 30 * MIN
            self._task(ticket, ordinal, text, settled, person if settled else None, minutes=12.0 if settled else None)
        if "put off" in visit.wants:
            self._task(ticket, len(tasks) + 1, visit.wants["put off"], visit.start + 32 * MIN, person, critical=False,
                       state="put off", put_off_reason="part ordered", times_put_off=1)  # fmt: skip
        ticket["minutes"] = int(self.rng.integers(45, 71)) + 10 * done if visit.received else 35 + 10 * done
        if not leave_open:
            ticket.update(signed_at=visit.start + 50 * MIN, signed_by=person)
