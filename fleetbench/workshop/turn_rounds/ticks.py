"""The one place where what is done anywhere ticks its line on a unit's open turn-round card.

Every act that does what a line asks for calls one function here inside its own transaction: a fill thrown away, gauges
read, a bath, a loop found dry, a bench test, a battery reading, a calibration, a cleaning for oxygen, handsets reset.
"""

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from fleetbench.calc.core.languages import in_row, say
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.tickets.signing import RELEASE_TESTS, Needs, lacking, needs_of, released
from fleetbench.calc.turn_rounds.card import BY_RECORD, CardEvidence, Step
from fleetbench.records.bench.lookups import open_tickets_of, seats_of
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.turn_rounds.lookups import (
    batteries_unread,
    cleaned_since,
    gauges_read,
    kept_clean_in,
    lines_of_card,
    open_card_of,
    sound_calibrations,
    units_with,
    units_with_open_cards,
)
from fleetbench.records.turn_rounds.tables import TurnRound, TurnRoundLine
from fleetbench.records.units.history import CYLINDER_KINDS
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import last_workshop_opening, tasks_of, tests_since
from fleetbench.workshop.tickets.task_evidence import UnitEvidence, test_fact, ticket_evidence


def settle(act: Transaction, line: TurnRoundLine, state: str, how: str | None) -> None:
    """Settle one line of a card by the person of the act, now."""
    act.change(line, state=state, settled_at=act.at, person_id=act.person_id, how=(how or "").strip()[:200] or None)


def work_began(card: TurnRound) -> datetime:
    """Since when what is done counts for a card: its opening, or the flood that was found after it."""
    return max(card.opened_at, card.flooded_at or card.opened_at)


def lines_again(act: Transaction, unit_id: int, *steps: Step) -> None:
    """Open lines of the unit's open card again that something newer undoes, however they were settled."""
    card = open_card_of(act.session, unit_id)
    for line in lines_of_card(act.session, card.id) if card is not None else ():
        if line.step in steps and line.state != WorkState.TO_DO:
            act.change(line, state=WorkState.TO_DO, settled_at=None, person_id=None, how=None)


def tick(act: Transaction, unit_id: int, step: Step, how: str, state: str = WorkState.DONE) -> bool:
    """Whether a line of this step stood on the unit's open card and is done now; a newer record takes its place."""
    card = open_card_of(act.session, unit_id)
    if card is None:
        return False
    ticked = False
    for line in lines_of_card(act.session, card.id):
        renewed = line.state == WorkState.DONE and step in BY_RECORD
        if line.step == step and (line.state == WorkState.TO_DO or renewed):
            settle(act, line, state, how)
            ticked = True
    return ticked


def tick_tasks(act: Transaction, unit: Unit) -> tuple[str, ...]:
    """The tasks of the unit's open tickets that a test or a calibration alone settles, marked as done now."""
    ticked = []
    for ticket in open_tickets_of(act.session, unit.id):
        made = ticket_evidence(act.session, ticket)
        for task in tasks_of(act.session, ticket.id):
            stale = task.state == WorkState.DONE and task.settled_at is not None and task.settled_at < made.made.opened
            waits = task.state in (WorkState.TO_DO, WorkState.PUT_OFF) or stale
            if waits and made.needs(task.text).by_record and not made.missing(task.text):
                act.change(task, state=WorkState.DONE, settled_at=act.at, person_id=act.person_id, put_off_reason=None)
                ticked.append(task.text)
    return tuple(ticked)


def tick_test(act: Transaction, unit: Unit, test: BenchTest) -> None:
    """Tick what a bench test settles: the release tests once all have passed since the loop was opened, or batteries.

    A test that failed after the line was ticked opens it again: what was seen last counts.
    """
    card = open_card_of(act.session, unit.id)
    if card is None:
        return
    if test.kind == "battery voltage":
        if not batteries_unread(act.session, unit, work_began(card)):
            tick(act, unit.id, Step.BATTERIES, say("every battery read"))
        return
    if test.kind not in RELEASE_TESTS:
        return
    if untested(act, unit, card):
        lines_again(act, unit.id, Step.TESTS)
    else:
        tick(act, unit.id, Step.TESTS, say("valves and loop passed"))


def loop_opened(act: Transaction, unit: Unit) -> None:
    """Open what an opening of the loop undoes again: the release tests on the unit's card and open tickets."""
    lines_again(act, unit.id, Step.TESTS)
    for ticket in open_tickets_of(act.session, unit.id):
        for task in tasks_of(act.session, ticket.id):
            if task.state == WorkState.DONE and set(needs_of(task.text).tests) & set(RELEASE_TESTS):
                act.change(task, state=WorkState.TO_DO, settled_at=None, person_id=None)


def card_evidence(act: Transaction, unit: Unit, card: TurnRound) -> CardEvidence:
    """What was made since a card was opened, or since the flood that was found."""
    zone = ZoneInfo(centre_timezone(act.session.connection()) or "UTC")
    since = work_began(card)
    made = UnitEvidence(act.session, unit, since).made
    return CardEvidence(
        untested=untested(act, unit, card),
        unread=batteries_unread(act.session, unit, work_began(card)),
        uncalibrated=lacking(Needs(calibration=True), made),
        calibrated_on=tuple(each.at.astimezone(zone).date() for each in sound_calibrations(act.session, unit, since)),
    )


def untested(act: Transaction, unit: Unit, card: TurnRound) -> tuple[str, ...]:
    """Release tests that have not passed since the card was opened and the loop was last opened."""
    since = max(work_began(card), last_workshop_opening(act.session, unit.id) or card.opened_at)
    facts = tuple(test_fact(row) for row in tests_since(act.session, unit.id, since))
    return tuple(kind for kind in RELEASE_TESTS if not released(kind, since, facts))


def tick_calibration(act: Transaction, unit: Unit) -> None:
    """Tick the calibration, and after a flood the one on another day, where no cell is in doubt."""
    card = open_card_of(act.session, unit.id)
    if card is None:
        return
    zone = ZoneInfo(centre_timezone(act.session.connection()) or "UTC")
    sound = sound_calibrations(act.session, unit, work_began(card))
    days = {each.at.astimezone(zone).date() for each in sound}
    if days:
        tick(act, unit.id, Step.CALIBRATE, in_row(f"calibration {sound[-1].id}"))
    if len(days) > 1:
        tick(act, unit.id, Step.CALIBRATE_AGAIN, in_row(f"calibration {sound[-1].id} on {max(days).isoformat()}"))


def tick_gauges(act: Transaction, part_ids: Iterable[int]) -> None:
    """Tick the cylinders of every unit whose cylinders have all been read since its card was opened."""
    keys = tuple(part_ids)
    for unit in units_with(act.session, keys, units_with_open_cards(act.session)):
        card = open_card_of(act.session, unit.id)
        mine = {seat.part.id for seat in seats_of(act.session, unit) if seat.part and seat.slot.kind in CYLINDER_KINDS}
        if card is not None and mine and mine <= gauges_read(act.session, mine, card.opened_at):
            tick(act, unit.id, Step.CYLINDERS, say("every gauge read"))


def tick_cleaned(act: Transaction, part_ids: Iterable[int]) -> None:
    """Tick the oxygen side of every flooded unit whose parts on that side have all been cleaned since the flood."""
    keys = tuple(part_ids)
    for unit in units_with(act.session, keys, units_with_open_cards(act.session)):
        card = open_card_of(act.session, unit.id)
        if card is None or card.flooded_at is None:
            continue
        mine = kept_clean_in(act.session, unit)
        if mine <= cleaned_since(act.session, mine, work_began(card)):
            tick(act, unit.id, Step.OXYGEN_CLEAN, say("oxygen side cleaned"))
