"""Hundreds of typing errors at the grid of a head, drawn by a seeded generator: how many stand there unseen.

An error is silent where the grid stands complete, the last word on the page asks nothing, and yet a figure is not what
the handset showed. Errors that make another ordinary figure (neighbours swapped within a tenth or so, one cell's figure
for another's) cannot be seen by any rule about single figures; they are counted and bounded, not denied.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from fleetbench.calc.cells.readings import CellLimits
from fleetbench.window.cells.grid import ReadingGrid
from fleetbench.window.forms.figure import air_rule, oxygen_rule
from fleetbench.window.look.theme import Theme
from fleetbench.workshop.cells.plan import CalibrationPlan, CellPosition, ReaderDisplay, ReaderFacts
from tests.typing_errors import run

TRIES = 16
SEED = 20_261_128
SLOTS, READERS = (1, 2, 3), (7, 8)
ENTER = "\r"


@dataclass(frozen=True)
class Typed:
    """What a handset showed of six cells, and the keys of a hand that mistyped the place-th of them."""

    shown: tuple[float, ...]
    keys: str


def plan_of() -> CalibrationPlan:
    """A head of three cells, never calibrated, on two handsets that show tenths of a millivolt."""
    return CalibrationPlan(
        unit_id=1, tag="LK-01", unit_type="invented", head=None, flush=None, session=None, last_id=None, last_at=None,
        warnings=(),
        positions=tuple(
            CellPosition(
                slot_id=slot, name=f"cell {slot}", part_id=slot, cell=f"C-{slot}", lot=None, part_type_id=None,
                part_type=None, fitted_at=None, limits=CellLimits(), last=None,
            )
            for slot in SLOTS
        ),
        readers=tuple(ReaderFacts(reader, f"handset {reader}", "handset", 0.1) for reader in READERS),
        matrix={(reader, slot): ReaderDisplay("mV", 0.1) for reader in READERS for slot in SLOTS},
    )  # fmt: skip


def digits(value: float) -> str:
    return f"{value:.1f}".replace(".", "")


def mistyped(rng: random.Random, kind: str, point: str, *, enter: bool) -> Typed:
    """Six sound figures typed down the grid with one error of this kind; enter: with Enter after each."""
    low, high = (9.0, 11.5) if point == "air" else (44.0, 54.0)
    shown = tuple(round(rng.uniform(low, high), 1) for _ in range(6))
    place = rng.randrange(6)
    typed = [digits(value) for value in shown]
    if kind == "ten times too small":
        typed[place] = f"{shown[place] / 10:.1f}"
    elif kind == "ten times too large":
        typed[place] = f"{shown[place] * 10:.1f}"
    elif kind == "missing digit":
        typed[place] = typed[place][:-1]
    elif kind == "digit twice":
        at = rng.randrange(len(typed[place]))
        typed[place] = typed[place][:at] + typed[place][at] + typed[place][at:]
    elif kind == "neighbours swapped":
        at = rng.randrange(len(typed[place]) - 1)
        sign = list(typed[place])
        sign[at], sign[at + 1] = sign[at + 1], sign[at]
        typed[place] = "".join(sign)
    after = [ENTER if enter else ""] * 6
    if kind == "Enter twice":
        after[place] = ENTER * 2
    if kind == "Enter left out":
        after[place] = ""
    return Typed(shown, "".join(figure + end for figure, end in zip(typed, after, strict=True)))


def press(keys: str) -> None:
    for key in keys:
        target = QApplication.focusWidget()
        assert isinstance(target, QWidget)
        if key == ENTER:
            QTest.keyClick(target, Qt.Key.Key_Return)
        else:
            QTest.keyClicks(target, key)


def silent(grid: ReadingGrid, typed: Typed) -> bool:
    """Whether the grid stands complete with a figure that the handset did not show."""
    asked: list[str] = []
    grid.asked.connect(asked.append)
    grid.show_figures({})
    grid.focus_first()
    press(typed.keys)
    grid.asked.disconnect(asked.append)
    told = not grid.is_complete or bool(asked and asked[-1])
    stands = [grid.fields[slot, reader].value for reader in READERS for slot in SLOTS]
    return not told and stands != list(typed.shown)


@pytest.fixture
def grids(qtbot: QtBot, theme: Theme) -> Iterator[dict[str, ReadingGrid]]:
    """An air and an oxygen grid of three cells on two handsets, each on view with the keyboard."""
    window = QWidget()  # held here while the grids are used
    qtbot.addWidget(window)
    made = {
        "air": ReadingGrid(theme, plan_of(), "air", air_rule, parent=window),
        "oxygen": ReadingGrid(theme, plan_of(), "oxygen", oxygen_rule, parent=window),
    }
    made["oxygen"].move(0, 400)
    window.resize(1000, 800)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    yield made
    window.hide()


@pytest.mark.parametrize("enter", [True, False], ids=["with Enter", "without"])
@pytest.mark.parametrize("point", ["air", "oxygen"])
@pytest.mark.parametrize(
    ("kind", "most"),
    [
        ("none", 0), ("ten times too small", 0), ("ten times too large", 0), ("Enter twice", 0),
        ("Enter left out", 0), ("missing digit", 0), ("digit twice", 0), ("neighbours swapped", 13),
    ],
)  # fmt: skip
def test_typing_errors_that_stand_unseen(
    grids: dict[str, ReadingGrid], kind: str, most: int, point: str, enter: bool
) -> None:
    rng = random.Random(f"{SEED} {kind} {point} {enter}")
    tries = [mistyped(rng, kind, point, enter=enter) for _ in range(TRIES)]
    unseen = sum(silent(grids[point], each) for each in tries)
    assert unseen <= most


def test_ranges_and_history_take_most_wrong_figures_out_of_the_record(qapp: QApplication) -> None:
    """The short form of `python -m tests.typing_errors`, which tells every kind of error apart."""
    found = run(180, SEED).values()
    wrong, without = (sum(each[place]["wrong"] for each in found) for place in (0, 1))
    right = sum(with_["harmless"] for with_, _ in found)
    assert without > 100 and wrong < without / 2 and right >= sum(bare["harmless"] for _, bare in found)
