"""Wall-clock times of the site as moments: a time that the night of a clock change lacks is refused."""

from datetime import UTC, datetime, tzinfo


def moment_at(local: datetime, zone: tzinfo) -> datetime:
    """The moment, in UTC, at which the clock on the wall shows a time; of two such moments the earlier.

    The earlier one lets every hour limit begin sooner, so that it never lengthens. Raises ValueError naming the
    remedy for a time that the change of clocks leaves out.
    """
    naive = local.replace(tzinfo=None, fold=0)
    moment = naive.replace(tzinfo=zone).astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) != naive:
        raise ValueError(f"{naive:%Y-%m-%d %H:%M}: the clocks went forward over that time; give the time after it")
    return moment
