"""What stands of a cell: which of its outcomes count today."""

from collections.abc import Iterable
from datetime import datetime

from fleetbench.calc.core.verdict import Verdict
from fleetbench.records.cells.reads import OutcomeRecord


def standing(outcomes: Iterable[OutcomeRecord], fitted_at: datetime | None) -> tuple[OutcomeRecord, ...]:
    """What stands of a cell since it was fitted: its last workshop outcome, and the last diver's after it, in time."""
    since = sorted((each for each in outcomes if fitted_at is None or each.at >= fitted_at), key=lambda each: each.at)
    bench = [each for each in since if each.made == "workshop"][-1:]
    later = [each for each in since if each.made != "workshop" and (not bench or each.at > bench[0].at)][-1:]
    return (*bench, *later)


def telling(stands: Iterable[OutcomeRecord]) -> OutcomeRecord | None:
    """The worst of what stands; of two alike the later."""
    return max(stands, key=lambda each: (Verdict(each.verdict).severity, each.at), default=None)
