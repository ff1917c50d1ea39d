"""The turn-round card on paper, as far as it was done: lines in bench order with by whom and how, drying, sign-off."""

from dataclasses import dataclass
from datetime import datetime

from fleetbench.paper.core.document import Heading, PageSize, Target, joined
from fleetbench.paper.core.flow import Block, Column, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.shapes import Letterhead
from fleetbench.paper.core.words import by_whom, moment, said

_SMALL = 8.2
_COLUMNS = (
    Column("no.", 5, Align.RIGHT),
    Column("line", 42, bold=True),
    Column("state", 10, mark=True),
    Column("how, or why left out", 20),
    Column("when, by whom", 34),
)
NOT_SIGNED = "Not finished: the unit is on hold until this card is signed."


@dataclass(frozen=True, slots=True)
class CardRow:
    """One line of the card: 'to do', 'done' or 'left out'."""

    ordinal: int
    text: str
    state: str
    how: str | None = None
    at: datetime | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class TurnRoundFacts:
    """One card. Moments are wall-clock times of the site; reference: the published rule on shared breathing parts."""

    letterhead: Letterhead
    number: str
    unit: str
    unit_type: str | None
    booking: str | None
    opened_at: datetime
    opened_by: str | None
    flooded_at: datetime | None
    bath: str | None
    disinfected_at: datetime | None
    dry_at: datetime | None
    lines: tuple[CardRow, ...]
    against: tuple[str, ...]
    ticket: str | None
    finished_at: datetime | None
    finished_by: str | None
    reference: str = ""


def write_turn_round(facts: TurnRoundFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write one turn-round card as PDF; returns its number of pages."""
    heading = Heading(
        facts.letterhead,
        "Turn-round card",
        facts.number,
        joined((f"back from {facts.booking}" if facts.booking else "", "AFTER A FLOOD" if facts.flooded_at else "")),
        facts.unit,
        said(facts.unit_type),
    )
    return write_flow(_blocks(facts, size.inner), heading, target, size)


def _blocks(facts: TurnRoundFacts, wide: float) -> list[Block]:
    known = pairs(
        (
            ("opened", by_whom(facts.opened_at, facts.opened_by)),
            ("flood found", moment(facts.flooded_at) if facts.flooded_at else "none"),
            ("disinfected", by_whom(facts.disinfected_at, facts.bath) if facts.disinfected_at else "not yet"),
            ("found dry", moment(facts.dry_at) if facts.dry_at else "not yet"),
        ),
        2,
        label_share=0.2,
    )
    rows = [
        (str(line.ordinal), line.text, line.state, line.how or "", by_whom(line.at, line.by) if line.at else "")
        for line in facts.lines
    ]
    blocks = [space(2), *known, section("Lines in bench order"), *table(_COLUMNS, rows, wide, _SMALL)]
    if facts.ticket:
        blocks += [section("What was found"), *text_lines(f"It stands on ticket {facts.ticket}.", wide)]
    blocks.append(section("Sign-off"))
    if facts.finished_at is not None:
        blocks += text_lines(f"Finished {by_whom(facts.finished_at, facts.finished_by)}; the hold is lifted.", wide)
    else:
        to_do = sum(line.state == "to do" for line in facts.lines)
        blocks += text_lines(f"{NOT_SIGNED} Lines still to do: {to_do}.", wide)
        for reason in facts.against:
            if not reason.endswith(": still to do"):
                blocks += text_lines(f"- {reason}", wide, _SMALL)
    if facts.reference:
        blocks += [space(4), *text_lines(f"Disinfection of shared breathing parts: {facts.reference}.", wide, 7.2)]
    return blocks
