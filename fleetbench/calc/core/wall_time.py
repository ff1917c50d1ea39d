"""Wall-clock times of the site as moments: a time that the night of a clock change lacks is refused.

The moment at which an act counts as recorded, whatever the clocks of the desks say.
"""

from datetime import UTC, datetime, timedelta, tzinfo


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


SKEW = timedelta(seconds=2)
"""How far the clocks of two desks may differ before it is written down; common practice, no published source."""

BEHIND = timedelta(days=1)
"""How far a clock may be behind the last entry for its acts to follow that entry; more is asked about first."""

AHEAD = timedelta(days=200)
"""How far a clock may be past the last entry, a closed winter and some, before a manager is asked to confirm it."""


def moment_of_act(clock: datetime, last: datetime | None) -> datetime:
    """The moment at which an act counts as recorded: what the clock says, and never before the last entry.

    So what is recorded later counts as later, though another desk's clock is fast. Raises ValueError, with the remedy,
    where the two are so far apart that one of them must be wrong.
    """
    if last is None or clock == last:
        return clock
    if last - clock > BEHIND:
        raise ValueError(
            f"clock: this computer says {clock:%Y-%m-%d %H:%M} UTC, and the last entry is of {last:%Y-%m-%d %H:%M} UTC;"
            " set this computer's clock, or let a manager correct the time of the entries under People"
        )
    if clock - last > AHEAD:
        raise ValueError(
            f"clock: this computer says {clock:%Y-%m-%d %H:%M} UTC, {(clock - last).days} days after the last entry;"
            " set this computer's clock, or let a manager confirm the date under People"
        )
    return max(clock, last + timedelta(microseconds=1))


def no_doubt(clock: datetime, last: datetime | None) -> datetime:
    """What the clock says, or the time of the last entry where the two cannot both be right."""
    try:
        return moment_of_act(clock, last)
    except ValueError:
        return last or clock


def clock_doubt(clock: datetime, last: datetime | None) -> str | None:
    """What a user is told of the clock before they record: None where it runs on from the last entry."""
    try:
        moment_of_act(clock, last)
    except ValueError as doubt:
        return str(doubt)
    if last is not None and last - clock > SKEW:
        return (
            f"clock: the last entry is of {last:%Y-%m-%d %H:%M:%S} UTC, and this computer says"
            f" {clock:%Y-%m-%d %H:%M:%S} UTC; check the clocks of all desks"
        )
    return None
