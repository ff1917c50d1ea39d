"""What a part carries goes with it: rejected in a head, out on the shelf, into another unit, by keys and clicks.

Common practice, no published source.
"""

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.calc.core.verdict import Result
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Part, PartEvent, PartProof
from fleetbench.window.cells import list as cells
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.parts import page as part_page
from fleetbench.window.parts import shelf
from fleetbench.window.parts.fit import FitDialog
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.window.units import list as units
from fleetbench.workshop.core.find import find
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.acts import quarantine_part, release_part
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.list import part_page as page_of
from fleetbench.workshop.parts.stock import list_shelf, list_stock
from fleetbench.workshop.units.list import unit_page
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


class Bench:
    """The small centre, and hands that judge a cell of the first unit."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database) -> None:
        self.qtbot, self.background, self.clock = qtbot, background, Clock(NOW)
        self.keys = write_centre(database, NOW)
        self.workplace = Workplace(database, self.clock, self.keys.manager)
        self.context = PageContext(theme, background, self.workplace, BERLIN)
        self.clock.advance(hours=1)

    def key(self, serial: str) -> int:
        with self.workplace.database.read_session() as session:
            return session.scalars(select(Part.id).where(Part.serial == serial)).one()

    def judge(self, serial: str, verdict: str, *, unit: int = 0, slot: int = 0, **more: Any) -> None:
        """A workshop calibration of one cell."""
        with self.workplace.transaction("write", "test") as act:
            row = act.add(
                Calibration(
                    unit_id=self.keys.units[unit], person_id=self.keys.technician, at=self.clock(), made="workshop",
                    pressure_mbar=1008.0, pressure_source="measured", temperature_c=21.0, head="dry", vented="yes",
                    settled="yes", oxygen_shown_percent=99.6,
                )
            )  # fmt: skip
            said = {"linearity": 99.0, "expanded_u": 1.1, "margin": 3.0, "air_mv": 11.0, "oxygen_mv": 50.0, **more}
            act.add(
                CalibrationOutcome(
                    calibration_id=row.id, part_id=self.key(serial), slot_id=self.keys.cell_slots[slot],
                    verdict=verdict, finding=f"{verdict}: invented", next_step="none", **said,
                )
            )  # fmt: skip
        self.clock.advance(minutes=5)

    def out(self, slot: str = "cell 1", why: str = "fault") -> None:
        remove_part(self.workplace, "LK-01", slot, why=why)
        self.clock.advance(minutes=5)

    def show(self, page: Any, key: str | None = None) -> Any:
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        if key is None:
            page.refresh()
        else:
            page.show_key(key)
        self.settle()
        return page

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=10_000)

    def words(self, serial: str) -> set[str]:
        """The word of a part's condition on its page, on the shelf, among the cells and on its unit's page."""
        key = self.key(serial)
        shelf_rows = self.show(shelf.list_page(self.context)).model.rows
        cell_rows = self.show(cells.list_page(self.context)).model.rows
        page = self.show(part_page.record_page(self.context), str(key))
        found = {page.detail.marks[0].word}
        found |= {shelf.state_of(row).word for row in shelf_rows if row.part.label == serial}
        found |= {cells.describe(row, BERLIN).marks[0].word for row in cell_rows if row.part.label == serial}
        for tag in ("LK-01", "LK-02"):
            fitted = [part for part in unit_page(self.workplace, tag).fitted if part.part == serial]
            found |= {str(part.condition.state) for part in fitted if part.condition is not None}
        found |= {hit.detail.rpartition(", ")[2] for hit in find(self.workplace, serial) if hit.title == serial}
        return found


@pytest.fixture
def bench(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database) -> Bench:
    """A small centre and its pages."""
    return Bench(qtbot, theme, background, sqlite_database)


def test_a_rejected_cell_is_rejected_on_every_page_in_its_head_and_out_of_it(bench: Bench) -> None:
    bench.judge("C-LK-01-1", "pass")
    bench.judge("C-LK-01-1", "reject", limited_from_bar=1.59)
    assert bench.words("C-LK-01-1") == {"rejected"}
    bench.out()
    assert bench.words("C-LK-01-1") == {"rejected"}
    row = next(row for row in list_shelf(bench.workplace) if row.part.label == "C-LK-01-1")
    assert (
        row.last_good_day == NOW.date() - timedelta(days=1) == page_of(bench.workplace, row.part.part_id).last_good_day
    )
    assert not row.usable and any("rejected 2026-05-04 by calibration" in why for why in row.why_not)


def test_key_l_refuses_to_release_it_and_says_the_way(bench: Bench) -> None:
    bench.judge("C-LK-01-1", "reject", limited_from_bar=1.59)
    bench.out()
    page = bench.show(shelf.list_page(bench.context))
    page.choose(str(bench.key("C-LK-01-1")))
    page.table.setFocus()
    QTest.keyClick(page.table, Qt.Key.Key_Q, Qt.KeyboardModifier.ShiftModifier)
    dialog = page.desk.dialog
    assert isinstance(dialog, FormDialog)
    bench.settle()
    assert "only a pressure-pot point in limits at 1.59 bar or above lifts it" in dialog.banner.text
    assert not dialog.act_button.isEnabled()
    dialog.reject()
    with pytest.raises(Refused, match="it stays set aside"):
        release_part(bench.workplace, bench.key("C-LK-01-1"), "looks fine")


def test_it_is_not_fitted_again_and_the_refusal_lists_what_stands_against_it(bench: Bench) -> None:
    bench.judge("C-LK-01-1", "reject")
    bench.out(why="moved")
    assert bench.words("C-LK-01-1") == {"rejected"}
    dialog = FitDialog(
        bench.context.theme, bench.background, bench.workplace, "LK-02",
        [line for line in slots(bench.workplace, "LK-02")],
    )  # fmt: skip
    bench.qtbot.addWidget(dialog)
    dialog.open()
    dialog.choose_slot("cell 1")
    bench.settle()
    dialog.part.setText("C-LK-01-1")
    QTest.keyClick(dialog.part, Qt.Key.Key_Return)
    QTest.keyClick(dialog.why, Qt.Key.Key_1)
    bench.settle()
    assert "rejected 2026-05-04 by calibration (LK-01, cell 1, by T1): reject: invented" in dialog.banner.text
    dialog.to_test.setChecked(True)
    finish(bench, dialog)
    assert bench.words("C-LK-01-1") == {"rejected"}, "the new place lifts nothing"
    checks = {check.check: check for check in unit_page(bench.workplace, "LK-02").assessment.checks}
    assert any(
        check.result is Result.STOP and "C-LK-01-1: reject" in check.evidence
        for check in unit_page(bench.workplace, "LK-02").assessment.checks
    ), checks
    assert any(item.part == "C-LK-01-1" and item.basis == "reject" for item in list_due(bench.workplace))


def test_two_calibrations_in_limits_lift_it_and_the_next_fitting_is_told(bench: Bench) -> None:
    bench.judge("C-LK-01-1", "reject")
    bench.judge("C-LK-01-1", "repeat")
    assert bench.words("C-LK-01-1") == {"rejected"}
    bench.judge("C-LK-01-1", "pass")
    assert bench.words("C-LK-01-1") == {"usable"}
    bench.out(why="fault")
    assert bench.words("C-LK-01-1") == {"set aside"}
    page = bench.show(part_page.record_page(bench.context), str(bench.key("C-LK-01-1")))
    page.desk.buttons["release_part"].click()
    dialog = page.desk.dialog
    assert isinstance(dialog, FormDialog)
    bench.settle()
    assert "Overrules: rejected 2026-05-04 by calibration" in dialog["rests"].text()
    assert "Shown by: calibration 2026-05-04 pass (LK-01, cell 1, by T1), head HEAD-L-LK-01" in dialog["rests"].text()
    QTest.keyClicks(dialog["reason"], "contact cleaned")
    finish(bench, dialog)
    with bench.workplace.database.read_session() as session:
        event = session.scalars(select(PartEvent).where(PartEvent.kind == "released")).one()
        assert event.reason is not None
        assert event.reason.startswith("contact cleaned; shown by: calibration 2026-05-04 pass (LK-01, cell 1, by T1)")
        assert "overrules: rejected 2026-05-04" in event.reason
        assert session.scalars(select(PartProof.outcome_id)).one() is not None
    done = fit_part(bench.workplace, "C-LK-01-1", "LK-02", "cell 1", why_old="age")
    assert done.told[0].startswith("was rejected 2026-05-04 by calibration")
    assert bench.words("C-LK-01-1") == {"not calibrated"}, "never green before it is calibrated there"


def test_a_failed_regulator_is_rejected_until_a_passed_service(bench: Bench) -> None:
    with bench.workplace.transaction("write", "test") as act:
        act.add(BenchTest(unit_id=bench.keys.units[0], kind="mouthpiece valve", at=bench.clock(), held=False,
                          result="reject", part_id=bench.key("mou-LK-01"), finding="leaks"))  # fmt: skip
    bench.clock.advance(minutes=5)
    assert bench.words("mou-LK-01") == {"rejected"}
    bench.out("mouthpiece valve")
    with pytest.raises(Refused, match="or record the passed service with 'Tested'"):
        release_part(bench.workplace, bench.key("mou-LK-01"), "new o-ring")
    page = bench.show(part_page.record_page(bench.context), str(bench.key("mou-LK-01")))
    page.desk.buttons["record_test"].click()
    assert page.desk.dialog is not None
    finish(bench, page.desk.dialog)
    assert bench.words("mou-LK-01") == {"set aside"}
    release_part(bench.workplace, bench.key("mou-LK-01"), "new o-ring")
    assert bench.words("mou-LK-01") == {"usable"}


def test_stock_counts_a_rejected_cell_among_the_set_aside_and_never_as_usable(bench: Bench) -> None:
    before = next(row for row in list_stock(bench.workplace) if row.code == "CELL-L")
    bench.judge("C-LK-01-1", "reject")
    bench.out(why="moved")
    after = next(row for row in list_stock(bench.workplace) if row.code == "CELL-L")
    assert (after.usable, after.quarantine) == (before.usable, before.quarantine + 1)


def test_what_was_set_aside_by_hand_goes_back_on_the_reason(bench: Bench) -> None:
    quarantine_part(bench.workplace, bench.key("C-NEW"), "dropped")
    assert bench.words("C-NEW") == {"set aside"}
    release_part(bench.workplace, bench.key("C-NEW"), "fell on the mat")
    assert bench.words("C-NEW") == {"usable"}


def slots(workplace: Workplace, tag: str) -> Any:
    from fleetbench.workshop.parts.fit import slot_lines

    return slot_lines(workplace, tag)


def finish(bench: Bench, dialog: ActDialog) -> None:
    with bench.qtbot.waitSignal(dialog.accepted):
        dialog.act()
    bench.settle()
    bench.clock.advance(minutes=1)


def test_a_rejected_cell_leads_through_the_proposed_one_to_the_calibration_by_keys_alone(bench: Bench) -> None:
    bench.judge("C-LK-01-1", "reject", linearity=91.0)
    page = bench.show(units.record_page(bench.context), "LK-01")
    steps = [line.cells[1] for line in page.part("Next steps").lines]
    wanted = next(at for at, each in enumerate(steps) if each.startswith("Fit ") and "into cell 1" in each)
    proposed = steps[wanted].split()[1]
    page.focus_first()
    for _ in range(wanted):
        QTest.keyClick(page.focusWidget(), Qt.Key.Key_Down)
    QTest.keyClick(page.focusWidget(), Qt.Key.Key_Return)
    bench.settle()
    dialog = page.fitting.dialog
    assert isinstance(dialog, FitDialog)
    assert dialog.slot_line is not None and dialog.slot_line.slot == "cell 1"
    assert proposed in dialog.note.text() and dialog.part.text() == ""  # what is scanned is what is recorded
    QTest.keyClicks(dialog.part, proposed)
    QTest.keyClick(dialog.part, Qt.Key.Key_Return)
    with bench.qtbot.waitSignal(dialog.accepted):
        QTest.keyClick(dialog.why, Qt.Key.Key_1)
    bench.settle()
    left = page.part("Next steps").lines
    assert not any("cell 1" in line.cells[1] and line.cells[1].startswith("Fit") for line in left)
    owed = [line.leads_to for line in left if line.leads_to is not None]
    assert PageKey("calibrate", "LK-01") in owed[owed.index(PageKey("bench", "LK-01")) :], "tests, then calibration"
    assert wanted + 1 + len(proposed) + 2 <= 16, "keys from the unit's page to the fitted cell"
