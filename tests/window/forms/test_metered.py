"""Figures taken from a meter by key and click into the fields of a calibration, against a meter that speaks badly.

Answers as IEEE Std 488.2-1992 and SCPI-1999 have them, from memory; see tests/workshop/bench/test_meters.py.
"""

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from itertools import pairwise
from math import exp
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QLineEdit, QToolButton, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.cells.tables import BenchSession, CalibrationReading
from fleetbench.records.core.database import Database
from fleetbench.records.core.journal import MeterReading
from fleetbench.records.core.transaction import transaction
from fleetbench.records.units.tables import Reader, ReaderCell
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.window.cells.sheet import CalibrationSheet
from fleetbench.window.forms import metered
from fleetbench.window.hires.handover import ABSORBENT, LeavingModel
from fleetbench.window.lists.entry_table import TOLD, CellField, EntryTable
from fleetbench.window.look.buttons import Banner
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background, MeterDesk
from fleetbench.workshop.bench.equipment import add_equipment, certify_equipment, connect_equipment
from fleetbench.workshop.cells.calibrate import record
from fleetbench.workshop.cells.plan import settling_of
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handover import LeavingUnit
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.tickets.work import open_ticket
from fleetbench.workshop.units.history import gather_evidence
from tests.centres.bench_centre import Keys, write_centre
from tests.meter_faults import FAULTS, IDN, BadMeter, bad_meter, tool

BERLIN = ZoneInfo("Europe/Berlin")


class Bench:
    """The page of a unit with a bench meter beside its two handsets, and a barometer and a bench meter that answer."""

    def __init__(
        self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any, folder: Path,
        barometer: BadMeter, meter: BadMeter,
    ) -> None:  # fmt: skip
        self.qtbot, self.background, self.database, self.clock, self.said = qtbot, background, database, clock, ""
        self.barometer, self.meter = barometer, meter
        self.keys: Keys = write_centre(database, clock())
        manager = Workplace(database, clock, self.keys.manager)
        with transaction(database, clock, None, "begin", "a bench meter") as act:
            beside = act.add(Reader(unit_type_id=self.keys.unit_type, name="meter", kind="bench meter", ordinal=3))
            self.reader: int = beside.id
            for slot in self.keys.cell_slots:
                act.add(ReaderCell(reader_id=beside.id, cell_slot_id=slot, shows="mV", resolution=0.1))
        until = clock().date().replace(year=clock().year + 1)
        certify_equipment(manager, self.keys.barometer, last_good_day=until, uncertainty=0.5, digit=0.1)
        self.tool = add_equipment(
            manager, kind="bench meter", name="Bench meter", serial="0042", uncertainty=0.02, unit="mV", digit=0.01,
            last_good_day=until,
        )  # fmt: skip
        for key, server, unit, high in (
            (self.keys.barometer, barometer, "hPa", 1100.0), (self.tool, meter, "V", 200.0),
        ):  # fmt: skip
            connect_equipment(
                manager, key, address=server.address, query="MEAS:VOLT:DC?", answer_unit=unit, range_low=0.0,
                range_high=high, idn=IDN,
            )  # fmt: skip
        background.signed_in.choose(self.keys.technician)
        workplace = background.signed_in.at(Workplace(database, clock))
        self.page = CalibratePage(theme, background, workplace, Drafts(folder), BERLIN)
        self.page.meters = MeterDesk(theme, background, self.page)  # type: ignore[attr-defined]
        self.desk.timeout_s = 0.6
        self.desk.begin(workplace)
        qtbot.addWidget(self.page)
        self.page.resize(1088, 748)
        with qtbot.waitExposed(self.page):
            self.page.show()
        self.page.activateWindow()
        with qtbot.waitSignal(self.page.opened):
            self.page.open_tag("LK-01")
        self.settle()

    @property
    def desk(self) -> MeterDesk:
        return self.page.meters  # type: ignore[attr-defined,no-any-return]

    @property
    def sheet(self) -> CalibrationSheet:
        assert self.page.sheet is not None
        return self.page.sheet

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=15_000)

    def press(self, keys: str | Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        for key in [keys] if isinstance(keys, Qt.Key) else list(keys):
            target = QApplication.focusWidget()
            assert isinstance(target, QWidget)
            QTest.keyClick(target, key, modifier)
        self.settle()

    def read(self) -> None:
        self.press(Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)

    def buttons(self, field: QLineEdit) -> list[QToolButton]:
        return [each for each in field.findChildren(QToolButton) if each.isVisible()]

    def rows(self, kind: type[Any]) -> list[Any]:
        with self.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found


@pytest.fixture
def bench(
    qtbot: QtBot,
    theme: Theme,
    background: Background,
    sqlite_database: Database,
    clock: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Bench]:
    with ExitStack() as stack:
        barometer = stack.enter_context(bad_meter(lambda: 1008.42))
        meter = stack.enter_context(bad_meter(lambda: 0.010204))
        monkeypatch.setattr(metered, "FOLLOW_MS", 0)
        made = Bench(qtbot, theme, background, sqlite_database, clock, tmp_path / "drafts", barometer, meter)
        yield made
        made.desk.stop()
        made.settle()


def test_a_calibration_takes_figures_from_meters_and_records_each_with_its_source_once(bench: Bench) -> None:
    session = bench.sheet.session
    session.pressure.setFocus()
    bench.read()
    assert session.pressure.text() == "1008.4", "to the meter's resolution"
    assert session.tools_of["barometer"].currentData() == bench.keys.barometer
    session.temperature.setFocus()
    assert not bench.buttons(session.temperature), "no meter of the register reads it"
    for field, text in ((session.temperature, "21"), (session.humidity, "45"), (session.oxygen, "99.6")):
        field.setFocus()
        bench.press(text)
    session.tools_of["analyser"].setCurrentIndex(1)
    session.tools_of["hygrometer"].setCurrentIndex(1)
    with bench.qtbot.waitSignal(bench.page.opened):
        session.submit()
    bench.settle()
    (row,) = bench.rows(MeterReading)
    assert (row.made_of, row.figure, row.value, row.idn) == ("bench_session", "pressure_mbar", 1008.4, IDN)
    assert (row.answer, row.unit, bench.rows(BenchSession)[-1].pressure_mbar) == ("+1.008420E+03", "hPa", 1008.4)

    bench.sheet.go_on()
    bench.press("11")
    bench.press("104102106104102106")
    fields = [bench.sheet.air.fields[slot, bench.reader] for slot in bench.keys.cell_slots]
    assert all(bench.buttons(field) for field in fields)
    assert not any(bench.buttons(bench.sheet.air.fields[slot, bench.keys.readers[0]]) for slot in bench.keys.cell_slots)
    bench.sheet.said.connect(lambda line: setattr(bench, "said", line))
    assert fields[0].hasFocus()
    for fault, words in (
        ("overload", "overload"), ("other unit", "MBAR"), ("garbage", "not one number"), ("very late", "in time"),
        ("hang up", "look at"), ("another", "answers at its address"), ("twice", "asked for its errors"),
    ):  # fmt: skip
        bench.meter.fault, bench.said = fault, ""
        bench.meter.idn = "Another,XX-9,7,2.0" if fault == "another" else IDN
        bench.read()
        bench.meter.idn = IDN
        assert (fields[0].text(), fields[0].value) == ("", None)
        assert bench.said.startswith("Bench meter 0042: ") and words in bench.said, fault
    bench.desk.show_tools(())
    bench.desk.timeout_s = 5.0  # from here on nothing is late
    bench.desk.look()
    bench.settle()
    bench.read()
    assert fields[0].text() == "10.20" and fields[1].hasFocus(), "and it led on by itself"
    QTest.mouseClick(bench.buttons(fields[1])[0], Qt.MouseButton.LeftButton)
    bench.settle()
    assert fields[1].text() == "10.20"
    fields[2].setFocus()
    bench.read()
    fields[2].setFocus()
    bench.press(Qt.Key.Key_Backspace)
    bench.press("102")
    assert fields[2].text() == "10.2", "typed over: the meter's figure is gone"

    flush = bench.sheet.flush
    assert not flush.follow_button.isVisible(), "a handset is followed by nobody"
    flush.reader_buttons[bench.reader].click()
    began = bench.clock()
    bench.meter.figures = lambda: 0.050 - 0.039 * exp(-(bench.clock() - began).total_seconds() / 12.0)
    QTest.mouseClick(flush.follow_button, Qt.MouseButton.LeftButton)
    for number in range(1, 65):
        bench.qtbot.waitUntil(partial(lambda wanted: len(flush.plot.live) >= wanted, number))
        bench.clock.advance(seconds=2.5)
    bench.meter.fault, bench.said = "overload", ""
    bench.qtbot.waitUntil(lambda: not flush.follow_button.isChecked())
    bench.settle()
    assert "overload" in bench.said and len(flush.plot.live) >= 64
    stamped = [(each.seconds, each.mv) for each in flush.stamps]
    assert len(stamped) >= 20 and all(b[0] - a[0] >= 5.0 for a, b in pairwise(stamped))  # type: ignore[operator]
    by_hand = replace(
        bench.sheet.entry(), figures=tuple(replace(each, mv=float(each.mv or 0.0)) for each in flush.stamps)
    )
    (judged,) = settling_of(bench.sheet.held, by_hand)
    assert flush.found[-1].state == judged.state and judged.state.state == "settled"
    workplace = bench.page._workplace
    ticket = open_ticket(workplace, "LK-01", cause="by hand", reason="look")
    entry = replace(bench.sheet.entry(), ticket_id=ticket)
    record(workplace, entry)
    readings = {each.id: each for each in bench.rows(CalibrationReading)}
    of_cells = [each for each in bench.rows(MeterReading) if each.made_of == "calibration_reading"]
    followed = [each for each in of_cells if readings[each.made_id].point == "settling"]
    assert len(followed) == len(stamped) and len({each.at for each in followed}) == len(stamped)
    of_cells = [each for each in of_cells if each not in followed]
    assert [(readings[each.made_id].slot_id, each.figure, each.value) for each in of_cells] == [
        (slot, "mv", 10.2) for slot in bench.keys.cell_slots[:2]
    ]
    assert {readings[each.made_id].reader_id for each in of_cells} == {bench.reader}
    told = (
        f"1 figure read by itself from Bench barometer BR-1 ({IDN}), ± 1 mbar",
        f"{2 + len(stamped)} figures read by itself from Bench meter 0042 ({IDN}), ± 0.04 mV",
    )
    day = bench.clock().date()
    evidence = gather_evidence(workplace, "LK-01", day, day)
    assert all(len(set(each.columns)) == len(each.columns) for each in evidence.sheets), "no heading twice"
    (sheet,) = (each for each in evidence.sheets if each.name == "meter_readings")
    assert [row[sheet.columns.index("value")] for row in sheet.rows][:3] == [1008.4, 10.2, 10.2]
    (line,) = (each for each in evidence.history if each.kind == "calibration")
    assert line.words == "; ".join(("workshop calibration of 3 cells", *told))
    when = f"Calibration of {bench.clock().astimezone(BERLIN):%Y-%m-%d %H:%M}"
    certify_equipment(workplace, bench.tool, last_good_day=day.replace(year=day.year + 2), uncertainty=0.5, digit=0.01)
    given = ticket_page(workplace, f"{day.year}-1").given
    assert given == tuple(f"{when}: {each}." for each in told), "the uncertainty stays what it was"


def test_a_cell_of_a_grid_takes_a_weighing_from_the_scale_once_and_never_what_was_asked_about(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    """At random: half of 40 tries meet a fault; what stands in the cell is what the scale weighed for that very key."""
    lot, dialog = Random(5), QDialog()
    dialog.setLayout(QVBoxLayout())
    dialog.banner = Banner(theme, dialog)  # type: ignore[attr-defined]
    desk = dialog.meters = MeterDesk(theme, background, dialog)  # type: ignore[attr-defined]
    model, table = LeavingModel(dialog), EntryTable("what goes along", TOLD, dialog)
    table.setModel(model)
    model.show_units([LeavingUnit("LK-01", "A", ""), LeavingUnit("LK-02", "B", "")])
    dialog.layout().addWidget(dialog.banner)  # type: ignore[union-attr,attr-defined]
    dialog.layout().addWidget(table)  # type: ignore[union-attr]
    qtbot.addWidget(dialog)
    with qtbot.waitExposed(dialog):
        dialog.show()

    def settle() -> None:
        qtbot.waitUntil(lambda: not background.is_busy, timeout=15_000)

    def read(row: int, column: int = ABSORBENT) -> None:
        table.setCurrentIndex(model.index(row, column))
        table.setFocus()
        QTest.keyClick(table, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
        settle()

    def end(key: Qt.Key = Qt.Key.Key_Return) -> None:
        for field in table.findChildren(CellField):
            QTest.keyClick(field, key)
        QApplication.processEvents()

    with bad_meter(lambda: lot.randrange(300, 9000) * 1e-3, late_s=0.2) as server:
        desk.timeout_s = 0.1
        desk.begin(Workplace(sqlite_database, clock))
        settle()
        desk.show_tools((tool(server.address, kind="scale", unit="kg", answer_unit="kg", digit=0.001, range_low=0.0),))
        for _ in range(40):
            model.typed.clear()
            server.fault, before = lot.choice(FAULTS) if lot.random() < 0.5 else "none", len(server.true)
            read(0)
            end()
            found, measured = model.reading_at(0, ABSORBENT), server.true[before:]
            assert model.text_at(0, ABSORBENT) == ("" if found is None else f"{found:.3f}")
            assert found is None or (len(measured) == 1 and abs(found - measured[0]) < 1e-6), server.fault
        desk.show_tools(())
        desk.timeout_s = 5.0
        settle()
        desk.show_tools((tool(server.address, kind="scale", unit="kg", answer_unit="kg", digit=0.001, range_low=0.0),))
        server.idn, server.fault, server.figures = IDN, "none", lambda: 2.5
        for way in ("recorded", "typed over", "unusual", "read again"):
            server.figures = lambda: 35.0 if way in ("unusual", "read again") else 2.5  # noqa: B023
            read(1)
            if way == "typed over":
                QTest.keyClicks(table.findChildren(CellField)[-1], "0")
            if way == "read again":
                (field,) = (each for each in table.findChildren(CellField) if each.isVisible())
                QTest.keyClick(field, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
                settle()
            end()
            given, stands = model.handing(1).absorbent_kg, model.reading_at(1, ABSORBENT)
            assert (way, given, stands is not None) in {
                ("recorded", 2.5, True), ("typed over", 2.5, False), ("unusual", 2.5, False),
                ("read again", 35.0, True),
            }  # fmt: skip
        read(1, 4)
        assert model.text_at(1, 4) == "", "accessories are counted"
        desk.stop()
        settle()
