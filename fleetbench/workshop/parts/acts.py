"""What is done to parts outside their slots: open, move, set aside, release, send back, scrap, and take a slip back.

A part that sits in a slot is taken out first, so that it is never in two places; what sits in an assembly travels with
it. Every act leaves an event of the part; nothing recorded is taken away.

Parts sent back under warranty, with the readings that prove the fault.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.core.languages import in_row, say, say_count, strung
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.condition import Judgement, Release, release
from fleetbench.calc.parts.kinds import GONE, PartState, PlaceKind, ShelfEvent
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lives import read_heads_and_readers
from fleetbench.records.parts.lookups import (
    ProofFigures,
    fitted_since,
    held_inside,
    newest_event,
    outcomes_of_part,
    places_of_kind,
    read_part_events,
    read_proof_figures,
    tests_of_part,
    undone,
    used_in_step,
)
from fleetbench.records.parts.tables import Part, PartEvent, PartProof
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.tables import Place
from fleetbench.records.upkeep.lookups import fitting_of
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, require_person, required
from fleetbench.workshop.parts.conditions import facts_of_part
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.parts.list import PartPage, part_page, part_story
from fleetbench.workshop.parts.lives import refresh_lives

"""States in which a part is no longer in the house."""


def open_part(workplace: Workplace, part_id: int, opened: MarkedDate | None = None) -> None:
    """Record that a sealed part was opened, today unless another day is marked; its life from opening begins."""
    require_person(workplace)
    today = workplace.today()
    mark = opened or MarkedDate(today)
    if mark.first_day > today:
        raise Refused(say("opened: {mark} lies ahead; look at the date", mark=mark))
    with workplace.transaction("open part", _about(workplace, part_id)) as act:
        part = _in_house(act, part_id)
        if part.opened_on is not None:
            raise Refused(
                say(
                    "part {label}: was opened on {opened_on}; its life counts from then",
                    label=label(part),
                    opened_on=part.opened_on,
                )
            )
        if part.made_on is not None and mark.last_day < part.made_on:
            raise Refused(
                say("opened: {mark} lies before it was made, {made_on}; look at both", mark=mark, made_on=part.made_on)
            )
        _note(act, part, ShelfEvent.OPENED)
        act.change(part, opened_on=mark.date, opened_precision=mark.precision.value)
        refresh_lives(act, (part.id,))


def move_parts(workplace: Workplace, part_ids: Iterable[int], place_id: int) -> None:
    """Put parts from the shelf into another place, all in one act; a place for what may not be used is refused."""
    require_person(workplace)
    keys = list(dict.fromkeys(part_ids))
    if not keys:
        raise Refused(say("parts: none chosen; mark the parts to move"))
    with workplace.transaction(
        "move parts", _about(workplace, keys[0]) if len(keys) == 1 else f"{len(keys)} parts"
    ) as act:
        place = act.get(Place, place_id, "place")
        if place.kind in (PlaceKind.QUARANTINE, PlaceKind.SENT_BACK):
            raise Refused(
                say(
                    "place {place}: is for parts set aside; use 'set aside' or 'send back', with a reason",
                    place=place.name,
                )
            )
        for key in keys:
            part = _on_shelf(act, key)
            if part.state == PartState.QUARANTINE:
                raise Refused(say("part {label}: is set aside; release it first, with a reason", label=label(part)))
            if part.place_id == place.id:
                raise Refused(
                    say(
                        "part {label}: lies in {place} already; choose another place",
                        label=label(part),
                        place=place.name,
                    )
                )
            _note(act, part, ShelfEvent.MOVED, place_id=place.id)
            act.change(part, place_id=place.id)


def quarantine_part(workplace: Workplace, part_id: int, reason: str, *, place_id: int | None = None) -> None:
    """Set a part aside so that it cannot be fitted, with the reason; place_id: the quarantine place where None."""
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("set part aside", _about(workplace, part_id)) as act:
        part = _on_shelf(act, part_id)
        if part.state == PartState.QUARANTINE:
            raise Refused(say("part {label}: is set aside already", label=label(part)))
        place = _place_or_first(act, place_id, PlaceKind.QUARANTINE)
        _note(act, part, ShelfEvent.QUARANTINE, place_id=place, reason=said)
        act.change(part, state=PartState.QUARANTINE, place_id=place)


def release_part(workplace: Workplace, part_id: int, reason: str, *, place_id: int | None = None) -> None:
    """Put a part that was set aside back into stock, on evidence, with the reason why it may be used after all.

    Refused while a reject stands, a stopping notice or a hold names it, once its life on the shelf has ended, and where
    it came out for a fault that nothing measured since denies. What it overrules and what it rests on stand with it in
    the journal.
    """
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("release part", _about(workplace, part_id)) as act:
        part = _on_shelf(act, part_id)
        if part.state != PartState.QUARANTINE:
            raise Refused(say("part {label}: is {state}, not set aside", label=label(part), state=say(part.state)))
        asked = release(
            facts_of_part(act.session.connection(), Day(act.at, workplace.today(), workplace.zone()), part.id)
        )
        if asked.refused:
            raise Refused(
                say(
                    "part {label}: {refused}; it stays set aside",
                    label=label(part),
                    refused=strung("; ", asked.refused),
                )
            )
        if place_id is not None:
            act.get(Place, place_id, "place")
        evidence = [evidence_words(act.session.connection(), part.id, each) for each in asked.evidence]
        overrules = in_row(f"; overrules: {'; '.join(asked.overrules)}") if asked.overrules else ""
        shown = in_row(f"; shown by: {'; '.join(evidence)}") if evidence else ""
        event = _note(act, part, ShelfEvent.RELEASED, place_id=place_id, reason=f"{said[:120]}{shown}{overrules}"[:300])
        for each in asked.evidence:
            if each.outcome_id is not None or each.test_id is not None:
                act.add(PartProof(part_event_id=event, outcome_id=each.outcome_id, bench_test_id=each.test_id))
        act.change(part, state="stock", place_id=place_id)


def release_asked(workplace: Workplace, part_id: int) -> tuple[Release, tuple[str, ...]]:
    """What stands against a release of this part, or what it overrules; and its evidence in words."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        asked = release(facts_of_part(connection, day, part_id))
        return asked, tuple(evidence_words(connection, part_id, each) for each in asked.evidence)


def evidence_words(connection: Connection, part_id: int, found: Judgement) -> str:
    """'calibration 2026-11-27 pass (LK-01, cell 2, by T1), head H-7, handset 1 and handset 2'."""
    words = f"{found.kind} {found.at:%Y-%m-%d} {found.verdict}" + (f" ({found.source})" if found.source else "")
    if found.calibration_id is None:
        return words
    head, readers = read_heads_and_readers(connection, found.calibration_id, part_id)
    return strung(", ", filter(None, (words, say("head {head}", head=head) if head else "", readers)))


def send_back(
    workplace: Workplace,
    part_id: int,
    reason: str,
    *,
    outcomes: Sequence[int] = (),
    tests: Sequence[int] = (),
    place_id: int | None = None,
) -> int:
    """The key of the event of a part sent back under warranty, with the readings that prove the fault.

    outcomes: keys of calibration outcomes of this cell; tests: keys of bench tests of it. At least one is asked for,
    since a return without readings is not taken.
    """
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("send part back", _about(workplace, part_id)) as act:
        part = _empty(act, _on_shelf(act, part_id))
        proofs = _proofs(act, part, outcomes, tests)
        if not proofs:
            raise Refused(
                say("part {label}: no reading given; choose the calibrations or tests that prove it", label=label(part))
            )
        place = _place_or_first(act, place_id, PlaceKind.SENT_BACK)
        event = _note(act, part, ShelfEvent.SENT_BACK, place_id=place, reason=said)
        for proof in proofs:
            proof.part_event_id = event
            act.add(proof)
        act.change(part, state=PartState.SENT_BACK, place_id=place)
        return event


def take_back(workplace: Workplace, part_id: int, reason: str, *, place_id: int | None = None) -> None:
    """Take a part in again that was sent back; it waits set aside until somebody releases it."""
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("take part back", _about(workplace, part_id)) as act:
        part = act.get(Part, part_id, "part")
        if part.state != PartState.SENT_BACK:
            raise Refused(
                say(
                    "part {label}: is {state}; only a part that was sent back comes back",
                    label=label(part),
                    state=say(part.state),
                )
            )
        place = _place_or_first(act, place_id, PlaceKind.QUARANTINE)
        _note(act, part, ShelfEvent.CAME_BACK, place_id=place, reason=said)
        act.change(part, state=PartState.QUARANTINE, place_id=place)


def scrap_part(
    workplace: Workplace, part_id: int, reason: str, *, outcomes: Sequence[int] = (), tests: Sequence[int] = ()
) -> None:
    """Scrap a part for good, with the reason and, where there are some, the readings it rests on."""
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("scrap part", _about(workplace, part_id)) as act:
        part = _empty(act, _on_shelf(act, part_id))
        proofs = _proofs(act, part, outcomes, tests)
        event = _note(act, part, ShelfEvent.SCRAPPED, reason=said)
        for proof in proofs:
            proof.part_event_id = event
            act.add(proof)
        act.change(part, state=PartState.SCRAPPED, place_id=None)


def undo_last(workplace: Workplace, part_id: int, reason: str) -> str:
    """What was taken back: the last event of a part, by an event that says so; the first one stays on record.

    Refused where the part was fitted since, where the last event is the part's being received (scrap it instead), and
    where it was taken back before.
    """
    require_person(workplace)
    said = _reason(reason)
    with workplace.transaction("undo", _about(workplace, part_id)) as act:
        part = act.get(Part, part_id, "part")
        last = newest_event(act.session, part.id)
        if last is None or last.kind in (ShelfEvent.RECEIVED, ShelfEvent.UNDONE) or undone(act.session, last.id):
            raise Refused(
                say("part {label}: nothing to take back; a part received by mistake is scrapped", label=label(part))
            )
        if last.step_result_id is not None:
            raise Refused(
                say("part {label}: a step of a ticket used it; correct the step on the ticket", label=label(part))
            )
        if fitting_of(act.session, part.id) is not None or fitted_since(act.session, part.id, last.at):
            raise Refused(
                say("part {label}: was fitted since; remove it first, then enter what is true", label=label(part))
            )
        place = last.place_before_id
        _note(act, part, ShelfEvent.UNDONE, place_id=place, reason=said, undoes=last.id)
        if last.kind == ShelfEvent.OPENED:
            act.change(part, opened_on=None, opened_precision="day")
        act.change(part, state=last.state_before or part.state, place_id=place)
        return last.kind


def _note(
    act: Transaction, part: Part, kind: str, *, place_id: int | None = None, reason: str | None = None,
    undoes: int | None = None, ticket_id: int | None = None, step_result_id: int | None = None,
) -> int:  # fmt: skip
    """The key of the part's new event, with the state and place it leaves."""
    row = PartEvent(
        part_id=part.id, kind=kind, at=act.at, person_id=act.person_id, place_id=place_id, state_before=part.state,
        place_before_id=part.place_id, reason=reason, undoes_id=undoes, ticket_id=ticket_id,
        step_result_id=step_result_id,
    )  # fmt: skip
    return act.add(row).id


def note_event(
    act: Transaction, part: Part, kind: str, reason: str, ticket_id: int | None = None, *, undoes: int | None = None,
    step_result_id: int | None = None,
) -> int:  # fmt: skip
    """The key of an event for an act that is told elsewhere."""
    return _note(act, part, kind, reason=reason, ticket_id=ticket_id, undoes=undoes, step_result_id=step_result_id)


def put_back_within(act: Transaction, step_result_id: int, reason: str) -> None:
    """Let the parts that a step used up lie on the shelf again, within an act."""
    for event in used_in_step(act.session, step_result_id):
        part = act.get(Part, event.part_id, "part")
        _note(act, part, ShelfEvent.UNDONE, place_id=event.place_before_id, reason=reason, undoes=event.id)
        act.change(part, state=event.state_before or part.state, place_id=event.place_before_id)


def _in_house(act: Transaction, part_id: int) -> Part:
    part = act.get(Part, part_id, "part")
    if part.state in GONE:
        raise Refused(say("part {label}: is {state}; it is not here", label=label(part), state=say(part.state)))
    return part


def _on_shelf(act: Transaction, part_id: int) -> Part:
    """The part where it is in the house and in no slot."""
    part = _in_house(act, part_id)
    if part.state == PartState.FITTED or fitting_of(act.session, part.id) is not None:
        raise Refused(say("part {label}: sits in a slot; remove it first", label=label(part)))
    return part


def _empty(act: Transaction, part: Part) -> Part:
    inside = held_inside(act.session, part.id)
    if inside:
        raise Refused(
            say_count(
                "part {label}: holds {count} part; take them out first",
                "part {label}: holds {count} parts; take them out first",
                inside,
                label=label(part),
            )
        )
    return part


def _proofs(act: Transaction, part: Part, outcomes: Sequence[int], tests: Sequence[int]) -> list[PartProof]:
    found = outcomes_of_part(act.session, part.id, outcomes)
    if len(found) != len(set(outcomes)):
        raise Refused(say("readings: not all are of part {label}; choose its own calibrations", label=label(part)))
    seen = tests_of_part(act.session, part.id, tests)
    if len(seen) != len(set(tests)):
        raise Refused(
            say("tests: not all are of part {label} or a unit it sat in; choose its own tests", label=label(part))
        )
    return [PartProof(outcome_id=each.id) for each in found] + [PartProof(bench_test_id=each.id) for each in seen]


def _place_or_first(act: Transaction, place_id: int | None, kind: str) -> int | None:
    """The place given where it is of the kind asked for, else the first of that kind, else none."""
    if place_id is None:
        places = places_of_kind(act.session, kind)
        return places[0].id if places else None
    place = act.get(Place, place_id, "place")
    if place.kind != kind:
        raise Refused(
            say(
                "place {place}: is a {kind}; choose one for parts that are in {wanted}",
                place=place.name,
                kind=say(place.kind),
                wanted=say(kind),
            )
        )
    return place.id


def _reason(text: str) -> str:
    said = required("reason", text)
    if len(said) > 300:
        raise Refused(say("reason: is longer than 300 characters; say it shorter"))
    return said


def _about(workplace: Workplace, part_id: int) -> str:
    with workplace.database.read_session() as session:
        row = session.get(Part, part_id)
        return say("part {label}", label=label(row)) if row is not None else say("part {key}", key=part_id)


@dataclass(frozen=True, slots=True)
class ReturnPage:
    """One return. served: stays in units, oldest first, in words."""

    event_id: int
    page: PartPage
    sent_at: datetime
    sent_by: str | None
    reason: str
    served: tuple[str, ...]
    proofs: tuple[ProofFigures, ...]


def return_page(workplace: Workplace, part_id: int) -> ReturnPage:
    """The last return of a part that nobody took back; NotFound where it was never sent back."""
    page, story = part_page(workplace, part_id), part_story(workplace, part_id)
    with workplace.database.reading() as connection:
        events = read_part_events(connection, part_id)
        taken_back = {event.undoes_id for event in events}
        sent = [event for event in events if event.kind == ShelfEvent.SENT_BACK and event.event_id not in taken_back]
        if not sent:
            raise NotFound(say("part {part}: was never sent back", part=page.part.label))
        proofs = read_proof_figures(connection, sent[-1].event_id)
        names = read_names(connection)
    served = tuple(
        strung(
            ", ",
            (
                stay.where,
                say("{since:%Y-%m-%d} to {until:%Y-%m-%d}", since=stay.since, until=stay.until)
                if stay.until
                else say("{since:%Y-%m-%d} to now", since=stay.since),
                *([say("out for {why}", why=stay.why_removed)] if stay.why_removed else []),
            ),
        )
        for stay in story.stays
    )
    return ReturnPage(
        sent[-1].event_id, page=page, sent_at=sent[-1].at, sent_by=names.get(sent[-1].person_id or 0),
        reason=sent[-1].reason or "", served=served, proofs=proofs,
    )  # fmt: skip
