"""Disinfection baths: one act for one to eight loops, then drying as time, and the look that finds a loop dry.

A bath that loops lie in now is kept with its clock as a draft, and recorded once they are taken out.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.bench.half_done import BegunKind, HalfDone
from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.plausible import CONTACT_MINUTES
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.turn_rounds.card import BathFacts, Step, drying_time, why_no_disinfection, why_not_dry_yet
from fleetbench.records.bench.lookups import RecordSession, seats_of
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import line_out, unit_type_by_code
from fleetbench.records.places.reads import read_limits
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.tickets.tables import Disinfection
from fleetbench.records.turn_rounds.lookups import (
    agents_for,
    last_damp_look,
    last_disinfection,
    lines_of_card,
    loop_set_of,
    open_card_of,
)
from fleetbench.records.turn_rounds.reads import (
    AgentRecord,
    read_agents,
    read_card_lines,
    read_cards,
    read_loop_cleanings,
)
from fleetbench.records.turn_rounds.tables import Bath, BathLoop, Disinfectant, Drying
from fleetbench.records.units.reads import read_units
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.drafts import Draft, Drafts
from fleetbench.workshop.core.workplace import Workplace, figure_or_none, measured, require_person, required
from fleetbench.workshop.turn_rounds.ticks import lines_again, tick, work_began

LONGEST_USE = timedelta(hours=24)
"""Use by of an agent whose maker states none: a day after it was mixed; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class InBath:
    """A unit whose loop may go into a bath now: its card asks for it. stripped: what that card says."""

    unit: str
    unit_type_id: int
    flooded: bool
    stripped: bool = True


@dataclass(frozen=True, slots=True)
class BathDesk:
    """What the bath's form needs: the agents on record, the units that wait, and the hour."""

    agents: tuple[AgentRecord, ...]
    waiting: tuple[InBath, ...]
    now: datetime


@dataclass(frozen=True, slots=True)
class Bathed:
    """What was recorded of a bath: the key, and until when each loop hangs at the least and at the most."""

    bath_id: int
    units: tuple[str, ...]
    dry_from: datetime
    dry_by: datetime
    rinsed: bool


@dataclass(frozen=True, slots=True)
class Hanging:
    """A loop that was disinfected and that nobody has found dry; from and by when it should be."""

    unit: str
    disinfected_at: datetime
    dry_from: datetime
    dry_by: datetime
    found_damp_at: datetime | None


def bath_desk(workplace: Workplace) -> BathDesk:
    """The agents, and the units whose open card still asks for the bath, longest waiting first."""
    with workplace.database.reading() as connection:
        cards = read_cards(connection, open_only=True)
        to_do = [line for line in read_card_lines(connection, open_cards=True) if line.state == WorkState.TO_DO]
        asked = {line.card_id for line in to_do if line.step == Step.DISINFECT}
        whole = {line.card_id for line in to_do if line.step == Step.STRIP}
        agents = read_agents(connection)
    waiting = tuple(
        InBath(card.unit, card.unit_type_id, card.flooded_at is not None, card.card_id not in whole)
        for card in cards
        if card.card_id in asked
    )
    return BathDesk(agents, waiting, workplace.clock())


def enter_agent(
    workplace: Workplace,
    name: str,
    strength: str,
    contact_minutes: float,
    source: str,
    *,
    use_within_hours: float | None = None,
    unit_type: str | None = None,
) -> int:
    """The key of an agent with the figures that its maker states; unit_type: the code of the type it is for alone."""
    measured(CONTACT_MINUTES, contact_minutes)
    figure_or_none("use within", use_within_hours, 0.1, 8784, "enter the hours after mixing, or leave it empty")
    with workplace.transaction("enter disinfectant", f"agent {name.strip()}"[:120]) as act:
        key = unit_type_by_code(act.session, unit_type).id if unit_type else None
        row = Disinfectant(
            unit_type_id=key,
            name=required("name", name)[:80],
            strength=required("strength", strength)[:40],
            contact_minutes=contact_minutes,
            use_within_hours=use_within_hours,
            source=required("source", source)[:300],
        )
        return act.add(row).id


def disinfect(
    workplace: Workplace,
    tags: Sequence[str],
    agent_id: int,
    *,
    mixed_at: datetime,
    contact_minutes: float,
    rinsed: bool,
    use_by: datetime | None = None,
    in_at: datetime | None = None,
) -> Bathed:
    """One bath with the loops of one to eight units in it, recorded in one act; each ticks its card's line.

    use_by None: as the agent's maker states, a day after mixing where it states nothing. in_at: when the loops went in,
    None so long ago as they lay in it. Refused where it is no disinfection by the agent's figures, where a unit is out,
    or where its type's maker names another agent. 29 CFR 1910.134(h) and App. B-2; the maker stands above it.
    """
    person = require_person(workplace)
    wanted = tuple(dict.fromkeys(tag.strip() for tag in tags if tag.strip()))
    measured(CONTACT_MINUTES, contact_minutes)
    if mixed_at.tzinfo is None or (use_by is not None and use_by.tzinfo is None):
        raise Refused(say("mixed at: give its zone"))
    about = f"unit {wanted[0]}" if len(wanted) == 1 else f"{len(wanted)} loops"
    with workplace.transaction("disinfect loops", about) as act:
        agent = act.get(Disinfectant, agent_id, "agent")
        ends = use_by or _use_by(agent, mixed_at)
        begun = in_at or act.at - timedelta(minutes=contact_minutes)
        reasons = _reasons(act.session, agent, wanted, begun, mixed_at, ends, contact_minutes)
        if begun + timedelta(minutes=contact_minutes) > act.at:
            over = begun + timedelta(minutes=contact_minutes)
            reasons.append(
                say(
                    "contact time: the loops are in until {over:%H:%M} UTC; record the bath when they are out",
                    over=over,
                )
            )
        _refuse(reasons)
        bath = act.add(
            Bath(disinfectant_id=agent.id, at=begun, mixed_at=mixed_at, use_by=ends,
                 contact_minutes=contact_minutes, rinsed=rinsed, person_id=person)
        )  # fmt: skip
        out = begun + timedelta(minutes=contact_minutes)
        units = [unit_by_tag(act.session, tag) for tag in wanted]
        for unit in units:
            _one_loop(act, bath, agent, unit, out, person)
        limits = read_limits(act.session.connection())
        longest = max((drying_time(limits, unit.unit_type_id) for unit in units), key=lambda each: each.hours)
        return Bathed(
            bath.id, units=wanted, dry_from=longest.ends(out), dry_by=longest.ends_at_most(out), rinsed=rinsed
        )


def check_bath(
    workplace: Workplace,
    tags: Sequence[str],
    agent_id: int,
    *,
    mixed_at: datetime,
    contact_minutes: float,
    in_at: datetime,
) -> None:
    """Refused, with every reason, where a bath that begins then would be no disinfection once it is over."""
    require_person(workplace)
    measured(CONTACT_MINUTES, contact_minutes)
    with workplace.database.read_session() as session:
        agent = session.get(Disinfectant, agent_id)
        if agent is None:
            raise Refused(say("agent: is not on record; choose one"))
        ends = _use_by(agent, mixed_at)
        _refuse(_reasons(session, agent, tags, in_at, mixed_at, ends, contact_minutes))


def _use_by(agent: Disinfectant, mixed_at: datetime) -> datetime:
    hours = agent.use_within_hours
    return mixed_at + (timedelta(hours=hours) if hours is not None else LONGEST_USE)


def _refuse(reasons: Sequence[str]) -> None:
    if reasons:
        raise Refused(strung("; ", reasons))


def _reasons(
    session: RecordSession, agent: Disinfectant, tags: Sequence[str], begun: datetime, mixed_at: datetime,
    use_by: datetime, contact_minutes: float,
) -> list[str]:  # fmt: skip
    facts = BathFacts(
        f"{agent.name} {agent.strength}", agent_minutes=agent.contact_minutes, source=agent.source,
        contact_minutes=contact_minutes, mixed_at=mixed_at, use_by=use_by,
        in_at=begun, loops=len(tags),
    )  # fmt: skip
    reasons = list(why_no_disinfection(facts))
    for tag in tags:
        unit = unit_by_tag(session, tag)
        if line_out(session, unit.id) is not None:
            reasons.append(say("unit {tag}: is out; receive it first", tag=unit.tag))
        reasons += _unstripped(session, unit, begun)
        allowed = agents_for(session, unit.unit_type_id)
        if agent.id not in {each.id for each in allowed}:
            named = strung(", ", (f"{each.name} {each.strength}" for each in allowed))
            reasons.append(
                say(
                    "unit {tag}: {agent} is not for its type; use {named}",
                    tag=unit.tag,
                    agent=agent.name,
                    named=named or say("what its maker names"),
                )
            )
    return reasons


def _unstripped(session: RecordSession, unit: Unit, begun: datetime) -> list[str]:
    """Why a loop cannot have lain in a bath that began then: by its card it was not stripped yet."""
    card = open_card_of(session, unit.id)
    lines = lines_of_card(session, card.id) if card is not None else ()
    strip = next((line for line in lines if line.step == Step.STRIP), None)
    if strip is None or (strip.settled_at is not None and strip.settled_at <= begun):
        return []
    if strip.settled_at is None:
        return [
            say(
                "unit {tag}: its loop is not stripped yet; strip it and tick that line, then put it in the bath",
                tag=unit.tag,
            )
        ]
    at = strip.settled_at.astimezone(ZoneInfo(centre_timezone(session.connection()) or "UTC"))
    return [say("unit {tag}: its loop was stripped at {at:%H:%M}, after the bath began; record the bath "
"once the contact time has passed since then", tag=unit.tag, at=at)]  # fmt: skip


def _one_loop(act: Transaction, bath: Bath, agent: Disinfectant, unit: Unit, out: datetime, person: int) -> None:
    row = act.add(
        Disinfection(
            unit_id=unit.id, at=out, agent=agent.name, strength=agent.strength, contact_minutes=bath.contact_minutes,
            rinsed=bath.rinsed, dry_at=None, person_id=person,
        )
    )  # fmt: skip
    loop = loop_set_of(seats_of(act.session, unit))
    act.add(BathLoop(bath_id=bath.id, disinfection_id=row.id, part_id=loop.id if loop is not None else None))
    lines_again(act, unit.id, Step.DRY, *(() if bath.rinsed else (Step.RINSE_AGAIN,)))
    tick(
        act,
        unit.id,
        Step.DISINFECT,
        in_row(f"bath {bath.id}: {agent.name} {agent.strength}, {bath.contact_minutes:g} min"),
    )
    if bath.rinsed:
        tick(act, unit.id, Step.RINSE_AGAIN, in_row(f"bath {bath.id}"))


def mark_dry(workplace: Workplace, tags: Sequence[str], *, dry: bool = True, reason: str = "") -> tuple[str, ...]:
    """The tags of the loops that were looked at and found dry, or still damp, all in one act.

    reason: how a loop got dry before its hours had passed; without one it is refused.
    """
    require_person(workplace)
    wanted = tuple(dict.fromkeys(tag.strip() for tag in tags if tag.strip()))
    if not wanted:
        raise Refused(say("units: none is chosen; choose whose loop was looked at"))
    about = f"unit {wanted[0]}" if len(wanted) == 1 else f"{len(wanted)} loops"
    with workplace.transaction("loop dry", about) as act:
        for tag in wanted:
            unit = unit_by_tag(act.session, tag)
            how, state = note_dry(act, unit, dry=dry, reason=reason)
            if dry:
                tick(act, unit.id, Step.DRY, how, state)
            else:
                lines_again(act, unit.id, Step.DRY)
        return wanted


def note_dry(act: Transaction, unit: Unit, *, dry: bool, reason: str = "") -> tuple[str, str]:
    """How long the loop hung, in words, and the state that this gives the card's line, once the look is noted.

    Refused where there is nothing to dry from. Found dry before its hours have passed it
    asks for the reason, which stands on the card in place of the hours.
    """
    row, card = last_disinfection(act.session, unit.id), open_card_of(act.session, unit.id)
    if row is None or (card is not None and row.at < work_began(card)):
        raise Refused(say("unit {tag}: no disinfection since it came back; disinfect the loop first", tag=unit.tag))
    if not row.rinsed:
        raise Refused(say("unit {tag}: the agent was not rinsed off; rinse the loop first", tag=unit.tag))
    damp = last_damp_look(act.session, row.id)
    hours = drying_time(read_limits(act.session.connection()), unit.unit_type_id)
    early = why_not_dry_yet(max(row.at, damp or row.at), act.at, hours) if dry else None
    said = reason.strip()
    if early is not None and not said:
        raise Refused(say("unit {tag}: dry: {early}", tag=unit.tag, early=early))
    act.add(Drying(disinfection_id=row.id, at=act.at, dry=dry, person_id=act.person_id))
    act.change(row, dry_at=act.at if dry else None)
    hung = (act.at - max(row.at, damp or row.at)).total_seconds() / 3600
    if early is not None:
        return in_row(f"found dry after {hung:.1f} h: {said}"), WorkState.LEFT_OUT
    return in_row(f"hung {hung:.0f} h"), WorkState.DONE


def hanging(workplace: Workplace) -> tuple[Hanging, ...]:
    """Every loop that hangs to dry, the first to be dry first; what plans for the next days must leave it."""
    with workplace.database.reading() as connection:
        of_units, _ = read_loop_cleanings(connection)
        units = {unit.unit_id: unit for unit in read_units(connection)}
        limits = read_limits(connection)
        open_cards = {card.unit_id for card in read_cards(connection, open_only=True)}
    found = []
    for each in of_units:
        if each.dry_at is None and each.unit_id in open_cards:
            damp = each.looked_at if each.found_dry is False else None
            begins = damp or each.at
            unit, hours = units[each.unit_id], drying_time(limits, units[each.unit_id].unit_type_id)
            found.append(
                Hanging(
                    unit.tag,
                    disinfected_at=each.at,
                    dry_from=hours.ends(begins),
                    dry_by=hours.ends_at_most(begins),
                    found_damp_at=damp,
                )
            )
    return tuple(sorted(found, key=lambda each: (each.dry_from, each.unit)))


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
