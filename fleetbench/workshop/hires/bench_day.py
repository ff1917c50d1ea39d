"""The bench day: what each kind of work takes, and the open tickets by the day on which their units leave."""

from collections.abc import Iterable

from fleetbench.calc.hires.sell import MOVE_MINUTES, ORDER_MINUTES
from fleetbench.records.places.reads import LimitRecord

MINUTES: dict[str, float] = {
    "turn-round": 60.0, "ticket": 60.0, "task": 20.0, "replace": 20.0, "service": 60.0, "oxygen clean": 30.0,
    "calibration": 20.0, "move booking": MOVE_MINUTES, "order": ORDER_MINUTES, "other": 15.0,
}  # fmt: skip
"""Hands' minutes of each kind of work, where the centre says no other by a limit called `bench minutes: KIND`."""


def bench_minutes(limits: Iterable[LimitRecord]) -> dict[str, float]:
    """Hands' minutes of each kind of work: the centre's own by a limit called `bench minutes: KIND`, else as usual."""
    said = {each.name.removeprefix("bench minutes: "): each.amount for each in limits
            if each.unit_type_id is None and each.part_type_id is None}  # fmt: skip
    return {kind: said.get(kind, usual) for kind, usual in MINUTES.items()}
