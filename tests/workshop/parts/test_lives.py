"""What is kept on a fitting is what the records give, after any act that moves it."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta

from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.life import LifeFacts, LifeLimit, LimitBasis, LimitUnit
from fleetbench.records.parts.tables import Fitting, Part, PartTypeLife
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.lives import (
    calendar_last_good,
    keep_anew,
    rebuild_lives,
    refresh_lives,
    store_calculated,
)
from tests.conftest import Clock
from tests.workshop.small_folder import import_small

OPENED = LifeLimit(LimitBasis.OPENED, 12, LimitUnit.MONTHS, "invented manual")
MADE = LifeLimit(LimitBasis.MADE, 18, LimitUnit.MONTHS, "invented manual")
HOURS = LifeLimit(LimitBasis.HOURS, 1, LimitUnit.HOURS, "invented manual")
FITTED = date(2026, 2, 1)


@pytest.fixture
def filled(workplace: Workplace) -> Workplace:
    """The small invented centre as recorded."""
    import_small(workplace)
    return workplace


def test_the_earliest_calendar_limit_is_kept_and_named() -> None:
    facts = LifeFacts(made=MarkedDate(date(2025, 1, 1)), opened=MarkedDate(date(2025, 12, 15)), fitted=FITTED)
    # The last good day is the day before the anniversary: common practice, no published source.
    assert calendar_last_good([OPENED, MADE, HOURS], facts) == (
        date(2025, 1, 1) + relativedelta(months=18) - relativedelta(days=1), "made",
    )  # fmt: skip


def test_use_and_unknown_dates_leave_nothing_to_keep() -> None:
    assert calendar_last_good([HOURS], LifeFacts(fitted=FITTED)) == (None, None)
    assert calendar_last_good([OPENED], LifeFacts(fitted=FITTED)) == (None, None)
    with pytest.raises(ValueError, match="fitted"):
        calendar_last_good([OPENED], LifeFacts(in_store=True))


def test_a_rebuild_names_what_was_changed_behind_it(filled: Workplace) -> None:
    with filled.transaction("spoil", "FIT-2") as act:
        act.change(act.get(Fitting, 2, "fitting"), last_good_day=date(2027, 12, 31), last_good_basis="made")
    (difference,) = rebuild_lives(filled)
    assert str(difference) == (
        "fitting 2 of C177: 2027-12-31 (made) is kept, 2027-01-31 (opened) follows from the records"
    )


def test_a_changed_limit_or_date_is_taken_over_in_the_same_act(filled: Workplace) -> None:
    with filled.transaction("change life", "CELL-A") as act:
        act.change(act.get(PartTypeLife, 1, "life"), amount=10.0)
        act.change(act.get(Part, 3, "part"), opened_on=date(2026, 1, 15))
        assert refresh_lives(act, [2, 3]) == 2
    assert rebuild_lives(filled) == []
    with filled.database.reading() as connection:
        kept = connection.exec_driver_sql("SELECT last_good_day FROM fitting WHERE id IN (2, 3) ORDER BY id").all()
    assert [str(day) for (day,) in kept] == ["2026-11-30", "2026-11-14"]


def test_nothing_is_noted_where_nothing_moves(filled: Workplace) -> None:
    with filled.transaction("price", "C177") as act:
        act.change(act.get(Part, 2, "part"), price=1.0)
        assert refresh_lives(act, [2]) == 0


def test_what_an_older_program_did_not_keep_is_kept_once_its_tables_are_upgraded(filled: Workplace) -> None:
    with filled.transaction("spoil", "FIT-2") as act:
        act.change(act.get(Fitting, 2, "fitting"), last_good_day=None, last_good_basis=None)
    assert len(rebuild_lives(keep_anew(filled))) == 1  # nothing was upgraded: verify shall say so
    filled.database.upgraded = True
    winter = Clock(filled.clock() + timedelta(days=300))  # after a pause acts ask for a manager's word on the clock
    assert rebuild_lives(keep_anew(Workplace(filled.database, winter, attended=True))) == []
    assert not filled.database.upgraded
    assert verify(filled.database).whole


def test_what_differs_from_a_new_calculation_is_stored_in_one_act(filled: Workplace) -> None:
    with filled.transaction("spoil", "FIT-2") as act:
        act.change(act.get(Fitting, 2, "fitting"), last_good_day=None, last_good_basis=None)
    assert store_calculated(filled) == 1
    assert store_calculated(filled) == 0
    assert rebuild_lives(filled) == []
    assert verify(filled.database).whole
