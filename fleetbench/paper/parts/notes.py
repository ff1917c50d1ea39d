"""The note that goes with a part sent back under warranty: what it is, what is wrong, the readings that prove it."""

from fleetbench.paper.core.document import Heading, PageSize, joined
from fleetbench.paper.core.flow import Block, Column, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.saving import Target
from fleetbench.paper.core.shapes import ProofLine, ReturnFacts
from fleetbench.paper.core.words import by_whom, day, figure, moment, said

_PROOFS = (
    Column("when", 16, bold=True),
    Column("what", 14),
    Column("result", 11, mark=True),
    Column("read", 30, Align.LEFT),
    Column("finding", 32),
)


def write_return(facts: ReturnFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the note of a returned part as PDF; returns its number of pages."""
    subtitle = joined((facts.part_type, f"sent {moment(facts.sent_at)}"))
    heading = Heading(facts.letterhead, f"Return of {facts.part}", facts.record, subtitle)
    return write_flow(_blocks(facts, size.inner), heading, target, size)


def _blocks(facts: ReturnFacts, wide: float) -> list[Block]:
    known = pairs(
        (
            ("part type", facts.part_type),
            ("serial", said(facts.serial)),
            ("lot", said(facts.lot)),
            ("made", day(facts.made)),
            ("opened", day(facts.opened)),
            ("received", day(facts.received_on)),
            ("supplier", said(facts.supplier)),
            ("price", figure(facts.price, "", 2)),
            ("sent back", by_whom(facts.sent_at, facts.sent_by)),
        ),
        2,
        label_share=0.22,
    )
    blocks = [space(2), *known, section("What is wrong with it"), *text_lines(facts.reason, wide)]
    blocks.append(section("Readings that prove it"))
    blocks += table(_PROOFS, map(_proof, facts.proofs), wide, 7.8)
    blocks.append(section("Where it served"))
    for line in facts.served or ("It was never fitted.",):
        blocks += text_lines(line, wide, 8.2)
    return blocks


def _proof(line: ProofLine) -> tuple[str, ...]:
    return moment(line.at), line.kind, line.result, "; ".join(line.figures) or "no figure", said(line.finding)
