"""A centre that states imperial units types, reads and prints in them, while its records stay in SI."""

from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QLabel
from sqlalchemy import select

from fleetbench.calc.core import measures
from fleetbench.calc.core.measures import BAR, StatedUnits
from fleetbench.records.core.database import Database
from fleetbench.records.gas.reads import read_fills, read_last_gauges
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.upkeep.verify import verify
from fleetbench.window.gas.acts import pressure_words
from fleetbench.workshop.core.workplace import Workplace, read_centre
from fleetbench.workshop.gas.list import list_cylinders
from fleetbench.workshop.people.list import list_people
from tests.centres.gas_centre import GasCentre
from tests.conftest import Clock
from tests.paper.structure import read
from tests.window.places.hands import Centre, MakeCentre, centres_made

PSI = 6894.757  # Pa, NIST Special Publication 811 (2008), appendix B.8, pound-force per square inch


@pytest.fixture
def make_centre(qtbot: Any) -> Iterator[MakeCentre]:
    with measures.using(StatedUnits()):
        yield from centres_made(qtbot)


@pytest.fixture
def small(make_centre: MakeCentre, sqlite_database: Database, clock: Clock) -> Centre:
    """The window on the small centre with gas, its manager signed in."""
    GasCentre(Workplace(sqlite_database, clock), clock)
    centre = make_centre(Workplace(sqlite_database, clock, attended=True))
    manager = next(each for each in list_people(centre.workplace) if each.role == "manager")
    centre.desk.background.signed_in.choose(manager.person_id)
    centre.settle()
    return centre


def state_imperial(centre: Centre) -> None:
    page = centre.go("centre", "centre")
    page.table.setCurrentIndex(page.model.index(0, 0))
    page.table.setFocus()
    QTest.keyClick(page.table, Qt.Key.Key_F4)
    centre.qtbot.waitUntil(lambda: page.dialog is not None)
    centre.settle()
    centre.fill(page.dialog, measures="imperial", currency="EUR", reason="our gauges read psi")
    centre.save(page.dialog)
    assert "Units: not recorded → imperial." in page.banner.text
    centre.settle()


def titles(page: Any) -> list[str]:
    model, across = page.table.model(), Qt.Orientation.Horizontal
    return [str(model.headerData(at, across)) for at in range(model.columnCount())]


def pressure_of(dialog: Any) -> Any:
    return next(iter(dialog.fields.values()))


def press_gauge(centre: Centre, page: Any, digits: str) -> Any:
    page.table.setFocus()
    QTest.keyClick(page.table, Qt.Key.Key_G)
    centre.qtbot.waitUntil(lambda: page.bench.dialog is not None and page.bench.dialog.isVisible())
    centre.settle()
    dialog = page.bench.dialog
    QTest.keyClicks(pressure_of(dialog), digits)
    return dialog


def read_its_help(centre: Centre, dialog: Any, field: Any) -> None:
    """F1 over a dialog tells of that dialog, and leaves keyboard and figures as they were."""
    for key in (Qt.Key.Key_F1, Qt.Key.Key_Escape):
        field.setFocus()
        QTest.keyClick(field, Qt.Key.Key_F1)
        centre.qtbot.waitUntil(lambda: bool(dialog.findChildren(QDialog)))
        (told,) = dialog.findChildren(QDialog)
        words = [line.text() for line in told.findChildren(QLabel)]
        assert words[0] == "Gauge of O-2" and "O-2, oxygen, psi" in words
        QTest.keyClick(told.focusWidget(), key)
        centre.qtbot.waitUntil(lambda: not dialog.findChildren(QDialog))
        assert dialog.isVisible() and field.text() == "298"
        assert dialog.focusWidget() is field


def test_a_centre_that_states_imperial_types_reads_and_prints_psi(small: Centre) -> None:
    cylinders = small.go("cylinders")
    assert "Bar" in titles(cylinders)
    state_imperial(small)
    assert read_centre(small.workplace).stated == StatedUnits("imperial")
    cylinders = small.go("cylinders")  # made again, so that no figure stands under a unit of before
    assert "Psi" in titles(cylinders)
    assert "Bar" not in titles(cylinders)

    row = next(at for at, each in enumerate(cylinders.model.rows) if each.part.label == "O-2")
    cylinders.table.setCurrentIndex(cylinders.model.index(row, 0))
    dialog = press_gauge(small, cylinders, "6000")
    QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    small.settle()
    assert "6000 is outside 0 to 5076 psi; read the gauge, in psi" in dialog.banner.text
    field = pressure_of(dialog)
    for _ in range(4):
        QTest.keyClick(field, Qt.Key.Key_Backspace)
    QTest.keyClicks(field, "298")
    read_its_help(small, dialog, field)
    QTest.keyClicks(field, "2987")  # what stands there is written over, as on a display
    small.save(dialog)
    with small.workplace.database.reading() as connection:
        stored = read_last_gauges(connection)[0].bar
    assert stored == pytest.approx(2987 * PSI / 1e5, rel=1e-7)
    line = next(each for each in list_cylinders(small.workplace) if each.part.label == "O-2")
    assert pressure_words(line) == "2987 psi"

    QTest.keyClick(cylinders.table, Qt.Key.Key_L)
    small.qtbot.waitUntil(lambda: cylinders.bench.dialog is not dialog and cylinders.bench.dialog is not None)
    small.settle()
    heard = " ".join(text for _kind, text in read(cylinders.bench.dialog.pdf).heard())
    assert "2987 psi" in heard
    assert " bar" not in heard.replace("oxygen 1.6 bar", ""), heard
    cylinders.bench.dialog.reject()
    small.settle()
    assert verify(small.workplace.database).whole
    kinds = small.go("centre", "part_types")
    small.start(kinds, "add")
    assert "EUR" in [label.text() for label in kinds.dialog.cells["price"].findChildren(QLabel)]
    kinds.dialog.reject()
    small.settle()


def test_a_form_that_is_saved_as_it_was_shown_moves_no_stored_figure(small: Centre) -> None:
    with small.workplace.database.reading() as connection:
        before = list(connection.execute(select(Cylinder.part_id, Cylinder.working_bar)))
    state_imperial(small)
    page = small.go("centre", "cylinders")
    page.table.setCurrentIndex(page.model.index(0, 0))
    small.settle()
    small.start(page, "correct")
    assert page.dialog["working_bar"].text() in {BAR.number(bar) for _, bar in before} - {
        f"{bar:g}" for _, bar in before
    }
    small.fill(page.dialog, marking="repainted", reason="read again")
    small.save(page.dialog)
    with small.workplace.database.reading() as connection:
        assert list(connection.execute(select(Cylinder.part_id, Cylinder.working_bar))) == before
        assert not list(read_fills(connection))
