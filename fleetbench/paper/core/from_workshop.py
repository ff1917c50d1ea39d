"""What the workshop knows, as facts for the pages: moments become the site's wall-clock times, None stays None."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.readiness.judge import Assessment, Check
from fleetbench.paper.core import shapes as page
from fleetbench.paper.turn_rounds.card import CardRow, TurnRoundFacts
from fleetbench.records.parts.lookups import ProofFigures
from fleetbench.workshop.bench.valves import TestLine
from fleetbench.workshop.canisters.history import FillLabel, RatedLine
from fleetbench.workshop.cells.list import OutcomeLine
from fleetbench.workshop.cells.outlook import Conditions, ReaderShown
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.hires.list import CylinderFacts, HandoverFacts
from fleetbench.workshop.notices.acts import NotDone, NoticePage
from fleetbench.workshop.parts.acts import ReturnPage
from fleetbench.workshop.parts.fetch import FetchRow
from fleetbench.workshop.parts.list import FittedPart
from fleetbench.workshop.parts.orders import OrderLine
from fleetbench.workshop.tickets.list import MoveLine, PhotographLine, TicketPage, TimeLine
from fleetbench.workshop.turn_rounds.page import TurnRoundDesk
from fleetbench.workshop.units.list import CellLine
from fleetbench.workshop.units.schematic import Schematic

NORMALISED = "governing handset, normalised"
_NOT_FOR_DIVING = "not for diving"
_VOLTAGE = "battery voltage"


def letterhead(
    centre: str,
    now: datetime,
    zone: ZoneInfo,
    *,
    telephone: str | None = None,
    by: str | None = None,
    journal_entry: int | None = None,
    journal_hash: str | None = None,
) -> page.Letterhead:
    """What every page says of itself; now: the aware moment of printing. The hash is cut to its first 16 signs."""
    return page.Letterhead(
        centre=centre,
        printed_at=f"{now.astimezone(zone):%Y-%m-%d %H:%M %Z}",
        telephone=telephone,
        printed_by=by,
        journal_entry=journal_entry,
        journal_hash=None if journal_hash is None else journal_hash[:16],
    )


def due_facts(
    items: Sequence[DueItem],
    head: page.Letterhead,
    on: date,
    through: date,
    *,
    grouped_by: str = "day",
    fetch: Sequence[page.FetchLine] | None = None,
) -> page.DuePageFacts:
    """The due list's facts from the workshop's items, in their order; its record number is its first day."""
    names = _due_names(items)
    return page.DuePageFacts(
        letterhead=head,
        record=f"DUE-{on.isoformat()}",
        on=on,
        through=through,
        lines=tuple(_due_line(item, name) for item, name in zip(items, names, strict=True)),
        grouped_by=grouped_by,
        fetch=None if fetch is None else tuple(fetch),
    )


def fetch_lines(rows: Sequence[FetchRow]) -> tuple[page.FetchLine, ...]:
    """What to fetch, a line a part type; pieces of one lot without serials of their own stand together."""
    lines = []
    for row in rows:
        counts = Counter(piece.part for piece in row.take)
        take = tuple(label if count == 1 else f"{count} of {label}" for label, count in counts.items())
        places = dict.fromkeys(piece.place or "place not recorded" for piece in row.take)
        lines.append(page.FetchLine(row.part_type, row.wanted, take, ", ".join(places) or None, row.short))
    return tuple(lines)


def order_facts(
    lines: Sequence[OrderLine], head: page.Letterhead, on: date, through: date, service_level: float
) -> page.OrderPageFacts:
    """The order list's facts, in the workshop's order; its record number is its first day."""
    rows = tuple(
        page.OrderRow(
            line.part_type, line.code, line.on_hand, line.usable, line.reserved, line.expiring, line.need, line.safety,
            line.short_on, line.order_on, line.late_by, line.quantity, line.packs, line.pack_size, line.lead_days,
            line.cost, line.why, line.stocked_in,
        )
        for line in lines
    )  # fmt: skip
    return page.OrderPageFacts(head, f"ORDER-{on.isoformat()}", on, through, service_level, rows)


def notice_list_facts(rows: Sequence[NotDone], head: page.Letterhead, on: date) -> page.NoticeListFacts:
    """The units on which a notice is not done."""
    listed = tuple(
        page.NoticeUnitRow(
            row.number, row.title, row.action, row.weight, row.by_when, row.late, row.unit, row.place, row.why
        )
        for row in rows
    )
    return page.NoticeListFacts(head, f"NOTICES-{on.isoformat()}", on, listed)


def recall_facts(notice: NoticePage, head: page.Letterhead) -> page.RecallFacts:
    """One notice with everything it touches."""
    touched = notice.touched
    parts = [
        page.RecallPartRow(part.part, part.part_type, part.state, ", ".join(filter(None, (part.unit, part.slot))) or
                           part.place)
        for part in touched.parts
    ] + [
        page.RecallPartRow(f"lot {each.lot}", each.part_type, f"{each.left_kg:g} kg left", each.place)
        for each in touched.containers
    ]  # fmt: skip
    return page.RecallFacts(
        head, notice.number, notice.title, notice.text, notice.action, notice.issued_on, notice.by_when, notice.weight,
        tuple(page.RecallUnitRow(each.unit, each.place, each.now, each.why) for each in touched.units),
        tuple(parts),
        tuple(
            page.RecallHireRow(
                each.booking, each.kind, each.unit, each.diver or each.renter, each.starts_on, each.ends_on, each.state
            )
            for each in touched.hires
        ),
    )  # fmt: skip


def return_facts(found: ReturnPage, head: page.Letterhead, zone: ZoneInfo) -> page.ReturnFacts:
    """A return with its proofs, moments at the site's time."""
    proofs = tuple(
        page.ProofLine(each.at.astimezone(zone), each.kind, each.result, each.finding or "", _figures(each))
        for each in found.proofs
    )
    return page.ReturnFacts(
        head, f"RETURN-{found.event_id}", found.part, found.part_type, found.serial, found.lot, found.made,
        found.opened, found.received_on, found.supplier, found.price, found.sent_at.astimezone(zone), found.sent_by,
        found.reason, found.served, proofs,
    )  # fmt: skip


def _figures(proof: ProofFigures) -> tuple[str, ...]:
    """What was read, in words; nothing for what was not."""
    said = []
    if proof.air_mv is not None:
        said.append(f"air {proof.air_mv:.1f} mV")
    if proof.oxygen_mv is not None:
        said.append(f"oxygen {proof.oxygen_mv:.1f} mV")
    if proof.linearity is not None:
        u = f" ± {proof.expanded_u:.1f}" if proof.expanded_u is not None else ""
        said.append(f"linearity {proof.linearity:.1f}{u} %")
    if proof.held is not None:
        said.append("held" if proof.held else "fell")
    if proof.value is not None:
        said.append(f"{proof.value:g} {proof.unit or ''}".strip())
    return tuple(said)


def _due_names(items: Sequence[DueItem]) -> list[str]:
    """A name an item that stays from one list to the next, though its day, its part or what governs changes.

    What is fitted is named by its slot, so that a calendar moves the event when the part is replaced instead of
    keeping the old part's; spares by the part, and everything else by what has to be done.
    """
    names, seen = [], Counter[str]()
    for item in items:
        if item.part_id is None:
            words = (item.unit, item.slot, item.part, item.item)
        else:
            where = (item.unit, item.slot) if item.unit and item.slot else (f"part {item.part_id}",)
            words = (*where, "date missing" if item.last_good_day is None else None)
        name = " / ".join(word for word in words if word)
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def _due_line(item: DueItem, name: str) -> page.DueLine:
    return page.DueLine(
        uid=name,
        unit=item.unit,
        slot=item.slot,
        part_type=item.part_type,
        part=item.part,
        item=item.item,
        last_good_day=item.last_good_day,
        basis=item.basis,
        days_left=item.days_left,
        state=item.state,
        projected=item.projected,
        place=item.place,
        first_hit=item.hits,
    )


def ticket_facts(
    ticket: TicketPage,
    head: page.Letterhead,
    zone: ZoneInfo,
    *,
    schematic: Schematic | None = None,
    pictures: Mapping[str, bytes] | None = None,
) -> page.TicketFacts:
    """The service ticket's facts; pictures: the bytes of its photographs by SHA-256, as far as they are there."""
    row, signed = ticket.row, ticket.sign_off
    moved = [_local(move.at, zone) for move in ticket.moves]
    return page.TicketFacts(
        letterhead=head,
        number=row.number,
        unit=row.unit,
        unit_type=ticket.unit_type,
        unit_serial=ticket.unit_serial,
        cause=row.cause,
        reason=row.reason,
        critical=row.critical,
        opened_at=_local(row.opened_at, zone),
        opened_by=row.opened_by,
        minutes=row.minutes,
        signed_at=None if signed is None else _local(signed.at, zone),
        signed_by=None if signed is None else signed.person,
        second_person=row.second,
        refers_to=row.refers_to,
        findings=tuple(page.FindingLine(_local(each.at, zone), each.person, each.text) for each in ticket.findings),
        tasks=tuple(
            page.TaskLine(
                each.ordinal,
                each.text,
                each.critical,
                each.state,
                each.minutes,
                _maybe(each.settled_at, zone),
                each.person,
                each.put_off_reason,
                each.times_put_off,
                each.missing,
            )
            for each in ticket.tasks
        ),
        calibrations=_calibrations(ticket.calibrations, moved, zone),
        tests=tuple(_test(test, zone) for test in ticket.tests),
        parts_out=tuple(_move(move, zone) for move in ticket.moves if move.way == "out"),
        parts_in=tuple(_move(move, zone) for move in ticket.moves if move.way == "in"),
        openings=ticket.openings,
        disinfections=ticket.disinfections,
        notes=ticket.materials,
        signed_in=None if signed is None else _signed_in(signed.entry, signed.entry_hash),
        schematic=schematic,
        worked=_worked(ticket.times),
        photographs=photograph_facts(ticket.photographs, pictures or {}, zone),
        put_right_by=ticket.put_right_by,
        not_counted=ticket.not_counted,
    )


def _worked(times: Sequence[TimeLine]) -> tuple[tuple[str, float], ...]:
    """Minutes by person, in the order in which they began."""
    minutes: dict[str, float] = {}
    for each in times:
        minutes[each.person] = minutes.get(each.person, 0.0) + (each.minutes or 0.0)
    return tuple((name, worked) for name, worked in minutes.items() if worked)


def photograph_facts(
    lines: Sequence[PhotographLine], pictures: Mapping[str, bytes], zone: ZoneInfo
) -> tuple[page.PhotographFact, ...]:
    """Photographs with their bytes as far as they are there."""
    return tuple(
        page.PhotographFact(
            pictures.get(each.sha256), each.wide, each.high, each.caption, _local(each.at, zone), each.person,
            each.sha256,
        )
        for each in lines
    )  # fmt: skip


def _signed_in(entry: int | None, entry_hash: str | None) -> str:
    if entry is None:
        return "signed before this journal began"
    return f"journal entry {entry} {(entry_hash or '')[:16]}".rstrip()


def _calibrations(
    outcomes: Sequence[OutcomeLine], moved: Sequence[datetime], zone: ZoneInfo
) -> tuple[page.CalibrationBlock, ...]:
    """One block a calibration, in order of time, each said to lie before or after the parts were changed."""
    blocks = []
    for key in sorted({(each.at, each.calibration_id) for each in outcomes}):
        lines = [each for each in outcomes if each.calibration_id == key[1]]
        at = _local(key[0], zone)
        blocks.append(
            page.CalibrationBlock(
                handsets=_handsets(each.shown for each in lines),
                cells=tuple(
                    _outcome(each, _handsets(line.shown for line in lines))
                    for each in sorted(lines, key=lambda line: line.position)
                ),
                at=at,
                by=lines[0].person,
                record=f"calibration {key[1]}",
                when=_when(at, moved),
                made=lines[0].made,
                **_room(lines[0].conditions),
            )
        )
    return tuple(blocks)


def _when(at: datetime, moved: Sequence[datetime]) -> str | None:
    if moved and at < min(moved):
        return "before parts were changed"
    return "after parts were changed" if moved and at >= max(moved) else None


def _handsets(shown: Iterable[Sequence[ReaderShown]]) -> tuple[str, ...]:
    """The readers' names in their order; where no reading is recorded, the column of normalised figures."""
    found = sorted({(each.ordinal, each.reader) for readings in shown for each in readings})
    return tuple(dict.fromkeys(name for _, name in found)) or (NORMALISED,)


def _readings(
    shown: Sequence[ReaderShown], handsets: tuple[str, ...], air: float | None, oxygen: float | None
) -> tuple[page.CellReading, ...]:
    """What each handset showed, in their order; a cell that one does not read is 'not read', not missing."""
    if handsets == (NORMALISED,):
        return (page.CellReading(air, oxygen),)
    by_name = {each.reader: each for each in shown}
    return tuple(
        page.CellReading(each.air, each.oxygen, "pO2" if each.in_bar else "mV")
        if (each := by_name.get(name)) is not None
        else page.CellReading(None, None, "nothing" if shown else "mV")
        for name in handsets
    )


def _room(conditions: Conditions | None) -> dict[str, Any]:
    """The conditions of a block; what is not known stays so."""
    return {} if conditions is None else asdict(conditions)


def _outcome(line: OutcomeLine, handsets: tuple[str, ...]) -> page.CellLine:
    return page.CellLine(
        position=line.position,
        serial=line.serial,
        lot=None,
        last_good_day=None,
        readings=_readings(line.shown, handsets, line.air_mv, line.oxygen_mv),
        linearity_percent=line.linearity,
        expanded_u_percent=line.expanded_u,
        verified_up_to_bar=line.verified_up_to_bar,
        verdict=line.verdict,
        finding=line.finding,
    )


def _move(move: MoveLine, zone: ZoneInfo) -> page.PartMove:
    slot = move.slot if move.host is None else f"{move.slot} of {move.host}"
    return page.PartMove(slot, move.part_type, move.serial, move.lot, _local(move.at, zone), move.person, move.why)


def _test(test: TestLine, zone: ZoneInfo) -> page.TestLine:
    return page.TestLine(
        name=test.kind,
        at=_local(test.at, zone),
        by=test.person,
        result=test.result,
        direction=test.direction,
        held=test.held,
        watched_minutes=test.watched_minutes,
        value=test.value,
        unit=test.unit,
        supply_bar=test.supply_bar,
        equipment=test.equipment,
        note=test.note,
        record=f"test {test.test_id}",
        expanded_u=test.expanded_u,
        finding=test.finding,
    )


def handover_facts(
    facts: HandoverFacts,
    head: page.Letterhead,
    zone: ZoneInfo,
    *,
    return_by: str | None = None,
    accessories: Sequence[page.AccessoryLine] = (),
    handed_over_by: str | None = None,
    schematic: Schematic | None = None,
    also_do: Sequence[str] = (),
) -> page.HandoverFacts:
    """The hand-over sheet's facts. return_by: day and hour in words, else the last day of the hire."""
    until = None if facts.ends_on is None else facts.ends_on.isoformat()
    return page.HandoverFacts(
        letterhead=head,
        record=facts.record or f"{facts.tag} {facts.today.isoformat()}",
        kind=facts.hand_over,
        renter=facts.diver or facts.renter,
        starts_on=facts.starts_on,
        ends_on=facts.ends_on,
        return_by=return_by or until,
        unit=facts.tag,
        unit_type=facts.unit_type,
        unit_serial=facts.unit_serial,
        head_serial=facts.head_serial,
        handsets=tuple(page.HandsetLine(each.slot, each.serial, each.firmware) for each in facts.handsets),
        set_point_low_bar=facts.set_point_low_bar,
        set_point_high_bar=facts.set_point_high_bar,
        calibration=_calibration(facts, zone),
        fill=_fill(facts, zone),
        cylinders=tuple(_cylinder(each, zone) for each in facts.cylinders),
        regulators=_regulators(facts.fitted),
        batteries=_read_batteries(facts, zone) or _batteries(facts.fitted, facts.tests, zone),
        tests=tuple(_test(test, zone) for test in facts.tests if test.kind != _VOLTAGE),
        disinfected_at=_maybe(facts.disinfected_at, zone),
        dry_at=_maybe(facts.dry_at, zone),
        accessories=tuple(accessories) or _along(facts),
        remarks=_remarks(facts.known_faults, facts.assessment, facts.hand_over),
        booking=facts.booking,
        harness=facts.harness,
        handed_over_by=handed_over_by or facts.handed_over_by,
        schematic=schematic,
        also_do=tuple(also_do),
        stops=_stops(facts.assessment, facts.hand_over),
        deposit=facts.deposit,
        absorbent_kg=facts.absorbent_kg,
        handed_over_at=_maybe(facts.out_at, zone),
        spare=facts.spare,
        planned_depth_m=facts.planned_depth_m,
        planned_minutes=facts.planned_minutes,
        signatures=tuple(
            page.SignatureFacts(each.party, each.at.astimezone(zone), each.strokes, each.of_other_days)
            for each in facts.signatures
        ),
    )


def _along(facts: HandoverFacts) -> tuple[page.AccessoryLine, ...]:
    """What goes along by the type's list, else the number that was counted."""
    if facts.accessories:
        return tuple(page.AccessoryLine(each.name, each.count if each.sent is None else each.sent)
                     for each in facts.accessories)  # fmt: skip
    if facts.accessories_counted is None:
        return ()
    return (page.AccessoryLine("accessories counted in all", facts.accessories_counted),)


def _calibration(facts: HandoverFacts, zone: ZoneInfo) -> page.CalibrationBlock | None:
    if not facts.cells:
        return None
    handsets = _handsets(cell.shown for cell in facts.cells)
    return page.CalibrationBlock(
        handsets=handsets,
        cells=tuple(_cell(cell, handsets) for cell in facts.cells),
        at=_maybe(facts.calibrated_at, zone),
        by=facts.calibrated_by,
        **_room(facts.conditions),
    )


def _cell(cell: CellLine, handsets: tuple[str, ...]) -> page.CellLine:
    return page.CellLine(
        position=cell.position,
        serial=cell.serial,
        lot=cell.lot,
        last_good_day=cell.last_good_day,
        readings=_readings(cell.shown, handsets, cell.air_mv, cell.oxygen_mv),
        linearity_percent=cell.linearity,
        expanded_u_percent=cell.expanded_u,
        verified_up_to_bar=cell.verified_up_to_bar,
        verdict=cell.verdict,
        finding=cell.finding,
    )


def _canister(facts: HandoverFacts) -> str | None:
    return next((each.part for each in facts.fitted if each.slot_kind == "canister"), None)


def _fill(facts: HandoverFacts, zone: ZoneInfo) -> page.FillFacts | None:
    fill = facts.fill
    if fill is None:
        return None
    return page.FillFacts(
        number=f"fill {fill.fill_id}",
        canister=_canister(facts),
        absorbent=None if fill.lot is None else f"lot {fill.lot}",
        mass_g=fill.mass_g,
        packed_at=_local(fill.packed_at, zone),
        packed_by=fill.packed_by,
        discard_by=_maybe(facts.discard_by, zone),
        rated=None,
        plan=fill.reason,
        against=facts.fill_against,
    )


def _cylinder(cylinder: CylinderFacts, zone: ZoneInfo) -> page.CylinderLine:
    latest = {kind: max(done for each, done in cylinder.tests if each == kind) for kind, _ in cylinder.tests}
    return page.CylinderLine(
        role=cylinder.role,
        serial=cylinder.serial,
        bar=cylinder.end_bar,
        oxygen_percent=cylinder.oxygen_percent,
        helium_percent=cylinder.helium_percent,
        analysed_at=_maybe(cylinder.analysed_at, zone),
        analysed_by=cylinder.analysed_by,
        hydrostatic=latest.get("hydrostatic"),
        visual=latest.get("visual"),
        test_last_good_day=cylinder.last_good_day,
        maximum_depth_m=cylinder.maximum_depth_m,
        size_l=cylinder.size_l,
        gas_density_g_l=cylinder.density_g_l,
        limit_bar=cylinder.limit_bar,
        stale=cylinder.analysis_stale,
        dense_at_m=cylinder.dense_at_m,
    )


def _regulators(fitted: Sequence[FittedPart]) -> tuple[page.RegulatorLine, ...]:
    """Regulators and first stages in the unit and in its assemblies, in order of their slots."""
    return tuple(
        page.RegulatorLine(each.slot, each.part or "", each.last_good_day)
        for each in fitted
        if each.part_id is not None and ("regulator" in each.slot_kind or "first stage" in each.slot_kind)
    )


def _read_batteries(facts: HandoverFacts, zone: ZoneInfo) -> tuple[page.BatteryLine, ...]:
    """Each device's battery with the voltage read of that battery; none where the workshop does not tell them apart."""
    return tuple(
        page.BatteryLine(
            each.device,
            each.volts,
            _maybe(each.read_at, zone),
            None if each.fitted_at is None else each.fitted_at.astimezone(zone).date(),
        )
        for each in facts.batteries
        if each.part_id is not None
    )


def _batteries(fitted: Sequence[FittedPart], tests: Sequence[TestLine], zone: ZoneInfo) -> tuple[page.BatteryLine, ...]:
    """The fitted batteries; a voltage belongs to one only where its note names the slot, or there is one battery."""
    slots = [part for part in fitted if "battery" in part.slot_kind and part.part_id is not None]
    voltages = sorted((test for test in tests if test.kind == _VOLTAGE), key=lambda test: test.at, reverse=True)
    lines = []
    for part in slots:
        own = [test for test in voltages if len(slots) == 1 or part.slot in (test.note or "")]
        at = _local(own[0].at, zone) if own else None
        lines.append(page.BatteryLine(part.slot, own[0].value if own else None, at, part.fitted_on))
    return tuple(lines)


def _remarks(faults: Sequence[str], assessment: Assessment, kind: str) -> tuple[page.Remark, ...]:
    """Known faults, then advices; no check of fitness speaks on a sheet that is not for diving."""
    known = [page.Remark(fault) for fault in faults]
    if kind == _NOT_FOR_DIVING:
        return tuple(known)
    # Work at the desk is done or shown by its own part of the sheet, as a gas that is not analysed is.
    return (*known, *(_checked(check) for check in assessment.advises if check.to_do_minutes is None))


def _stops(assessment: Assessment, kind: str) -> tuple[str, ...]:
    """Every stop in a sentence, for the box on top; none on a sheet that is not for diving."""
    if kind == _NOT_FOR_DIVING:
        return ()
    return tuple(f"{check.check}: {check.evidence}" for check in assessment.stops)


def _checked(check: Check) -> page.Remark:
    accepted = f" ({check.accepted})" if check.accepted else ""
    return page.Remark(f"{check.result}: {check.check}: {check.evidence}{accepted}")


def _local(at: datetime, zone: ZoneInfo) -> datetime:
    return at.astimezone(zone)


def _maybe(at: datetime | None, zone: ZoneInfo) -> datetime | None:
    return None if at is None else at.astimezone(zone)


def fill_label_facts(label: FillLabel, centre: str) -> page.FillLabelFacts:
    """What the label of a fill prints: minutes as rated at the centre's usual conditions, never those left."""
    return page.FillLabelFacts(
        centre=centre,
        record=label.fill,
        canister=label.canister,
        packed_at=label.packed_at,
        packed_by=label.packed_by,
        mass_g=label.mass_g,
        lot=label.lot,
        rated=_rated(label.rated[0]) if label.rated else None,
        discard_by=label.discard_by,
        diver=label.diver,
        hours_after_first_use=label.hours_after_first_use,
        shared=label.shared,
    )


def _rated(line: RatedLine) -> str:
    return f"{line.minutes:g} min at {line.water_c:g} °C, {line.depth_m:g} m, {line.co2_l_min:g} L/min CO2"


def turn_round_facts(desk: TurnRoundDesk, head: page.Letterhead, zone: ZoneInfo) -> TurnRoundFacts:
    """One turn-round card, open or finished, as it is printed; ValueError for a unit that never had one."""
    card = desk.card
    if card is None:
        raise ValueError(f"unit {desk.unit}: has no turn-round card; open one first")
    return TurnRoundFacts(
        letterhead=head,
        number=card.number,
        unit=desk.unit,
        unit_type=desk.unit_type,
        booking=card.booking,
        opened_at=_local(card.opened_at, zone),
        opened_by=card.opened_by,
        flooded_at=_maybe(card.flooded_at, zone),
        bath=card.drying.bath if card.drying is not None else None,
        disinfected_at=_local(card.drying.disinfected_at, zone) if card.drying is not None else None,
        dry_at=_maybe(card.drying.dry_at, zone) if card.drying is not None else None,
        lines=tuple(
            CardRow(line.ordinal, line.text, line.state, line.how, _maybe(line.settled_at, zone), line.person)
            for line in card.lines
        ),
        against=desk.against,
        ticket=card.ticket,
        finished_at=_maybe(card.finished_at, zone),
        finished_by=card.finished_by,
        reference=desk.reference,
    )
