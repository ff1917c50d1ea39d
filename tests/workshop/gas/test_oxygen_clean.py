"""Oxygen-clean status from records, and lubricant and seal kits on the ticket: common practice, no published source."""

from typing import Any

import pytest

from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.fills import FillEntry, record_fills
from fleetbench.workshop.gas.oxygen_side import (
    OxygenSidePart,
    clean_parts,
    lose_clean,
    materials_of,
    oxygen_side,
    use_material,
)
from fleetbench.workshop.tickets.list import ticket_page
from tests.centres.gas_centre import GasCentre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    return GasCentre(workplace, clock)


def cylinder(centre: GasCentre) -> OxygenSidePart:
    return next(each for each in oxygen_side(centre.workplace, "LK-01") if each.slot == "oxygen cylinder")


def test_a_cleaned_cylinder_is_clean_and_cells_keep_no_status_of_their_own(centre: GasCentre) -> None:
    assert (cylinder(centre).status.clean, cylinder(centre).kept) == (True, True)
    cell = next(each for each in oxygen_side(centre.workplace, "LK-01") if each.slot == "cell 1")
    assert (cell.kept, cell.status.clean) == (False, None)


@pytest.mark.parametrize("why", ["opened off the clean bench", "flooded", "wrong lubricant"])
def test_what_is_written_down_ends_it_and_a_cleaning_gives_it_back(centre: GasCentre, why: str) -> None:
    key = centre.cylinders["oxygen"]
    lose_clean(centre.workplace, [key], why, note="seen by T1")
    assert cylinder(centre).status.words == f"lost: {why}: seen by T1"
    centre.later(minutes=30)
    clean_parts(centre.workplace, [key], "bath 2, clean bench")
    assert cylinder(centre).status.clean is True


def test_a_cleaning_that_did_not_pass_leaves_it_unclean(centre: GasCentre) -> None:
    centre.later(minutes=30)
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2", passed=False)
    assert cylinder(centre).status.clean is False


def test_a_fill_with_air_that_is_not_oxygen_compatible_ends_it(centre: GasCentre) -> None:
    key = centre.cylinders["oxygen"]
    entry = FillEntry(part_id=key, oxygen_percent=100.0, end_bar=180.0, oxygen_compatible=False)
    with pytest.raises(Refused, match="ends its oxygen-clean status"):
        record_fills(centre.workplace, [entry])
    record_fills(centre.workplace, [entry], confirmed={key})
    assert "not oxygen-compatible" in cylinder(centre).status.words
    centre.later(minutes=5)
    again = FillEntry(part_id=key, oxygen_percent=100.0, end_bar=180.0, oxygen_compatible=True)
    with pytest.raises(Refused, match="oxygen-clean status lost"):
        record_fills(centre.workplace, [again], confirmed={key})


def test_a_flood_of_the_unit_ends_it_for_what_sat_in_it_then(anywhere: GasCentre) -> None:
    centre = anywhere
    line = centre.book(centre.one, -4, -1, "H-9", out_at=centre.ago(4), received_at=centre.ago(1))
    assert cylinder(centre).status.clean is True
    from fleetbench.records.hires.tables import BookingUnit

    centre.change(BookingUnit, line, flooded=True)
    assert cylinder(centre).status.words == "lost: the unit was flooded"
    clean_parts(centre.workplace, [centre.cylinders["oxygen"]], "bath 2")
    assert cylinder(centre).status.clean is True


def test_a_flood_of_another_unit_or_before_it_was_fitted_is_none_of_its_own(centre: GasCentre) -> None:
    other = centre.book(centre.two, -4, -1, "H-8", out_at=centre.ago(4), received_at=centre.ago(1))
    early = centre.book(centre.one, -90, -80, "H-7b", out_at=centre.ago(90), received_at=centre.ago(80))
    from fleetbench.records.hires.tables import BookingUnit

    for line in (other, early):
        centre.change(BookingUnit, line, flooded=True)
    assert cylinder(centre).status.clean is True


def test_lubricant_and_seal_kit_lots_are_kept_on_the_ticket(anywhere: GasCentre) -> None:
    centre = anywhere
    ticket = centre.ticket(centre.one)
    use_material(centre.workplace, ticket, kind="seal kit", name="Kit 4", lot="K-88", oxygen_compatible=True,
                 part_ids=[centre.cylinders["oxygen"]])  # fmt: skip
    use_material(centre.workplace, ticket, kind="lubricant", name="Grease O", lot="G-7", oxygen_compatible=True)
    assert [(each.kind, each.name, each.lot, each.person) for each in materials_of(centre.workplace, ticket)] == [
        ("seal kit", "Kit 4", "K-88", "Tamsin Orrel"), ("lubricant", "Grease O", "G-7", "Tamsin Orrel"),
    ]  # fmt: skip
    assert cylinder(centre).status.clean is True
    assert ticket_page(centre.workplace, "2026-001").materials == (
        "seal kit Kit 4, lot K-88, oxygen-compatible, on O-1", "lubricant Grease O, lot G-7, oxygen-compatible",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("compatible", "said"), [(False, "lot G-9, not oxygen-compatible"), (None, "lot G-9, not known to be")]
)
def test_a_lubricant_not_known_to_be_oxygen_compatible_ends_it(
    centre: GasCentre, compatible: bool | None, said: str
) -> None:
    ticket = centre.ticket(centre.one)
    use_material(centre.workplace, ticket, kind="lubricant", name="Grease W", lot="G-9", oxygen_compatible=compatible,
                 part_ids=[centre.cylinders["oxygen"]])  # fmt: skip
    assert said in cylinder(centre).status.words


def test_what_is_missing_is_refused_by_name(centre: GasCentre) -> None:
    ticket, key = centre.ticket(centre.one), centre.cylinders["oxygen"]
    with pytest.raises(Refused, match=r"^lot: "):
        use_material(centre.workplace, ticket, kind="lubricant", name="Grease O", lot=" ", oxygen_compatible=True)
    with pytest.raises(Refused, match=r"^how: "):
        clean_parts(centre.workplace, [key], " ")
    with pytest.raises(Refused, match=r"^note: "):
        lose_clean(centre.workplace, [key], "other")
    with pytest.raises(Refused, match=r"^why: "):
        lose_clean(centre.workplace, [key], "sneezed on")
    with pytest.raises(Refused, match=r"^parts: "):
        clean_parts(centre.workplace, [], "bath 2")
