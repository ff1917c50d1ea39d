"""The schematic on the screen: every slot can be reached and opened by keys, hovered, and told without colour."""

from typing import Any

import pytest
from PySide6.QtCore import QRect, Qt

from fleetbench.window.look.marks import mark_for
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units.schematic import SIZES, SchematicView
from fleetbench.workshop.units.schematic import Schematic, Station, arranged, planned
from tests.workshop.units.test_schematic import ODD, placed

MANY = (
    *ODD, *((0, f"odd thing {n}", "odd thing", 10 + n, False) for n in range(14)),
    (0, "oxygen cylinder", "oxygen cylinder", None, True), (0, "oxygen first stage", "oxygen first stage", None, True),
    (0, "solenoid", "solenoid", None, True), (0, "diluent cylinder", "diluent cylinder", None, False),
    (0, "bailout cylinder", "bailout cylinder", None, False), (0, "handset 1", "handset", None, False),
)  # fmt: skip


@pytest.fixture
def view(theme: Theme, qtbot: Any) -> SchematicView:
    made = SchematicView(theme, arranged("U-1", placed(*MANY)))
    qtbot.addWidget(made)
    made.resize(1300, 500)
    made.show()
    made.activateWindow()
    qtbot.waitUntil(made.isActiveWindow)
    return made


def test_every_slot_has_a_button_with_a_name_and_a_tip(view: SchematicView) -> None:
    drawn = list(arranged("U-1", placed(*MANY)).stations())
    assert [button.station.slot_id for button in view.body.buttons] == [each.slot_id for each in drawn]
    for button in view.body.buttons:
        assert button.station.slot in button.accessibleName()
        assert button.station.state in button.toolTip()


def test_no_two_slots_lie_on_one_another_on_any_sheet() -> None:
    for columns in (99, 11, 5, 1):
        plan = planned(arranged("U-1", placed(*MANY)), SIZES.__class__(100, 60, 20, 30, 30, columns))
        boxes = [QRect(round(b.x), round(b.y), round(b.wide), round(b.bottom - b.y)) for b in plan.boxes]
        for number, box in enumerate(boxes):
            assert not any(box.intersects(other) for other in boxes[number + 1 :])
            assert box.bottom() <= plan.high + 1


def test_arrow_keys_walk_along_the_loop_and_down_to_the_gas_side(view: SchematicView, qtbot: Any) -> None:
    view.body.buttons[0].setFocus()
    walked = [view.body.focusWidget().station.slot]
    for _step in range(5):
        qtbot.keyClick(view.body.focusWidget(), Qt.Key.Key_Right)
        walked.append(view.body.focusWidget().station.slot)
    assert walked == [
        "mouthpiece",
        "exhale one-way valve",
        "exhale counterlung",
        "canister",
        "second scrubber fan",
        "head",
    ]
    qtbot.keyClick(view.body.focusWidget(), Qt.Key.Key_Down)
    assert view.body.focusWidget().station.slot.startswith("cell")
    qtbot.keyClick(view.body.focusWidget(), Qt.Key.Key_Down)
    assert view.body.focusWidget().station.slot == "solenoid"
    qtbot.keyClick(view.body.focusWidget(), Qt.Key.Key_Left)
    assert view.body.focusWidget().station.slot == "oxygen first stage"


def test_every_slot_can_be_reached_by_arrow_keys(view: SchematicView, qtbot: Any) -> None:
    reached, to_try = set(), [view.body.buttons[0]]
    while to_try:
        here = to_try.pop()
        if here in reached:
            continue
        reached.add(here)
        for key in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down):
            here.setFocus()
            qtbot.keyClick(here, key)
            to_try.append(view.body.focusWidget())
    assert reached == set(view.body.buttons)


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Space])
def test_a_key_opens_the_part(view: SchematicView, qtbot: Any, key: Qt.Key) -> None:
    button = view.body.button("solenoid")
    with qtbot.waitSignal(view.place_requested) as opened:
        qtbot.keyClick(button, key)
    assert opened.args == [PageKey("parts", str(button.station.part_id))]


def test_one_slot_at_a_time_takes_part_in_the_tab_order(view: SchematicView, qtbot: Any) -> None:
    def stops() -> list[str]:
        return [b.station.slot for b in view.body.buttons if b.focusPolicy() & Qt.FocusPolicy.TabFocus]

    assert stops() == ["mouthpiece"]
    view.body.buttons[0].setFocus()
    qtbot.keyClick(view.body.buttons[0], Qt.Key.Key_Right)
    assert stops() == ["exhale one-way valve"]


def test_a_state_shows_in_the_picture_by_shape_and_not_by_colour_alone(theme: Theme, qtbot: Any) -> None:
    pictures = []
    for state in ("good", "failed"):
        one = Station(1, "head", "head", 1, "S-1", state, "")
        shown = SchematicView(theme, Schematic("U-1", (one,), (), ()))
        qtbot.addWidget(shown)
        picture = shown.body.buttons[0].grab().toImage()
        ground = picture.pixelColor(3, 3).lightness()
        box = QRect(8, picture.height() - 24, 13, 20)
        pictures.append({
            (x, y) for x in range(box.left(), box.right()) for y in range(box.top(), box.bottom())
            if abs(picture.pixelColor(x, y).lightness() - ground) > 60
        })  # fmt: skip
    assert len(pictures[0] ^ pictures[1]) > 30, "the outlines differ in plain light and dark"
    assert mark_for("good").shape is not mark_for("failed").shape


def test_an_empty_type_draws_nothing_and_does_not_fall_over(theme: Theme, qtbot: Any) -> None:
    shown = SchematicView(theme, Schematic("U-1", (), (), ()))
    qtbot.addWidget(shown)
    assert shown.body.buttons == []
