"""Who does what at the bench on a day, in which order: jobs and people in, a day for each of them out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class BenchJob:
    """The work on one unit, done in one go by one person.

    ready_by: the last day on which it may be finished, None where nothing waits for it. begins: minutes after the
    bench opens from which it can be worked on, as its loop is dry then. fetch: parts to take along, in words.
    """

    tag: str
    minutes: float
    work: tuple[str, ...]
    ready_by: date | None = None
    begins: float = 0.0
    fetch: tuple[str, ...] = ()
    wanted_for: str = ""


Stint = tuple[float, BenchJob]
"""A job and the minute after the bench opens at which it is begun."""


def dealt(
    jobs: Sequence[BenchJob], people: int, minutes: float
) -> tuple[tuple[tuple[Stint, ...], ...], tuple[BenchJob, ...]]:
    """Each person's jobs in order, and the jobs that are left for another day.

    What must be ready first is given out first, each job to the technician who can begin it
    soonest; the gap before a job whose loop still hangs is filled with others. minutes: of hands that each person has.
    Earliest due date first: Jackson, Scheduling a production line to minimize maximum tardiness (1955), from memory.
    """
    given: list[list[Stint]] = [[] for _ in range(people)]
    left = []
    for job in sorted(jobs, key=lambda each: (each.ready_by or date.max, each.minutes, each.tag)):
        places = ((_first_gap(of, job, minutes), at) for at, of in enumerate(given))
        start, at = min(((start, at) for start, at in places if start is not None), default=(None, 0))
        if start is None:
            left.append(job)
        else:
            given[at] = sorted([*given[at], (start, job)], key=_begins)
    return tuple(tuple(each) for each in given), tuple(left)


def _begins(stint: Stint) -> float:
    return stint[0]


def _first_gap(given: Sequence[Stint], job: BenchJob, minutes: float) -> float | None:
    """The first minute from which a person has the time for a job; None where there is no such minute."""
    edges = [(0.0, 0.0), *((start, start + each.minutes) for start, each in given), (minutes, minutes)]
    for (_, free), (taken, _) in pairwise(edges):
        start = max(free, job.begins)
        if start + job.minutes <= taken + 1e-9:
            return start
    return None
