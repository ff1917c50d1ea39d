"""The last good days and forecasts that are kept on open fittings."""

from datetime import date

from sqlalchemy import Connection, select

from fleetbench.records.parts.tables import Fitting


def read_kept_lives(connection: Connection) -> dict[int, tuple[date | None, str | None]]:
    """Last good day and basis by open fitting; one statement."""
    query = select(Fitting.id, Fitting.last_good_day, Fitting.last_good_basis).where(Fitting.removed_at.is_(None))
    return {key: (day, basis) for key, day, basis in connection.execute(query)}


def read_kept_forecasts(connection: Connection) -> dict[int, tuple[date | None, str | None]]:
    """Foretold day and of what by open fitting, where one is kept; one statement."""
    query = select(Fitting.id, Fitting.forecast_day, Fitting.forecast_of).where(
        Fitting.removed_at.is_(None), Fitting.forecast_day.is_not(None)
    )
    return {key: (day, measure) for key, day, measure in connection.execute(query)}
