"""A booking asks for bailout and states its diluent, and the bookings' page says so."""

from datetime import timedelta
from typing import Any

from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.hires.tables import BookingTerms
from fleetbench.window.hires.dialogs import BookingDialog
from fleetbench.window.hires.list import describe
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.list import list_bookings
from tests.centres.hire_centre import HireCentre


def test_what_gas_a_booking_wishes_for_is_kept_and_shown_and_one_that_no_gas_is_refused(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Any, clock: Any
) -> None:
    centre = HireCentre(Workplace(sqlite_database, clock), clock)
    centre.make_fit()
    dialog = BookingDialog(theme, background, centre.workplace)
    with qtbot.waitExposed(dialog):
        dialog.show()
    qtbot.waitUntil(lambda: dialog.unit_type.count() > 0 and not background.is_busy, timeout=10_000)
    for field in (dialog.first, dialog.last):
        field.setText((centre.today + timedelta(days=20)).isoformat())
    dialog.renter.setText("R1")
    dialog.bailout.show_given("yes")
    dialog.oxygen.setText("60")
    dialog.helium.setText("45")
    dialog.act()
    qtbot.waitUntil(lambda: "over 100 % together" in dialog.banner.text, timeout=10_000)
    dialog.oxygen.setText("18")
    with qtbot.waitSignal(dialog.accepted, timeout=10_000):
        dialog.act()
    qtbot.waitUntil(lambda: not background.is_busy)
    with centre.workplace.database.read_session() as session:
        terms = session.scalars(select(BookingTerms).order_by(BookingTerms.id.desc())).first()
        assert (terms.bailout, terms.diluent_oxygen, terms.diluent_helium) == (True, 18.0, 45.0)
    row = next(each for each in list_bookings(centre.workplace) if each.booking.bailout)
    facts = {fact.label: fact.value for part in describe(row).parts for fact in part.facts}
    assert (facts["Bailout"], facts["Diluent"]) == ("yes", "O2 18 %, He 45 %")
