"""Parts as they are bought, fitted and taken out, each with the marks that its lives hang on."""

import datetime as dt

from tests.fleet_maker import catalogue
from tests.fleet_maker.centre import DAY, Centre, Part, Unit
from tests.fleet_maker.sensing import make_cell
from tests.fleet_maker.sheets import Marked

MONTH_MARKED = {"CELL-A", "CELL-C", "BATT-1", "SOLN-1", "HSET-B", "HSET-C", "CO2S-1"}
QUARTER_MARKED = {"OWV-1", "LUNG-B", "LUNG-C", "HOSE-1"}
BY_LOT = {"CELL-A", "CELL-C", "OWV-1", "MPC-1"}
SERVICE_TESTS = {
    code: [
        test
        for _, basis, _, _, test, _ in (life for life in catalogue.LIVES if life[0] == code)
        if basis == "test_interval"
    ]
    for code in catalogue.PART_TYPES
}
CYLINDERS = {"CYL-OX": ("oxygen", 3, 200), "CYL-DI": ("diluent", 3, 232), "CYL-BO": ("bailout", 7, 232)}
SUPPLIERS = ("Supplier North (invented)", "Supplier South (invented)")


def new_part(
    centre: Centre, code: str, received: dt.date, *, made: dt.date | None = None, lot: str | None = None
) -> Part:
    """A part as it comes from a supplier, in stock."""
    rng = centre.parts_rng
    number = centre.serials[code] = centre.serials.get(code, int(rng.integers(1, 90)) * 10) + 1
    made = made or received - int(rng.integers(25, 150)) * DAY
    if code in QUARTER_MARKED:
        made = made.replace(month=3 * ((made.month - 1) // 3) + 1, day=1)
    elif code in MONTH_MARKED:
        made = made.replace(day=1)
    mark = Marked(made, "quarter" if code in QUARTER_MARKED else "month" if code in MONTH_MARKED else "day")
    fixed = None
    if code == "CO2S-1":
        fixed = (received + int(rng.integers(500, 760)) * DAY).replace(day=1)
    price = catalogue.PART_TYPES[code][7]
    row = centre.sheets.row(
        "parts", part_type=code, serial=None if code in {"OWV-1", "MPC-1"} else f"{code.partition('-')[0]}{number:05d}",
        lot=lot or (f"{code[:3]}{received:%y%m}" if code in BY_LOT else None), made_on=mark, received_on=received,
        fixed_on=Marked(fixed, "month") if fixed else None, owner="The centre", place="Parts cabinet", state="stock",
        firmware="2.4" if code.startswith("HSET") else None, supplier=SUPPLIERS[number % 2], price=price,
    )  # fmt: skip
    part = Part(row, code, made=made, fixed=fixed)
    if code in CYLINDERS:
        role, size, bar = CYLINDERS[code]
        centre.sheets.row(
            "cylinders", part=part.record, role=role, size_l=size, working_bar=bar, marking=f"{role.upper()} {number}",
            material="steel" if number % 3 else "aluminium",
        )  # fmt: skip
    if code.startswith("CELL"):
        part.cell = len(centre.cells)
        centre.cells.append(make_cell(part.record, received, rng))
    return part


def cell_lot(centre: Centre, code: str, received: dt.date, size: int | None = None) -> None:
    """A new lot of 6 to 12 cells on the shelf, or of the size given."""
    rng = centre.parts_rng
    number = centre.lots[code] = centre.lots.get(code, 40) + 1
    made = received - int(rng.integers(20, 75)) * DAY
    lot = f"L{code[-1]}{number}"
    drawn = int(rng.integers(6, 10)) if code == "CELL-A" else 6
    size = size or (drawn if centre.share <= 2 else 12)
    for _ in range(size):
        centre.stock.setdefault(code, []).append(new_part(centre, code, received, made=made, lot=lot))


def take_cell(centre: Centre, code: str, day: dt.date) -> Part:
    """The oldest cell on the shelf that is not too old to open; a new lot is bought when the shelf runs low."""
    shelf = centre.stock.setdefault(code, [])
    while len(shelf) < (4 if code == "CELL-A" else 2):
        cell_lot(centre, code, day - int(centre.parts_rng.integers(3, 20)) * DAY)
    for part in list(shelf):
        if part.made and (day - part.made).days > 300:
            shelf.remove(part)
            part.row.update(state="scrapped", place="Quarantine box")
            return take_cell(centre, code, day)
    return shelf.pop(0)


def test(centre: Centre, part: Part, kind: str, day: dt.date, by: str) -> None:
    """Record a periodic test or service of a part; a hydrostatic test brings its visual with it."""
    kinds = ("hydrostatic", "visual") if kind == "hydrostatic" else (kind,)
    for each in kinds:
        part.tests[each] = centre.sheets.row(
            "part_tests", part=part.record, kind=each, done_on=day, passed=True, done_by=by
        )


def fit(centre: Centre, unit: Unit, host: Part | None, slot: str, part: Part, when: dt.datetime, by: str | None,
        ticket: str | None = None) -> None:  # fmt: skip
    """Put a part into a slot of a unit, or of a part that holds parts."""
    (unit.slots if host is None else host.inner)[slot] = part
    part.fitted = when
    part.row.update(state="fitted", place=None)
    part.fitting = centre.sheets.row(
        "fittings", part=part.record, unit=unit.tag if host is None else None, host_part=host.record if host else None,
        slot=slot, fitted_at=when, fitted_by=by, ticket=ticket,
    )  # fmt: skip


def open_cell(centre: Centre, part: Part, day: dt.date) -> None:
    """A cell's bag is opened: its second life begins."""
    part.opened = day
    part.row["opened_on"] = day
    assert part.cell is not None
    from tests.fleet_maker.sensing import day_number

    centre.cells[part.cell].opened = day_number(day)


def remove(centre: Centre, part: Part, when: dt.datetime, by: str, why: str, ticket: str | None,
           state: str = "scrapped",
           place: str = "Quarantine box") -> None:  # fmt: skip
    """Take a part out of its slot for good or for a while."""
    assert part.fitting is not None
    part.fitting.update(removed_at=when, removed_by=by, why_removed=why, removal_ticket=ticket)
    part.row.update(state=state, place=place)


def first_outfit(centre: Centre, unit: Unit) -> None:
    """Fit a unit as it was when this history began, its parts of all ages."""
    rng = centre.parts_rng
    for name, code, *_rest in catalogue.UNIT_SLOTS[unit.kind]:
        part = _aged(centre, unit, None, name, code)
        for inner_name, inner_code, *_ in catalogue.ASSEMBLY_SLOTS.get(code, ()):
            _aged(centre, unit, part, inner_name, inner_code)
    readers = len(catalogue.READERS[unit.kind])
    unit.offsets = tuple(float(x) for x in rng.uniform(-0.04, 0.04, readers).round(3))


def _aged(centre: Centre, unit: Unit, host: Part | None, slot: str, code: str) -> Part:
    rng = centre.parts_rng
    lives = centre.lives.get(code, [])
    months = min((amount for basis, amount, _ in lives if basis in {"made", "opened", "fitted",
                                                                    "fixed_date"} and amount),
                 default=40)  # fmt: skip
    age = int(rng.uniform(0.05, 0.8) * min(months, 40) * 30)
    day = centre.first - (age + 2) * DAY
    part = new_part(centre, code, day - int(rng.integers(3, 30)) * DAY, made=day - int(rng.integers(40, 120)) * DAY,
                    lot=f"L{code[-1]}{int(rng.integers(20, 39))}" if code.startswith("CELL") else None)  # fmt: skip
    if part.fixed:
        part.fixed = (centre.first + int(rng.integers(60, 700)) * DAY).replace(day=1)
        part.row["fixed_on"] = Marked(part.fixed, "month")
    if part.cell is not None:
        open_cell(centre, part, day)
    fit(centre, unit, host, slot, part, dt.datetime.combine(day, dt.time(10, 0)), None)
    for kind in SERVICE_TESTS[code]:
        interval = next(amount for basis, amount, which in lives if basis == "test_interval" and which == kind)
        if kind != "visual" or "visual" not in part.tests:
            test(
                centre,
                part,
                kind,
                centre.first - int(rng.uniform(0.03, 0.9) * interval * 30) * DAY,
                "before this history",
            )
    return part
