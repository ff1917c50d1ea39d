"""What is wrong with gas or cylinders stops the hand-over itself, with words a filler understands; mended, it goes.

Limits: common practice, no published source.
"""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.paper.hires.handover_sheet import HandoverSheet
from fleetbench.paper.hires.pages import write_handover
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType
from fleetbench.records.units.tables import Slot
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import record_test
from fleetbench.workshop.gas.list import list_cylinders
from fleetbench.workshop.gas.oxygen_side import clean_parts, lose_clean, unit_gas
from fleetbench.workshop.hires.handover import Handing, hand_over
from fleetbench.workshop.hires.list import handover_facts
from tests.centres.bench_centre import MANUAL
from tests.centres.gas_centre import GasCentre
from tests.paper.pdf_reader import made, texts
from tests.paper.sample_pages import LETTERHEAD

CODE = "H-7"
HANDING = Handing(unit="LK-01", kind="kit", harness="M", accessories=6, absorbent_kg=8.0)


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas, filled, analysed and read."""
    made = GasCentre(Workplace(sqlite_database, clock), clock)
    made.make_ready()
    return made


def refused(centre: GasCentre) -> str:
    """What the desk is told when it hands the unit over."""
    with pytest.raises(Refused) as refusal:
        hand_over(centre.workplace, CODE, [HANDING])
    return str(refusal.value)


def test_stale_gas_wrong_gas_lost_cleanliness_and_a_lapsed_test_each_stop_the_hand_over_until_mended(
    centre: GasCentre,
) -> None:
    centre.fill("oxygen")
    assert "oxygen O-1: not analysed since it was filled" in refused(centre)
    centre.later(minutes=20)
    centre.analyse("oxygen")

    centre.analyse("diluent", oxygen_percent=32.0)
    assert "diluent D-1: oxygen 32.0% analysed, 21.0% asked" in refused(centre)
    centre.later(minutes=1)
    centre.analyse("diluent")

    centre.analyse("oxygen", oxygen_percent=21.0)
    assert "oxygen O-1: 21.0% oxygen, which is another gas than oxygen" in refused(centre)
    centre.later(minutes=1)
    centre.analyse("oxygen")

    lose_clean(centre.workplace, [centre.cylinders["oxygen"]], "opened off the clean bench")
    assert "cylinder O-1: oxygen-clean status lost: opened off the clean bench" in refused(centre)
    centre.later(minutes=20)
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2, clean bench")

    with centre.act() as act:
        key = centre.cylinders["bailout"]
        for row in act.session.scalars(select(PartTest).where(PartTest.part_id == key)):
            act.change(row, done_on=row.done_on.replace(year=row.done_on.year - 5))
    # Tested on 1 September 2020: 30 months end the day before the anniversary.
    assert "cylinder B-1: last valid day 2023-02-28 by 30 months from the last visual" in refused(centre)
    record_test(centre.workplace, [centre.cylinders["bailout"]], "hydrostatic", done_by="Test house")

    assert hand_over(centre.workplace, CODE, [HANDING])


def test_a_bailout_set_as_an_assembly_goes_out_with_its_unit_from_the_list_to_the_sheet(centre: GasCentre) -> None:
    with centre.act() as act:
        owner, cylinder = centre.keys.centre.owner, act.get(Part, centre.cylinders["bailout"], "part")
        kind = act.add(PartType(code="BSET", name="Bailout set", kind="bailout set", assembly=True, source=MANUAL))
        slots = [
            act.add(Slot(assembly_type_id=kind.id, name=f"set {of}", kind=of, ordinal=place, critical=True))
            for place, of in enumerate(("bailout cylinder", "bailout regulator"), 1)
        ]
        seat = act.add(Slot(unit_type_id=centre.keys.centre.unit_type, name="bailout set", kind="bailout set",
                            critical=False, ordinal=30))  # fmt: skip
        host = act.add(Part(part_type_id=kind.id, serial="BS-1", owner_id=owner, state="fitted"))
        act.add(Fitting(part_id=host.id, slot_id=seat.id, unit_id=centre.one, fitted_at=act.at))
        for key, slot in zip((cylinder.id, centre.regulator), slots, strict=True):
            sits = act.session.scalars(select(Fitting).where(Fitting.part_id == key)).one()
            act.change(sits, removed_at=act.at, why_removed="moved")
            act.add(Fitting(part_id=key, slot_id=slot.id, host_part_id=host.id, fitted_at=act.at))
    line = next(each for each in list_cylinders(centre.workplace) if each.part.part_id == cylinder.id)
    assert (line.unit, line.slot) == ("LK-01", "set bailout cylinder")
    facts = handover_facts(centre.workplace, "LK-01", CODE)
    assert [each.part.label for each in facts.cylinders if each.filled.role == "bailout"] == ["B-1"]
    regulator = next(each for each in facts.fitted if each.part_id == centre.regulator)
    assert (regulator.slot, regulator.last_good_day) == ("set bailout regulator", date(2026, 8, 31))
    service = next(each for each in unit_gas(centre.workplace, "LK-01").services if each.serial == "RB-1")
    assert service.last_good_day == date(2026, 8, 31)
    bailout = next(each for each in facts.assessment.checks if each.check == "bailout")
    assert bailout.result == "ok"
    text = " ".join(texts(made(write_handover, HandoverSheet(facts=facts, letterhead=LETTERHEAD))))
    assert "set bailout regulator RB-1, last valid day 2026-08-31" in text
