"""Thousands of seeded typing errors in the fields of the bench, beside the same fields without ranges and history.

`python -m tests.typing_errors [--tries 2000] [--seed N]`. A hand types what instruments show, with one error a try, and
never looks up. What becomes of it: `wrong` stands complete and unasked though a figure is not what was shown, `told` is
asked about once or named as exchanged, `refused` cannot be recorded, `harmless` changed no figure. Readings, drift and
errors are invented; `without` is what the same fields do when every range, last figure and look for exchanges is off.
"""

import argparse
import math
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication

from fleetbench.calc.cells.readings import CellLimits
from fleetbench.calc.core.exchanged import misplaced
from fleetbench.calc.core.plausible import (
    BATTERY,
    EMPTY_MASS,
    FILLED_MASS,
    GAUGE,
    ROOM_PRESSURE,
    ROOM_TEMPERATURE,
    SUPPLY,
    Quantity,
    battery_usual,
)
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.figure import FigureField, FigureRule, air_rule, oxygen_rule

KINDS = (
    "ten times too small", "ten times too large", "digits swapped", "digit missing", "digit twice",
    "two exchanged", "two handsets exchanged", "a line out", "Enter twice",
)  # fmt: skip
WORDS = ("wrong", "told", "refused", "harmless")
CELLS, HANDSETS = ("cell 1", "cell 2", "cell 3"), ("handset 1", "handset 2")
PLAIN: tuple[tuple[Quantity, float, float, int], ...] = (
    (ROOM_PRESSURE, 1013.0, 2.0, 1), (ROOM_TEMPERATURE, 21.0, 2.0, 1), (BATTERY, 3.95, 0.1, 2), (BATTERY, 3.7, 0.1, 2),
    (GAUGE, 9.8, 0.3, 1), (SUPPLY, 180.0, 25.0, 0), (FILLED_MASS, 3120.0, 40.0, 0), (EMPTY_MASS, 640.0, 5.0, 0),
)  # fmt: skip
"""Quantity, usual figure, how far it moves from one time to the next, and places after the point."""


@dataclass(frozen=True)
class Screen:
    """What is shown and what was shown the last time, in the order of typing, and what is typed."""

    shown: tuple[float, ...]
    last: tuple[float, ...]
    typed: tuple[str, ...]
    is_grid: bool
    point: str = "air"


def screen(rng: random.Random, kind: str) -> Screen:
    """One screen with one error of this kind: six readings of a head, or the single figures of the bench."""
    is_grid = kind in ("two handsets exchanged", "a line out", "Enter twice") or rng.random() < 0.5
    point = rng.choice(("air", "oxygen"))
    if is_grid:
        factor = 1.0 if point == "air" else 4.78
        outputs = [rng.uniform(9.0, 11.5) * factor for _ in CELLS]
        gain = 1.0 + rng.uniform(-0.02, 0.02)
        last = tuple(round(each * of, 1) for of in (1.0, gain) for each in outputs)
        aged = [rng.uniform(0.985, 1.0) for _ in CELLS]
        room = rng.uniform(0.985, 1.015)
        now = [each * age * room for each, age in zip(outputs, aged, strict=True)]
        shown = tuple(round(each * of, 1) for of in (1.0, gain) for each in now)
        digits = [f"{each:.1f}".replace(".", "") for each in shown]
    else:
        last = tuple(round(usual + rng.uniform(-drift, drift), places) for _, usual, drift, places in PLAIN)
        moved = zip(last, PLAIN, strict=True)
        shown = tuple(round(was + rng.uniform(-drift, drift), places) for was, (_, _, drift, places) in moved)
        digits = [f"{each:.{places}f}" for each, (*_, places) in zip(shown, PLAIN, strict=True)]
    return Screen(shown, last, tuple(_mistyped(rng, kind, shown, digits, is_grid)), is_grid, point)


def _mistyped(rng: random.Random, kind: str, shown: Sequence[float], digits: list[str], is_grid: bool) -> list[str]:
    at = rng.randrange(len(digits))
    own = digits[at]
    places = len(own.partition(".")[2]) if not is_grid else 1
    match kind:
        case "ten times too small":
            digits[at] = f"{shown[at] / 10:.{places + 1}f}" if not is_grid else f"{shown[at] / 10:.1f}"
        case "ten times too large":
            digits[at] = f"{shown[at] * 10:.{max(places - 1, 0)}f}" if not is_grid else f"{shown[at] * 10:.1f}"
        case "digits swapped":
            place = rng.randrange(len(own) - 1)
            digits[at] = own[:place] + own[place + 1] + own[place] + own[place + 2 :]
        case "digit missing":
            place = rng.randrange(len(own))
            digits[at] = own[:place] + own[place + 1 :]
        case "digit twice":
            place = rng.randrange(len(own))
            digits[at] = own[:place] + own[place] + own[place:]
        case "two exchanged":
            pair = rng.sample(range(3), 2) if is_grid else rng.choice(([2, 3], [6, 7]))
            digits[pair[0]], digits[pair[1]] = digits[pair[1]], digits[pair[0]]
        case "two handsets exchanged":
            digits = [*digits[3:], *digits[:3]]
        case "a line out":
            digits[:3] = [digits[1], digits[2], digits[2]]
        case "Enter twice":
            digits[at] = own + "\r"
    return digits


def outcome(seen: Screen, *, checked: bool) -> str:
    """What becomes of a screen, with the program's checks or without any."""
    return _of_grid(seen, checked) if seen.is_grid else _of_plain(seen, checked)


def _free(quantity: Quantity) -> Quantity:
    return replace(quantity, low=-1e12, high=1e12, usual=None, step=None, ratio=None)


def _of_plain(seen: Screen, checked: bool) -> str:
    wrong = told = refused = False
    for (quantity, *_), shown, last, typed in zip(PLAIN, seen.shown, seen.last, seen.typed, strict=True):
        field = DecimalField(quantity.name, quantity=quantity if checked else _free(quantity))
        if checked:
            usual = battery_usual(3.5) if quantity is BATTERY else None
            field.expect(last=last, hours=4.0, usual=usual)
        _press(field, typed)
        try:
            value = field.settle()
        except Refused as refusal:
            told, refused = True, refused or "outside" in str(refusal) or "not a figure" in str(refusal)
        else:
            wrong |= value != shown
    return "refused" if refused else "told" if told else "wrong" if wrong else "harmless"


def _of_grid(seen: Screen, checked: bool) -> str:
    rule: FigureRule = (air_rule if seen.point == "air" else oxygen_rule)(0.1, CellLimits())
    if not checked:
        rule = replace(rule, low=-math.inf, high=math.inf, quantity=_free(rule.quantity))
    fields = [FigureField(rule, f"{cell} on {handset}") for handset in HANDSETS for cell in CELLS]
    asked: dict[int, str] = {}
    here = 0

    def move_on() -> None:
        nonlocal here
        here = min(here + 1, len(fields) - 1)

    def lead_on(place: int) -> None:
        if place + 1 >= len(fields) or not fields[place + 1].is_filled:
            move_on()

    for place, field in enumerate(fields):
        field.last = seen.last[place] if checked else None
        field.asked.connect(partial(asked.__setitem__, place))
        field.entered.connect(partial(lead_on, place))
        field.passed.connect(move_on)
    for typed in seen.typed:
        for key in f"{typed}\r":
            _press(fields[here], key)
    values = [field.value for field in fields]
    if any(asked.values()) or any(field.is_open or not field.is_filled for field in fields):
        return "refused" if any("outside" in line for line in asked.values()) else "told"
    if checked:
        names = [(cell, handset) for handset in HANDSETS for cell in CELLS]
        given = {name: value for name, value in zip(names, values, strict=True) if value is not None}
        if misplaced(given, dict(zip(names, seen.last, strict=True)), "mV"):
            return "told"
    return "harmless" if values == list(seen.shown) else "wrong"


def _press(field: DecimalField | FigureField, keys: str) -> None:
    for key in keys:
        code = Qt.Key.Key_Return if key == "\r" else Qt.Key(ord(key))
        field.keyPressEvent(QKeyEvent(QEvent.Type.KeyPress, code, Qt.KeyboardModifier.NoModifier, key))


def run(tries: int, seed: int) -> dict[str, tuple[Counter[str], Counter[str]]]:
    """By kind of error: what became of the same tries with the program's checks and without."""
    rng = random.Random(seed)
    found: dict[str, tuple[Counter[str], Counter[str]]] = {kind: (Counter(), Counter()) for kind in KINDS}
    for number in range(tries):
        kind = KINDS[number % len(KINDS)]
        seen = screen(rng, kind)
        found[kind][0][outcome(seen, checked=True)] += 1
        found[kind][1][outcome(seen, checked=False)] += 1
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20_261_129)
    given = parser.parse_args()
    application = QApplication.instance() or QApplication(["typing", "-platform", "offscreen"])
    found = run(given.tries, given.seed)
    heads = "".join(f"{word:>10}" for word in WORDS)
    print(f"{'':24}{heads}   without: {heads}")
    both = [sum((each[place] for each in found.values()), Counter()) for place in (0, 1)]
    for kind, counts in (*found.items(), ("all", both)):
        checked, bare = ("".join(f"{of[word]:>10}" for word in WORDS) for of in counts)
        print(f"{kind:24}{checked}            {bare}")
    del application


if __name__ == "__main__":
    main()
