"""Whatever replaces a recorded value, tried at two desks: both values are shown, nothing typed is lost, nothing unseen.

Forms are descriptions, so that their acts are done here without a window.
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import pytest

from fleetbench import settings as settings_module
from fleetbench.calc.people.permits import ACTS
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Clash
from fleetbench.records.upkeep.verify import verify
from fleetbench.settings import read_settings, write_settings
from fleetbench.window.forms.form import Form
from fleetbench.window.hires.acts import accessories_form, days_form
from fleetbench.window.hires.sheets import page_terms_form
from fleetbench.window.parts.counted import least_form
from fleetbench.window.people.acts import contact_form, years_form
from fleetbench.window.places.forms import correct_form
from fleetbench.window.places.settings import SETTINGS, settings_form
from fleetbench.window.units.setting_up import rename_form
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.hires.handover import set_accessories
from fleetbench.workshop.hires.list import list_bookings
from fleetbench.workshop.parts.counted import list_kits, set_kit_content
from fleetbench.workshop.parts.stock import add_place
from fleetbench.workshop.people.acts import KINDS
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.places.register import register_rows
from tests.centres.hire_centre import HireCentre
from tests.centres.writing_acts import WRITING_ACTS

Made = Callable[[HireCentre, Workplace], Form]
Given = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Edit:
    """A form that begins with what is recorded, and what two desks write; both: what the second is shown.

    also: what the second changes besides; after all, `kept` of the first stands beside it.
    """

    made: Made
    theirs: Given
    mine: Given
    both: str
    acts: tuple[str, ...] = ()


def registered(sheet: str) -> Made:
    return lambda _centre, manager: correct_form(manager, register_rows(manager, sheet)[0])


def booked(centre: HireCentre) -> Any:
    if not (found := list_bookings(centre.workplace)):
        book(centre.workplace, BookingEntry(
            kind="hire", unit_type="TYPE-L", first=centre.day(3), last=centre.day(5), units=("LK-01",),
            renter_id=centre.keys.other,
        ))  # fmt: skip
        found = list_bookings(centre.workplace)
    return found[0]


def kits(manager: Workplace) -> Any:
    if not (found := list_kits(manager)):
        set_kit_content(manager, add_place(manager, "The van", "van"), "CELL-L", 4)
        found = list_kits(manager)
    return found[0]


def accessories(_centre: HireCentre, manager: Workplace) -> Form:
    if not register_rows(manager, "accessories"):
        set_accessories(manager, "TYPE-L", [("torch", 1)])
    form = accessories_form(SimpleNamespace(workplace=manager))  # type: ignore[arg-type]
    assert form.look is not None
    form.look({"unit_type": "TYPE-L"})
    return form


def person(_centre: HireCentre, manager: Workplace) -> Form:
    return contact_form(manager, next(each for each in list_people(manager) if each.code == "R1"))


def renamed(centre: HireCentre, manager: Workplace) -> Form:
    return rename_form(manager, centre.units["LK-02"], "LK-02")


def kept_settings(_centre: HireCentre, _manager: Workplace) -> Form:
    file = settings_module.data_folder() / SETTINGS
    return settings_form(read_settings(file), lambda kept: write_settings(file, kept))


EDITS: dict[str, Edit] = {
    "a register": Edit(
        registered("centre"), {"telephone": "0555 1", "usual_depth_m": "25"}, {"telephone": "0555 2"},
        "centre: telephone: 0555 1 by another desk, 0555 2 here", ("correct master data", "correct stock record"),
    ),
    "a register, its stock": Edit(
        registered("parts"), {"lot": "L-1", "made_on": "2025-05"}, {"lot": "L-2"},
        "lot: L-1 by another desk, L-2 here",
    ),
    "a contact": Edit(
        person, {"contact": "0555 emergency"}, {"contact": "0555 other"},
        "contact: 0555 emergency by another desk, 0555 other here", ("change contact",),
    ),
    "years": Edit(
        lambda _centre, manager: years_form(manager, [(kind, None, "") for kind in KINDS]),
        {f"years of {KINDS[0]}": 5, f"rule for {KINDS[0]}": "our notice"},
        {f"years of {KINDS[0]}": 7, f"rule for {KINDS[0]}": "our notice"},
        "years: 5 by another desk, 7 here", ("set retention",),
    ),
    "page terms": Edit(
        lambda centre, manager: page_terms_form(manager, booked(centre).booking), {"back_by": "17:00"},
        {"back_by": "9:00"}, "return by: 17:00 by another desk, 09:00 here", ("set page terms",),
    ),
    "a kit": Edit(
        lambda _centre, manager: least_form(manager, kits(manager)), {"least": 6}, {"least": 2},
        "least: 6 by another desk, 2 here", ("set kit contents",),
    ),
    "accessories": Edit(
        accessories, {"unit_type": "TYPE-L", "listed": "2 torch"},
        {"unit_type": "TYPE-L", "listed": "1 torch, 1 whistle"},
        "list: 2 torch by another desk, 1 torch, 1 whistle here", ("set accessories",),
    ),
    "a tag": Edit(renamed, {"tag": "LK-20"}, {"tag": "LK-21"}, "tag: LK-20 by another desk, LK-21 here",
                  ("rename unit",)),
    "the settings": Edit(
        kept_settings, {"look": "dark"}, {"look": "light"}, "look: dark by another desk, light here",
    ),
}  # fmt: skip
"""Every form that begins with what is recorded and replaces it. Bookings are edited in a dialog of their own."""

NO_EDITS = {
    "set first PIN": "asks for none before", "set first manager's PIN": "asks for none before",
    "change PIN": "asks for the old one", "set part aside": "stands beside what was recorded",
    "set test rule": "a rule more, with its date; the ones before stay", "set bench hours": "shows none before",
    "set unit figures": "shows none before",
    "move parts": "both moves stand in the history", "move unit": "both moves stand in the history",
    "move fitted part": "is refused where it came out", "date container": "goes to an earlier day only",
    "edit booking": "tests/workshop/hires/test_edit.py", "move booking": "days, below",
    "correct finding": "is refused once corrected", "correct task": "is refused once corrected",
    "correct step": "is refused once it is to do again",
    "correct minutes": "is refused once corrected", "correct run": "is refused once corrected",
    "correct analysis": "is refused once corrected", "correct fill": "is refused once corrected",
    "correct calibration": "is refused once corrected", "correct turn-round line": "is refused once open",
    "correct clock": "says of the clock alone that it is right",
}  # fmt: skip
"""Acts whose name begins so and which replace nothing that was seen, with the reason."""


@pytest.fixture
def centre(database: Database, clock: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> HireCentre:
    monkeypatch.setattr(settings_module, "data_folder", lambda: tmp_path)
    monkeypatch.setattr("fleetbench.window.places.settings.data_folder", lambda: tmp_path)
    return HireCentre(Workplace(database, clock), clock)


def given(form: Form, changed: Given) -> Given:
    """What stands in the fields: what the form began with, and what was typed."""
    stands = {
        field.name: "" if field.default is None and field.kind in ("text", "words") else field.default
        for field in form.fields
        if field.kind != "told"
    }
    return {**stands, **({"reason": "Seen on its label"} if "reason" in stands else {}), **changed}


def test_each_form_that_replaces_what_is_recorded_shows_both_and_loses_nothing(centre: HireCentre) -> None:
    manager = centre.workplace.as_person(centre.manager)
    for name, edit in EDITS.items():
        mine, theirs = (edit.made(centre, manager) for _ in range(2))
        began = given(mine, edit.mine)
        theirs.act(**given(theirs, edit.theirs))
        entries = verify(manager.database).entries
        with pytest.raises(Clash) as clash:
            mine.act(**began)
        assert edit.both in str(clash.value), (name, str(clash.value))
        assert verify(manager.database).entries == entries, name
        mine.act(**began)  # the second press replaces what was shown
        again = edit.made(centre, manager) if name not in ("years", "a tag") else None
        stands = {field.name: field.default for field in again.fields} if again is not None else {}
        for field, value in edit.theirs.items():
            if field not in edit.mine and field in stands:
                assert str(value) in str(stands[field]), f"{name}: {field} of the other desk was lost"
    assert verify(manager.database).whole
    assert read_settings(settings_module.data_folder() / SETTINGS)["look"] == "light"


def test_days_that_another_desk_gave_a_booking_are_shown(centre: HireCentre) -> None:
    row, bar = booked(centre), SimpleNamespace(workplace=centre.workplace)
    mine, theirs = (days_form(bar, row) for _ in range(2))  # type: ignore[arg-type]
    decision = {"manager": centre.manager, "pin": "2468", "reason": "A dry run"}
    theirs.act(first=centre.day(6), last=centre.day(8), **decision)
    with pytest.raises(Clash, match="by another desk"):
        mine.act(first=centre.day(12), last=centre.day(13), **decision)
    mine.act(first=centre.day(12), last=centre.day(13), **decision)
    assert booked(centre).booking.starts_on == centre.day(12)


def test_every_act_that_replaces_something_is_tried_at_two_desks_or_says_why_not() -> None:
    begins = ("set ", "edit ", "change ", "correct ", "rename ", "move ", "date ")
    replace = {name for name in ACTS.keys() - WRITING_ACTS if name.startswith(begins)}
    assert replace == {name for edit in EDITS.values() for name in edit.acts} | NO_EDITS.keys()
