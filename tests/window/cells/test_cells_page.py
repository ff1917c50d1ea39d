"""The plots, the list's own columns and the dialogs of cells."""

from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from fleetbench.calc.parts.demand import Life, kaplan_meier
from fleetbench.window.cells import list as view
from fleetbench.window.cells.acts import LifeDialog, SpreadDialog
from fleetbench.window.cells.plots import DriftCard, LifeCard, PastFlushCard, cards_of, followed, stepped
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.cells.cell_lives import LifeLine
from fleetbench.workshop.cells.list import cell_page, list_cells
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.ready_centre import Centre

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def centre(workplace: Workplace, clock: Any) -> Centre:
    """The small centre, its units fit to leave."""
    return Centre(workplace, clock)


def test_the_drift_plot_holds_every_calibration_and_says_in_words_what_it_shows(
    centre: Centre, theme: Theme, qtbot: QtBot
) -> None:
    centre.calibrate(centre.one, 1, "watch")
    page = cell_page(centre.workplace, centre.part("C-LK-01-2"))
    card = DriftCard(theme, page, BERLIN)
    qtbot.addWidget(card)
    assert len(card.points) == len(page.drift) == 2
    assert "No forecast: 2 calibrations" in card.words.text()


def test_a_cell_without_a_calibration_has_a_page_without_a_plot(centre: Centre, theme: Theme, qtbot: QtBot) -> None:
    page = cell_page(centre.workplace, centre.part("C-NEW"))
    card = DriftCard(theme, page, BERLIN)
    qtbot.addWidget(card)
    assert card.points == () and "begins with the first" in card.words.text()


def test_a_life_curve_steps_where_a_cell_failed(theme: Theme, qtbot: QtBot) -> None:
    curve = kaplan_meier([Life(100, True), Life(200, True), Life(300, False), Life(400, True)])
    line = LifeLine("oxygen cell", "L-1", 4, 3, curve, ((180, 0.75, 0.13, 0.96),), "4 watched, 3 failed.")
    xs, ys = stepped(line, 0)
    assert (xs[:3], ys[:3]) == ([0.0, 100.0, 100.0], [1.0, 1.0, 0.75])
    card = LifeCard(theme, [line], 120.0)
    qtbot.addWidget(card)
    assert "lot L-1: 4 watched, 3 failed. 75 % still serve after 180 days (13 to 96 %)." in card.words.text()


def test_the_list_says_age_against_each_limit_forecast_and_what_is_shared(centre: Centre) -> None:
    row = list_cells(centre.workplace)[0]
    said = {column.key: column.text(row) for column in view.columns(BERLIN)}
    assert said["ages"].startswith("opened 60, ") and "; made 60, " in said["ages"]
    assert said["forecast"] == "no forecast"
    assert said["shared"].startswith("same lot as") or said["shared"].startswith("made within")


def test_one_press_fits_a_proposed_cell_and_the_proposal_is_made_anew(
    centre: Centre, theme: Theme, background: Background, qtbot: QtBot
) -> None:
    centre.calibrate(centre.one, 1, "reject")
    workplace = centre.workplace.as_person(centre.keys.centre.technician)
    dialog = SpreadDialog(theme, background, workplace)
    qtbot.addWidget(dialog)
    qtbot.waitUntil(lambda: dialog.plan is not None and not background.is_busy)
    assert dialog.plan is not None
    before = len(dialog.plan.lines)
    press = next(each for each in dialog.findChildren(QPushButton) if each.text() == "Fit into LK-01, cell 2")
    with qtbot.waitSignal(dialog.fitted):
        press.click()
    qtbot.waitUntil(lambda: not background.is_busy)
    assert len(dialog.plan.lines) == before - 1


def test_the_life_dialog_says_what_to_do_where_nothing_was_fitted(
    workplace: Workplace, theme: Theme, background: Background, qtbot: QtBot
) -> None:
    dialog = LifeDialog(theme, background, workplace)
    qtbot.addWidget(dialog)
    qtbot.waitUntil(lambda: bool(dialog.summary.text()) and not background.is_busy)
    assert dialog.lines == ()


def test_a_page_has_a_plot_for_each_flush_with_timed_readings(
    sample_workplace: Workplace, theme: Theme, qtbot: QtBot
) -> None:
    row = max(list_cells(sample_workplace), key=lambda row: len(row.trend))
    page = cell_page(sample_workplace, row.part.part_id)
    body = QWidget()
    qtbot.addWidget(body)
    cards = cards_of(theme, page, BERLIN, 100.0, body)
    assert [type(card).__name__ for card in cards] == ["DriftCard", "DriftCard", "PastFlushCard", "LifeCard"]
    flushes = cards[2]
    assert isinstance(flushes, PastFlushCard)
    flushes.show()
    seen = [flushes.plot.series]
    while flushes.older.isEnabled():
        qtbot.keyClick(flushes.older, Qt.Key.Key_Space)
        seen.append(flushes.plot.series)
    assert len(seen) == len(page.flushes) > 1
    assert {each[0].mv for each in seen} == {run.readers[0][2] for run in page.flushes}
    assert f"{len(seen)} of {len(seen)}" in flushes.title.text()
    qtbot.keyClick(flushes.newer, Qt.Key.Key_Space)
    assert flushes.plot.series == seen[-2]


def test_the_drift_in_air_holds_each_output_its_limits_and_its_forecast(
    sample_workplace: Workplace, theme: Theme, qtbot: QtBot
) -> None:
    row = next(row for row in list_cells(sample_workplace) if row.unit and len(row.trend) > 20)
    page = cell_page(sample_workplace, row.part.part_id)
    linear, in_air = followed(page)
    assert (in_air.low, in_air.high) == (page.bounds.air_low_mv, page.bounds.air_high_mv)
    assert [in_air.value(each) for each in in_air.points] == [each.air_mv for each in page.drift if each.air_mv]
    assert in_air.ahead.band and linear.ahead.band
    card = DriftCard(theme, page, BERLIN, in_air=True)
    qtbot.addWidget(card)
    assert card.words.text().startswith(page.outlook.air.sentence)
    assert "dry air at 1013.25 mbar" in card.words.text()
