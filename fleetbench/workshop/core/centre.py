"""The centre itself as sheets and the window's head show it, and the day on which a question is asked."""

from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from fleetbench.records.core.errors import NotFound
from fleetbench.records.places.reads import count_units_and_parts
from fleetbench.records.places.reads import read_centre as read_centre_record
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class CentreFacts:
    """Name, site and today's date; the counts say whether there is anything to show yet."""

    name: str
    code: str
    timezone: str
    altitude_m: float
    usual_water_c: float
    usual_depth_m: float
    telephone: str | None
    today: date
    units: int
    parts: int


@dataclass(frozen=True, slots=True)
class Day:
    """When a question is asked: the moment, and the site's calendar date and zone."""

    now: datetime
    today: date
    zone: ZoneInfo

    def of(self, at: datetime) -> date:
        """The site's calendar date of a moment."""
        return at.astimezone(self.zone).date()

    def midnight(self, day: date) -> datetime:
        """The moment at which a calendar day begins at the site."""
        return datetime.combine(day, time(), tzinfo=self.zone)


def day_of(shop: Shop, on: date | None = None) -> Day:
    """Now, or as if today were `on`, in the site's calendar; the clock is read once."""
    zone, now = shop.zone(), shop.clock()
    return Day(now, on or now.astimezone(zone).date(), zone)


def read_centre(shop: Shop) -> CentreFacts:
    """The centre; NotFound before anything was entered or imported."""
    today = shop.today()
    with shop.database.reading() as connection:
        centre = read_centre_record(connection)
        units, parts = count_units_and_parts(connection)
    if centre is None:
        raise NotFound("centre: nothing is recorded yet; import the centre's sheets first")
    return CentreFacts(
        centre.name,
        centre.code,
        centre.timezone,
        centre.altitude_m,
        centre.usual_water_c,
        centre.usual_depth_m,
        centre.telephone,
        today,
        units,
        parts,
    )
