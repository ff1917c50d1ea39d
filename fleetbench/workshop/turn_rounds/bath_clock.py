"""A bath that loops lie in now: begun with its clock and kept as a draft, recorded once they are taken out."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from fleetbench.calc.bench.half_done import BegunKind, HalfDone
from fleetbench.calc.core.languages import say, strung
from fleetbench.records.core.errors import Refused
from fleetbench.workshop.core.drafts import Draft, Drafts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.turn_rounds.baths import BathDesk, bath_desk, check_bath

FORM = "bath"


@dataclass(frozen=True, slots=True)
class BegunBath:
    """Loops in a bath: since when, in what, and for how many minutes at the least; nothing of it is recorded yet."""

    units: tuple[str, ...]
    agent_id: int
    mixed_at: datetime
    in_at: datetime
    minutes: float

    @property
    def until(self) -> datetime:
        """When the contact time is over."""
        return self.in_at + timedelta(minutes=self.minutes)

    def minutes_in(self, now: datetime) -> float:
        """Whole minutes that the loops have lain in it, the contact time at the least: they hang from then on."""
        return max(self.minutes, (now - self.in_at) // timedelta(minutes=1))

    @property
    def key(self) -> str:
        """What its draft is kept under."""
        return f"{FORM} {self.units[0]}"


def begin_bath(
    workplace: Workplace,
    drafts: Drafts,
    tags: Sequence[str],
    agent_id: int,
    *,
    mixed_at: datetime,
    contact_minutes: float,
) -> BegunBath:
    """The bath that begins now, refused as it would be once it is over, and where a loop lies in another one."""
    begun = BegunBath(
        tuple(tags), agent_id=agent_id, mixed_at=mixed_at, in_at=workplace.clock(), minutes=contact_minutes
    )
    check_bath(workplace, begun.units, agent_id, mixed_at=mixed_at, contact_minutes=contact_minutes, in_at=begun.in_at)
    taken = {unit for other in begun_baths(drafts.listed()) for unit in other.units}
    if twice := sorted(taken & set(begun.units)):
        raise Refused(
            say("unit {tags}: lies in a bath already; record that bath, or forget it", tags=strung(", ", twice))
        )
    _keep(drafts, begun)
    return begun


def end_bath(drafts: Drafts, begun: BegunBath, out: Sequence[str]) -> None:
    """Forget that these loops lie in a bath, once that is recorded or was not so; the clock of the others runs on."""
    drafts.drop(begun.key)
    if rest := tuple(unit for unit in begun.units if unit not in out):
        _keep(drafts, replace(begun, units=rest))


def _keep(drafts: Drafts, begun: BegunBath) -> None:
    moments = {"mixed_at": begun.mixed_at.isoformat(), "in_at": begun.in_at.isoformat()}
    drafts.save(begun.key, {FORM: {**asdict(begun), **moments}}, begun.in_at)


def begun_baths(listed: Iterable[Draft]) -> tuple[BegunBath, ...]:
    """The baths among the drafts of this machine, which are not recorded yet; the first to be over first."""
    found = (_of_draft(each) for each in listed if FORM in each.content)
    return tuple(sorted((each for each in found if each is not None), key=lambda each: each.until))


def _of_draft(draft: Draft) -> BegunBath | None:
    """The bath that a draft holds; None where it is torn."""
    try:
        held: dict[str, Any] = draft.content[FORM]
        return BegunBath(
            tuple(str(unit) for unit in held["units"]), agent_id=int(held["agent_id"]),
            mixed_at=datetime.fromisoformat(held["mixed_at"]), in_at=datetime.fromisoformat(held["in_at"]),
            minutes=float(held["minutes"]),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        return None


def baths_in_hand(workplace: Workplace, drafts: Drafts) -> tuple[BathDesk, tuple[BegunBath, ...]]:
    """What the bath's form needs, and the baths begun; one whose loops were all disinfected since is forgotten."""
    desk, begun = bath_desk(workplace), begun_baths(drafts.listed())
    waiting = {each.unit for each in desk.waiting}
    for each in begun:
        if not waiting & set(each.units):
            end_bath(drafts, each, each.units)
    return desk, tuple(each for each in begun if waiting & set(each.units))


def half_done_baths(workplace: Workplace, listed: Iterable[Draft]) -> Iterator[HalfDone]:
    """The baths that run or are over, with their clock; the records are asked only where one was begun."""
    begun = begun_baths(listed)
    waiting = {each.unit for each in bath_desk(workplace).waiting} if begun else set[str]()
    for each in begun:
        if waiting & set(each.units):
            others = say("with {units}", units=strung(", ", each.units[1:])) if each.units[1:] else ""
            yield HalfDone(each.units[0], BegunKind.BATH, each.in_at, each.until, detail=others)
