"""Where an act happens: the database, the clock and the person at the bench, passed in and never global."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from fleetbench.records.act import Act, acting
from fleetbench.records.database import Database
from fleetbench.records.places import centre_timezone


def wall_clock() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Shop:
    """The database, the clock and who acts."""

    database: Database
    clock: Callable[[], datetime] = wall_clock
    person_id: int | None = None

    def acting(self, name: str, subject: str) -> AbstractContextManager[Act]:
        """One act in one transaction with one journal entry."""
        return acting(self.database, self.clock, self.person_id, name, subject)

    def as_person(self, person_id: int | None) -> "Shop":
        """The same shop with another person at the bench."""
        return replace(self, person_id=person_id)

    def zone(self) -> ZoneInfo:
        """The site's time zone; UTC until the centre has one."""
        with self.database.reading() as connection:
            return ZoneInfo(centre_timezone(connection) or "UTC")

    def today(self) -> date:
        """The site's calendar date."""
        return self.clock().astimezone(self.zone()).date()
