"""What is wrong with gas or cylinders stops the hand-over itself, with words a filler understands; mended, it goes.

Limits: common practice, no published source.
"""

from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.records.errors import Refused
from fleetbench.records.parts import PartTest
from fleetbench.workshop.cylinder_tests import record_test
from fleetbench.workshop.handover_acts import Handing, hand_over
from fleetbench.workshop.oxygen_clean import clean_parts, lose_clean
from fleetbench.workshop.shop import Shop
from tests.gas_centre import GasCentre

CODE = "H-7"
HANDING = Handing(unit="LK-01", kind="kit", harness="M", accessories=6, absorbent_kg=8.0)


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas, filled, analysed and read."""
    made = GasCentre(Shop(sqlite_database, clock), clock)
    made.make_ready()
    return made


def refused(centre: GasCentre) -> str:
    """What the desk is told when it hands the unit over."""
    with pytest.raises(Refused) as refusal:
        hand_over(centre.shop, CODE, [HANDING])
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

    lose_clean(centre.shop, [centre.cylinders["oxygen"]], "opened off the clean bench")
    assert "cylinder O-1: oxygen-clean status lost: opened off the clean bench" in refused(centre)
    centre.later(minutes=20)
    clean_parts(centre.shop, [centre.cylinders["oxygen"]], "bath 2, clean bench")

    with centre.act() as act:
        key = centre.cylinders["bailout"]
        for row in act.session.scalars(select(PartTest).where(PartTest.part_id == key)):
            act.change(row, done_on=row.done_on.replace(year=row.done_on.year - 5))
    # Tested on 1 September 2020: 30 months end the day before the anniversary.
    assert "cylinder B-1: last good day 2023-02-28 by 30 months from the last visual" in refused(centre)
    record_test(centre.shop, [centre.cylinders["bailout"]], "hydrostatic", done_by="Test house")

    assert hand_over(centre.shop, CODE, [HANDING])
