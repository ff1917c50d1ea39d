"""An incident at hand-back freezes unit, cylinders, fill and what was filled from the same batch, and is printed."""

from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from fleetbench.calc.hires.log import RunBack
from fleetbench.paper.units.evidence import CAUTIONS, print_incident
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.core.database import Database
from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.tickets.tables import Finding
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.canisters.packing import pack_canister
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.handback import HandBackEntry, hand_back
from fleetbench.workshop.hires.receive import receive
from fleetbench.workshop.units.holds import freeze_unit, lift_hold
from tests.centres.hire_centre import HireCentre


@pytest.fixture
def centre(sqlite_database: Database, clock: Any) -> HireCentre:
    """LK-01 is out with its renter and a fill; a spare canister was packed from the same container."""
    made = HireCentre(Workplace(sqlite_database, clock), clock)
    for canister in ("CAN-L-LK-01", "CAN-SPARE"):
        pack_canister(made.workplace, canister, made.keys.sealed, tare_g=1000.0, filled_g=3500.0, looked_at=True)
    with made.workplace.transaction("write", "out") as act:
        line = act.get(BookingUnit, made.keys.line, "line")
        act.change(line, out_at=act.at, hand_over="assembled", out_by_id=made.keys.centre.technician)
    clock.advance(hours=5)
    return made


def test_details_are_told_of_a_frozen_unit_and_its_fill_stays_as_it_is(centre: HireCentre) -> None:
    receive(centre.workplace, "LK-01", wet=True, flooded=False, fault=True)
    frozen = freeze_unit(centre.workplace, "LK-01", "Diver felt unwell at 12 m, 20 minutes in")
    assert frozen.same_container == ("CAN-SPARE",)
    entry = HandBackEntry(line_id=centre.keys.line, runs=(RunBack(minutes=20, coldest_c=11.0, deepest_m=12.0),),
                          faults="unwell at 12 m")  # fmt: skip
    hand_back(centre.workplace, [entry])
    assert [run.minutes for run in centre.rows(Run)] == [20]
    assert [row.text for row in centre.rows(Finding)] == ["unwell at 12 m"]
    assert all(fill.discarded_at is None for fill in centre.rows(Fill))
    with pytest.raises(Refused, match="on hold: packed from the same absorbent as LK-01"):
        pack_canister(
            centre.workplace, "CAN-SPARE", centre.keys.open_one, tare_g=1000.0, filled_g=3500.0, looked_at=True
        )
    assert verify(centre.workplace.database).whole


def test_the_incident_sheet_says_what_to_preserve_and_names_no_fault(centre: HireCentre, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="LK-01: is not frozen"):
        print_incident(centre.workplace, "LK-01", tmp_path / "none.pdf")
    frozen = freeze_unit(centre.workplace, "LK-01", "Diver felt unwell <b>at 12 m</b>")
    print_incident(centre.workplace, "LK-01", tmp_path / "sheet.pdf")
    document = pypdfium2.PdfDocument(tmp_path / "sheet.pdf")
    said = " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)
    document.close()
    for words in ("Incident: preserve", "Diver felt unwell <b>at 12 m</b>", "CAN-SPARE", "not poured out", CAUTIONS[0],
                  "logs of every handset", "Tamsin Orrel"):  # fmt: skip
        assert words in said, words
    assert "Ines" not in said, "the diver is named nowhere"
    for hold in centre.rows(Hold):
        lift_hold(centre.workplace.as_person(centre.manager), hold.id, "given back by the authority")
    with pytest.raises(Refused, match="is not frozen"):
        print_incident(centre.workplace, "LK-01", tmp_path / "again.pdf")
    assert frozen.unit == "LK-01"


def test_what_an_act_freezes_stays_as_it_is_for_its_own_later_entries(centre: HireCentre) -> None:
    with (
        pytest.raises(Refused, match="LK-01: is frozen after an incident"),
        centre.workplace.transaction("write", "freeze") as act,
    ):
        unit = act.get(Unit, act.get(BookingUnit, centre.keys.line, "line").unit_id, "unit")
        act.change(unit, serial="as read on Monday")
        act.close_entry()
        act.add(Hold(unit_id=unit.id, kind="incident", placed_at=act.at, placed_by_id=centre.manager, reason="unwell"))
        act.close_entry()
        act.change(unit, serial="as read on Tuesday")
        act.close_entry()
    assert not centre.rows(Hold)
