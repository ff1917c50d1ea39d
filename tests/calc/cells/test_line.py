"""Straight-line fit against NIST StRD, JCGM 100 H.3 and ISO/TS 28037; current limiting above 1 bar."""

import math

import numpy as np
import pytest

from fleetbench.calc.cells.drift import fit_line, hold_against_line
from fleetbench.calc.cells.uncertainty import Standing

# NIST StRD Norris, "Calibration of Ozone Monitors".
NORRIS_Y = [
    *(
        0.1,
        338.8,
        118.1,
        888,
        9.2,
        228.1,
        668.5,
        998.5,
        449.1,
        778.9,
        559.2,
        0.3,
        0.1,
        778.1,
        668.8,
        339.3,
        448.9,
        10.8,
    ),
    *(
        557.7,
        228.3,
        998,
        888.8,
        119.6,
        0.3,
        0.6,
        557.6,
        339.3,
        888,
        998.5,
        778.9,
        10.2,
        117.6,
        228.9,
        668.4,
        449.2,
        0.2,
    ),
]
NORRIS_X = [
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5, 666.9, 338, 447.5, 11.6),
    *(556, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
]

# JCGM 100:2008, table H.6, calibration of a thermometer (second-hand).
THERMOMETER_T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
THERMOMETER_B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_norris_gives_the_certified_line_of_nist_strd() -> None:
    line = fit_line(NORRIS_X, NORRIS_Y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.u_slope == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert line.chi_squared == pytest.approx(26.6173985294224, rel=1e-10)


def test_thermometer_gives_the_line_of_jcgm_100_h_3() -> None:
    line = fit_line(THERMOMETER_T, THERMOMETER_B, origin=20.0)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert line.covariance / (line.u_intercept * line.u_slope) == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    at_30, u_at_30 = line.at(30.0)
    assert at_30 == pytest.approx(-0.1494, abs=5e-5)
    assert u_at_30 == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.parametrize(
    ("y", "u", "intercept", "slope", "covariance", "chi_squared"),
    # ISO/TS 28037:2010, 6.3, pages 13 and 15 (second-hand): a, u(a); b, u(b); cov; chi squared.
    [
        ([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5] * 6, (1.867, 0.465), (1.757, 0.120), -0.050, 1.665),
        ([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0.5] * 3 + [1.0] * 3, (0.885, 0.530), (2.057, 0.178), -0.082, 4.131),
    ],
)
def test_weighted_line_is_that_of_iso_ts_28037(y, u, intercept, slope, covariance, chi_squared) -> None:
    line = fit_line([1, 2, 3, 4, 5, 6], y, u)
    assert (line.intercept, line.u_intercept) == pytest.approx(intercept, abs=5e-4)
    assert (line.slope, line.u_slope) == pytest.approx(slope, abs=5e-4)
    assert line.covariance == pytest.approx(covariance, abs=5e-4)
    assert line.chi_squared == pytest.approx(chi_squared, abs=5e-4)


@pytest.mark.parametrize(
    ("x", "y", "u"),
    [([1.0], [1.0], [0.1]), ([1, 1], [1, 2], [0.1, 0.1]), ([1, 2], [1, np.nan], [0.1, 0.1]), ([1, 2], [1, 2, 3], None)],
)
def test_points_that_make_no_line_are_refused(x, y, u) -> None:
    with pytest.raises(ValueError, match="points"):
        fit_line(x, y, u)


def test_two_points_without_uncertainty_are_refused() -> None:
    with pytest.raises(ValueError, match="points"):
        fit_line([1, 2], [1, 2])


def pot(*readings: float):
    """A cell of 47 mV/bar with pot points at 1.2, 1.4 and 1.6 bar, invented."""
    po2 = [0.21, 0.99, 1.2, 1.4, 1.6][: 2 + len(readings)]
    return hold_against_line(
        po2, [9.87, 46.53, *readings], [0.05] * len(po2), [0.0] * 2 + [0.01] * len(readings), low=95, high=105
    )


def test_a_cell_that_holds_its_line_is_verified_up_to_its_highest_point() -> None:
    finding = pot(56.4, 65.8, 75.2)
    assert finding.standing is Standing.INSIDE
    assert finding.verified_up_to_bar == 1.6


def test_an_oxygen_point_over_the_top_of_the_line_still_makes_the_line() -> None:
    finding = hold_against_line(
        [0.215, 1.06, 1.6], [10.105, 49.82, 61.0], [0.05] * 3, [0.0, 0.0, 0.01], low=95, high=105, ordinary=2
    )
    assert [point.po2_bar for point in finding.points] == [1.6]
    assert finding.standing is Standing.BELOW


def test_the_interval_of_a_pot_point_holds_the_lines_own_uncertainty() -> None:
    # JCGM 100:2008, 5.1.2: a line through two points, extrapolated by hand to 1.6 bar; k = 2.
    (x1, y1, u1), (x2, y2, u2), (x, y, u) = (0.2, 9.4, 0.05), (1.0, 47.0, 0.06), (1.6, 75.2, 0.04)
    finding = hold_against_line([x1, x2, x], [y1, y2, y], [u1, u2, u], [0.0] * 3, low=95, high=105)
    u_line = np.hypot((x2 - x) / (x2 - x1) * u1, (x - x1) / (x2 - x1) * u2)
    (point,) = finding.points
    assert point.percent_of_line == pytest.approx(100.0)
    assert point.expanded_u == pytest.approx(2.0 * 100.0 * np.hypot(u / 75.2, u_line / 75.2), rel=1e-6)


def test_a_cell_that_flattens_above_1_2_bar_is_current_limited_and_verified_only_so_far() -> None:
    finding = pot(56.3, 60.0, 61.0)
    assert finding.standing is Standing.BELOW
    assert finding.verified_up_to_bar == 1.2
    assert finding.largest_departure == pytest.approx(100 * (61.0 / 75.2 - 1), abs=0.3)


def test_a_point_whose_interval_crosses_the_limit_decides_nothing() -> None:
    assert pot(56.4, 65.8 * 0.955).standing is Standing.ACROSS


def test_no_point_above_one_bar_verifies_nothing_above_it() -> None:
    assert pot().verified_up_to_bar is None


def test_the_lines_own_uncertainty_is_part_of_a_pot_points() -> None:
    # JCGM 100:2008, H.3.4 and 5.1.6 by hand: the line through air and oxygen is extrapolated to 2 bar, where its own
    # uncertainty is more than the point's; points and slope 50 mV/bar, u = 0.2 mV at both ordinary points.
    finding = hold_against_line(
        [0.21, 1.0, 2.0], [10.5, 50.0, 100.0], [0.2, 0.2, 0.2], [0.0, 0.0, 0.0], low=95.0, high=105.0, ordinary=2
    )
    (point,) = finding.points
    centre, spread = (0.21 + 1.0) / 2, 2 * ((1.0 - 0.21) / 2) ** 2
    of_line = 0.2 * math.sqrt(0.5 + (2.0 - centre) ** 2 / spread)
    assert of_line > 2 * 0.2
    assert point.expanded_u == pytest.approx(2 * 100 * math.hypot(0.2 / 100, of_line / 100), rel=1e-6)
