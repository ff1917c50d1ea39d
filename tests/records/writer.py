"""One desk that writes acts until it is done or killed: `python -m tests.records.writer WHERE NAME COUNT`.

Tells the number of each act once it is committed, so that whoever killed it knows what must be there.
"""

import sys
from collections.abc import Callable
from datetime import UTC, datetime

from fleetbench.records.core.database import Database
from fleetbench.records.core.transaction import transaction
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.upkeep.tables import metadata


def tell(line: str) -> None:
    """Print a line at once."""
    print(line, flush=True)


def write(where: str, name: str, count: int, say: Callable[[str], object] = tell) -> None:
    """Write so many acts of two rows each."""
    assert metadata.tables
    database = Database(where)
    for number in range(count):
        with transaction(database, lambda: datetime.now(UTC), None, "enter", f"{name} {number}") as act:
            act.add(Owner(name=f"{name} {number}", kind="loan"))
            act.add(Place(name=f"{name} {number}", kind="shelf"))
        say(str(number))


if __name__ == "__main__":
    write(sys.argv[1], sys.argv[2], int(sys.argv[3]))
