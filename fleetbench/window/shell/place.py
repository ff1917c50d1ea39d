"""Somewhere the window can go, and the place at which a ticket is begun with what is known."""

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fleetbench.calc.core.languages import say
from fleetbench.window.look.words import day

if TYPE_CHECKING:
    from fleetbench.workshop.due.list import DueItem  # it reads the tables' definitions: the window is shown first


@dataclass(frozen=True, slots=True)
class PageKey:
    """A page of the rail, or the page of one thing on it by its key; then: what is begun there on the way in."""

    page: str
    key: str | None = None
    then: "PageKey | None" = field(default=None, compare=False)


TEST = "bench_test"
"""The page of a place that asks the bench for a test by its name, the place's key."""
HALF_DONE = "half_done"
"""The page of a place that asks a page to take up what was left half-done of its unit."""

DUE_ITEM = say("due item")
"""The cause of a ticket for what falls due."""


def new_ticket_key(
    tag: str, reason: str, cause: str, refers_to: tuple[int, str] | None = None, *, plan: bool = False
) -> str:
    """The key of a place at which a new ticket begins with what is known; refers_to: key and number of another.

    plan: it carries what is due of the unit's service plan.
    """
    return json.dumps([tag, reason, cause, refers_to, plan])


def ticket_for(item: "DueItem", what: str) -> PageKey | None:
    """The ticket begun for what falls due on a unit; of its service plan, one that carries what is due of the plan."""
    from fleetbench.workshop.due.list import SERVICE_PLAN  # read already, with what is due

    if item.unit is None:
        return None
    reason = say("{item} due {last_good_day}: {row}", item=item.item, last_good_day=day(item.last_good_day), row=what)
    return PageKey("ticket_work", new_ticket_key(item.unit, reason, DUE_ITEM, plan=item.basis == SERVICE_PLAN))


def known_of(key: str) -> tuple[str, str, str, tuple[int, str] | None, bool] | None:
    """What a key of new_ticket_key says; None for the number of a ticket."""
    if not key.startswith("["):
        return None
    tag, reason, cause, refers_to, plan = json.loads(key)
    return tag, reason, cause, (refers_to[0], refers_to[1]) if refers_to else None, plan
