"""Default intervals against the rules that they come from."""

from datetime import date

import pytest

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import (
    CELL_AGE_LIMITS,
    CYLINDER_RULES,
    ELASTOMER_RULES,
    ELASTOMER_RULES_ISO_2230,
    INTERNAL_VISUAL_AFTER_RISK_ASSESSMENT,
    cylinder_limits,
)
from fleetbench.calc.parts.life import LifeFacts, governing, last_good_days


@pytest.mark.parametrize(
    ("specification", "years"),
    [
        # 49 CFR 180.209 Table 1: the shortest period that the table gives for each.
        ("DOT 3", 5), ("DOT 3A", 5), ("DOT 3AA", 5), ("DOT 3AL", 5), ("DOT 3AX", 5), ("DOT 3B", 5), ("DOT 3HT", 3),
        ("DOT 3T", 5), ("DOT 4D", 5), ("DOT 8", 10), ("DOT 8AL", 10), ("foreign", 5),
    ],
)  # fmt: skip
def test_each_specification_ends_its_shortest_period_the_day_before_the_anniversary(specification, years):
    hydrostatic, _ = cylinder_limits("49 CFR 180.209", specification)
    facts = LifeFacts(last_tests={"hydrostatic": MarkedDate.parse("2021-05")})
    assert governing(last_good_days([hydrostatic], facts, date(2022, 1, 1))).day == date(2021 + years, 4, 30)


def test_iso_18119_asks_for_five_years_and_a_yearly_look_inside():
    # BS EN ISO 18119:2018 guide interval, second-hand.
    facts = LifeFacts(last_tests={"hydrostatic": MarkedDate(date(2021, 5, 10))})
    limits = cylinder_limits("ISO 18119", "seamless steel or aluminium")
    assert [each.day for each in last_good_days(limits, facts, date(2022, 1, 1))] == [
        date(2026, 5, 9),
        date(2022, 5, 9),
    ]


def test_the_look_inside_may_wait_thirty_months_only_after_a_risk_assessment():
    # BS EN ISO 18119:2018, 2.5 years at most, second-hand.
    assert INTERNAL_VISUAL_AFTER_RISK_ASSESSMENT.amount == 30


def test_a_specification_not_known_is_refused_with_the_remedy():
    with pytest.raises(ValueError, match=r"^specification: .*enter the rule's own"):
        cylinder_limits("49 CFR 180.209", "DOT 99")


def test_shelf_lives_are_those_of_sae_arp5316_and_two_lists_that_disagree_leave_sbr_out():
    # SAE ARP5316, second-hand.
    years = {rule.material: rule.years for rule in ELASTOMER_RULES}
    assert (years["AU"], years["NBR"], years["CR"], years["EPDM"], years["VMQ"]) == (5, 15, 15, None, None)
    assert "SBR" not in years


def test_iso_2230_groups_are_never_longer_than_sae_arp5316():
    # ISO 2230:2002 groups A 5, B 7, C 10 years without extension, from memory.
    longest = {rule.material: rule.years for rule in ELASTOMER_RULES}
    strict = {rule.material: rule.years for rule in ELASTOMER_RULES_ISO_2230}
    assert (strict["NR"], strict["NBR"], strict["EPDM"]) == (5, 7, 10)
    assert all(years <= (longest.get(material) or 99) for material, years in strict.items())


def test_every_default_names_its_source_and_edition():
    assert all(rule.source and rule.edition and rule.limit.source for rule in CYLINDER_RULES)
    assert all(rule.source for rule in (*ELASTOMER_RULES, *ELASTOMER_RULES_ISO_2230))


def test_an_oxygen_cell_ends_a_year_after_opening_or_a_year_and_a_half_after_making():
    # Common practice, no published source; from memory.
    facts = LifeFacts(made=MarkedDate.parse("2025-01"), opened=MarkedDate(date(2025, 9, 10)))
    days = last_good_days(CELL_AGE_LIMITS, facts, date(2025, 10, 1))
    assert [each.day for each in days] == [date(2026, 9, 9), date(2026, 6, 30)]
