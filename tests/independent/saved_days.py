"""Days that one repair or one spare would have saved, day by day, all else left alone. Imports nothing of ours.

A unit's day: {day number: (things that stopped it, whether another check could not be settled)}. A thing: what, piece,
and how it would have been cured on that day.
"""

from collections.abc import Mapping, Sequence

Thing = tuple[str, str, str]
Days = Mapping[int, tuple[Sequence[Thing], bool]]


def freed(units: Mapping[str, Days], cured: Mapping[str, Mapping[tuple[str, str], int]]) -> tuple[int, int]:
    """Days (for certain, at most) on which nothing is left, with things of units gone from the day after a first day.

    cured: of each unit, each thing with its first day; it is gone until the records end it for the first time.
    """
    certain = most = 0
    for tag, things in cured.items():
        for (what, piece), first in things.items():
            day = first + 1
            while day in units[tag] and any((one, part) == (what, piece) for one, part, _ in units[tag][day][0]):
                left = [(one, part) for one, part, _ in units[tag][day][0] if (one, part) != (what, piece)]
                if not left:
                    most += 1
                    certain += not units[tag][day][1]
                day += 1
    return certain, most


def begins(units: Mapping[str, Days], what: str, cures: Sequence[str]) -> list[tuple[int, str, str]]:
    """Every (day, unit, piece) on which a cause newly stands, to be cured in one of these ways."""
    found = []
    for tag, days in units.items():
        for day, (things, _) in days.items():
            before = days.get(day - 1, ((), False))[0]
            for one, piece, cure in things:
                new = not any((each, part) == (one, piece) for each, part, _ in before)
                if one == what and cure in cures and new:
                    found.append((day, tag, piece))
    return sorted(found)


def best_repair(units: Mapping[str, Days], what: str, cure: str) -> tuple[int, int]:
    """The most days (for certain, then at most) that one repair of this cause would have saved."""
    tried = [freed(units, {tag: {(what, piece): day}}) for day, tag, piece in begins(units, what, [cure])]
    return max(tried, default=(0, 0))


def one_spare(units: Mapping[str, Days], what: str, lead: int | None) -> tuple[int, int]:
    """The days that one spare would have saved: taken when it is first wanted, ordered again when it is taken."""
    wanted, shelf, comes, certain, most = begins(units, what, ["spare"]), 1, None, 0, 0
    last = max((day for days in units.values() for day in days), default=0)
    for today in range(last + 1):
        if comes == today:
            shelf, comes = 1, None
        for day, tag, piece in wanted:
            if day == today and shelf:
                shelf, comes = 0, None if lead is None else today + max(lead, 1)
                one, two = freed(units, {tag: {(what, piece): day}})
                certain, most = certain + one, most + two
    return certain, most
