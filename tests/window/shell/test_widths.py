"""What is cut off is noticed, and views have room for the longest text that any language has of each sentence.

Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, 1.4.10 reflow. Every scene in every language, at both
sizes: `python -m tests.gallery.figures`.
"""

import shutil
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QLabel, QWidget

from fleetbench.calc.core.languages import language, reading
from fleetbench.window.look.buttons import ChoiceBox, ElidedButton, put_hint, search_field
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.pictures import sign_in, wait_until
from tests.gallery.languages import longest
from tests.gallery.scenes import SCENES
from tests.gallery.widths import faults_of_width, faults_on_screens

LOOKED_AT = ("units", "cells", "orders", "bench_loop", "place_new")
"""Pages and a form that once were too wide or cut off in another language."""


def test_of_every_sentence_the_longest_is_taken() -> None:
    reader, texts = longest(), [language(code).say("Columns") for code in ("de", "es", "fr")]
    assert reader.say("Columns") == max(("Columns", *texts), key=len)
    assert len(set(texts)) == 3


def test_what_is_cut_off_is_noticed_and_what_a_tool_tip_tells_whole_is_not(theme: Theme, qtbot: Any) -> None:
    room = QWidget()
    qtbot.addWidget(room)
    label, button, box = QLabel("Kübra Lindqvarn", room), ElidedButton("Kübra Lindqvarn", room), ChoiceBox(room)
    field = search_field("Find", "Filter: any words", room)
    box.addItem("Back-mounted unit of an invented type")
    for number, each in enumerate((label, button, box, field)):
        each.setGeometry(0, 40 * number, 60, 36)
    room.resize(400, 200)
    room.show()
    assert faults_of_width("room", room) == ["room: QLabel 'Kübra Lindqvarn' is wider than its place"]
    label.setToolTip("Kübra Lindqvarn")
    assert faults_of_width("room", room) == []
    button.setToolTip("another")
    field.setToolTip("")
    assert len(faults_of_width("room", room)) == 2
    button.setToolTip("")
    button.resize(300, 36)
    put_hint(field, "any", whole=True)
    assert faults_of_width("room", room) == []


def test_pages_have_room_for_the_longest_text_of_any_language_on_small_screens(
    sample_of_today: Path, tmp_path: Path, qtbot: Any
) -> None:
    database = shutil.copy(sample_of_today, tmp_path / "fleet.sqlite")
    wrong = []
    with reading(longest()):
        desk = Desk(partial(open_records, str(database)), "light")
        desk.window.resize(1280, 800)
        desk.window.show()
        wait_until(lambda: desk.window.here.page != "start")
        sign_in(desk)
        for scene in (each for each in SCENES if each.name in LOOKED_AT):
            widget = scene.arrange(desk)
            wrong += faults_on_screens(scene.name, widget, desk.window)
            if widget is not desk.window:
                widget.close()
        desk.close()
        desk.window.deleteLater()
        desk.deleteLater()
        qtbot.wait(1)
    assert wrong == []
