"""How long cells last: life curves by part type and by lot, from every fitting that was watched."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.demand import Life, LifeCurve, kaplan_meier
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.parts.demand import watched_lives

LEAST_FAILURES = 3
"""Under these a curve says nothing: common practice, no published source."""

ASKED_DAYS = (180, 365)


@dataclass(frozen=True, slots=True)
class LifeLine:
    """The life of one part type, or of one of its lots: the curve with its 95 % interval, None with too few failures.

    shares: (days, share still serving, low, high) at the asked ages, where the curve reaches them.
    """

    part_type: str
    lot: str | None
    parts: int
    failures: int
    curve: LifeCurve | None
    shares: tuple[tuple[int, float, float, float], ...]
    words: str

    @property
    def name(self) -> str:
        """Part type, or lot where it is one."""
        return self.part_type if self.lot is None else say("lot {lot}", lot=self.lot)


def life_of_cells(workplace: Workplace) -> tuple[LifeLine, ...]:
    """Every cell type that was ever fitted, each followed by its lots; four statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        return read_life_lines(connection, day)


def read_life_lines(connection: Connection, day: Day) -> tuple[LifeLine, ...]:
    """The same within an open read."""
    types = read_part_types(connection)
    lives, by_lot = watched_lives(connection, day)
    lines: list[LifeLine] = []
    for key, kind in sorted(types.items(), key=lambda item: item[1].name):
        if kind.kind != "cell" or not lives.get(key):
            continue
        lines.append(_line(kind.name, None, lives[key]))
        lines += [_line(kind.name, str(lot), each) for lot, each in sorted(by_lot.get(key, {}).items(), key=str)]
    return tuple(lines)


def _line(part_type: str, lot: str | None, lives: Sequence[Life]) -> LifeLine:
    failures = sum(life.failed for life in lives)
    if failures < LEAST_FAILURES:
        words = say(
            "{count} watched, {failures} failed: too few failures for a curve ({least} are needed).",
            count=len(lives),
            failures=failures,
            least=LEAST_FAILURES,
        )
        return LifeLine(part_type, lot=lot, parts=len(lives), failures=failures, curve=None, shares=(), words=words)
    curve = kaplan_meier(lives)
    shares = tuple(share for days in ASKED_DAYS if (share := _share(curve, days)) is not None)
    half = curve.median_days
    if half is None:
        words = say(
            "{count} watched, {failures} failed; fewer than half have failed.", count=len(lives), failures=failures
        )
    else:
        words = say(
            "{count} watched, {failures} failed; half have failed by {days:.0f} days.",
            count=len(lives),
            failures=failures,
            days=half,
        )
    return LifeLine(part_type, lot=lot, parts=len(lives), failures=failures, curve=curve, shares=shares, words=words)


def _share(curve: LifeCurve, days: int) -> tuple[int, float, float, float] | None:
    share = curve.at(float(days))
    if share is None:
        return None
    step = next((each for each in reversed(curve.steps) if each.days <= days), None)
    return (days, share, step.low, step.high) if step is not None else (days, share, share, share)
