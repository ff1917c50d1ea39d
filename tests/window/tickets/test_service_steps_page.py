"""A yearly service worked by keys: every step with its evidence, one left out, signed, and how it then stands."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.records.tickets.tables import Ticket
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.places.forms import correct_form
from fleetbench.window.shell.background import Background
from fleetbench.window.tickets.work import TicketWorkPage
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.places.register import register_rows
from fleetbench.workshop.tickets.page import add_minutes
from fleetbench.workshop.tickets.service_plan import service_lines
from tests.centres.stepped_service import SteppedService
from tests.window.bench_keys import CountedKeys


class Walk:
    """The ticket's page of the stepped service, and the keys that are pressed there."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, bench: SteppedService) -> None:
        self.qtbot, self.background, self.bench = qtbot, background, bench
        self.ticket = bench.open()
        background.signed_in.choose(bench.technician)
        place = background.signed_in.at(bench.workplace)
        self.page = TicketWorkPage(theme, background, place, ZoneInfo("Europe/Berlin"))
        qtbot.addWidget(self.page)
        self.page.resize(1088, 748)
        with qtbot.waitExposed(self.page):
            self.page.show()
        self.page.activateWindow()
        with qtbot.waitSignal(self.page.opened):
            self.page.open_number("2026-001")
        self.settle()

    def settle(self) -> None:
        """Wait until nothing is on its way."""
        self.qtbot.waitUntil(lambda: not self.background.is_busy)
        QApplication.processEvents()

    def step(self, *keys: str, leave_out: bool = False) -> None:
        """Press the one key of the next step, then what its form asks for, and Enter on its button."""
        QTest.keyClick(self.page, Qt.Key.Key_Slash if leave_out else Qt.Key.Key_F8)
        if keys:
            dialog = next(each for each in self.page.findChildren(FormDialog) if each.isVisible())
            self.qtbot.waitUntil(lambda: dialog.isActiveWindow() and dialog.isAncestorOf(QApplication.focusWidget()))
            with self.qtbot.waitSignal(dialog.accepted):  # Enter on the last field does it, at once where it is quick
                CountedKeys().press(*keys)
                if dialog.isVisible():
                    QTest.keyClick(dialog, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
        self.settle()

    def says(self) -> str:
        """Everything that the page shows."""
        return "\n".join(each.text() for each in self.page.findChildren(QLabel) if each.isVisibleTo(self.page))


def test_a_whole_yearly_service_is_worked_by_keys_and_a_step_left_out_stays_due(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any, tmp_path: Path,
    monkeypatch: Any,
) -> None:  # fmt: skip
    bench = SteppedService(Workplace(sqlite_database, clock), clock)
    walk = Walk(qtbot, theme, background, bench)
    assert "8 steps still to do: 1.1, 1.2" in walk.says() and not walk.page.sign.sign_button.isEnabled()
    assert walk.page.next.buttons["done"].text().startswith("Record 1.1")
    walk.step()
    walk.step(*"10.8", "Enter", *"9.5", "Enter")
    walk.step(*"no wrench", leave_out=True)
    walk.step("2")
    walk.step("Tab", *"G-7", "Enter", "y")
    walk.step()
    assert "Taken from stock: lot S-1" in walk.says()
    picture = tmp_path / "seat.png"
    Image.new("RGB", (60, 40), "grey").save(picture)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_args, **_options: (str(picture), ""))
    walk.step()
    walk.step("Tab", *"2468", "Enter")
    states = [each.state for each in bench.page().steps]
    assert states == ["done", "done", "left out", *["done"] * 5]
    said = walk.says()
    for words in (
        "1.2  First stage adjusted: intermediate pressure before and after, 9 to 10 bar\n"
        "before 10.8 bar, after 9.5 bar, in limits",
        "1.3  Head screws tightened crosswise: torque 2.5 ± 0.1 N·m\nleft out: no wrench",
        "stays due: left out step 1.3",
    ):
        assert words in said, said
    bench.clock.advance(minutes=1)
    bench.release()
    add_minutes(bench.workplace, walk.ticket, 55)
    walk.page.refresh()
    walk.settle()
    assert walk.page.next.buttons["done"].text().startswith("Done")
    walk.step()
    assert walk.page.sign.sign_button.isEnabled(), walk.says()
    dialog = walk.page.sign_off()
    qtbot.waitActive(dialog)
    assert "no wrench" in "\n".join(each.text() for each in dialog.findChildren(QLabel))
    CountedKeys().press(*"1357")
    with qtbot.waitSignal(dialog.accepted):
        QTest.keyClick(dialog, Qt.Key.Key_Return)
    walk.settle()
    assert bench.rows(Ticket)[0].signed_at is not None
    assert "step 1.3 'Head screws tightened crosswise', no wrench" in walk.says()
    assert service_lines(bench.workplace, "LK-01")[0].due, "the service stays due"


def test_the_form_of_a_step_asks_only_for_what_its_kind_has(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    bench = SteppedService(Workplace(sqlite_database, clock), clock)
    background.signed_in.choose(bench.boss.person_id)
    place = background.signed_in.at(bench.workplace)
    torque = next(each for each in register_rows(place, "service_steps") if each.values["kind"] == "torque")
    dialog = FormDialog(theme, background, correct_form(place, torque))
    qtbot.addWidget(dialog)
    dialog.open()
    own = {"what", "size", "unit", "low", "high", "amount", "tolerance", "before", "replace", "oxygen", "part_type"}

    def asked() -> set[str]:
        return {name for name in own if dialog.fields[name].isVisibleTo(dialog)}

    qtbot.waitUntil(lambda: asked() == {"amount", "tolerance"})
    dialog["kind"].setCurrentIndex(dialog["kind"].findData("lubricant"))
    qtbot.waitUntil(lambda: asked() == {"what", "oxygen"})
    dialog["what"].setText("Grease Q")
    dialog["source"].setText("edition 3, page 9")
    dialog["reason"].setPlainText("greased since edition 3")
    with qtbot.waitSignal(dialog.accepted):
        dialog.act()
    (now,) = [each for each in register_rows(place, "service_steps") if each.values["what"] == "Grease Q"]
    assert (now.values["kind"], now.values["amount"], now.values["oxygen"]) == ("lubricant", None, False)
