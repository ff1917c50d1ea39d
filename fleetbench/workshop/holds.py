"""Place a hold by hand, freeze a unit after an incident, and lift either."""

from dataclasses import dataclass

from fleetbench.records.act_reads import open_holds, unit_by_tag
from fleetbench.records.errors import Refused
from fleetbench.records.hold_reads import cylinders_in, filled_with
from fleetbench.records.units import Hold
from fleetbench.workshop.fit import label
from fleetbench.workshop.shop import Shop, require
from fleetbench.workshop.ticket_work import required, somebody

LIFTED_HERE = ("manual", "incident", "cell")
"""Kinds that a person lifts with a reason; a return's hold is lifted by its turn-round, a notice's by its action."""


@dataclass(frozen=True, slots=True)
class Frozen:
    """What an incident froze: the unit, the cylinders in it, and other cylinders filled from the same batch.

    preserve: what to keep as it is, in sentences; common practice, no published source.
    """

    hold_id: int
    unit: str
    cylinders: tuple[str, ...]
    same_batch: tuple[str, ...]
    preserve: tuple[str, ...]


def place_hold(shop: Shop, tag: str, reason: str) -> int:
    """The key of a hold on a unit, placed by hand with its reason."""
    person, said = somebody(shop), required("reason", reason)
    with shop.acting("place hold", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        row = Hold(unit_id=unit.id, kind="manual", reason=said, placed_at=act.at, placed_by_id=person)
        return act.add(row).id


def freeze_unit(shop: Shop, tag: str, reason: str) -> Frozen:
    """What is frozen after an incident: the unit with all that sits in it, and every cylinder of the same batch of gas.

    Nothing may be done to any of it but add notes, until a manager lifts the holds.
    """
    person, said = somebody(shop), required("reason", reason)
    with shop.acting("place hold", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if any(hold.kind == "incident" for hold in open_holds(act.session, unit_id=unit.id)):
            raise Refused(f"unit {unit.tag}: is frozen already; add what was seen to its ticket")
        hold = act.add(Hold(unit_id=unit.id, kind="incident", reason=said, placed_at=act.at, placed_by_id=person))
        own = cylinders_in(act.session, unit)
        others = filled_with(act.session, [part.id for part in own])
        for part in others:
            why = f"filled from the same batch as a cylinder of {unit.tag}: {said}"
            act.add(Hold(part_id=part.id, kind="incident", reason=why, placed_at=act.at, placed_by_id=person))
        names = tuple(label(part) for part in own)
        batch = tuple(label(part) for part in others)
        return Frozen(hold.id, unit.tag, names, batch, _preserve(unit.tag, names, batch))


def lift_hold(shop: Shop, hold_id: int, reason: str) -> None:
    """Lift a hold with a reason; one after an incident is lifted by a manager only."""
    person, said = somebody(shop), required("reason", reason)
    with shop.acting("lift hold", f"hold {hold_id}") as act:
        hold = act.get(Hold, hold_id, f"hold {hold_id}")
        if hold.lifted_at is not None:
            raise Refused("hold: is lifted already")
        if hold.kind not in LIFTED_HERE:
            way = "finish the turn-round" if hold.kind == "received" else "record the notice's action as done"
            raise Refused(f"hold: is lifted by what it asks for; {way}")
        if hold.kind == "incident":
            require(act, "lift incident hold")
        act.change(hold, lifted_at=act.at, lifted_by_id=person, lift_reason=said)


def _preserve(tag: str, cylinders: tuple[str, ...], same_batch: tuple[str, ...]) -> tuple[str, ...]:
    lines = [
        f"Unit {tag} as it came back: valves, settings and batteries untouched, nothing rinsed",
        "The fill in its canister, not poured out",
        "The logs of every handset, before anything clears them",
    ]
    if cylinders:
        lines.append(f"Its cylinders with the gas in them: {', '.join(cylinders)}")
    if same_batch:
        lines.append(f"Cylinders filled from the same batch: {', '.join(same_batch)}")
    return tuple(lines)
