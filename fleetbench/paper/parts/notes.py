"""The note that goes with a part sent back under warranty: what it is, what is wrong, the readings that prove it.

The list of parts to fetch, by the place they lie in, and what is short.
"""

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import in_unit, measured_in
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.words import NOT_RECORDED, by_whom, day, figure, moment, said
from fleetbench.records.core.plain_file import Target
from fleetbench.records.parts.lookups import ProofFigures
from fleetbench.workshop.parts.acts import ReturnPage
from fleetbench.workshop.parts.orders import FetchRow

_PROOFS = (
    TableColumn("when", 16, bold=True),
    TableColumn("what", 14),
    TableColumn("result", 11, mark=True),
    TableColumn("read", 30, Align.LEFT),
    TableColumn("finding", 32),
)


def write_return(facts: ReturnPage, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the note of a returned part as PDF; returns its number of pages."""
    subtitle = joined((facts.page.kind.name, say("sent {sent_at}", sent_at=moment(facts.sent_at))))
    heading = Heading(head, say("Return of {label}", label=facts.page.part.label), f"RETURN-{facts.event_id}", subtitle)
    return write_flow(_blocks(facts, size.inner, head.currency), heading, target, size)


def _blocks(facts: ReturnPage, wide: float, currency: str | None) -> list[Block]:
    known = pairs(
        (
            (say("part type"), facts.page.kind.name),
            (say("serial"), said(facts.page.part.serial)),
            (say("lot"), said(facts.page.part.lot)),
            (say("made"), day(facts.page.made)),
            (say("opened"), day(facts.page.opened)),
            (say("received"), day(facts.page.part.received_on)),
            (say("supplier"), said(facts.page.lies.supplier)),
            (say("price"), figure(facts.page.lies.price, currency or "", 2)),
            (say("sent back"), by_whom(facts.sent_at, facts.sent_by)),
        ),
        2,
        label_share=0.22,
    )
    blocks = [space(2), *known, section(say("What is wrong with it")), *text_lines(facts.reason, wide)]
    blocks.append(section(say("Readings that prove it")))
    blocks += table(_PROOFS, map(_proof, facts.proofs), wide, 7.8)
    blocks.append(section(say("Where it served")))
    for line in facts.served or (say("It was never fitted."),):
        blocks += text_lines(line, wide, 8.2)
    return blocks


def _proof(proof: ProofFigures) -> tuple[str, ...]:
    figures = strung("; ", _figures(proof)) or say("no figure")
    return moment(proof.at), proof.kind, proof.result, figures, said(proof.finding)


def _figures(proof: ProofFigures) -> tuple[str, ...]:
    """What was read, in words; nothing for what was not."""
    read = []
    if proof.air_mv is not None:
        read.append(say("air {air_mv:.1f} mV", air_mv=proof.air_mv))
    if proof.oxygen_mv is not None:
        read.append(say("oxygen {oxygen_mv:.1f} mV", oxygen_mv=proof.oxygen_mv))
    if proof.linearity is not None:
        u = f" ± {proof.expanded_u:.1f}" if proof.expanded_u is not None else ""
        read.append(say("linearity {figure} %", figure=f"{proof.linearity:.1f}{u}"))
    if proof.held is not None:
        read.append(say("held") if proof.held else say("fell"))
    if proof.value is not None:
        read.append(in_unit(proof.value, measured_in(proof.unit)))
    return tuple(read)


_TAKE = (
    TableColumn("take", 24, bold=True),
    TableColumn(say("part type"), 28),
    TableColumn(say("last valid day"), 14),
    TableColumn("for", 30),
    TableColumn(say("got it"), 8),
)
_SHORT = (
    TableColumn(say("part type"), 40, bold=True),
    TableColumn("wanted", 12, Align.RIGHT),
    TableColumn("short", 12, Align.RIGHT),
    TableColumn("for", 40),
)


def write_fetch_list(
    rows: Sequence[FetchRow],
    target: Target,
    *,
    head: Letterhead,
    first: date,
    last: date,
    size: PageSize = PageSize.A4,
) -> int:
    """Write what to fetch for the days from first through last as PDF, a section a place; returns its pages.

    Pieces are told for the slots in the workshop's order, oldest usable first.
    """
    short = sum(row.short for row in rows)
    subtitle = joined(
        (
            say("{first} through {last}", first=day(first), last=day(last)),
            say("{count} to take", count=sum(len(row.take) for row in rows)),
            say("{short} short", short=short) if short else "",
        )
    )
    heading = Heading(head, say("Pick list"), f"FETCH-{first.isoformat()}", subtitle)
    return write_flow(_fetch_blocks(rows, size.inner), heading, target, size)


def _fetch_blocks(rows: Sequence[FetchRow], wide: float) -> list[Block]:
    if not rows:
        return text_lines(say("Nothing to pick for these days: no part in a unit ends within them."), wide, 10)
    pieces = sorted(_pieces(rows), key=lambda piece: (piece[0], piece[1][1]))
    blocks: list[Block] = []
    for place, listed in groupby(pieces, key=lambda piece: piece[0]):
        blocks.append(section(place))
        blocks.extend(table(_TAKE, [cells for _place, cells in listed], wide, 8.2, 5))
    short = [row for row in rows if row.short]
    if short:
        blocks.append(section(say("Short: no usable piece lies on a shelf")))
        blocks.extend(
            table(
                _SHORT,
                [
                    (row.part_type, str(row.wanted), str(row.short), strung("; ", row.wanted_for[len(row.take) :]))
                    for row in short
                ],
                wide,
                8.2,
                5,
            )
        )
    blocks.append(space(6))
    said = say("Look at each part before it is fitted: what is marked on it stands above what is recorded.")
    return blocks + text_lines(said, wide, 7.4)


def _pieces(rows: Sequence[FetchRow]) -> list[tuple[str, tuple[str, ...]]]:
    """Where each piece lies, and its row of the list."""
    return [
        (
            piece.place or say("place {not_recorded}", not_recorded=NOT_RECORDED),
            (
                piece.part.label,
                row.part_type,
                say("no limit on the shelf") if piece.last_good_day is None else day(piece.last_good_day),
                where,
                "",
            ),
        )
        for row in rows
        for piece, where in zip(row.take, row.wanted_for, strict=False)
    ]
