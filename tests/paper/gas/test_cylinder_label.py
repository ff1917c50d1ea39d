"""The label of a cylinder: role, gas as analysed, depth rounded down, and what must not be missed."""

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from fleetbench.paper.gas.label import write_cylinder_labels
from fleetbench.records.parts.reads import PartRecord
from fleetbench.workshop.gas.list import CylinderLine
from fleetbench.workshop.gas.state import GasDepths
from tests.paper.distinct import Distinct
from tests.paper.pdf_reader import made, pictures, sizes, texts
from tests.paper.qr_reader import modules_of, read
from tests.paper.sample_pages import gas_state

_POINTS_A_MM = 72 / 25.4


def cylinder(
    role: str, oxygen: float | None, helium: float | None = None, bar: float | None = 190.0, **changes: Any
) -> CylinderLine:
    state = gas_state(role, bar, oxygen, helium)
    if state.analysis is not None:
        state = replace(state, analysis=replace(state.analysis, at=datetime(2026, 6, 15, 9, 5)))
    line = Distinct().row(
        CylinderLine,
        part=Distinct().row(PartRecord, serial="CYL00081"),
        state=state,
        depths=GasDepths(1.6, "", changes.pop("depth", 6.0), dense_at_m=changes.pop("dense_at_m", (None, None))),
        analysed_by="Žofia Ångqvist",
        wished=None,
        next_test=date(2027, 9, 30),
    )
    return replace(line, **changes)


OXYGEN = cylinder("oxygen", 99.6)


def text_of(facts: CylinderLine) -> str:
    return str(texts(made(write_cylinder_labels, [facts]))[0])


def test_a_label_is_62_by_29_mm_one_a_page_and_the_same_data_prints_the_same_bytes() -> None:
    pdf = made(write_cylinder_labels, [OXYGEN, OXYGEN])
    assert sizes(pdf) == [pytest.approx((62 * _POINTS_A_MM, 29 * _POINTS_A_MM), abs=0.1)] * 2
    assert pdf == made(write_cylinder_labels, [OXYGEN, OXYGEN])


def test_it_states_role_gas_pressure_depth_test_and_analysis_with_the_caution_for_oxygen() -> None:
    text = text_of(OXYGEN)
    for fact in ("OXYGEN", "O2 99.6 %", "190 bar", "CYL00081", "to 6 m: oxygen 1.6 bar", "last valid day 2027-09-30",
                 "analysed 2026-06-15 09:05, Žofia Ångqvist", "initials", "open slowly, clean hands"):  # fmt: skip
        assert fact in text
    assert "He" not in text


def test_a_figure_that_was_doubted_and_kept_says_so_on_the_label() -> None:
    seen = cylinder("diluent", 34.0).state
    assert seen.analysis is not None
    kept = replace(seen, analysis=replace(seen.analysis, note="oxygen typed twice: 34 %"))
    assert "oxygen typed twice: 34 %" in text_of(cylinder("diluent", 34.0, state=kept))


def test_the_role_is_the_largest_word_on_it() -> None:
    picture = pictures(made(write_cylinder_labels, [OXYGEN]), 4)[0]
    rows = (picture[: picture.shape[0] // 4, : picture.shape[1] // 3] < 128).any(axis=1)
    assert rows.sum() / 4 / _POINTS_A_MM > 4.0, "capitals over 4 mm high"


@pytest.mark.parametrize(("depth", "shown"), [(56.67, "56 m"), (6.0, "6 m"), (5.999, "5 m"), (33.75, "33 m")])
def test_the_depth_is_rounded_down(depth: float, shown: str) -> None:
    """Air at 1.4 bar is 56.667 m and 32 % 33.750 m: (pO2/fO2 - 1) * 10, NOAA's formula, rounded down as published."""
    assert f"to {shown}: oxygen" in text_of(cylinder("diluent", 99.6, depth=depth))


@pytest.mark.parametrize(("oxygen", "said"), [(12.0, True), (16.0, False)])
def test_gas_under_16_percent_says_that_it_is_not_breathable_at_the_surface(oxygen: float, said: bool) -> None:
    text = text_of(cylinder("diluent", oxygen, 60.0))
    assert ("NOT BREATHABLE AT THE SURFACE" in text) is said
    assert f"O2 {oxygen} % He 60.0 %" in text


def test_gas_not_analysed_leaves_boxes_and_forbids_the_dive() -> None:
    facts = cylinder("oxygen", None, bar=None, depth=None, next_test=None)
    text = text_of(facts)
    for words in ("NOT ANALYSED: DO NOT DIVE", "O2 ____ %", "maximum depth ____ m", "____ bar",
                  "test date not recorded", "analysed ____"):  # fmt: skip
        assert words in text


def test_the_caution_stands_on_rich_gas_of_any_role_and_not_on_air() -> None:
    assert "open slowly" in text_of(cylinder("bailout", 50.0))
    assert "open slowly" not in text_of(cylinder("bailout", 21.0))


def test_the_code_reads_as_the_serial() -> None:
    scale = 10
    picture = pictures(made(write_cylinder_labels, [OXYGEN]), scale)[0]
    left, top, side = picture.shape[1] - round((6.5 + 34.0) * scale), round(6.5 * scale), round(34.0 * scale)
    assert read(modules_of(picture[top : top + side, left : left + side])) == "CYL00081"


def test_no_label_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="choose at least one"):
        made(write_cylinder_labels, [])


def test_the_smaller_of_the_depths_by_density_and_by_oxygen_stands_first_and_the_other_beside_it() -> None:
    """5.2 and 6.2 g/L: from memory. The depths are invented."""
    air = cylinder("bailout", 21.0, depth=56.67, dense_at_m=(30.6, 38.4))
    text = text_of(air)
    first, beside = text.index("to 30 m: density 5.2 g/L"), text.index("6.2 g/L at 38 m; oxygen 1.6 bar at 56 m")
    assert first < beside and "to 56 m" not in text
    shallow = text_of(replace(air, depths=replace(air.depths, maximum_depth_m=28.0)))
    assert "to 28 m: oxygen 1.6 bar" in shallow and "g/L" not in shallow
