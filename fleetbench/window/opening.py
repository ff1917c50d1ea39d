"""Opening the records for the window: off the GUI thread, with whose fleet it is."""

from dataclasses import dataclass

from fleetbench.workshop.shop import Shop


@dataclass(frozen=True, slots=True)
class Opened:
    """An open workshop and the centre's name; an empty name while the centre has none."""

    shop: Shop
    centre: str


def open_records(database: str) -> Opened:
    """The workshop on the database at that URL or path, brought up to date if it is older.

    Raises Refused (Unreadable) where it cannot be opened, is foreign or newer.
    """
    # These read the tables' definitions, which takes as long as showing the window: it is shown first.
    from fleetbench.records.migrate import open_database
    from fleetbench.workshop.centre import read_centre

    shop = Shop(open_database(database))
    return Opened(shop, read_centre(shop).name)
