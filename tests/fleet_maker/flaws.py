"""What is hidden in the invented centre, unit by unit, as days before (minus) or after the stated day.

The readme of the sample fleet tells the same list in words.
"""

import datetime as dt
from typing import Any

from tests.fleet_maker.catalogue import B, C
from tests.fleet_maker.centre import DAY, STATED_DAY
from tests.fleet_maker.season import Booked
from tests.fleet_maker.weather import TROPICAL_DAY

B1, B2, B3, B4, B5, B6, B7, B8, B9, C1, C2, C3, C4, C5 = range(14)
SHELF_SOUND = (B1, B4, B6, C4)
ON_BENCH = (B5, B7)


def day(days: int) -> dt.date:
    """So many days after the stated day."""
    return STATED_DAY + days * DAY


# unit, kind, unit type, first day, last day
FORCED_LINES = (
    (B2, "hire", B, -3, 3),
    (B3, "hire", B, -9, -3),
    (B5, "hire", B, -9, -4),
    (B7, "hire", B, -10, -4),
    (B8, "hire", B, -10, -6),
    (B9, "hire", B, -2, 4),
    (C1, "try day", C, -2, -2),
    (C2, "hire", C, -2, 1),
    (C3, "hire", C, -9, -5),
)
# Spans in which no other booking may take the unit.
BLOCKED: dict[int, list[tuple[int, int]]] = {
    B1: [(-4, 1)], B2: [(-4, 5)], B3: [(-10, 1)], B4: [(-5, 1)], B5: [(-10, 8)], B6: [(-4, 2)], B7: [(-11, 8)],
    B8: [(-11, 3)], B9: [(-4, 6)], C1: [(-4, 1)], C2: [(-4, 3)], C3: [(-10, 3)], C4: [(-4, 2)], C5: [(-11, 9)],
}  # fmt: skip


def forced_bookings() -> list[Booked]:
    """Bookings that the story needs."""
    return [
        Booked(kind, unit_type, day(start), day(end), 1, forced=(unit,), planned_minutes=80, depth=20)
        for unit, kind, unit_type, start, end in FORCED_LINES
    ]


def blocked() -> dict[int, list[tuple[dt.date, dt.date]]]:
    """Days on which the story needs a unit in the workplace."""
    spans = {unit: [(day(a), day(b)) for a, b in each] for unit, each in BLOCKED.items()}
    for unit in (B4, C1):
        spans[unit].append((TROPICAL_DAY - 2 * DAY, TROPICAL_DAY))
    return spans


def order_on_bench(unit: int, when: dt.date) -> int:
    """On the day of the shared fault a sound head comes first, to compare with, then the suspects beside it."""
    if when != day(-3):
        return 0
    return 0 if unit == B6 else 1 if unit in ON_BENCH else 2


def extra_visits() -> list[tuple[int, dt.date]]:
    """Bench days that no hand-back asks for."""
    visits = [(unit, day(-3)) for unit in SHELF_SOUND] + [(C5, day(-10)), (B4, TROPICAL_DAY), (C1, TROPICAL_DAY)]
    return sorted(visits, key=lambda each: each[1])


def wants(unit: int, when: dt.date) -> dict[str, Any]:
    """What must happen on a bench day that is fixed by date."""
    fixed: dict[tuple[int, dt.date], dict[str, Any]] = {
        (B5, day(-3)): {
            "fail": {"cell 2": ("current-limited", 1.43, 85, 12)}, "leave open": True, "pot": True, "complete": True,
            "reason": ("hand-back", "Renter saw cell 2 lag behind the others above 1.2 bar"),
        },
        (B7, day(-3)): {
            "fail": {f"cell {n}": ("not linear", 1.02 + 0.006 * n, 16, 1) for n in (1, 2, 3)}, "leave open": True,
            "compare": True, "complete": True, "reason": ("failed test", "All three cells short in oxygen"),
        },
        (B8, day(-5)): {"calibration": {"bad_contact": (1, 1, 0.90)}, "complete": True},
        (C3, day(-4)): {
            "fail": {"cell 1": ("not linear", 1.092, 40, 6)}, "calibration": {"vented": "no", "over_mbar": 30.0},
            "complete": True,
        },
        (C5, day(-10)): {"creeping regulator": True, "reason": ("by hand", "Oxygen first stage heard hissing")},
        (B4, TROPICAL_DAY): {
            "fail and replace": {"cell 3": ("not linear", 1.05)}, "complete": True,
            "keep": ("cell 1", "cell 2", "cell 3"),
        },
        (C1, TROPICAL_DAY): {"complete": True},
    }  # fmt: skip
    return fixed.get((unit, when), {})


# The first visit on or after this day gets this, once.
FLOATING: tuple[tuple[int, int, dict[str, Any]], ...] = (
    (B7, -265, {"one lot": True}),
    (B5, -118, {"pot": True}),
    (B8, -330, {"new head": True}),
    (B2, -290, {"spare head": True}),
    (C4, -45, {"calibration": {"air_left": 0.05, "note": "Flushed in a hurry"}, "again": True, "complete": True}),
    (B6, -60, {"leaking valve": "exhale one-way valve"}),
    (B6, -5, {"put off": "Replace a scratched harness buckle"}),
    (B1, -400, {"failed parts": (("loop hoses", "Inhale hose chafed through at the elbow"),)}),
)
# No chance failures of cells this near the end: the story needs these heads as they are.
STEADY_FROM = day(-140)
