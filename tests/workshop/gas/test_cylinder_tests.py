"""Tests of cylinders by rule and date: worked dates of each interval, and what a failed or late test does."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import select

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import CYLINDER_RULES
from fleetbench.calc.parts.life import LastGoodDay
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import read_parts
from fleetbench.records.parts.tables import PartTypeLife
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.gas.entry import enter_cylinder, record_test, set_test_rule
from fleetbench.workshop.parts.lives import book_of, rebuild_lives
from tests.centres.gas_centre import GasCentre


@pytest.fixture
def centre(sqlite_database: Any, clock: Any) -> GasCentre:
    """The small centre with gas."""
    return GasCentre(Workplace(sqlite_database, clock), clock)


@pytest.fixture
def anywhere(workplace: Workplace, clock: Any) -> GasCentre:
    """The same on either database."""
    return GasCentre(workplace, clock)


def days(centre: GasCentre, part_id: int) -> dict[str, LastGoodDay]:
    """The last good day of each test of a part."""
    with centre.workplace.database.reading() as connection:
        book = book_of(read_life_records(connection, (part_id,)), day_of(centre.workplace))
        part = read_parts(connection, part_id=part_id)[0]
    return {each.limit.test_kind: each for each in book.last_good_days(part)}


@pytest.mark.parametrize(
    ("rule", "specification", "years", "last"),
    [
        # Tested 1 September 2025; the last good day is the day before the anniversary. Periods: 49 CFR 180.209 Table 1,
        # and BS EN ISO 18119:2018 (second-hand).
        ("49 CFR 180.209", "DOT 3HT", None, date(2028, 8, 31)),
        ("49 CFR 180.209", "DOT 3AA", None, date(2030, 8, 31)),
        ("49 CFR 180.209", "DOT 3AA", 10, date(2035, 8, 31)),
        ("49 CFR 180.209", "DOT 3AL", None, date(2030, 8, 31)),
        ("49 CFR 180.209", "DOT 3AL", 12, date(2037, 8, 31)),
        ("49 CFR 180.209", "DOT 8AL", None, date(2035, 8, 31)),
        ("49 CFR 180.209", "foreign", None, date(2030, 8, 31)),
        ("ISO 18119", "seamless steel or aluminium", None, date(2030, 8, 31)),
    ],
)
def test_a_rule_sets_the_interval_with_its_source_and_edition(
    centre: GasCentre, rule: str, specification: str, years: int | None, last: date
) -> None:
    set_test_rule(centre.workplace, "CYL-D", rule=rule, specification=specification, years=years)
    found = days(centre, centre.cylinders["diluent"])
    assert found["hydrostatic"].day == last
    assert found["visual"].day == date(2026, 8, 31)
    with centre.workplace.database.reading() as connection:
        query = select(PartTypeLife.source).where(PartTypeLife.test == "hydrostatic")
        sources = " ".join(connection.scalars(query.where(PartTypeLife.part_type_id == centre.part_type("CYL-D"))))
    edition = next(each.edition for each in CYLINDER_RULES if (each.rule, each.specification) == (rule, specification))
    assert edition in sources
    assert not [each for each in rebuild_lives(centre.workplace) if each.part == "D-1"]


def test_a_period_the_rule_does_not_know_and_an_unknown_rule_are_refused(centre: GasCentre) -> None:
    with pytest.raises(Refused, match="choose 5, 10, 12"):
        set_test_rule(centre.workplace, "CYL-D", rule="49 CFR 180.209", specification="DOT 3AA", years=7)
    with pytest.raises(Refused, match="no default interval"):
        set_test_rule(centre.workplace, "CYL-D", rule="local", specification="any")


def test_visuals_further_apart_than_yearly_need_the_local_rule_in_words(centre: GasCentre) -> None:
    """BS EN ISO 18119:2018: yearly, up to 2.5 years after a risk assessment; second-hand."""
    rule = {"rule": "ISO 18119", "specification": "seamless steel or aluminium"}
    with pytest.raises(Refused, match="visual months"):
        set_test_rule(centre.workplace, "CYL-D", visual_months=30, **rule)
    set_test_rule(centre.workplace, "CYL-D", visual_months=30, local_rule="sport cycle, invented", **rule)
    assert days(centre, centre.cylinders["diluent"])["visual"].day == date(2028, 2, 29)
    with pytest.raises(Refused, match="visual months"):
        set_test_rule(centre.workplace, "CYL-D", visual_months=31, local_rule="sport cycle, invented", **rule)


def test_a_late_visual_does_not_move_the_hydrostatic_day(centre: GasCentre) -> None:
    """UK sport cycle: a visual 4 years after the test leaves 1 year to the next test (second-hand)."""
    key = centre.cylinders["diluent"]
    before = days(centre, key)["hydrostatic"].day
    centre.later(days=(date(2029, 9, 1) - centre.today).days)
    record_test(centre.workplace, [key], "visual", done_by="Test house")
    found = days(centre, key)
    assert found["hydrostatic"].day == before == date(2030, 8, 31)
    assert found["visual"].day == date(2032, 2, 29)


def test_a_hydrostatic_test_counts_as_the_visual_too(centre: GasCentre) -> None:
    key = centre.cylinders["diluent"]
    record_test(centre.workplace, [key], "hydrostatic", done=MarkedDate.parse("2026-04"), done_by="Test house")
    found = days(centre, key)
    # Stamped to the month: counted from its first day.
    assert (found["hydrostatic"].day, found["visual"].day) == (date(2031, 3, 31), date(2028, 9, 30))


def test_several_parts_are_tested_in_one_act_and_the_kept_days_follow(anywhere: GasCentre) -> None:
    centre = anywhere
    keys = [centre.cylinders["oxygen"], centre.cylinders["diluent"], centre.cylinders["oxygen"]]
    assert len(record_test(centre.workplace, keys, "visual", done_by="Test house")) == 2
    assert not [each for each in rebuild_lives(centre.workplace) if each.part in ("O-1", "D-1")]


@pytest.mark.parametrize(("done", "said"), [("2026-06", "lies ahead"), ("2021-02-28", "before D-1 was made")])
def test_a_day_that_cannot_be_is_refused(centre: GasCentre, done: str, said: str) -> None:
    with pytest.raises(Refused, match=said):
        record_test(centre.workplace, [centre.cylinders["diluent"]], "visual", done=MarkedDate.parse(done))


def test_a_part_is_entered_as_a_cylinder_once(centre: GasCentre) -> None:
    facts: dict[str, Any] = {"role": "bailout", "size_l": 7.0, "working_bar": 232.0, "marking": " B 77 "}
    key = enter_cylinder(centre.workplace, centre.regulator, **facts)
    with centre.workplace.database.read_session() as session:
        row = session.get(Cylinder, key)
        assert row is not None
        assert (row.role, row.marking) == ("bailout", "B 77")
    with pytest.raises(Refused, match="already"):
        enter_cylinder(centre.workplace, centre.regulator, **facts)
    for changed in ({"size_l": 0.0}, {"working_bar": 4000.0}, {"role": "spare air"}):
        with pytest.raises(Refused):
            enter_cylinder(centre.workplace, centre.part("BATT-L-LK-01"), **{**facts, **changed})


def test_a_failed_visual_is_not_made_good_by_an_older_hydrostatic_test_and_a_later_pass_is(centre: GasCentre) -> None:
    key = centre.cylinders["diluent"]
    record_test(centre.workplace, [key], "visual", passed=False, done_by="Test house")
    found = days(centre, key)
    assert found["visual"].day is None
    assert found["visual"].why.startswith("visual test not passed 2026-05-04")
    assert found["hydrostatic"].day == date(2030, 8, 31)
    centre.later(days=3)
    record_test(centre.workplace, [key], "visual", done_by="Test house")
    assert days(centre, key)["visual"].day == date(2028, 11, 6)
    assert not [each for each in rebuild_lives(centre.workplace) if each.part == "D-1"]
