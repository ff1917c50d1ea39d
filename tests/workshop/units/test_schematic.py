"""The schematic from a type's slots: the order of the flow, every slot once, states, and slots never heard of."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.workshop.canisters.list import FillState, list_canisters
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.list import FittedPart, LifeWord
from fleetbench.workshop.units.schematic import DrawnSide, Schematic, Station, arranged, unit_schematic
from tests.centres.bench_centre import write_centre
from tests.centres.ready_centre import Centre

KINDS = (
    "mouthpiece", "mouthpiece valve", "one-way valve", "hose", "counterlung", "canister", "head", "cell", "loop set",
    "relief valve", "solenoid", "injector", "oxygen cylinder", "diluent first stage", "bailout cylinder", "handset",
    "drive gas cylinder", "heated vest plug", "second scrubber fan",
)  # fmt: skip


def placed(*slots: tuple[Any, ...]) -> list[tuple[FittedPart, Station]]:
    """Slots as (depth, name, kind, flow place, oxygen side), each with a part of its own."""
    made = []
    for number, (depth, name, kind, place, oxygen) in enumerate(slots, start=1):
        part = FittedPart(
            depth, number, name, kind, True, place, oxygen, number, f"S-{number}", kind, None, None, None, None, None,
            False, None, "", LifeWord.GOOD,
        )  # fmt: skip
        made.append((part, Station(number, name, kind, number, f"S-{number}", "good", "")))
    return made


def drawn(found: Schematic) -> list[int]:
    return sorted(each.slot_id for each in found.stations())


slot = st.tuples(
    st.integers(0, 2), st.sampled_from(("inhale x", "exhale x", "x", "oxygen x")), st.sampled_from(KINDS),
    st.none() | st.integers(0, 9), st.booleans(),
)  # fmt: skip


@given(slots=st.lists(slot, max_size=25))
def test_every_slot_of_any_type_is_drawn(slots: list[tuple[Any, ...]]) -> None:
    found = arranged("U-1", placed(*slots))
    hidden = {number for number, each in enumerate(slots, start=1) if each[2] == "loop set"}
    assert set(range(1, len(slots) + 1)) - set(drawn(found)) <= hidden, "only a loop set gives way to what is in it"
    assert len(drawn(found)) == len(set(drawn(found))), "no slot is drawn twice"


@given(slots=st.lists(slot, max_size=25))
def test_a_gas_side_joins_the_loop_at_a_place_that_is_there(slots: list[tuple[Any, ...]]) -> None:
    found = arranged("U-1", placed(*slots))
    for feed in found.feeds:
        assert feed.joins is None or 0 <= feed.joins < len(found.loop)
        assert (feed.joins is None) == (feed.gas is DrawnSide.BAILOUT or not found.loop)


ODD = (
    (0, "loop set", "loop set", 1, False), (1, "inhale one-way valve", "one-way valve", 1, False),
    (1, "exhale one-way valve", "one-way valve", 3, False), (1, "mouthpiece", "mouthpiece", 2, False),
    (0, "head", "head", 5, True), (1, "cell 1", "cell", None, True), (1, "cell 2", "cell", None, True),
    (0, "inhale counterlung", "counterlung", 6, False), (0, "exhale counterlung", "counterlung", 3, False),
    (0, "canister", "canister", 4, False), (0, "second scrubber fan", "second scrubber fan", 4, False),
    (0, "heated vest plug", "heated vest plug", None, False),
    (0, "drive gas cylinder", "drive gas cylinder", None, False),
)  # fmt: skip


def test_the_loop_runs_from_the_mouthpiece_by_canister_and_head_back_to_the_inhale_valve() -> None:
    # Mouthpiece, exhale side, canister, head, inhale side: how a loop is built, common practice.
    found = arranged("U-1", placed(*ODD))
    assert [each.slot for each in found.loop] == [
        "mouthpiece", "exhale one-way valve", "exhale counterlung", "canister", "second scrubber fan", "head",
        "inhale counterlung", "inhale one-way valve",
    ]  # fmt: skip
    assert [each.slot for each in found.loop[5].inside] == ["cell 1", "cell 2"]
    assert [each.slot for each in found.beside] == ["heated vest plug"]
    assert [feed.gas for feed in found.feeds] == [DrawnSide.DRIVE]


def test_the_worst_state_in_a_box_is_shown_with_whose_it_is() -> None:
    cells = tuple(Station(n, f"cell {n}", "cell", n, None, word, "") for n, word in ((2, "pass"), (3, "reject")))
    head = Station(1, "head", "head", 1, None, "good", "", cells)
    assert (head.worst, head.shown) == ("reject", "cell 3: reject")


@pytest.mark.parametrize(("tag", "oxygen_end"), [("B-01", "solenoid"), ("C-01", "injector")])
def test_both_types_of_the_sample_are_drawn_whole(sample_workplace: Workplace, tag: str, oxygen_end: str) -> None:
    found = unit_schematic(sample_workplace, tag)
    kinds = [each.slot_kind for each in found.loop]
    assert kinds.index("canister") < kinds.index("head")
    assert found.loop[0].slot_kind == "mouthpiece"
    assert found.loop[-1].slot == "inhale one-way valve"
    assert [each.slot for each in found.loop if each.inside] == ["head"]
    oxygen = next(feed for feed in found.feeds if feed.gas is DrawnSide.OXYGEN)
    assert [each.slot for each in oxygen.stations] == ["oxygen cylinder", "oxygen first stage", oxygen_end]
    assert oxygen.joins == kinds.index("head")


def test_the_creeping_regulator_of_the_sample_stands_failed_in_its_place_with_its_last_test(
    sample_workplace: Workplace,
) -> None:
    stage = next(
        each for each in unit_schematic(sample_workplace, "C-05").stations() if each.slot == "oxygen first stage"
    )
    assert stage.state == "failed"
    assert "Last test 2026-06-05 UTC: intermediate pressure reject, did not hold" in stage.words


def state(workplace: Workplace, slot_name: str) -> str:
    return next(each.state for each in unit_schematic(workplace, "LK-01").stations() if each.slot == slot_name)


def test_an_empty_canister_is_empty_a_fill_is_packed_and_one_that_is_out_is_not_known(
    workplace: Workplace, clock: Any
) -> None:
    centre = Centre(workplace, clock)
    assert state(centre.workplace, "canister") == "empty"
    centre.pack(0.2)
    assert state(centre.workplace, "canister") == "packed"
    centre.book(centre.one, -2, 3, "H-OUT", out_at=centre.ago(0.1))
    assert state(centre.workplace, "canister") == FillState.OUT
    assert {row.unit: row.state for row in list_canisters(centre.workplace)}["LK-01"] == FillState.OUT


def test_a_battery_that_nobody_read_is_not_good(workplace: Workplace, clock: Any) -> None:
    write_centre(workplace.database, clock())
    assert state(workplace, "handset 1 battery") == "not read"
