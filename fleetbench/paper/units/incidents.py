"""The incident sheet: what is frozen after an incident, what to preserve as it is, and who is to be told."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fleetbench.paper.core import from_workshop
from fleetbench.paper.core.document import Heading, PageSize
from fleetbench.paper.core.faces import BOLD, REGULAR
from fleetbench.paper.core.flow import TEXT, Block, Column, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Pen
from fleetbench.paper.core.saving import Target
from fleetbench.paper.core.shapes import Letterhead
from fleetbench.paper.core.words import NOT_RECORDED, by_whom, said
from fleetbench.records.upkeep.verify import journal_end
from fleetbench.workshop.core.centre import read_centre
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.units.holds import standing_incident, what_to_preserve
from fleetbench.workshop.units.list import unit_page

CAUTIONS = (
    "Look after people first. Call the emergency services and the diving emergency line before anything here.",
    "Touch nothing on the unit beyond closing its cylinder valves, and write down who closed which, by how many turns.",
    "Who may take the unit, open it or read its logs is for the authorities, the insurer and the maker to say.",
    "This sheet states what was recorded. It finds no cause and names no fault.",
)
"""What stands on every incident sheet; common practice, no published source; local law stands above it."""

_PRESERVE = (Column("keep as it is", 70), Column("kept where, by whom, sealed at", 30))
_PARTS = (Column("what", 22, bold=True), Column("part", 30), Column("recorded", 48))


@dataclass(frozen=True, slots=True)
class IncidentFacts:
    """What the sheet says. parts: what, which part, and what is recorded of it. beside: what else was frozen."""

    letterhead: Letterhead
    unit: str
    unit_type: str
    serial: str
    reason: str
    placed_at: datetime
    placed_by: str
    preserve: tuple[str, ...]
    beside: tuple[str, ...]
    parts: tuple[tuple[str, str, str], ...]


def incident_facts(shop: Shop, tag: str) -> IncidentFacts:
    """What the incident sheet of a frozen unit says; Refused where it is not frozen."""
    incident, page, zone = standing_incident(shop, tag), unit_page(shop, tag), shop.zone()
    centre, (number, digest) = read_centre(shop), journal_end(shop.database)
    rows: list[tuple[str, str, str]] = []
    for cylinder in page.cylinders:
        analysed = f", analysed {cylinder.analysed_at.astimezone(zone):%Y-%m-%d %H:%M}" if cylinder.analysed_at else ""
        gas = f"O2 {cylinder.gas.oxygen * 100:.1f} %, He {cylinder.gas.helium * 100:.1f} %" if cylinder.gas else ""
        bar = f"{cylinder.bar:.0f} bar" if cylinder.bar is not None else f"pressure {NOT_RECORDED}"
        rows.append((cylinder.role, cylinder.serial, f"{bar}; {gas or 'gas not analysed'}{analysed}"))
    if page.fill is not None:
        packed = f"packed {page.fill.packed_at.astimezone(zone):%Y-%m-%d %H:%M}, lot {said(page.fill.lot)}"
        rows.append(("absorbent", "the fill in its canister", packed))
    for part in page.fitted:
        if part.slot_kind == "handset" and part.part_id is not None:
            rows.append((part.slot, said(part.part), f"firmware {said(part.firmware)}; log not to be cleared"))
    names = tuple(cylinder.serial for cylinder in page.cylinders)
    return IncidentFacts(
        from_workshop.letterhead(
            centre.name, shop.clock(), zone, telephone=centre.telephone, journal_entry=number or None,
            journal_hash=digest,
        ),
        page.row.tag, page.row.unit_type, page.row.serial, incident.reason,
        incident.placed_at.astimezone(zone), incident.placed_by,
        what_to_preserve(page.row.tag, names, ()), incident.held_beside, tuple(rows),
    )  # fmt: skip


def write_incident(facts: IncidentFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the incident sheet as PDF; returns its number of pages."""
    wide = size.inner
    heading = Heading(facts.letterhead, "Incident: preserve", f"{facts.unit} {facts.placed_at:%Y-%m-%d}",
                      f"{facts.unit_type}, serial {facts.serial}", facts.unit, "unit")  # fmt: skip
    blocks: list[Block] = [section("What was reported")]
    blocks += text_lines(facts.reason, wide)
    blocks += text_lines(f"frozen {by_whom(facts.placed_at, facts.placed_by)}", wide, 7.8)
    blocks += [space(4), section("First")]
    for caution in CAUTIONS:
        blocks += text_lines(caution, wide, TEXT, BOLD if caution is CAUTIONS[0] else REGULAR)
    blocks += [space(4), section("Preserve")]
    blocks += table(_PRESERVE, [(line, "") for line in facts.preserve], wide, 8.4, 14)
    blocks += [space(4), section("Frozen with it", "filled from the same batch")]
    if facts.beside:
        for line in facts.beside:
            blocks += text_lines(line, wide)
    else:
        blocks += text_lines("Nothing else is recorded as filled from the same batch.", wide)
    blocks += [space(4), section("Gas, absorbent, handsets", "as recorded")]
    blocks += table(_PARTS, facts.parts, wide, 7.8, 5) if facts.parts else text_lines(f"Parts {NOT_RECORDED}.", wide)
    blocks += [space(4), section("Seen and heard", "times, depths, who was there, in their own words"), _lines(8)]
    return write_flow(blocks, heading, target, size)


def print_incident(shop: Shop, tag: str, target: Path, *, size: PageSize = PageSize.A4) -> None:
    """Write the incident sheet of a frozen unit as PDF; Refused where it is not frozen."""
    write_incident(incident_facts(shop, tag), target, size=size)


def _lines(count: int) -> Block:
    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        for number in range(1, count + 1):
            pen.rule(x, y + number * 20, wide, 0.4, 0.4)

    return Block(count * 20 + 4, draw)
