"""Everything that is open and half done at the bench, of drafts on this machine and of the records."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from fleetbench.calc.bench.half_done import BegunKind, HalfDone, in_turn
from fleetbench.calc.core.languages import say
from fleetbench.records.turn_rounds.reads import read_cards
from fleetbench.workshop.core.drafts import Draft, Drafts
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.turn_rounds.baths import half_done_baths, hanging


def half_done(workplace: Workplace, drafts: Drafts) -> tuple[HalfDone, ...]:
    """What is half done, what calls first standing first: drafts, loops that hang to dry, cards with settled lines."""
    now = workplace.clock()
    listed = drafts.listed()
    begun = [each for draft in listed if (each := of_draft(draft)) is not None]
    return in_turn((*begun, *half_done_baths(workplace, listed), *_recorded(workplace)), now)


def of_draft(draft: Draft) -> HalfDone | None:
    """What a draft says of itself; None where nothing was begun in it or it is torn."""
    try:
        return _bench_test(draft) if "test" in draft.content else _calibration(draft)
    except (KeyError, TypeError, ValueError):
        return None


def _calibration(draft: Draft) -> HalfDone | None:
    content = draft.content
    begun = HalfDone(draft.tag, BegunKind.CALIBRATION, draft.saved_at)
    started = _moment(content.get("flush_started"))
    if started is None:
        return begun if content["entry"]["figures"] or content.get("photographs") else None
    wait = content.get("flush_expected_s")
    return replace(
        begun,
        kind=BegunKind.FLUSH,
        since=started,
        until=None if wait is None else started + timedelta(seconds=float(wait)),
        settled=content.get("settled"),
        detail=str(content.get("last", "")),
    )


def _bench_test(draft: Draft) -> HalfDone:
    content = draft.content
    began = _moment(content.get("began")) or draft.saved_at
    minutes = content.get("watch_minutes")
    begun = HalfDone(str(content["unit"]), BegunKind.TEST, began, detail=str(content["words"]))
    if minutes is None or content.get("began") is None:
        return begun
    return replace(begun, kind=BegunKind.WATCH, until=began + timedelta(minutes=float(minutes)))


def _moment(text: Any) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


@known_once
def _recorded(workplace: Workplace) -> tuple[HalfDone, ...]:
    return (*_drying(workplace), *_cards(workplace))


def _drying(workplace: Workplace) -> Iterator[HalfDone]:
    for loop in hanging(workplace):
        yield HalfDone(loop.unit, BegunKind.DRYING, loop.found_damp_at or loop.disinfected_at, loop.dry_from)


def _cards(workplace: Workplace) -> Iterator[HalfDone]:
    with workplace.database.reading() as connection:
        cards = read_cards(connection, open_only=True)
    for card in cards:
        if card.settled:
            lines = say("{settled} of {lines} lines done", settled=card.settled, lines=card.lines)
            yield HalfDone(card.unit, BegunKind.CARD, card.opened_at, detail=lines)
