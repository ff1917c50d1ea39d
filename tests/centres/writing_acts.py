"""Names of the acts by which tests write rows that no act of the program writes, granted to whoever is at the bench."""

from fleetbench.calc.people.permits import ACTS, Permit

WRITING_ACTS = frozenset((
    "add", "change", "change life", "end", "enter", "equipment", "hold", "lapse", "limit", "notice", "open", "price",
    "spoil", "unread", "write",
))  # fmt: skip

for name in WRITING_ACTS:
    ACTS[name] = Permit.NOTE
