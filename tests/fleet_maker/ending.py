"""How the centre stands on the stated day: what is packed, held, away, in stock, near its end; and its numbering."""

import datetime as dt
from typing import Any

from dateutil.relativedelta import relativedelta

from tests.fleet_maker import flaws, turn_rounds
from tests.fleet_maker.centre import DAY, MANAGER, Centre, Part, at
from tests.fleet_maker.sheets import Marked, Row
from tests.fleet_maker.stockroom import SUPPLIERS, cell_lot, new_part, test

MIN = dt.timedelta(minutes=1)
STOCK = {
    "OWV-1": 10, "MPC-1": 6, "BATT-1": 4, "ADDV-1": 2, "REG-OX": 1, "REG-DI": 1, "SOLN-1": 2, "INJ-1": 2, "HOSE-1": 2,
    "MPV-1": 1, "LUNG-B": 1, "LUNG-C": 1, "RLFV-1": 1, "HSET-B": 1, "CO2S-1": 2, "WING-1": 1,
    "CYL-OX": 12, "CYL-DI": 9, "CYL-BO": 7,
}  # fmt: skip


def finish(centre: Centre) -> None:
    """Everything that is true on the stated day and was not left by the history itself."""
    _stock(centre)
    if len(centre.units) >= 14:
        _shelf_fills(centre)
        _bench_units(centre)
        _away(centre)
        _incidents(centre)
        _near_limits(centre)
        _notices(centre)
        _looked_into(centre)
    _bailout_regulators(centre)
    _sealed_absorbent(centre)
    _made_before_tested(centre)
    _oxygen_side(centre)
    turn_rounds.keep(centre)
    _number_tickets(centre)
    _where_units_lie(centre)


def _stock(centre: Centre) -> None:
    rng = centre.stream("stock")
    for code, wanted in (("CELL-A", 10), ("CELL-C", 5)):
        missing = wanted - len(centre.stock[code])
        if missing > 0:
            cell_lot(centre, code, centre.stated - 9 * DAY, missing)
    for code, count in STOCK.items():
        for _ in range(max(1, round(count * min(centre.share, 20)))):
            received = centre.stated - int(rng.integers(20, 420)) * DAY
            part = new_part(centre, code, received)
            if code.startswith("CYL"):
                part.row["place"] = "Shelf 3"
            for basis, amount, kind in centre.lives.get(code, ()):
                if basis == "test_interval" and kind not in part.tests:
                    test(
                        centre, part, kind, centre.stated - int(rng.uniform(0.05, 0.95) * amount * 30) * DAY, "supplier"
                    )
            for test_kind, row in list(part.tests.items()):
                months = next(a for basis, a, which in centre.lives[code] if which == test_kind)
                if (centre.stated - row["done_on"]).days > 30 * months - 20 and part.record[-1] != "7":
                    test(
                        centre,
                        part,
                        test_kind,
                        centre.stated - int(rng.integers(20, 300)) * DAY,
                        "Test house (invented)",
                    )
    lung = new_part(centre, "LUNG-C", dt.date(2021, 9, 14), made=dt.date(2021, 4, 1))
    lung.row["lot"] = "old stock"
    broken = new_part(centre, "HSET-B", centre.stated - 300 * DAY)
    broken.row.update(state="quarantine", place="Quarantine box")
    centre.sheets.add("holds", part=broken.record, kind="manual", reason="Screen fades when cold; ask the maker",
                      placed_at=at(centre.stated - 41 * DAY, 11, 20), placed_by="T1")  # fmt: skip


def _shelf_fills(centre: Centre) -> None:
    from tests.fleet_maker.diving import Diving

    diving = Diving(centre)
    diving.rng = centre.stream("shelf fills")
    for index in flaws.SHELF_SOUND:
        unit = centre.units[index]
        when = at(flaws.day(-1), 16, 10) + 12 * index * MIN
        diving.pack(unit, when, "T2", None, weigh=True)
        centre.sheets.add("openings", unit=unit.tag, at=when + 6 * MIN, kind="routine", what="canister in", person="T2")
        diving.shelf_gas(unit, when - 70 * MIN)
        for slot in [name for name in unit.slots if name.endswith("battery")]:
            centre.sheets.add(
                "bench_tests", unit=unit.tag, part=unit.slots[slot].record, kind="battery voltage", at=when - 9 * MIN,
                person="T2", result="pass", value=round(float(diving.bailout_rng.uniform(3.95, 4.15)), 2),
                unit_of_value="V",
            )  # fmt: skip


def _last(centre: Centre, sheet: str, unit: str) -> Row:
    return next(row for row in reversed(centre.sheets.rows[sheet]) if row.get("unit") == unit)


def _bench_units(centre: Centre) -> None:
    words = {
        flaws.B5: ("cell 2", "Cell 2 fits at 1 bar but stays behind at both points of the pressure pot"),
        flaws.B7: (
            "cells 1 to 3",
            "All three cells short in oxygen after a second flush; B-06 on the same gas is in limits",
        ),
    }
    for index, (what, text) in words.items():
        tag = centre.units[index].tag
        ticket = next(
            row for row in reversed(centre.sheets.rows["tickets"]) if row["unit"] == tag and not row.get("signed_at")
        )
        when = at(flaws.day(-3), 15, 10)
        centre.sheets.add("findings", ticket=ticket["record"], at=when, person="T2", text=text)
        centre.sheets.add("holds", unit=tag, kind="cell", reason=f"{what} rejected", placed_at=when, placed_by="T2")


def _away(centre: Centre) -> None:
    tag = centre.units[flaws.C5].tag
    left = at(flaws.day(-7), 9, 30)
    centre.sheets.add("absences", unit=tag, place="Yearly service",
                      why="Oxygen first stage creeps: service and new seat",
                      left_at=left, expected_on=flaws.day(7))  # fmt: skip
    centre.sheets.add("holds", unit=tag, kind="manual",
                      reason="Oxygen first stage creeps; not out before it is serviced",
                      placed_at=at(flaws.day(-10), 12, 40), placed_by="T1")  # fmt: skip


def _find(centre: Centre, index: int, slot: str) -> Part:
    return next(part for _, name, part in centre.units[index].all_parts() if name == slot)


def _incidents(centre: Centre) -> None:
    """Near misses of other years, looked into and lifted."""
    for index, days, reason, found in (
        (
            flaws.B4,
            -602,
            "Renter's head-up light stayed dark on the surface",
            "Battery was not charged; told at hand-over",
        ),
        (
            flaws.C1,
            -251,
            "Mouthpiece valve left open on the surface, unit flooded at the jetty",
            "Shown again to the class",
        ),
    ):
        if centre.stated + days * DAY > centre.first:
            placed = at(flaws.day(days), 17, 20)
            centre.sheets.add("holds", unit=centre.units[index].tag, kind="incident", reason=reason, placed_at=placed,
                              placed_by=MANAGER, lifted_at=placed + 2 * DAY, lifted_by=MANAGER,
                              lift_reason=found)  # fmt: skip


def _near_limits(centre: Centre) -> None:
    """One part near each kind of limit, where the history did not bring one."""
    stated = centre.stated

    def ends_in(days: int, months: int) -> dt.date:
        return stated + (days + 1) * DAY - relativedelta(months=months)

    regulator = _find(centre, flaws.B1, "oxygen first stage")
    regulator.tests["service"]["done_on"] = ends_in(25, 12)
    sensor = _find(centre, flaws.B1, "carbon dioxide sensor")
    sensor.row["fixed_on"] = Marked(dt.date(2026, 7, 1), "month")
    batteries = [_find(centre, unit, f"handset {n} battery") for unit in (flaws.B6, flaws.B4, flaws.B1) for n in (1, 2)]
    battery = next((part for part in batteries if part.fitting and not part.fitting.get("fitted_by")), batteries[0])
    battery.row["made_on"] = Marked(dt.date(2022, 8, 1), "month")
    relief = _find(centre, flaws.C2, "relief valve")
    if relief.fitting and not relief.fitting.get("fitted_by"):
        relief.fitting["fitted_at"] = dt.datetime.combine(ends_in(18, 48), dt.time(10, 0))
        for key, days in (("made_on", 95), ("received_on", 20)):
            moved = ends_in(18, 48) - days * DAY
            relief.row[key] = Marked(moved, "day") if key == "made_on" else moved
        centre.units[flaws.C2].row["in_service_on"] = ends_in(18, 48)
    cell = _find(centre, flaws.B9, "cell 3")
    cell.opened = ends_in(2, 12)
    made = (cell.opened - 70 * DAY).replace(day=1)
    cell.row.update(opened_on=cell.opened, made_on=Marked(made, "month"), received_on=made + 40 * DAY, lot="L0")
    bailout = _find(centre, flaws.B4, "bailout cylinder")
    tests = [row for row in centre.sheets.rows["part_tests"] if row["part"] == bailout.record]
    for row in tests:
        if row is not bailout.tests["visual"]:
            row["done_on"] = ends_in(22, 60)
    bailout.tests["hydrostatic"]["done_on"] = ends_in(22, 60)
    bailout.tests["visual"]["done_on"] = ends_in(22, 60)
    test(centre, bailout, "visual", stated - 300 * DAY, "Test house (invented)")


def _looked_into(centre: Centre) -> None:
    """Units that stand ready were looked into and cleaned for oxygen within the year."""
    year_ago, lately = centre.stated - 330 * DAY, centre.stated - 38 * DAY
    for index in flaws.SHELF_SOUND:
        for slot in ("oxygen cylinder", "diluent cylinder", "bailout cylinder"):
            part = _find(centre, index, slot)
            if max(part.tests[kind]["done_on"] for kind in ("hydrostatic", "visual")) < year_ago:
                test(centre, part, "visual", lately, "Test house (invented)")
            if "oxygen clean" in part.tests and part.tests["oxygen clean"]["done_on"] < year_ago:
                test(centre, part, "oxygen clean", lately, "T1")


def _bailout_regulators(centre: Centre) -> None:
    """A regulator on the bailout cylinder of each unit, serviced yearly."""
    rng, tried = centre.stream("bailout regulators"), centre.stream("bailout lock-ups")
    for unit in centre.units:
        bought = centre.first - int(rng.integers(30, 300)) * DAY
        record = centre.sheets.add(
            "parts", part_type="REG-BO", serial=f"REG{70001 + unit.index:05d}",
            made_on=Marked(bought - int(rng.integers(40, 150)) * DAY, "day"), received_on=bought, owner="The centre",
            state="fitted", supplier=SUPPLIERS[unit.index % 2], price=240.0,
        )  # fmt: skip
        centre.sheets.add("fittings", part=record, unit=unit.tag, slot="bailout regulator", fitted_at=at(bought, 10))
        day = bought + int(rng.integers(1, 5)) * DAY
        while day < centre.stated - 30 * DAY:
            centre.sheets.add("part_tests", part=record, kind="service", done_on=day, passed=True, done_by="T1")
            day += int(rng.integers(300, 345)) * DAY
        for looked_at in (
            min(bought + 200 * DAY, centre.stated - 7 * DAY),
            centre.stated - int(tried.integers(8, 55)) * DAY,
        ):
            _lock_up(centre, unit.tag, record, at(looked_at, 15), float(tried.uniform(9.3, 10.1)))


def _lock_up(centre: Centre, tag: str, part: str, when: dt.datetime, bar: float) -> None:
    """A bailout regulator watched after lock-up, at a full and at a low supply."""
    for minutes, supply, value in ((0, 190.0, bar), (6, 50.0, bar - 0.2)):
        centre.sheets.add(
            "bench_tests", unit=tag, part=part, kind="intermediate pressure", at=when + minutes * MIN, person="T1",
            equipment=centre.equipment["Intermediate pressure gauge"], held=True, watched_minutes=5.0,
            value=round(value, 1), unit_of_value="bar", supply_bar=supply, result="pass",
        )  # fmt: skip


def _sealed_absorbent(centre: Centre) -> None:
    """Twelve sealed drums in the cold store, bought a few weeks ago."""
    for number in range(12):
        received = centre.stated - (9 if number < 6 else 23) * DAY
        centre.sheets.add(
            "containers", part_type="SODA-1", lot=f"SL{101 + number // 6}", received_kg=20, left_kg=20.0,
            received_on=received, last_good_day=received + 1000 * DAY, place="Cold store",
        )  # fmt: skip


def _made_before_tested(centre: Centre) -> None:
    """No part is tested before it was made: a cylinder was first tested by its maker, other parts are serviced new."""
    parts = {row["record"]: row for row in centre.sheets.rows["parts"]}
    for row in sorted(centre.sheets.rows["part_tests"], key=lambda row: row["done_on"]):
        part = parts[row["part"]]
        mark = part["made_on"]
        if mark is None or row["done_on"] >= mark.day:
            continue
        if part["part_type"].startswith("CYL"):
            part["made_on"] = Marked(row["done_on"], mark.precision)
        else:
            row["done_on"] = mark.day


def _oxygen_side(centre: Centre) -> None:
    """First stages of oxygen are cleaned at each service, and what was in a unit that flooded on the day after."""
    add, rows = centre.sheets.add, centre.sheets.rows
    types = {row["record"]: row["part_type"] for row in rows["parts"]}
    for row in [each for each in rows["part_tests"] if each["kind"] == "service" and types[each["part"]] == "REG-OX"]:
        add("part_tests", part=row["part"], kind="oxygen clean", done_on=row["done_on"], passed=True,
            done_by=row["done_by"])  # fmt: skip
    for line in [each for each in rows["hire_lines"] if each.get("flooded") and each.get("received_at")]:
        back = line["received_at"]
        for row in rows["fittings"]:
            inside = row.get("unit") == line["unit"] and row["fitted_at"] <= back <= (row.get("removed_at") or back)
            if inside and types[row["part"]] in {"CYL-OX", "REG-OX"}:
                add("part_tests", part=row["part"], kind="oxygen clean", done_on=back.date() + DAY, passed=True,
                    done_by=centre.technician(back.date() + DAY))  # fmt: skip


def _notices(centre: Centre) -> None:
    add = centre.sheets.add
    owv_lot = next(row["lot"] for row in reversed(centre.sheets.rows["parts"]) if row["part_type"] == "OWV-1")
    told = (
        ("N-2024-1", -560, "Clamp of the loop hose", "Clamps may slip when wet.", "Look at both clamps, tighten.",
         "unit type",
         "TYPE-B", None, "advise"),
        ("N-2025-1", -330, "Handset firmware 2.4", "Older firmware may freeze on the menu.", "Load firmware 2.4.",
         "part type",
         "HSET-B", None, "stop"),
        ("N-2025-2", -190, "Mark on canister lids", "Some lids lack the seating mark.", "Look for the mark.",
         "unit type",
         "TYPE-C", None, "advise"),
        ("N-2026-1", -12, "Lot of one-way valves", "Valves of one lot may curl when stored warm.",
         "Take the lot off the shelf.",
         "lot", owv_lot, None, "advise"),
    )  # fmt: skip
    for number, days, title, text, action, covers, first, last, weight in told:
        issued = centre.stated + days * DAY
        if issued < centre.first:
            continue
        add("notices", number=number, issued_on=issued, title=title, text=text, action=action,
            by_when=issued + 60 * DAY,
            weight=weight)  # fmt: skip
        add("notice_scopes", notice=number, covers=covers, first=first, last=last)
        kinds = {"TYPE-B": "TYPE-B", "HSET-B": "TYPE-B", "TYPE-C": "TYPE-C"}
        for i, unit in enumerate(centre.units):
            if kinds.get(first) == unit.kind:
                done = at(issued + (5 + i % 60) * DAY, 11, 30)
                add("notices_done", notice=number, unit=unit.tag, at=done, person=MANAGER)


def _number_tickets(centre: Centre) -> None:
    numbers: dict[int, int] = {}
    for row in sorted(centre.sheets.rows["tickets"], key=lambda row: (row["opened_at"], row["record"])):
        year = row["opened_at"].year
        numbers[year] = numbers.get(year, 0) + 1
        row.update(year=year, number=numbers[year])


def _where_units_lie(centre: Centre) -> None:
    out: set[Any] = {row["unit"] for row in centre.sheets.rows["hire_lines"] if row.get("out_at")
                           and not row.get("received_at")}  # fmt: skip
    for unit in centre.units:
        if unit.tag in out:
            unit.row["place"] = None
        elif len(centre.units) >= 14 and unit.index in flaws.ON_BENCH:
            unit.row["place"] = f"Bench {1 + flaws.ON_BENCH.index(unit.index)}"
        elif len(centre.units) >= 14 and unit.index == flaws.C5:
            unit.row["place"] = "Yearly service"
