"""Whether a canister may be packed: one broken fact at a time, and the reason that names it with its remedy.

Figures are invented; the rules are common practice, no published source.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from uncertainties import ufloat

from fleetbench.calc.canisters.packing import PackFacts, drawn_g, net_mass_g, net_u_g, why_not_packable

AT = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)
SOUND = PackFacts(
    canister="K-1", at=AT, on=date(2026, 5, 4), holds=None, emptied_at=AT - timedelta(hours=1),
    grades=frozenset({"fine"}), grade="fine", lot="L1", lot_last_good_day=date(2026, 5, 4),
    opened_at=AT - timedelta(hours=335), left_kg=2.5, mass_g=2480.0, min_mass_g=2300.0, full_mass_g=2500.0,
    hours_since_opened=336.0,
)  # fmt: skip


def test_nothing_stands_against_a_sound_packing_on_the_lots_last_good_day() -> None:
    assert why_not_packable(SOUND) == ()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"holds": "fill 7"}, "canister K-1: still holds fill 7; discard that first"),
        ({"emptied_at": AT + timedelta(minutes=1)}, "packed at: canister K-1 was emptied later"),
        ({"grades": frozenset()}, "has no table of rated minutes; enter it"),
        ({"grade": "coarse"}, "grade: coarse, but the canister is rated for fine; choose another"),
        ({"grade": None}, "grade: not known, but the canister is rated for fine"),
        ({"lot_last_good_day": None}, "its last valid day is not known; enter the date"),
        ({"lot_last_good_day": date(2026, 5, 3)}, "its last valid day was 2026-05-03; choose another"),
        ({"opened_at": AT - timedelta(hours=336)}, "opened over 336 h ago"),
        ({"mass_g": 2299.9}, "mass: 2299.9 g is under the type's least of 2300 g; fill it up"),
        ({"mass_g": 0.0}, "mass: 0 g of absorbent; look at"),
        ({"mass_g": 3720.0, "left_kg": 9.0}, "is the empty canister weighed with it"),
        ({"left_kg": 2.479}, "2.479 kg left on record, 2.480 kg asked"),
        ({"mass_g": None, "left_kg": 2.4}, "2.400 kg left on record, 2.500 kg asked"),
        ({"mass_g": None, "full_mass_g": None}, "mass: not weighed, and the type's full mass is not recorded"),
        ({"more": ("canister K-1: on hold: cracked",)}, "on hold: cracked"),
    ],
)
def test_each_broken_fact_is_refused_alone_with_its_remedy(changes: dict[str, object], said: str) -> None:
    reasons = why_not_packable(replace(SOUND, **changes))
    assert len(reasons) == 1
    assert said in reasons[0]


def test_a_mass_counts_with_its_whole_interval() -> None:
    # JCGM 106:2012, 8.3.2: a guard band as wide as the expanded uncertainty.
    near = replace(SOUND, mass_g=2310.0, mass_u_g=10.0)
    assert why_not_packable(near) == ()
    [reason] = why_not_packable(replace(near, mass_u_g=10.1))
    assert reason.startswith("mass: 2310 ± 10 g does not show the type's least of 2300 g; add a little")


def test_a_net_mass_has_the_uncertainty_of_two_readings() -> None:
    # JCGM 100:2008, 5.1.2; against the uncertainties package, which propagates it by itself.
    filled, tare = ufloat(3720.0, 5.0), ufloat(1240.0, 5.0)
    assert net_u_g(5.0) == pytest.approx(2.0 * (filled - tare).std_dev)
    assert net_u_g(None) is None


def test_every_reason_is_told_not_only_the_first() -> None:
    assert len(why_not_packable(replace(SOUND, holds="fill 7", grade="coarse", lot_last_good_day=None))) == 3


def test_an_unopened_container_has_no_hours_to_have_passed() -> None:
    assert why_not_packable(replace(SOUND, opened_at=None)) == ()


def test_a_type_without_a_least_mass_is_packed_with_what_was_weighed() -> None:
    assert why_not_packable(replace(SOUND, min_mass_g=None, full_mass_g=None, mass_g=900.0)) == ()


def test_net_mass_needs_both_weighings_and_an_unweighed_fill_draws_a_full_one() -> None:
    assert net_mass_g(3720.0, 1240.0) == 2480.0
    assert net_mass_g(3720.0, None) is None
    assert net_mass_g(None, 1240.0) is None
    assert drawn_g(SOUND) == 2480.0
    assert drawn_g(replace(SOUND, mass_g=None)) == 2500.0
