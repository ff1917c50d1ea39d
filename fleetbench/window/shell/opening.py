"""Opening the records for the window: off the GUI thread, with whose fleet it is."""

from dataclasses import dataclass, field
from functools import partial
from zoneinfo import ZoneInfo

from fleetbench.records.core.errors import NotFound
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class Opened:
    """An open workshop, the centre's name (empty while nothing is recorded) and the site's time zone."""

    shop: Shop
    centre: str = ""
    zone: ZoneInfo = field(default_factory=partial(ZoneInfo, "UTC"))


def open_records(database: str) -> Opened:
    """The workshop on the database at that URL or path, brought up to date if it is older.

    Raises Refused (Unreadable) where it cannot be opened, is foreign or newer.
    """
    # These read the tables' definitions, which takes as long as showing the window: it is shown first.
    from fleetbench.records.upkeep.migrate import open_database

    shop = Shop(open_database(database), attended=True)
    if shop.database.upgraded:
        # Scipy comes with it, and it is needed once in the life of a database.
        from fleetbench.workshop.parts.lives import keep_anew

        keep_anew(shop)
    return as_opened(shop)


def as_opened(shop: Shop) -> Opened:
    """An open workshop with whose fleet it is; raises Refused where it cannot be read."""
    # It reads the tables' definitions as well.
    from fleetbench.workshop.core.centre import read_centre

    try:
        centre = read_centre(shop)
    except NotFound:
        return Opened(shop)
    return Opened(shop, centre.name, ZoneInfo(centre.timezone))
