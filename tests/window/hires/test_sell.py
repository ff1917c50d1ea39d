"""The question of a sale asked at the desk: the answer while it is typed, the way booked, and taken back."""

from typing import Any
from zoneinfo import ZoneInfo

from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking, BookingTerms
from fleetbench.window.hires.list import list_page
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people
from tests.centres.hire_centre import HireCentre


def test_the_question_is_answered_as_it_is_typed_and_the_way_is_booked(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any
) -> None:
    centre = HireCentre(Workplace(sqlite_database, clock), clock, units=3)
    centre.make_fit()
    page = list_page(PageContext(theme, background, centre.workplace, ZoneInfo("Europe/Berlin")))
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    page.activateWindow()
    with qtbot.waitSignal(page.rows_shown):
        page.refresh()
    page.bench.start("sell")
    qtbot.waitUntil(lambda: page.bench.dialog is not None)
    dialog: Any = page.bench.dialog
    for name, text in (("first", centre.day(6).isoformat()), ("last", centre.day(7).isoformat()), ("wanted", "4")):
        dialog[name].setText(text)
        dialog[name].editingFinished.emit()
    qtbot.waitUntil(lambda: "4 wanted" in dialog["told"].text(), timeout=20_000)
    assert "3 can go as they are" in dialog["told"].text()
    assert "1 missing" in dialog["told"].text()
    renter = next(each for each in list_people(centre.workplace) if each.person_id == centre.keys.other)
    dialog["renter"].setText(renter.code)
    dialog["price_terms"].setText("deposit 200")
    with qtbot.waitSignal(dialog.done_with, timeout=20_000):
        dialog.act()
    booking, terms = centre.rows(Booking)[-1], centre.rows(BookingTerms)[-1]
    assert (booking.units_wanted, terms.price_terms) == (3, "deposit 200")
    qtbot.waitUntil(lambda: booking.code in page.banner.text, timeout=20_000)
