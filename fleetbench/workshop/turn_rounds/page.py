"""Turn-round cards as lists and pages show them, in one load."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import state_now
from fleetbench.calc.turn_rounds.card import (
    BY_RECORD,
    MAY_BE_LEFT_OUT,
    REFERENCE,
    WORDS,
    DryingTime,
    Step,
    drying_time,
)
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.people.reads import PersonRecord
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.tickets.service_plan import ServiceTaskRecord, read_service_tasks
from fleetbench.records.turn_rounds.reads import (
    BathRecord,
    CardLineRecord,
    CardRecord,
    LoopCleaning,
    read_baths,
    read_card_lines,
    read_cards,
    read_loop_cleanings,
)
from fleetbench.records.turn_rounds.tables import TurnRound
from fleetbench.records.units.reads import read_units
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.tickets.page import Signer, may_sign
from fleetbench.workshop.tickets.service_plan import ServiceLine, service_lines
from fleetbench.workshop.turn_rounds.card import lacks_of_card, reasons_against_finishing
from fleetbench.workshop.turn_rounds.handsets import HandsetDesk, handset_desk


@dataclass(frozen=True, slots=True)
class CardLine:
    """One line of a card in words, as it stands: one that was ticked is to do again where its evidence is lacking.

    by_record: only its own record ticks it. lacks: what that is not there, each with its remedy.
    """

    line: CardLineRecord
    text: str
    state: str
    by_record: bool
    may_be_left_out: bool
    lacks: tuple[str, ...] = ()

    @property
    def step(self) -> Step:
        """What is done on it."""
        return Step(self.line.step)


@dataclass(frozen=True, slots=True)
class HangingLoop:
    """How the loop hangs: from and by when it should be dry, and when it was found dry or damp; early: not yet."""

    disinfected_at: datetime
    dry_from: datetime
    dry_by: datetime
    dry_at: datetime | None
    damp_at: datetime | None
    bath: str
    early: bool = False


@dataclass(frozen=True, slots=True)
class TurnRoundCard:
    """One card with the ticket of what was found, its lines in bench order, and its loop where that hangs."""

    record: CardRecord
    ticket: str | None
    lines: tuple[CardLine, ...]
    drying: HangingLoop | None

    @property
    def next(self) -> CardLine | None:
        """The first line that is still to do."""
        return next((line for line in self.lines if line.state == WorkState.TO_DO), None)

    @property
    def done(self) -> int:
        """How many lines are settled."""
        return sum(line.state != WorkState.TO_DO for line in self.lines)


@dataclass(frozen=True, slots=True)
class TurnRoundDesk:
    """A unit at the bench: its open card, else its last finished one, with what stands beside it.

    against: why the card cannot be finished yet. needs_second: a task on it asks for a second person.
    """

    unit: str
    unit_type: str
    card: TurnRoundCard | None
    against: tuple[str, ...]
    needs_second: bool
    service: tuple[ServiceLine, ...]
    handsets: HandsetDesk
    signers: tuple[Signer, ...]
    people: tuple[PersonRecord, ...]
    reference: str = REFERENCE

    @property
    def is_open(self) -> bool:
        """Whether a card is open."""
        return self.card is not None and self.card.record.finished_at is None


@dataclass(frozen=True, slots=True)
class TurnRoundRow:
    """One open card in the list; next: what is to do next; dry_from: None where the loop hangs nowhere."""

    card: CardRecord
    next: str
    dry_from: datetime | None
    ticket: str | None


def turn_round_desk(workplace: Workplace, tag: str) -> TurnRoundDesk:
    """Everything for the turn-round of a unit; NotFound for an unknown tag."""
    with workplace.database.read_session() as session:
        connection = session.connection()
        found = read_units(connection, tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
        unit = found[0]
        cards = read_cards(connection, unit.unit_id)
        open_ones = [each for each in cards if each.finished_at is None]
        chosen = next(reversed(open_ones or list(cards)), None)
        lines = read_card_lines(connection, card_id=chosen.card_id) if chosen is not None else ()
        tasks = {each.service_task_id: each for each in read_service_tasks(connection, unit.unit_type_id)}
        numbers = read_ticket_numbers(connection)
        cleanings, _ = read_loop_cleanings(connection, unit.unit_id)
        baths = read_baths(connection, unit.unit_id)
        drying = drying_time(read_limits(connection), unit.unit_type_id)
        act = Transaction(session, workplace.clock(), workplace.person_id, "look", "")
        lacks = lacks_of_card(act, act.get(TurnRound, chosen.card_id, "turn-round")) if open_ones and chosen else {}
    card = _card(chosen, lines, tasks, numbers, cleanings, baths, drying) if chosen is not None else None
    if card is not None:
        card = _as_it_stands(card, lacks, workplace.clock())
    is_open = card is not None and card.record.finished_at is None
    return TurnRoundDesk(
        unit=unit.tag,
        unit_type=unit.unit_type,
        card=card,
        against=reasons_against_finishing(workplace, card.record.card_id) if card is not None and is_open else (),
        needs_second=any(tasks[line.service_task_id].second_person for line in lines
                         if line.service_task_id in tasks and line.state == WorkState.DONE),
        service=service_lines(workplace, unit.tag),
        handsets=handset_desk(workplace, unit.tag),
        signers=may_sign(workplace, (unit.tag,)) if is_open else (),
        people=list_people(workplace),
    )  # fmt: skip


def _as_it_stands(card: TurnRoundCard, lacks: Mapping[int, tuple[str, ...]], now: datetime) -> TurnRoundCard:
    """The card with each line in the state that its evidence gives it now."""
    lines = tuple(
        replace(
            line, lacks=lacks.get(line.line.line_id, ()), state=state_now(line.state, lacks.get(line.line.line_id, ()))
        )
        for line in card.lines
    )
    drying = card.drying
    early = drying is not None and drying.dry_at is None and now < drying.dry_from
    return replace(card, lines=lines, drying=replace(drying, early=early) if drying is not None else None)


def list_turn_rounds(workplace: Workplace) -> tuple[TurnRoundRow, ...]:
    """Every open card, the oldest first; a fixed number of statements."""
    with workplace.database.reading() as connection:
        cards = read_cards(connection, open_only=True)
        lines = read_card_lines(connection, open_cards=True)
        tasks = {each.service_task_id: each for each in read_service_tasks(connection)}
        numbers = read_ticket_numbers(connection)
        cleanings, _ = read_loop_cleanings(connection)
        limits = read_limits(connection)
    hung = {each.unit_id: each for each in cleanings}
    rows = []
    for card in cards:
        mine = [line for line in lines if line.card_id == card.card_id]
        first = next((line for line in mine if line.state == WorkState.TO_DO), None)
        wash = hung.get(card.unit_id)
        against = reasons_against_finishing(workplace, card.card_id) if first is None else ()
        dries = wash is not None and wash.at >= card.opened_at and wash.dry_at is None
        rows.append(
            TurnRoundRow(
                card,
                _words(first, tasks) if first is not None else next(iter(against), "sign"),
                drying_time(limits, card.unit_type_id).ends(_begins(wash)) if wash is not None and dries else None,
                numbers.get(card.ticket_id) if card.ticket_id is not None else None,
            )
        )
    return tuple(rows)


def _begins(wash: LoopCleaning) -> datetime:
    damp = wash.looked_at if wash.found_dry is False else None
    return damp or wash.at


def _words(line: CardLineRecord, tasks: dict[int, ServiceTaskRecord]) -> str:
    if line.service_task_id is not None and line.service_task_id in tasks:
        return tasks[line.service_task_id].text
    return WORDS[Step(line.step)]


def _card(
    card: CardRecord,
    lines: Iterable[CardLineRecord],
    tasks: dict[int, ServiceTaskRecord],
    numbers: dict[int, str],
    cleanings: Iterable[LoopCleaning],
    baths: Iterable[BathRecord],
    drying: DryingTime,
) -> TurnRoundCard:
    wash = next((each for each in cleanings if each.at >= card.opened_at), None)
    return TurnRoundCard(
        card,
        ticket=numbers.get(card.ticket_id) if card.ticket_id is not None else None,
        lines=tuple(
            CardLine(
                line,
                text=_words(line, tasks),
                state=line.state,
                by_record=Step(line.step) in BY_RECORD,
                may_be_left_out=_optional(line, card, tasks),
            )
            for line in lines
        ),
        drying=_drying(wash, baths, drying) if wash is not None else None,
    )


def _optional(line: CardLineRecord, card: CardRecord, tasks: dict[int, ServiceTaskRecord]) -> bool:
    if line.service_task_id is not None:
        task = tasks.get(line.service_task_id)
        return task is not None and not task.critical
    step = Step(line.step)
    return step in MAY_BE_LEFT_OUT and not (step is Step.CALIBRATE and card.flooded_at is not None)


def _drying(wash: LoopCleaning, baths: Iterable[BathRecord], hours: DryingTime) -> HangingLoop:
    bath = next((each for each in baths if each.disinfection_id == wash.disinfection_id), None)
    words = say("no bath on record") if bath is None else (
        say("{agent} {strength}, {contact_minutes:g} min, {rinsed}", agent=bath.agent, strength=bath.strength,
            contact_minutes=bath.contact_minutes, rinsed=say("rinsed") if bath.rinsed else say("not rinsed"))
    )  # fmt: skip
    damp = wash.looked_at if wash.found_dry is False else None
    begins = _begins(wash)
    return HangingLoop(
        wash.at,
        dry_from=hours.ends(begins),
        dry_by=hours.ends_at_most(begins),
        dry_at=wash.dry_at,
        damp_at=damp,
        bath=words,
    )
