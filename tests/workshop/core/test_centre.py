"""The centre itself, and the day on which a question is asked."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from fleetbench.records.core.errors import NotFound
from fleetbench.workshop.core.workplace import Workplace, day_of, read_centre
from tests.centres.ready_centre import Centre


def test_an_empty_database_says_what_to_do_next(workplace: Workplace) -> None:
    with pytest.raises(NotFound, match="import the centre's files first"):
        read_centre(workplace)


def test_the_centre_tells_its_name_and_site(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    found = read_centre(centre.workplace)
    assert (found.name, found.units, found.usual_depth_m) == ("Invented Lake Centre", 2, 30.0)


def test_the_day_is_the_sites_own_and_not_that_of_utc(workplace: Workplace, clock: Any) -> None:
    centre = Centre(workplace, clock)
    clock.now = datetime(2026, 5, 4, 22, 30, tzinfo=UTC)  # half past midnight in the site's summer time
    assert day_of(centre.workplace).today == date(2026, 5, 5)
    assert day_of(centre.workplace, date(2026, 1, 1)).today == date(2026, 1, 1)
    assert day_of(centre.workplace).of(datetime(2026, 1, 1, 23, 30, tzinfo=UTC)) == date(2026, 1, 2)
