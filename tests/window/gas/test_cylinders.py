"""Cylinders in the window: a morning's fills in sixty keys, analyses, gauges, tests, labels, and nothing typed lost."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from sqlalchemy import select

from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.journal import MeterReading
from fleetbench.records.gas.reads import read_analyses, read_fills, read_last_gauges
from fleetbench.records.gas.tables import CylinderFill, GasAnalysis
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas import list as cylinders
from fleetbench.window.gas.analyses import MIXED, PURE, AnalysisDialog
from fleetbench.window.gas.fill_log import FillLogDialog
from fleetbench.window.gas.list import CylinderList
from fleetbench.window.gas.page import cylinder_detail
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background, MeterDesk
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.units.page import cylinders_table
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.fills import FillEntry, correct_fill
from fleetbench.workshop.gas.list import cylinder_page, list_cylinders
from fleetbench.workshop.gas.oxygen_side import unit_gas
from tests.centres.gas_centre import GasCentre
from tests.centres.pins import give_pin
from tests.meter_faults import IDN, bad_meter
from tests.window.bench_keys import CountedKeys, shown

BERLIN = ZoneInfo("Europe/Berlin")
MORNING_KEYS = 60
"""Most keys for a morning's twelve fills."""


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with fifteen cylinders, none filled yet."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def context(theme: Theme, background: Background, centre: GasCentre) -> PageContext:
    """What pages are given."""
    return PageContext(theme, background, centre.workplace, BERLIN)


def settled(qtbot: Any, context: PageContext) -> None:
    """Wait until nothing is on its way."""
    qtbot.waitUntil(lambda: not context.background.is_busy, timeout=20_000)
    QApplication.processEvents()


@pytest.fixture
def page(qtbot: Any, context: PageContext) -> Iterator[CylinderList]:
    """The list of cylinders with the keyboard on it."""
    made = cylinders.list_page(context)
    made.resize(1200, 800)
    shown(qtbot, made)
    made.refresh()
    settled(qtbot, context)
    made.focus_table()
    yield made
    if made.bench.dialog is not None:
        made.bench.dialog.reject()
    settled(qtbot, context)
    made.hide()


def opened(qtbot: Any, context: PageContext, page: CylinderList, kind: type[Any]) -> Any:
    """The dialog that is open, of a kind, as the active window."""
    settled(qtbot, context)
    dialog = page.bench.dialog
    assert isinstance(dialog, kind)
    qtbot.waitActive(dialog)
    return dialog


def fills(centre: GasCentre) -> list[Any]:
    with centre.workplace.database.reading() as connection:
        return list(read_fills(connection))


def choose(page: CylinderList, serial: str) -> None:
    key = next(row.part.part_id for row in page.model.rows if row.part.label == serial)
    assert page.choose(str(key))


def test_a_mornings_twelve_fills_with_start_and_end_take_at_most_sixty_keys(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    keys = CountedKeys()
    keys.press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    serials = [row.line.part.label for row in dialog.grid.rows[:12]]
    # Three whips, each with a pressure of its own at the end.
    for number in range(12):
        keys.press(*str(41 + number), "Enter")
        keys.press(*(("1", "9", "0") if number == 0 else ("2", "0", "5") if number in (6, 9) else ("=",)))
    keys.press("Enter", "Enter", "Enter")
    settled(qtbot, context)
    assert keys.pressed <= MORNING_KEYS
    found = {fill.part_id: fill for fill in fills(centre)}
    assert len(found) == 12
    by_serial = {line.part.label: found.get(line.part.part_id) for line in list_cylinders(centre.workplace)}
    assert [(by_serial[each].start_bar, by_serial[each].end_bar) for each in serials] == [
        (41.0 + number, 190.0 if number < 6 else 205.0) for number in range(12)
    ]
    assert "12 fills recorded" in page.banner.text


def test_a_refused_row_is_told_at_its_end_and_nothing_typed_is_lost(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    keys = CountedKeys()
    keys.press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    keys.press("8", "0", "Enter", "1", "9", "0", "9", "0", "Enter", "4", "0", "Enter")
    dialog.act()
    settled(qtbot, context)
    assert fills(centre) == []
    first, second = dialog.grid.rows[:2]
    assert (first.start.value, first.end.value, second.start.value, second.end.value) == (80.0, 190.0, 90.0, 40.0)
    assert "over 40 bar at the end" in second.said.word
    assert QApplication.focusWidget() is second.end
    keys.press("=")
    dialog.act()
    settled(qtbot, context)
    assert len(fills(centre)) == 2


def test_a_pressure_over_the_working_pressure_is_asked_about_once(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    keys = CountedKeys()
    keys.press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    oxygen = next(row for row in dialog.grid.rows if row.line.state.facts.role == "oxygen")
    oxygen.end.setFocus()
    keys.press("2", "1", "5")
    dialog.act()
    settled(qtbot, context)
    assert fills(centre) == []
    assert "over the working pressure of 200 bar" in oxygen.said.word
    assert QApplication.focusWidget() is dialog.act_button
    keys.press("Enter")
    settled(qtbot, context)
    assert [fill.end_bar for fill in fills(centre)] == [215.0]


def test_a_warm_cylinder_over_its_working_pressure_is_within_it_once_it_has_cooled(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    """Oxygen at 215 bar and 40 C is 189.5 bar at 15 C, by CoolProp's equation of state at constant density."""
    CountedKeys().press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    oxygen = next(row for row in dialog.grid.rows if row.line.state.facts.role == "oxygen")
    oxygen.end.give(215)
    dialog.warm.setText("40")
    dialog.act()
    settled(qtbot, context)
    assert [(fill.end_bar, fill.temperature_c) for fill in fills(centre)] == [(215.0, 40.0)]


def test_what_was_confirmed_is_asked_again_after_the_figure_changed(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    CountedKeys().press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    oxygen = next(row for row in dialog.grid.rows if row.line.state.facts.role == "oxygen")
    oxygen.end.give(215)
    dialog.act()
    settled(qtbot, context)
    oxygen.end.give(225)
    dialog.act()
    settled(qtbot, context)
    assert fills(centre) == []
    dialog.reject()
    settled(qtbot, context)


def test_a_log_left_half_way_comes_back_as_it_was(qtbot: Any, page: CylinderList, context: PageContext) -> None:
    keys = CountedKeys()
    keys.press("F")
    left = opened(qtbot, context, page, FillLogDialog)
    left.batch.setText("bank 3")
    left.grid.rows[0].oxygen.setText("99.5")
    keys.press("5", "5", "Enter", "1", "8", "5", "Escape")
    settled(qtbot, context)
    assert "1 row typed" in page.banner.text
    page.focus_table()
    keys.press("F")
    again = opened(qtbot, context, page, FillLogDialog)
    assert (again.grid.rows[0].start.value, again.grid.rows[0].end.value) == (55.0, 185.0)
    assert (again.batch.text(), again.grid.rows[0].oxygen.text()) == ("bank 3", "99.5")
    again.reject()
    settled(qtbot, context)


def test_gas_and_batch_are_kept_with_the_fill_and_a_gas_that_cannot_be_is_refused_by_name(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    CountedKeys().press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    row = next(row for row in dialog.grid.rows if row.line.state.facts.role == "diluent")
    row.oxygen.setText("18")
    row.helium.setText("85")
    row.end.give(200)
    dialog.batch.setText("bank 2")
    dialog.machine.setText("compressor 1")
    dialog.act()
    settled(qtbot, context)
    assert "over 100 % together" in dialog.banner.text
    row.helium.setText("45")
    dialog.act()
    settled(qtbot, context)
    fill = fills(centre)[0]
    assert (fill.oxygen_asked, fill.helium_asked, fill.batch, fill.machine) == (18.0, 45.0, "bank 2", "compressor 1")


def test_analyses_are_typed_without_the_point_and_differences_are_told(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("oxygen")
    centre.fill("diluent")
    centre.later(minutes=20)
    keys = CountedKeys()
    keys.press("A")
    dialog = opened(qtbot, context, page, AnalysisDialog)
    assert [row.line.part.label for row in dialog.rows] == ["O-1", "D-1"]
    keys.press("9", "9", "6", "2", "4", "0", "Enter", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        assert [seen.oxygen_percent for seen in read_analyses(connection)] == [99.6, 24.0]
    assert "D-1: oxygen 24.0% analysed, 21.0% asked" in page.banner.text
    assert keys.pressed <= 9


def test_the_next_figure_typed_blind_never_takes_the_place_of_one_that_is_asked_about(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("oxygen")
    centre.fill("diluent")
    centre.later(minutes=20)
    keys = CountedKeys()
    keys.press("A")
    dialog = opened(qtbot, context, page, AnalysisDialog)
    oxygen, diluent = (row.oxygen for row in dialog.rows)
    keys.press(*"212", "Enter", *"995")
    assert QApplication.focusWidget() is oxygen and oxygen.value is None and oxygen.text() == "21.2"
    assert "99.5 was not taken" in dialog.banner.text
    keys.press("Enter")
    assert QApplication.focusWidget() is oxygen and oxygen.value is None
    dialog.act()
    assert "is not settled yet" in dialog.banner.text
    keys.press("/")
    assert oxygen.not_known and QApplication.focusWidget() is diluent, "the key for not known leads on"
    keys.press(*"210", "Enter", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        assert [(seen.part_id, seen.oxygen_percent) for seen in read_analyses(connection)] == [
            (dialog.rows[1].line.part.part_id, 21.0)
        ]


def test_two_cylinders_typed_for_each_other_are_named_and_asked_about_once(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("diluent")
    centre.fill("bailout", oxygen_percent=32.0)
    centre.later(minutes=20)
    keys = CountedKeys()
    keys.press("A")
    dialog = opened(qtbot, context, page, AnalysisDialog)
    names = [row.line.part.label for row in dialog.rows]
    for typed in {"D-1": ("319", "211"), "B-1": ("211", "319")}[names[0]]:
        keys.press(*typed, *typed, "Enter")
    dialog.act()
    assert "look exchanged" in dialog.banner.text and "asked" in dialog.banner.text
    with centre.workplace.database.reading() as connection:
        assert not read_analyses(connection)
    dialog.act()
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        seen = read_analyses(connection)
    assert sorted(each.oxygen_percent or 0.0 for each in seen) == [21.1, 31.9]
    with centre.workplace.database.read_session() as session:
        assert all("Kept when it was asked: " in (row.note or "") for row in session.scalars(select(GasAnalysis)))


def test_oxygen_that_reads_as_air_is_recorded_once_it_was_typed_again(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("oxygen")
    centre.later(minutes=20)
    keys = CountedKeys()
    keys.press("A")
    opened(qtbot, context, page, AnalysisDialog)
    keys.press(*"212", *"212", "Enter", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        assert [seen.oxygen_percent for seen in read_analyses(connection)] == [21.2]


def test_the_fill_log_begins_on_the_chosen_cylinder(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    serial = page.model.rows[3].part.label
    choose(page, serial)
    page.focus_table()
    keys = CountedKeys()
    keys.press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    row = next(row for row in dialog.grid.rows if row.line.part.label == serial)
    assert QApplication.focusWidget() is row.start
    dialog.reject()
    settled(qtbot, context)


def test_the_divers_own_analysis_is_recorded_as_signed(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("diluent")
    centre.later(minutes=20)
    CountedKeys().press("A")
    dialog = opened(qtbot, context, page, AnalysisDialog)
    dialog.who.setCurrentIndex(dialog.who.findData(centre.diver))
    CountedKeys().press("2", "1", "1", "Enter", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        (seen,) = read_analyses(connection)
    assert (seen.by_diver, seen.person_id, seen.signed) == (True, centre.diver, "on paper")


def test_a_diver_with_a_pin_signs_by_it_and_a_wrong_one_records_nothing(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    give_pin(centre.workplace, centre.diver, "2468")
    centre.fill("diluent")
    centre.later(minutes=20)
    CountedKeys().press("A")
    dialog = opened(qtbot, context, page, AnalysisDialog)
    assert not dialog.signed.isVisible()
    dialog.who.setCurrentIndex(dialog.who.findData(centre.diver))
    dialog.signed.setCurrentIndex(dialog.signed.findData("by PIN"))
    keys = CountedKeys()
    keys.press("2", "1", "1", "Enter", "1", "1", "1", "1", "Enter")
    settled(qtbot, context)
    assert "PIN: does not match" in dialog.banner.text
    centre.later(minutes=20)
    dialog.pin.setText("2468")
    keys.press("Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        (seen,) = read_analyses(connection)
    assert (seen.oxygen_percent, seen.by_diver, seen.signed) == (21.1, True, "by PIN")


def test_a_slip_in_a_fill_and_in_an_analysis_is_corrected_by_one_key_within_ten_minutes(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("diluent", end_bar=160.0)
    centre.later(minutes=2)
    choose(page, "D-1")
    page.focus_table()
    keys = CountedKeys()
    keys.press("F4")
    dialog = opened(qtbot, context, page, FillLogDialog)
    assert (dialog.grid.rows[0].start.value, dialog.grid.rows[0].end.value) == (40.0, 160.0)
    keys.press("2", "1", "6", "Enter")
    settled(qtbot, context)
    (fill,) = fills(centre)
    assert (fill.start_bar, fill.end_bar, fill.batch) == (40.0, 216.0, "B1")
    centre.analyse("diluent", oxygen_percent=12.2)
    centre.later(minutes=1)
    page.focus_table()
    keys.press("F4")
    seen = opened(qtbot, context, page, AnalysisDialog)
    assert seen.rows[0].oxygen.value == 12.2
    keys.press("2", "1", "2", "Enter", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        assert [each.oxygen_percent for each in read_analyses(connection)] == [21.2]
    with centre.workplace.database.read_session() as session:
        reasons = {row.supersedes_reason for row in session.scalars(select(CylinderFill))}
        reasons |= {row.supersedes_reason for row in session.scalars(select(GasAnalysis))}
    assert reasons == {None, "typing"}
    centre.later(minutes=11)
    page.focus_table()
    keys.press("F4")
    settled(qtbot, context)
    assert "no fill and no analysis of the last ten minutes" in page.banner.text


def test_a_fill_typed_later_keeps_the_hour_at_which_it_was_made(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    CountedKeys().press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    dialog.grid.rows[0].end.give(180)
    dialog.at.setText("25:00")
    dialog.act()
    settled(qtbot, context)
    assert "filled at: '25:00' is not a time of today" in dialog.banner.text
    now = centre.workplace.clock().astimezone(BERLIN)
    earlier = now - timedelta(minutes=30)
    dialog.at.setText(f"{earlier:%H:%M}")
    dialog.act()
    settled(qtbot, context)
    assert fills(centre)[0].at == earlier.replace(second=0, microsecond=0)


@pytest.mark.parametrize(
    ("rule", "typed", "value"),
    [(PURE, "996", 99.6), (PURE, "1004", 100.4), (MIXED, "212", 21.2), (MIXED, "181", 18.1), (MIXED, "101", 10.1)],
)
def test_digits_become_percent(rule: Any, typed: str, value: float) -> None:
    assert rule.is_whole(typed)
    assert not rule.is_whole(typed[:-1])
    assert rule.value_of(typed) == value


def test_a_gauge_a_test_a_cleaning_and_a_loss_are_recorded_by_key(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    choose(page, "O-1")
    page.focus_table()
    keys = CountedKeys()
    keys.press("G")
    settled(qtbot, context)
    keys.press("0", "8", "4", "Enter")
    settled(qtbot, context)
    with centre.workplace.database.reading() as connection:
        assert [gauge.bar for gauge in read_last_gauges(connection)] == [84.0]
    page.focus_table()
    keys.press("T")
    opened(qtbot, context, page, FormDialog)
    keys.press("1", "1", "Enter", "Enter")
    settled(qtbot, context)
    page.focus_table()
    keys.press("Z")
    opened(qtbot, context, page, FormDialog)
    keys.press("3", "Enter")
    settled(qtbot, context)
    assert next(row for row in page.model.rows if row.part.label == "O-1").clean.words == "lost: flooded"
    centre.later(minutes=5)
    page.focus_table()
    keys.press("C")
    opened(qtbot, context, page, FormDialog)
    keys.press("b", "Enter", "1")
    page.bench.dialog.act()
    settled(qtbot, context)
    assert next(row for row in page.model.rows if row.part.label == "O-1").clean.words == "oxygen-clean"


def test_a_certificate_that_fails_is_kept_and_stops_the_gas_of_its_batch(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    centre.fill("oxygen")
    keys = CountedKeys()
    keys.press("Shift+C")
    dialog = opened(qtbot, context, page, FormDialog)
    assert dialog["batch"].text() == "B1", "the batch that was filled last today"
    keys.press("G", "Enter", *centre.today.isoformat(), "Enter", *"99.7", "Enter", *"40", "Enter")
    dialog.act()
    settled(qtbot, context)
    # MIL-PRF-27210, US Navy Diving Manual Table 4-3: carbon dioxide at most 10 ppm.
    assert "Do not use the gas; ask the supplier: carbon dioxide 40 ppm; at most 10 ppm" in page.banner.text
    assert "Not stated: methane" in page.banner.text
    assert next(row for row in page.model.rows if row.part.label == "O-1").state.against_batch


def test_a_new_cylinder_and_the_rule_of_its_type_are_entered_by_key(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    keys = CountedKeys()
    keys.press("N")
    dialog = opened(qtbot, context, page, FormDialog)
    qtbot.waitUntil(lambda: dialog["code"].count() > 0)
    dialog["code"].setCurrentIndex(dialog["code"].findData("CYL-B"))
    qtbot.waitUntil(lambda: dialog["role"].currentText() == "bailout")
    dialog["serial"].setFocus()
    keys.press(*"B-99", "Enter", "Enter", *"7", "Enter", *"232", "Enter", "Enter", "Enter", *"2024-05", "Enter",
               *"2024-05", "Enter", "Enter", "Enter", "Enter")  # fmt: skip
    settled(qtbot, context)
    row = next(row for row in page.model.rows if row.part.label == "B-99")
    assert (row.state.facts.role, row.state.facts.size_l, row.state.facts.working_bar, row.test_state) == (
        "bailout",
        7.0,
        232.0,
        "good",
    )
    page.focus_table()
    keys.press("Shift+T")
    rule = opened(qtbot, context, page, FormDialog)
    qtbot.waitUntil(lambda: rule["code"].count() > 0)
    rule["code"].setCurrentIndex(rule["code"].findData("CYL-B"))
    qtbot.waitUntil(lambda: "hydrostatic every 60 months" in rule["current"].text())
    rule["rule"].setCurrentIndex(rule["rule"].findText("49 CFR 180.209, DOT 3AL"))
    years = rule["years"]
    qtbot.waitUntil(lambda: [years.itemData(at) for at in range(years.count())] == [5, 12])
    rule.act()
    settled(qtbot, context)
    limits = {
        each.limit.test_kind: each for each in cylinder_page(centre.workplace, centre.cylinders["bailout"]).limits
    }
    assert "49 CFR 180.209 Table 1, DOT 3AL" in limits["hydrostatic"].limit.source
    assert limits["visual"].day == date(2026, 8, 31)


def test_the_label_is_shown_and_can_be_kept(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    choose(page, "D-1")
    page.focus_table()
    CountedKeys().press("L")
    settled(qtbot, context)
    dialog = page.bench.dialog
    assert dialog.windowTitle() == "Label of D-1"
    assert dialog.pdf.startswith(b"%PDF")


def test_marked_cylinders_are_the_ones_that_are_filled(qtbot: Any, page: CylinderList, context: PageContext) -> None:
    page.table.selectAll()
    CountedKeys().press("F")
    dialog = opened(qtbot, context, page, FillLogDialog)
    assert len(dialog.grid.rows) == 15
    last = dialog.grid.rows[-1].end
    last.setFocus()
    QApplication.processEvents()
    assert not last.visibleRegion().isEmpty(), "the row that is typed is brought into view"


def test_without_anything_to_fill_it_says_what_to_do(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    from fleetbench.workshop.gas.fills import record_pressures

    record_pressures(
        centre.workplace,
        {line.part.part_id: 0.95 * line.state.facts.working_bar for line in list_cylinders(centre.workplace)},
    )
    CountedKeys().press("F")
    settled(qtbot, context)
    assert "no cylinder here needs filling; mark the ones to fill" in page.banner.text


def test_the_page_of_a_cylinder_shows_depth_density_convention_and_cautions(centre: GasCentre) -> None:
    centre.make_ready()
    detail = cylinder_detail(cylinder_page(centre.workplace, centre.cylinders["oxygen"]), BERLIN)
    words = " ".join(
        " ".join((fact.label, fact.value, fact.note)) for part in detail.parts for fact in getattr(part, "facts", ())
    )
    for said in ("186 bar", "Oxygen lasts", "1.4 L/min uptake", "Maximum depth 6 m", "dry gas at 0 °C", "real gas",
                 "open valves slowly, clean hands and tools", "local law", "oxygen-clean"):  # fmt: skip
        assert said in words


def test_the_depth_by_density_stands_before_the_oxygen_depth_where_it_is_the_smaller(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    """Air is advised to about 30 m and no deeper than about 38 m by its density.

    Anthony and Mitchell, Respiratory physiology of rebreather diving, in Rebreathers and Scientific Diving, 2016:
    5.2 g/L and 6.2 g/L, which air reaches at about 31 m and 39 m.
    """
    centre.make_ready()
    page.refresh()
    settled(qtbot, context)
    row = next(row for row in page.model.rows if row.part.part_id == centre.cylinders["diluent"])
    shown = next(each for each in cylinders.columns(BERLIN) if each.key == "depth").text(row)
    assert shown.startswith("30 m (5.2 g/L); oxygen 4"), shown
    detail = cylinder_detail(cylinder_page(centre.workplace, row.part.part_id), BERLIN)
    facts = {fact.label: fact.value for part in detail.parts for fact in getattr(part, "facts", ())}
    assert facts["Maximum depth"] == shown
    (mine,) = (each for each in unit_gas(centre.workplace, "LK-01").cylinders if each.state.facts.role == "diluent")
    assert cylinders_table((mine,), BERLIN).lines[0].cells[5] == shown


def test_gauges_of_a_fill_log_are_read_by_themselves_once_each_and_keep_their_source_through_a_correction(
    qtbot: Any, page: CylinderList, context: PageContext, centre: GasCentre
) -> None:
    shown = iter((38.4, 203.4, 999.0, 204.6))
    with bad_meter(lambda: next(shown)) as server:
        with centre.act() as act:
            act.add(
                TestEquipment(
                    kind="gauge", name="Filling gauge", serial="G-1", uncertainty=0.5, unit="bar", digit=0.1,
                    last_good_day=centre.today + timedelta(days=90), address=server.address, query="MEAS:VOLT:DC?",
                    answer_unit="bar", range_low=0.0, range_high=400.0, idn=IDN,
                )
            )  # fmt: skip
        desk = MeterDesk(context.theme, context.background, page)
        page.meters = desk  # type: ignore[attr-defined]
        desk.timeout_s = 0.6
        desk.begin(centre.workplace)
        settled(qtbot, context)
        CountedKeys().press("F")
        dialog = opened(qtbot, context, page, FillLogDialog)
        first, second = dialog.grid.rows[:2]

        def read(field: Any, fault: str = "none") -> None:
            server.fault = fault
            field.setFocus()
            QTest.keyClick(field, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
            settled(qtbot, context)

        read(first.start)
        read(first.end)
        assert (first.start.text(), first.end.text()) == ("38.4", "203.4")
        assert first.end.hasFocus(), "the gauge is still on this cylinder: Enter leads on"
        read(second.end)
        assert (second.end.text(), second.end.value) == ("", None) and "out of its range" in dialog.banner.text
        second.end.setFocus()
        CountedKeys().press("=")
        assert second.end.text() == "203" and second.end.metered is None, "one reading is one cylinder's"
        second.end.setFocus()
        CountedKeys().press("2", "0", "1")
        read(second.end, "twice")
        assert second.end.value == 201.0, "refused: what was typed stays"
        kept = dialog.kept()
        dialog.bring_back(kept)
        assert first.end.metered == 203.4 and second.end.metered is None
        dialog.act()
        settled(qtbot, context)
        fill = next(each for each in fills(centre) if each.end_bar == 203.4)
        correct_fill(
            centre.workplace, fill.fill_id, confirmed=True,
            entry=FillEntry(part_id=fill.part_id, oxygen_percent=fill.oxygen_asked, start_bar=38.4, end_bar=200.0),
        )  # fmt: skip
        desk.stop()
        settled(qtbot, context)
    with centre.workplace.database.read_session() as session:
        rows = list(session.scalars(select(MeterReading).order_by(MeterReading.id)))
        (corrected,) = [each for each in session.scalars(select(CylinderFill)) if each.supersedes_id]
        told = [(each.made_id, each.figure, each.value, each.u, each.u_unit) for each in rows]
        assert told == [
            (fill.fill_id, "start_bar", 38.4, 0.5, "bar"), (fill.fill_id, "end_bar", 203.4, 0.5, "bar"),
            (corrected.id, "start_bar", 38.4, 0.5, "bar"),
        ]  # fmt: skip
