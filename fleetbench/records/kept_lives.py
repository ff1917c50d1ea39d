"""The last good days that are kept on open fittings."""

from datetime import date

from sqlalchemy import Connection, select

from fleetbench.records.parts import Fitting


def read_kept_lives(connection: Connection) -> dict[int, tuple[date | None, str | None]]:
    """Last good day and basis by open fitting; one statement."""
    query = select(Fitting.id, Fitting.last_good_day, Fitting.last_good_basis).where(Fitting.removed_at.is_(None))
    return {key: (day, basis) for key, day, basis in connection.execute(query)}
