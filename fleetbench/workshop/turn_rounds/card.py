"""Turn-rounds: the card of a unit that came back, its lines one by one, a flood, what was found, and the signature.

A card without findings is its own ticket: finished and signed it lifts the hold of the return. What is found opens a
ticket of its own, which holds the unit until it is signed too.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN, TaskFact, lacking, state_now
from fleetbench.calc.tickets.signing import why_not_by as why_not_signed_by
from fleetbench.calc.turn_rounds.card import (
    BY_RECORD,
    FLOOD_ONLY,
    MAY_BE_LEFT_OUT,
    WORDS,
    CardEvidence,
    LineFact,
    Step,
    line_lacks,
    steps,
    why_not_finished,
)
from fleetbench.records.bench.lookups import RecordSession, seats_of
from fleetbench.records.bench.tables import Opening
from fleetbench.records.canisters.lookups import standing_fill
from fleetbench.records.canisters.tables import FillEvent
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import canister_in, line_out
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.tables import Finding, ServiceTask, Ticket
from fleetbench.records.turn_rounds.lookups import (
    kept_clean_in,
    last_disinfection,
    lines_of_card,
    open_card_of,
    plan_tasks,
)
from fleetbench.records.turn_rounds.tables import HandsetLook, TurnRound, TurnRoundLine
from fleetbench.records.units.tables import Hold, Unit
from fleetbench.records.upkeep.lookups import next_ticket_number, open_holds, unit_by_tag
from fleetbench.workshop.core.workplace import Workplace, require_person, required
from fleetbench.workshop.people.acts import check_pair
from fleetbench.workshop.tickets.service_plan import may_do
from fleetbench.workshop.tickets.task_evidence import UnitEvidence, service_tests
from fleetbench.workshop.tickets.work import signer_fact
from fleetbench.workshop.turn_rounds.baths import note_dry
from fleetbench.workshop.turn_rounds.ticks import card_evidence, loop_opened, settle, work_began

TO_DO = say("back and not inspected: the turn-round is to do")


def open_card(workplace: Workplace, tag: str, *, flooded: bool = False) -> int:
    """The key of a card opened by hand for a unit that is here, with the hold that it lifts when it is finished.

    flooded: a flood was found at the bench. Refused for a unit that is out or whose card is open already.
    """
    person = require_person(workplace)
    with workplace.transaction("open turn-round", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if line_out(act.session, unit.id) is not None:
            raise Refused(say("unit {tag}: is out; receive it first", tag=unit.tag))
        if open_card_of(act.session, unit.id) is not None:
            raise Refused(say("unit {tag}: its turn-round card is open already; go on with that one", tag=unit.tag))
        _hold(act, unit, person)
        return open_card_within(act, unit, None, flooded=flooded).id


def open_card_within(act: Transaction, unit: Unit, line_id: int | None, *, flooded: bool) -> TurnRound:
    """The card of a unit that just came back on a booking's line; one left open from before begins anew."""
    card = open_card_of(act.session, unit.id)
    if card is None:
        card = act.add(
            TurnRound(
                unit_id=unit.id,
                booking_unit_id=line_id,
                opened_at=act.at,
                opened_by_id=act.person_id,
                flooded_at=act.at if flooded else None,
            )
        )
        _add_lines(act, card, unit, _wanted(act.session, unit, flooded=flooded))
        return card
    act.change(card, opened_at=act.at, booking_unit_id=line_id)
    for line in lines_of_card(act.session, card.id):
        act.change(line, state=WorkState.TO_DO, settled_at=None, person_id=None, how=None)
    if flooded:
        _turn_into_flood(act, card, unit)
    return card


def flood_found(workplace: Workplace, tag: str) -> int:
    """The key of the unit's card, which becomes the card of a flood; its fill is spent, its oxygen side unclean.

    Cells come out, what the plan names is opened, and the cells are calibrated on two different days before the card
    can be finished: common practice, no published source; the maker's manual stands above it. A flood from before the
    unit's last hire is another one.
    """
    person = require_person(workplace)
    with workplace.transaction("flood found", f"unit {tag}") as act:
        unit = unit_by_tag(act.session, tag)
        if line_out(act.session, unit.id) is not None:
            raise Refused(say("unit {tag}: is out; receive it first, as flooded", tag=unit.tag))
        card = open_card_of(act.session, unit.id)
        if card is not None and card.flooded_at is not None and card.flooded_at >= card.opened_at:
            raise Refused(say("unit {tag}: its card says already that it was flooded", tag=unit.tag))
        _hold(act, unit, person)
        _wet_fill(act, unit, person)
        if card is None:
            return open_card_within(act, unit, None, flooded=True).id
        _turn_into_flood(act, card, unit)
        return card.id


def line_done(workplace: Workplace, line_id: int, note: str = "") -> None:
    """Tick one line by hand, with a note where one helps; what else it means is recorded with it.

    Stripping is a workshop opening, after which the release tests must follow; absorbent out throws the fill away;
    settings and previous data are noted for the handsets. A loop found dry before its hours have passed is settled as
    left out, with the note as its reason. Refused for a line that only its own record settles.
    """
    require_person(workplace)
    with workplace.transaction("turn-round line", f"turn-round line {line_id}") as act:
        line, card, unit = _line(act, line_id)
        step = Step(line.step)
        if step in BY_RECORD:
            raise Refused(
                say("{step}: is ticked by its own record; {remedy}", step=say(WORDS[step]), remedy=_WHERE[step])
            )
        beside = _BESIDE.get(step)
        if step is Step.DRY:
            how, state = note_dry(act, unit, dry=True, reason=note)
            settle(act, line, state, how)
            return
        said = beside(act, card, unit, line, note.strip()) if beside is not None else note.strip()
        settle(act, line, WorkState.DONE, said)


def leave_out(workplace: Workplace, line_id: int, reason: str) -> None:
    """Leave a line out with a reason; Refused for one that no reason may stand in place of."""
    require_person(workplace)
    said = required("reason", reason)
    with workplace.transaction("leave out turn-round line", f"turn-round line {line_id}") as act:
        line, card, _unit = _line(act, line_id)
        step = Step(line.step)
        optional = _task(act, line) is not None and not _critical(act, line)
        if step not in MAY_BE_LEFT_OUT and not optional:
            raise Refused(
                say("{line}: cannot be left out; do it, or open a ticket for what hinders it", line=_words(act, line))
            )
        if step is Step.CALIBRATE and card.flooded_at is not None:
            raise Refused(say("Cells calibrated: cannot be left out after a flood"))
        settle(act, line, WorkState.LEFT_OUT, said)


def correct_line(workplace: Workplace, line_id: int) -> None:
    """Open a line again that was ticked by mistake, within ten minutes; its records stay."""
    require_person(workplace)
    with workplace.transaction("correct turn-round line", f"turn-round line {line_id}") as act:
        line = act.get(TurnRoundLine, line_id, "turn-round line")
        card = act.get(TurnRound, line.turn_round_id, "turn-round")
        if card.finished_at is not None:
            raise Refused(say("turn-round: is finished and signed; open a ticket for what is wrong"))
        if line.state == WorkState.TO_DO or line.settled_at is None:
            raise Refused(say("{line}: is still to do", line=_words(act, line)))
        if Step(line.step) in BY_RECORD and line.state == WorkState.DONE:
            raise Refused(say("{line}: was ticked by its own record; put that one right", line=_words(act, line)))
        if act.at - line.settled_at > CORRECTED_WITHIN:
            raise Refused(
                say("{line}: was ticked over ten minutes ago; open a ticket for what is wrong", line=_words(act, line))
            )
        act.change(line, state=WorkState.TO_DO, settled_at=None, person_id=None, how=None)


def card_finding(workplace: Workplace, card_id: int, text: str, *, critical: bool = True) -> int:
    """The key of the ticket that holds what was found during a turn-round; the first finding opens it."""
    person, said = require_person(workplace), required("finding", text)
    year = workplace.today().year
    with workplace.transaction("turn-round finding", f"turn-round {card_id}") as act:
        card = _open(act, card_id)
        ticket = act.get(Ticket, card.ticket_id, "ticket") if card.ticket_id is not None else None
        if ticket is None or ticket.signed_at is not None or ticket.withdrawn_at is not None:
            ticket = act.add(
                Ticket(
                    year=year, number=next_ticket_number(act.session, year), unit_id=card.unit_id,
                    cause="turn-round", reason=f"Found at the turn-round: {said}"[:300], critical=critical,
                    opened_at=act.at, opened_by_id=person, minutes=0.0,
                )
            )  # fmt: skip
            act.change(card, ticket_id=ticket.id)
        elif critical and not ticket.critical:
            act.change(ticket, critical=True)
        act.add(Finding(ticket_id=ticket.id, at=act.at, person_id=person, text=said))
        return ticket.id


def reasons_against_finishing(workplace: Workplace, card_id: int) -> tuple[str, ...]:
    """Why a card cannot be finished yet, each with its remedy; empty where it can."""
    with workplace.database.read_session() as session:
        act = Transaction(session, workplace.clock(), workplace.person_id, "look", "")
        return _reasons(act, act.get(TurnRound, card_id, "turn-round"))


def finish_cards(
    workplace: Workplace,
    card_ids: Sequence[int],
    *,
    signer_id: int,
    pin: str,
    second_id: int | None = None,
    second_pin: str = "",
) -> str:
    """Finish cards under the signer's PIN, all that were shown or none; returns the journal hash.

    The hold of each return is lifted. second_id: whoever looked at a task that asks for a second person.
    """
    wanted = tuple(dict.fromkeys(card_ids))
    if not wanted:
        raise Refused(say("turn-rounds: none is chosen; choose what to sign"))
    about = f"turn-round {wanted[0]}" if len(wanted) == 1 else f"{len(wanted)} turn-rounds"
    today = workplace.today()
    with workplace.as_person(signer_id).transaction("finish turn-round", about) as act:
        signer = act.get(Person, signer_id, "signer")
        second = act.get(Person, second_id, "second person") if second_id is not None else None
        check_pair(signer, pin, second, second_pin)
        against: list[str] = []
        for key in wanted:
            card = _open(act, key)
            unit = act.get(Unit, card.unit_id, "unit")
            reasons = (*_may_sign(act, card, unit, signer, second, today), *_reasons(act, card))
            against += [say("unit {tag}: {reason}", tag=unit.tag, reason=reason) for reason in reasons]
        if against:
            raise Refused(strung("; ", against))
        for key in wanted:
            _finish(act, act.get(TurnRound, key, "turn-round"), signer_id)
        return act.close_entry()


def _may_sign(
    act: Transaction, card: TurnRound, unit: Unit, signer: Person, second: Person | None, today: date
) -> tuple[str, ...]:
    facts = tuple(
        TaskFact(_words(act, line), line.state, None, task.second_person)
        for line in lines_of_card(act.session, card.id)
        if (task := _task(act, line)) is not None
    )
    return why_not_signed_by(
        signer_fact(act, signer, unit.unit_type_id, today),
        signer_fact(act, second, unit.unit_type_id, today) if second is not None else None,
        facts,
    )


def _finish(act: Transaction, card: TurnRound, signer_id: int) -> None:
    act.change(card, finished_at=act.at, finished_by_id=signer_id)
    for hold in open_holds(act.session, unit_id=card.unit_id):
        if hold.kind == HoldKind.RECEIVED:
            act.change(hold, lifted_at=act.at, lifted_by_id=signer_id, lift_reason=say("turn-round finished"))


def _reasons(act: Transaction, card: TurnRound) -> tuple[str, ...]:
    made = card_evidence(act, act.get(Unit, card.unit_id, "unit"), card)
    lines = lines_of_card(act.session, card.id)
    states = _states(lines, made)
    return why_not_finished(
        tuple(LineFact(_words(act, line), Step(line.step), states[line.id]) for line in lines),
        untested=made.untested,
        calibrated_on=made.calibrated_on,
        flooded=card.flooded_at is not None,
    )


def _states(lines: Sequence[TurnRoundLine], made: CardEvidence) -> dict[int, str]:
    return {line.id: state_now(line.state, line_lacks(Step(line.step), made)) for line in lines}


def lacks_of_card(act: Transaction, card: TurnRound) -> dict[int, tuple[str, ...]]:
    """The evidence that each line of an open card needs and lacks, each reason with its remedy, by the line's key."""
    made = card_evidence(act, act.get(Unit, card.unit_id, "unit"), card)
    return {line.id: line_lacks(Step(line.step), made) for line in lines_of_card(act.session, card.id)}


def _open(act: Transaction, card_id: int) -> TurnRound:
    card = act.get(TurnRound, card_id, "turn-round")
    if card.finished_at is not None:
        raise Refused(say("turn-round: is finished and signed; open a ticket for what is wrong"))
    return card


def _line(act: Transaction, line_id: int) -> tuple[TurnRoundLine, TurnRound, Unit]:
    line = act.get(TurnRoundLine, line_id, "turn-round line")
    card = _open(act, line.turn_round_id)
    if line.state != WorkState.TO_DO:
        raise Refused(say("{line}: is {state} already", line=_words(act, line), state=say(line.state)))
    return line, card, act.get(Unit, card.unit_id, "unit")


def _task(act: Transaction, line: TurnRoundLine) -> ServiceTask | None:
    if line.service_task_id is None:
        return None
    return act.get(ServiceTask, line.service_task_id, "service task")


def _critical(act: Transaction, line: TurnRoundLine) -> bool:
    task = _task(act, line)
    return task is None or task.critical


def _words(act: Transaction, line: TurnRoundLine) -> str:
    task = _task(act, line)
    return task.text if task is not None else say(WORDS[Step(line.step)])


def _hold(act: Transaction, unit: Unit, person: int) -> None:
    if not any(each.kind == HoldKind.RECEIVED for each in open_holds(act.session, unit_id=unit.id)):
        act.add(Hold(unit_id=unit.id, kind="received", reason=TO_DO, placed_at=act.at, placed_by_id=person))


def _wet_fill(act: Transaction, unit: Unit, person: int) -> None:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is not None and fill.wetted_at is None:
        act.change(fill, wetted_at=act.at)
        act.add(FillEvent(fill_id=fill.id, kind="flooded", at=act.at, person_id=person, note=say("as found")))


def card_lines(workplace: Workplace, tag: str) -> tuple[tuple[Step, str], ...]:
    """The step and the words of each line that a card of this unit opened now would have, in bench order."""
    with workplace.database.read_session() as session:
        asked = [
            (step, None if key is None else session.get(ServiceTask, key))
            for step, key in _wanted(session, unit_by_tag(session, tag), flooded=False)
        ]
        return tuple((step, WORDS[step] if task is None else task.text) for step, task in asked)


def _wanted(session: RecordSession, unit: Unit, *, flooded: bool) -> list[tuple[Step, int | None]]:
    """Steps in bench order, each with its task of the plan where it is one."""
    kinds = [seat.slot.kind for seat in seats_of(session, unit)]
    plain = steps(
        flooded=flooded,
        batteries=any("battery" in kind for kind in kinds),
        handsets=any(kind in ("handset", "handset battery") for kind in kinds),
        cells="cell" in kinds,
        oxygen_side=bool(kept_clean_in(session, unit)),
    )
    after_flood = plan_tasks(session, unit.unit_type_id, ("flood",)) if flooded else ()
    wanted: list[tuple[Step, int | None]] = []
    for step in plain:
        if step is Step.OPENED_UP and after_flood:
            wanted += [(step, task.id) for task in after_flood]
        else:
            wanted.append((step, None))
    wanted += [(Step.SERVICE, task.id) for task in plan_tasks(session, unit.unit_type_id, ("hand-back",))]
    return wanted


def _add_lines(act: Transaction, card: TurnRound, unit: Unit, wanted: Sequence[tuple[Step, int | None]]) -> None:
    first = max((line.ordinal for line in lines_of_card(act.session, card.id)), default=0)
    for place, (step, task_id) in enumerate(wanted, first + 1):
        line = TurnRoundLine(turn_round_id=card.id, ordinal=place, step=str(step), service_task_id=task_id,
                             state=WorkState.TO_DO)  # fmt: skip
        act.add(line)


def _turn_into_flood(act: Transaction, card: TurnRound, unit: Unit) -> None:
    """Add what a flood asks for, and open again what it undoes: everything but gauges and batteries out."""
    act.change(card, flooded_at=act.at)
    stays = (Step.CYLINDERS, Step.BATTERIES_OUT)
    for line in lines_of_card(act.session, card.id):
        if line.state != WorkState.TO_DO and Step(line.step) not in stays:
            act.change(line, state=WorkState.TO_DO, settled_at=None, person_id=None, how=None)
    there = {(Step(line.step), line.service_task_id) for line in lines_of_card(act.session, card.id)}
    _add_lines(act, card, unit, [each for each in _wanted(act.session, unit, flooded=True)
                                 if each not in there and each[0] in FLOOD_ONLY])  # fmt: skip


# what a line means besides its tick


def _stripped(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    act.add(Opening(unit_id=unit.id, at=act.at, kind=OpeningKind.WORKSHOP, what=say("loop stripped for the turn-round"),
                    person_id=act.person_id, ticket_id=card.ticket_id))  # fmt: skip
    loop_opened(act, unit)
    return note


def _absorbent_out(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is None:
        return note or say("no fill on record")
    act.change(fill, discarded_at=act.at, discarded_by_id=act.person_id, why_discarded="turn-round")
    return note or in_row(f"fill {fill.ref or fill.id} discarded")


def _rinsed(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    bath = last_disinfection(act.session, unit.id)
    if bath is None or bath.at < work_began(card):
        raise Refused(say("Agent rinsed off: no disinfection since this card was opened; disinfect the loop first"))
    if not bath.rinsed:
        act.change(bath, rinsed=True)
    return note


def _settings(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    act.add(HandsetLook(unit_id=unit.id, at=act.at, person_id=act.person_id, settings_reset=True, previous_data=None))
    return note


def _previous(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    word = "stated" if note.casefold() == "stated" else "cleared"
    act.add(HandsetLook(unit_id=unit.id, at=act.at, person_id=act.person_id, settings_reset=None, previous_data=word))
    return word


def _served(act: Transaction, card: TurnRound, unit: Unit, line: TurnRoundLine, note: str) -> str:
    task = _task(act, line)
    if task is not None:
        may_do(act, task, unit.unit_type_id)
        made = UnitEvidence(act.session, unit, card.opened_at)
        needs = made.needs(task.text, task)
        tests = service_tests(act.session, [task.id]).get(task.id, ())
        missing = lacking(replace(needs, tests=tuple(dict.fromkeys((*needs.tests, *tests)))), made.made)
        if missing:
            raise Refused(strung(": ", (task.text, strung("; ", missing))))
    return note


_BESIDE: dict[Step, Callable[[Transaction, TurnRound, Unit, TurnRoundLine, str], str]] = {
    Step.STRIP: _stripped,
    Step.ABSORBENT: _absorbent_out,
    Step.RINSE_AGAIN: _rinsed,
    Step.SETTINGS: _settings,
    Step.PREVIOUS_DATA: _previous,
    Step.OPENED_UP: _served,
    Step.SERVICE: _served,
}
_WHERE: dict[Step, str] = {
    Step.DISINFECT: say("record the bath"),
    Step.OXYGEN_CLEAN: say("record the cleaning of each part on the oxygen side"),
    Step.TESTS: say("test valves and loop at the bench"),
    Step.BATTERIES: say("read the batteries"),
    Step.CALIBRATE: say("calibrate the cells"),
    Step.CALIBRATE_AGAIN: say("calibrate again on another day"),
}
