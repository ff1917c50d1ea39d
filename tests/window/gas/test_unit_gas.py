"""The gas side of a unit in the window: batteries of all devices at once, services, and cleanliness part by part."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtWidgets import QApplication

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.gas.acts import battery_form
from fleetbench.window.gas.unit import UnitGasPage, record_page
from fleetbench.window.look.theme import Theme
from fleetbench.window.parts.page import record_page as part_page
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import unit_gas
from fleetbench.workshop.turn_rounds.handsets import battery_lines
from tests.centres.gas_centre import GasCentre
from tests.window.bench_keys import CountedKeys, shown

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def page(qtbot: Any, theme: Theme, background: Background, centre: GasCentre) -> Iterator[UnitGasPage]:
    """The gas side of the first unit, the keyboard on it."""
    made = record_page(PageContext(theme, background, centre.workplace, BERLIN))
    made.resize(1200, 800)
    shown(qtbot, made)
    made.show_key("LK-01")
    settled(qtbot, made)
    made.focus_first()
    yield made
    if made.dialog is not None:
        made.dialog.reject()
    settled(qtbot, made)
    made.hide()


def settled(qtbot: Any, page: UnitGasPage) -> None:
    qtbot.waitUntil(lambda: not page.bar.context.background.is_busy, timeout=20_000)
    QApplication.processEvents()


def press(qtbot: Any, page: UnitGasPage, *keys: str) -> CountedKeys:
    """Press these, the first of which opens a dialog."""
    counted = CountedKeys()
    counted.press(keys[0])
    qtbot.waitActive(page.dialog)
    counted.press(*keys[1:])
    settled(qtbot, page)
    return counted


def test_the_voltages_of_all_devices_are_taken_in_one_go_and_judged(
    qtbot: Any, page: UnitGasPage, centre: GasCentre
) -> None:
    press(qtbot, page, "V", *"3.5", "Enter", "Enter")
    assert battery_lines(centre.workplace, "LK-01")[0].volts == 3.5
    assert "handset 1 battery: reject" in page.banner.text
    assert "3.50 V" in str(page.detail)


def test_forty_one_volts_are_asked_about_and_the_next_figure_is_no_answer(
    qtbot: Any, page: UnitGasPage, centre: GasCentre
) -> None:
    before = battery_lines(centre.workplace, "LK-01")
    press(qtbot, page, "V", *"41", "Enter")
    assert page.dialog is not None
    field = next(each for name, each in page.dialog.fields.items() if name != "meter")
    assert field.hasFocus() and "41 V is unusual" in page.dialog.banner.text
    keys = CountedKeys()
    keys.press(*"3.9", "Enter")
    assert field.hasFocus() and field.text() == "41" and "was not taken" in page.dialog.banner.text
    page.dialog.act()
    settled(qtbot, page)
    assert battery_lines(centre.workplace, "LK-01") == before
    page.dialog.reject()
    settled(qtbot, page)


def test_a_regulators_service_and_the_gauges_of_the_unit_are_recorded(
    qtbot: Any, page: UnitGasPage, centre: GasCentre
) -> None:
    (line,) = unit_gas(centre.workplace, "LK-01").services
    # Serviced on 1 September 2025, every 12 months: the day before the anniversary.
    assert (line.slot, line.serial, line.last_good_day.isoformat()) == ("bailout regulator", "RB-1", "2026-08-31")
    press(qtbot, page, "S", "1", "Enter", *"workshop", "Enter", "Enter")
    (line,) = unit_gas(centre.workplace, "LK-01").services
    assert line.done == centre.today.isoformat()
    page.focus_first()
    press(qtbot, page, "G", *"1801902000"[:9], "Enter")
    assert [each.state.now_bar for each in unit_gas(centre.workplace, "LK-01").cylinders] == [180.0, 190.0, 200.0]


def test_a_part_on_the_oxygen_side_loses_its_status_and_gets_it_back(
    qtbot: Any, page: UnitGasPage, centre: GasCentre
) -> None:
    press(qtbot, page, "Z", "1", "Enter", "1", "Enter")
    part = next(each for each in unit_gas(centre.workplace, "LK-01").oxygen_side if each.slot == "oxygen cylinder")
    assert part.status.words == "lost: opened off the clean bench"
    centre.later(minutes=5)
    page.focus_first()
    press(qtbot, page, "C", "1", "Enter", *"bath 2", "Enter", "1")
    page.dialog.act()
    settled(qtbot, page)
    assert [each.status.clean for each in unit_gas(centre.workplace, "LK-01").oxygen_side] == [True, None, None, None]
    assert page.buttons["lost"].isEnabled()


def test_a_part_that_keeps_a_status_is_cleaned_from_its_own_page_and_another_is_not_asked(
    qtbot: Any, theme: Theme, background: Background, centre: GasCentre
) -> None:
    page = part_page(PageContext(theme, background, centre.workplace, BERLIN))
    shown(qtbot, page)
    page.show_key(str(centre.spares["oxygen"][0]))
    qtbot.waitUntil(page.tests.isVisible, timeout=10_000)
    page.tests.buttons["lost"].click()
    assert page.tests.dialog.windowTitle() == "O-2: oxygen-clean lost"
    qtbot.waitActive(page.tests.dialog)
    page.tests.dialog["why"].setFocus()
    qtbot.waitUntil(page.tests.dialog["why"].hasFocus)
    CountedKeys().press("3", "Enter")
    qtbot.waitUntil(lambda: not background.is_busy and "O-2: recorded" in page.banner.text, timeout=10_000)
    page.show_key(str(centre.regulator))
    qtbot.waitUntil(lambda: not background.is_busy and not page.tests.isVisible(), timeout=10_000)
    page.hide()


def test_two_devices_typed_for_each_other_are_named_before_they_are_recorded(
    qtbot: Any, page: UnitGasPage, theme: Theme, background: Background, centre: GasCentre
) -> None:
    side = unit_gas(centre.workplace, "LK-01")
    (line,) = side.batteries
    twice = replace(side, batteries=(replace(line, volts=3.6), replace(line, slot="handset 2 battery", volts=4.05)))
    dialog = FormDialog(theme, background, battery_form(centre.workplace, twice), page)
    for slot, typed in ((line.slot, "4.04"), ("handset 2 battery", "3.61")):
        field = dialog.fields[slot]
        assert isinstance(field, DecimalField)
        field.setText(typed)
    with pytest.raises(Refused, match=r"look exchanged: 4.04 and 3.61 V, last 3.6 and 4.05 V.*record once more"):
        dialog.work()
    dialog.work()
    dialog.deleteLater()
