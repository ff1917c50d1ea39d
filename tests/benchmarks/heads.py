"""Minutes of bench time for heads that are calibrated one after another, and side by side.

    python -m tests.benchmarks.heads [HEADS]

Every head has three cells on two handsets and is flushed as a stirred volume: of the air in it exp(-Q t / V) is left
(Levenspiel, Chemical Reaction Engineering, 3rd ed. 1999, chapter 11; from memory). When it has settled the program's
own rule decides, from readings rounded as a handset shows them. Keys are those counted through the window
(tests/window/shell/test_half_done.py); seconds a key and a head are common practice, no published source.
"""

import math
import sys
from dataclasses import dataclass, field

from fleetbench.calc.cells.settling import SettlingState, assess

VOLUME_L, FLOW_L_MIN = 0.6, 2.0
TAU_S = 60.0 * VOLUME_L / FLOW_L_MIN
CELLS = ((10.4, 49.8), (10.2, 48.9), (10.6, 50.7))
"""mV in air and in oxygen."""
SECONDS_A_KEY, HANDLING_S = 1.2, 60.0
"""To read and press one key; to put a head on the bench, connect it and take it off."""
AIR_KEYS, FIRST_KEYS, SAME_KEYS, OXYGEN_KEYS, BACK_KEYS = 21, 9, 1, 11, 1
"""Two questions, six readings and the start; three stamped readings; no digit changed; the last three, twice Enter."""
BETWEEN_S = 30.0
"""Between two stamps."""


@dataclass(slots=True)
class FlushedHead:
    """One head: when its flush began, its stamps in seconds since then, and when a hand is needed next."""

    began: float
    wanted_at: float
    stamps: list[float] = field(default_factory=list)

    def stamp(self, now: float) -> None:
        self.stamps.append(now - self.began)
        self.wanted_at = now + BETWEEN_S

    @property
    def is_settled(self) -> bool:
        """Whether the program's rule calls every cell settled."""
        return len(self.stamps) > 1 and all(
            assess(self.stamps, [_shown(cell, t) for t in self.stamps], 0.1, tau_s=TAU_S).state is SettlingState.SETTLED
            for cell in CELLS
        )


def _shown(cell: tuple[float, float], seconds: float) -> float:
    air, oxygen = cell
    return round(oxygen - (oxygen - air) * math.exp(-seconds / TAU_S), 1)


def bench_minutes(heads: int, *, side_by_side: bool) -> float:
    """Minutes until every head is recorded; one pair of hands, which waits only where nothing else is to do."""
    now, to_begin, flushing = 0.0, heads, []
    first_wait = TAU_S * math.log(0.791 / 0.003)  # until 0.3 % of air is left of the gas
    while to_begin or flushing:
        due = next((head for head in flushing if head.wanted_at <= now), None)
        if due is not None:
            back = BACK_KEYS if side_by_side else 0
            now += SECONDS_A_KEY * (back + (SAME_KEYS if due.stamps else FIRST_KEYS))
            due.stamp(now)
            if due.is_settled:
                now += SECONDS_A_KEY * OXYGEN_KEYS
                flushing.remove(due)
        elif to_begin and (side_by_side or not flushing):
            now += HANDLING_S + SECONDS_A_KEY * AIR_KEYS
            flushing.append(FlushedHead(now, now + first_wait))
            to_begin -= 1
        else:
            now = min(head.wanted_at for head in flushing)
    return now / 60.0


def main(heads: int) -> None:
    """Print both, and what a head takes."""
    for words, beside in (("one after another", False), ("side by side", True)):
        minutes = bench_minutes(heads, side_by_side=beside)
        print(f"{heads} heads {words}: {minutes:.1f} min, {minutes / heads:.1f} min a head")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
