"""The turn-round card on paper, as far as it was done: lines in bench order with by whom and how, drying, sign-off."""

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import WorkState
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.words import by_whom, moment, said
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.turn_rounds.page import TurnRoundCard, TurnRoundDesk

_SMALL = 8.2
_COLUMNS = (
    TableColumn("no.", 5, Align.RIGHT),
    TableColumn("line", 42, bold=True),
    TableColumn("state", 10, mark=True),
    TableColumn(say("how, or why left out"), 20),
    TableColumn(say("when, by whom"), 34),
)
NOT_SIGNED = say("Not finished: the unit is on hold until this card is signed.")


def write_turn_round(desk: TurnRoundDesk, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a unit's turn-round card, open or finished, as PDF; returns its number of pages.

    ValueError for a unit that never had one.
    """
    card = desk.card
    if card is None:
        raise ValueError(say("unit {unit}: has no turn-round card; open one first", unit=desk.unit))
    subtitle = joined(
        (
            say("back from {booking}", booking=card.record.booking) if card.record.booking else "",
            say("AFTER A FLOOD") if card.record.flooded_at else "",
        )
    )
    heading = Heading(
        head, say("Turn-round card"), card.record.number, subtitle, code=desk.unit, code_word=said(desk.unit_type)
    )
    return write_flow(_blocks(desk, card, size.inner), heading, target, size)


def _blocks(desk: TurnRoundDesk, card: TurnRoundCard, wide: float) -> list[Block]:
    drying = card.drying
    known = pairs(
        (
            (say("opened"), by_whom(card.record.opened_at, card.record.opened_by)),
            (say("flood found"), moment(card.record.flooded_at) if card.record.flooded_at else "none"),
            (say("disinfected"), by_whom(drying.disinfected_at, drying.bath) if drying else say("not yet")),
            (say("found dry"), moment(drying.dry_at) if drying and drying.dry_at else say("not yet")),
        ),
        2,
        label_share=0.2,
    )
    rows = [
        (
            str(line.line.ordinal),
            line.text,
            line.state,
            line.line.how or "",
            by_whom(line.line.settled_at, line.line.person) if line.line.settled_at else "",
        )
        for line in card.lines
    ]
    blocks = [space(2), *known, section(say("Lines in bench order")), *table(_COLUMNS, rows, wide, _SMALL)]
    if card.ticket:
        blocks += [
            section(say("What was found")),
            *text_lines(say("It stands on ticket {ticket}.", ticket=card.ticket), wide),
        ]
    blocks.append(section(say("Sign-off")))
    if card.record.finished_at is not None:
        blocks += text_lines(
            say(
                "Finished {finished_at}; the hold is lifted.",
                finished_at=by_whom(card.record.finished_at, card.record.finished_by),
            ),
            wide,
        )
    else:
        to_do = sum(line.state == WorkState.TO_DO for line in card.lines)
        blocks += text_lines(say("{not_signed} Lines still to do: {to_do}.", not_signed=NOT_SIGNED, to_do=to_do), wide)
        for reason in desk.against:
            if not reason.endswith(": still to do"):
                blocks += text_lines(f"- {reason}", wide, _SMALL)
    if desk.reference:
        blocks += [
            space(4),
            *text_lines(
                say("Disinfection of shared breathing parts: {reference}.", reference=desk.reference), wide, 7.2
            ),
        ]
    return blocks
