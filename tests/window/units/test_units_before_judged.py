"""The list of units while they are being judged: each is there by its tag, and none looks ready meanwhile."""

import threading
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.window.look.marks import UNKNOWN
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.units.list import ACTS, COLUMNS, OF_THE_UNIT, fit_mark, list_page
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units import list as units
from fleetbench.workshop.units.holds import place_hold
from fleetbench.workshop.units.list import list_units, units_at_once
from tests.centres.ready_centre import Centre

CALCULATED = "being calculated"


@pytest.fixture
def centre(sqlite_database: Database, clock: Any, monkeypatch: pytest.MonkeyPatch) -> Centre:
    """Two units that are many: one more than may be judged before the list is shown."""
    made = Centre(Workplace(sqlite_database, clock), clock)
    monkeypatch.setattr(units, "FEW", 1)
    forget(sqlite_database)
    return made


@pytest.fixture
def judged_when_told(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Says when units may be judged."""
    may_go_on, judge = threading.Event(), units.list_units

    def held_back(workplace: Workplace) -> tuple[units.UnitRow, ...]:
        assert may_go_on.wait(20)
        return judge(workplace)

    monkeypatch.setattr(units, "list_units", held_back)
    yield may_go_on
    may_go_on.set()


def test_a_unit_that_is_not_judged_tells_nothing_but_what_is_recorded_of_itself(centre: Centre) -> None:
    rows = units_at_once(centre.workplace)
    judged = list_units(centre.workplace)
    assert [row.tag for row in rows] == [row.tag for row in judged]
    for row, known in zip(rows, judged, strict=True):
        assert row.pending
        assert (fit_mark(row).shape, fit_mark(row).tone) == (UNKNOWN.shape, UNKNOWN.tone)
        for column in COLUMNS:
            assert column.cell(row) == (column.cell(known) if column.key in OF_THE_UNIT else CALCULATED)
        assert {spec.name for spec in ACTS if spec.needs(row)} == {"add", "new_type", "correct"}


def test_units_that_were_judged_are_listed_at_once_also_after_an_act(centre: Centre) -> None:
    assert all(row.pending for row in units_at_once(centre.workplace))
    judged = list_units(centre.workplace)
    assert units_at_once(centre.workplace) == judged
    place_hold(centre.workplace.as_person(centre.keys.centre.manager), centre.tag(centre.one), "dropped")
    after = units_at_once(centre.workplace)
    assert not any(row.pending for row in after)
    assert after == list_units(centre.workplace) != judged


def test_the_list_is_there_before_units_are_judged_and_no_choice_keeps_any_meanwhile(
    qtbot: QtBot, theme: Theme, background: Background, centre: Centre, judged_when_told: threading.Event
) -> None:
    page = list_page(PageContext(theme, background, centre.workplace, ZoneInfo("UTC")))
    qtbot.addWidget(page)
    with qtbot.waitSignal(page.rows_shown, timeout=20_000):
        page.refresh()
    assert page.model.total == 2
    assert page.summary == f"2 units: {CALCULATED}"
    for button in page.choice_buttons[1:]:
        button.click()
        assert page.model.rowCount() == 0, button.text()
    page.choice_buttons[0].click()
    with qtbot.waitSignal(page.rows_shown, timeout=20_000):
        judged_when_told.set()
    assert not any(row.pending for row in page.model.rows)
    assert page.summary.startswith("2 units: ")
    assert CALCULATED not in page.summary
