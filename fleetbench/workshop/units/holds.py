"""Place a hold by hand, freeze a unit after an incident, note a near miss, and lift what was placed."""

from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.records.core.errors import Refused
from fleetbench.records.tickets.tables import Task, Ticket
from fleetbench.records.units.history import cylinders_in, filled_with, held_with, packed_with
from fleetbench.records.units.tables import Hold
from fleetbench.records.upkeep.lookups import name_of, next_ticket_number, open_holds, unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, require, require_person, required
from fleetbench.workshop.parts.fit import label

LIFTED_HERE = ("manual", "incident", "cell")
"""Kinds that a person lifts with a reason; a return's hold is lifted by its turn-round, a notice's by its action."""


@dataclass(frozen=True, slots=True)
class Frozen:
    """What an incident froze: the unit, its cylinders and fill, and what was filled from the same batch.

    same_batch: other cylinders of a gas batch; same_container: other canisters packed from the same absorbent.
    preserve: what to keep as it is, in sentences; common practice, no published source.
    """

    hold_id: int
    unit: str
    cylinders: tuple[str, ...]
    same_batch: tuple[str, ...]
    preserve: tuple[str, ...]
    same_container: tuple[str, ...] = ()


def place_hold(workplace: Workplace, tag: str, reason: str) -> int:
    """The key of a hold on a unit, placed by hand with its reason."""
    person, said = require_person(workplace), required("reason", reason)
    with workplace.transaction("place hold", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        row = Hold(unit_id=unit.id, kind="manual", reason=said, placed_at=act.at, placed_by_id=person)
        return act.add(row).id


def freeze_unit(workplace: Workplace, tag: str, reason: str) -> Frozen:
    """What is frozen after an incident: the unit with all that sits in it, and every cylinder of the same batch of gas.

    Nothing may be done to any of it but add notes, until a manager lifts the holds.
    """
    person, said = require_person(workplace), required("reason", reason)
    with workplace.transaction("place hold", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if any(hold.kind == HoldKind.INCIDENT for hold in open_holds(act.session, unit_id=unit.id)):
            raise Refused(say("unit {tag}: is frozen already; add what was seen to its ticket", tag=unit.tag))
        hold = act.add(Hold(unit_id=unit.id, kind="incident", reason=said, placed_at=act.at, placed_by_id=person))
        own = cylinders_in(act.session, unit)
        others = filled_with(act.session, [part.id for part in own])
        packed = packed_with(act.session, unit)
        for parts, why in (
            (others, say("filled from the same batch as a cylinder of {tag}: {said}", tag=unit.tag, said=said)),
            (packed, say("packed from the same absorbent as {tag}: {said}", tag=unit.tag, said=said)),
        ):
            for part in parts:
                act.add(Hold(part_id=part.id, kind="incident", reason=why, placed_at=act.at, placed_by_id=person))
        names, batch, canisters = (tuple(label(part) for part in parts) for parts in (own, others, packed))
        return Frozen(
            hold.id,
            unit=unit.tag,
            cylinders=names,
            same_batch=batch,
            preserve=what_to_preserve(unit.tag, names, batch, canisters),
            same_container=canisters,
        )


NEAR_MISS_TASK = say("Find out what led to it, and write down what is changed so that it does not come again")


def note_near_miss(workplace: Workplace, tag: str, what: str) -> int:
    """The key of a ticket for something that could have hurt somebody and did not; it holds, it freezes nothing.

    What is learned is written under it before it is signed.
    """
    person, said, today = require_person(workplace), required(say("what happened"), what), workplace.today()
    with workplace.transaction("near miss", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        ticket = act.add(
            Ticket(
                year=today.year,
                number=next_ticket_number(act.session, today.year),
                unit_id=unit.id,
                cause="near miss",
                reason=said,
                critical=True,
                opened_at=act.at,
                opened_by_id=person,
                minutes=0.0,
            )
        )
        act.add(Task(ticket_id=ticket.id, ordinal=1, text=NEAR_MISS_TASK, state=WorkState.TO_DO, critical=True,
                     times_put_off=0, second_person=True))  # fmt: skip
        return ticket.id


@dataclass(frozen=True, slots=True)
class StandingIncident:
    """An incident whose hold on a unit stands, with what was held beside it in the same act."""

    hold_id: int
    unit: str
    reason: str
    placed_at: datetime
    placed_by: str
    held_beside: tuple[str, ...]


def standing_incident(workplace: Workplace, tag: str) -> StandingIncident:
    """The incident that froze a unit; Refused where the unit is not frozen."""
    with workplace.database.read_session() as session:
        unit = unit_by_tag(session, tag)
        hold = next((each for each in open_holds(session, unit_id=unit.id) if each.kind == HoldKind.INCIDENT), None)
        if hold is None:
            raise Refused(say("unit {tag}: is not frozen; an incident sheet is printed of a frozen unit", tag=unit.tag))
        beside = tuple(f"{label(part)}: {reason}" for part, reason in held_with(session, hold))
        return StandingIncident(
            hold.id,
            unit=unit.tag,
            reason=hold.reason,
            placed_at=hold.placed_at,
            placed_by=name_of(session, hold.placed_by_id),
            held_beside=beside,
        )


def lift_hold(workplace: Workplace, hold_id: int, reason: str) -> None:
    """Lift a hold with a reason; one after an incident is lifted by a manager only."""
    person, said = require_person(workplace), required("reason", reason)
    with workplace.transaction("lift hold", f"hold {hold_id}") as act:
        hold = act.get(Hold, hold_id, say("hold {hold_id}", hold_id=hold_id))
        if hold.lifted_at is not None:
            raise Refused(say("hold: is lifted already"))
        if hold.kind not in LIFTED_HERE:
            way = (
                say("finish the turn-round")
                if hold.kind == HoldKind.RECEIVED
                else say("record the notice's action as done")
            )
            raise Refused(say("hold: is lifted by what it asks for; {way}", way=way))
        if hold.kind == HoldKind.INCIDENT:
            require(act, "lift incident hold")
        act.change(hold, lifted_at=act.at, lifted_by_id=person, lift_reason=said)


def what_to_preserve(
    tag: str, cylinders: tuple[str, ...], same_batch: tuple[str, ...], same_container: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """What to keep as it is after an incident, in sentences; common practice, no published source."""
    lines = [
        say("Unit {tag} as it came back: valves, settings and batteries untouched, nothing rinsed", tag=tag),
        say("The fill in its canister, not poured out"),
        say("The logs of every handset, before anything clears them"),
    ]
    if cylinders:
        lines.append(say("Its cylinders with the gas in them: {cylinders}", cylinders=strung(", ", cylinders)))
    if same_batch:
        lines.append(say("Cylinders filled from the same batch: {same_batch}", same_batch=strung(", ", same_batch)))
    if same_container:
        lines.append(
            say(
                "Canisters packed from the same absorbent, and its container: {same_container}",
                same_container=strung(", ", same_container),
            )
        )
    return tuple(lines)
