"""The evidence folder of one unit: a PDF to read, every reading as CSV, and a manifest to hold them against.

The incident sheet: what is frozen after an incident, what to preserve as it is, and who is to be told.
"""

import csv
import hashlib
import io
import shutil
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from fleetbench.calc.core.measures import BAR
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, letterhead
from fleetbench.paper.core.flow import TEXT, Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.marks import NOT_RECORDED, at_site, by_whom, day, moment, said
from fleetbench.paper.core.pen import BOLD, REGULAR, Pen
from fleetbench.paper.core.spreadsheet import neutral
from fleetbench.paper.tickets.ticket import photograph_blocks
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import Target, plain_name
from fleetbench.records.units.history import EvidenceTable
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import UnitCylinder
from fleetbench.workshop.units.history import EvidenceRecords, gather_evidence
from fleetbench.workshop.units.holds import StandingIncident, standing_incident, what_to_preserve
from fleetbench.workshop.units.list import UnitPage, unit_page

MANIFEST = "manifest.txt"
_HISTORY = (
    TableColumn("when", 16),
    TableColumn("what", 14),
    TableColumn("recorded", 50),
    TableColumn("verdict", 9),
    TableColumn("by", 11),
)


def write_evidence(workplace: Workplace, tag: str, first: date, last: date, folder: Path) -> tuple[Path, ...]:
    """The files of a new folder that holds what is recorded of a unit over the site's days, both inclusive."""
    evidence = gather_evidence(workplace, tag, first, last)
    head = letterhead(workplace)
    return write_evidence_folder(at_site(evidence, workplace.zone()), head, folder, size=head.size)


def write_evidence_folder(
    evidence: EvidenceRecords, head: Letterhead, folder: Path, *, size: PageSize = PageSize.A4
) -> tuple[Path, ...]:
    """The files written, the manifest last; the folder appears whole or not at all.

    The manifest gives each file's SHA-256 (FIPS 180-4) before its name, and the journal's head. Raises Refused where
    the folder exists already, OSError as the system gives it.
    """
    if folder.exists():
        raise Refused(f"{folder.name}: exists already; choose a new folder, so that no evidence is overwritten")
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}-", dir=folder.parent))
    try:
        _write_pdf(evidence, head, beside / "evidence.pdf", size)
        for sheet in evidence.sheets:
            (beside / f"{sheet.name}.csv").write_bytes(_as_csv(sheet))
        for name, data in _pictures(evidence):
            (beside / name).write_bytes(data)
        for place, (at, data) in enumerate(evidence.signed_pages, start=1):
            (beside / f"signed-page-{at:%Y-%m-%d}-{place:02d}.pdf").write_bytes(data)
        names = sorted(path.name for path in beside.iterdir())
        (beside / MANIFEST).write_text(_manifest(evidence, head, beside, names), encoding="utf-8")
        beside.rename(folder)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise
    return tuple(folder / name for name in (*names, MANIFEST))


def _manifest(evidence: EvidenceRecords, head: Letterhead, folder: Path, names: list[str]) -> str:
    lines = [f"{hashlib.sha256((folder / name).read_bytes()).hexdigest()}  {name}" for name in names]
    lines += [
        f"# unit {evidence.tag}, serial {said(evidence.serial)}, {evidence.first} to {evidence.last}",
        f"# journal head {evidence.head}",
        f"# desk key {head.desk_key or 'none: this desk keeps no heads elsewhere'}",
        f"# journal and records: {evidence.broken or 'no break found'}",
        *(f"# left out: {line}" for line in evidence.left_out),
    ]
    return "\n".join(lines) + "\n"


def _pictures(evidence: EvidenceRecords) -> Iterator[tuple[str, bytes]]:
    """Each photograph under a name that tells its ticket; one whose file is missing is told on the page only."""
    for place, (ticket, photograph, data) in enumerate(evidence.photographs, start=1):
        if data is not None:
            yield plain_name(f"photograph-{ticket[:40]}-{place:02d}-{photograph.sha256[:12]}", ".jpg"), data


def _as_csv(sheet: EvidenceTable) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(sheet.columns)
    for row in sheet.rows:
        writer.writerow([neutral(cell) if isinstance(cell, str) else cell for cell in row])
    return stream.getvalue().encode("utf-8-sig")


def _write_pdf(evidence: EvidenceRecords, head: Letterhead, target: Path, size: PageSize) -> None:
    record = f"{evidence.tag} {evidence.first} to {evidence.last}"
    heading = Heading(head, "Evidence", record, f"serial {said(evidence.serial)}, {evidence.first} to {evidence.last}",
                      code=evidence.tag, code_word="unit")  # fmt: skip
    wide = size.inner
    blocks: list[Block] = [section("Journal")]
    blocks += text_lines(f"Head, as `verify --head` reads it: {evidence.head}", wide)
    blocks += text_lines(f"Walk over chain and records: {evidence.broken or 'no break found'}", wide)
    blocks += [space(6), section("Files")]
    for sheet in evidence.sheets:
        blocks += text_lines(f"{sheet.name}.csv: {len(sheet.rows)} rows", wide)
    if evidence.signed_pages:
        blocks += text_lines(f"signed-page-*.pdf: {len(evidence.signed_pages)} pages as they were signed", wide)
    for line in evidence.left_out:
        blocks += text_lines(f"left out: {line}", wide)
    if evidence.photographs:
        blocks += text_lines(f"photograph-*.jpg: {len(evidence.photographs)} pictures", wide)
        lines = tuple(photograph for _ticket, photograph, _data in evidence.photographs)
        pictures = {shown.sha256: data for _ticket, shown, data in evidence.photographs if data is not None}
        blocks += [space(6), *photograph_blocks(lines, pictures)]
    blocks += [space(6), section("What was done", f"{len(evidence.history)} records, oldest first")]
    rows = [
        (moment(line.at), line.kind, line.words, line.verdict or "", said(line.person)) for line in evidence.history
    ]
    if rows:
        blocks += table(_HISTORY, rows, wide, 7.4, 5)
    else:
        blocks += text_lines("Nothing is recorded of this unit in these days.", wide)
    write_flow(blocks, heading, target, size)


CAUTIONS = (
    "Look after people first. Call the emergency services and the diving emergency line before anything here.",
    "Touch nothing on the unit beyond closing its cylinder valves, and write down who closed which, by how many turns.",
    "Who may take the unit, open it or read its logs is for the authorities, the insurer and the maker to say.",
    "This sheet states what was recorded. It finds no cause and names no fault.",
)
"""What stands on every incident sheet; common practice, no published source; local law stands above it."""

_PRESERVE = (TableColumn("keep as it is", 70), TableColumn("kept where, by whom, sealed at", 30))
_PARTS = (TableColumn("what", 22, bold=True), TableColumn("part", 30), TableColumn("recorded", 48))


def write_incident(
    incident: StandingIncident, page: UnitPage, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4
) -> int:
    """Write the incident sheet of a frozen unit as PDF; returns its number of pages."""
    wide, row = size.inner, page.row
    heading = Heading(head, "Incident: preserve", f"{row.tag} {day(incident.placed_at)}",
                      f"{row.unit_type}, serial {said(row.serial)}", code=row.tag, code_word="unit")  # fmt: skip
    preserve = what_to_preserve(row.tag, tuple(cylinder.part.label for cylinder in page.cylinders), ())
    parts = _as_frozen(page)
    blocks: list[Block] = [section("What was reported")]
    blocks += text_lines(incident.reason, wide)
    blocks += text_lines(f"frozen {by_whom(incident.placed_at, incident.placed_by)}", wide, 7.8)
    blocks += [space(4), section("First")]
    for caution in CAUTIONS:
        blocks += text_lines(caution, wide, TEXT, BOLD if caution is CAUTIONS[0] else REGULAR)
    blocks += [space(4), section("Preserve")]
    blocks += table(_PRESERVE, [(line, "") for line in preserve], wide, 8.4, 14)
    blocks += [space(4), section("Frozen with it", "filled from the same batch")]
    if incident.held_beside:
        for line in incident.held_beside:
            blocks += text_lines(line, wide)
    else:
        blocks += text_lines("Nothing else is recorded as filled from the same batch.", wide)
    blocks += [space(4), section("Gas, absorbent, handsets", "as recorded")]
    blocks += table(_PARTS, parts, wide, 7.8, 5) if parts else text_lines(f"Parts {NOT_RECORDED}.", wide)
    blocks += [space(4), section("Seen and heard", "times, depths, who was there, in their own words"), _lines(8)]
    return write_flow(blocks, heading, target, size)


def _as_frozen(page: UnitPage) -> list[tuple[str, str, str]]:
    """What, which part, and what is recorded of it: gas, absorbent and handsets of the unit."""
    rows = [(each.state.facts.role, each.part.label, _gas(each)) for each in page.cylinders]
    if page.fill is not None:
        packed = f"packed {moment(page.fill.fill.packed_at)}, lot {said(page.fill.fill.lot)}"
        rows.append(("absorbent", "the fill in its canister", packed))
    rows += [
        (part.slot, said(part.part), f"firmware {said(part.firmware)}; log not to be cleared")
        for part in page.fitted
        if part.slot_kind == "handset" and part.part_id is not None
    ]
    return rows


def _gas(cylinder: UnitCylinder) -> str:
    state = cylinder.state
    gas = f"O2 {state.gas.oxygen * 100:.1f} %, He {state.gas.helium * 100:.1f} %" if state.gas else ""
    bar = BAR.words(state.now_bar, 0) if state.now_bar is not None else f"pressure {NOT_RECORDED}"
    analysed = f", analysed {moment(state.analysis.at)}" if state.analysis else ""
    return f"{bar}; {gas or 'gas not analysed'}{analysed}"


def print_incident(workplace: Workplace, tag: str, target: Path) -> None:
    """Write the incident sheet of a frozen unit as PDF; Refused where it is not frozen."""
    found = at_site((standing_incident(workplace, tag), unit_page(workplace, tag)), workplace.zone())
    head = letterhead(workplace)
    write_incident(*found, target, head=head, size=head.size)


def _lines(count: int) -> Block:
    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        for number in range(1, count + 1):
            pen.rule(x, y + number * 20, wide, 0.4, 0.4)

    return Block(count * 20 + 4, draw)
