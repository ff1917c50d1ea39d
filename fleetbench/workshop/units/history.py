"""What was done to a unit, merged in time.

What is recorded of a unit over a span of dates, gathered for an incident or an audit.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from itertools import groupby

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.core.measures import GRAM, in_unit, measured_in
from fleetbench.calc.hires.log import dive_words, readings_words
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.hires.lookups import signed_pages_on, signed_without_page
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.photographs import PDF, photograph_folder, read_file
from fleetbench.records.tickets.reads import (
    MoveRecord,
    PhotographRecord,
    read_photographs,
    read_ticket_numbers,
    ticket_number,
)
from fleetbench.records.units.history import CalibrationLine, EvidenceTable, HistoryRecords, read_evidence, read_history
from fleetbench.records.units.reads import read_units
from fleetbench.records.upkeep.touched import rows_touching
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.photographs import pictures_of


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One thing that was done to a unit; kind and key lead to the record."""

    at: datetime
    kind: str
    key: int
    words: str
    person: str | None
    verdict: str | None


def history_lines(records: HistoryRecords, names: Mapping[int, str], zone: tzinfo) -> tuple[HistoryLine, ...]:
    """Everything that was done, newest first."""
    lines = [*_measured(records, names), *_worked(records, names), *_used(records, names), *_logged(records, zone)]
    return tuple(sorted(lines, key=lambda line: (line.at, line.kind, line.key), reverse=True))


def _measured(records: HistoryRecords, names: Mapping[int, str]) -> Iterator[HistoryLine]:
    given: dict[tuple[str, int], str] = defaultdict(str)
    for each in records.given:
        given[each.made, each.key] += strung("", ("; ", each.words))
    for of, number in Counter(map(_beside, records.photographs)).items():
        given[of] += strung("", ("; ", say_count("{count} photograph", "{count} photographs", number)))
    for calibration in records.calibrations:
        yield HistoryLine(
            calibration.at,
            kind="calibration",
            key=calibration.calibration_id,
            words=say("{made} calibration of {cells} cells", made=say(calibration.made), cells=calibration.cells)
            + given["calibration", calibration.calibration_id],
            person=names.get(calibration.person_id or 0),
            verdict=_worst(calibration),
        )
    for test in records.tests:
        words = test_words(test) + given["bench test", test.test_id]
        yield HistoryLine(
            test.at,
            kind="bench test",
            key=test.test_id,
            words=words,
            person=names.get(test.person_id or 0),
            verdict=test.result,
        )


def _beside(photograph: PhotographRecord) -> tuple[str, int]:
    """What a photograph stands beside, as lines of the history are known."""
    if photograph.calibration_id is not None:
        return "calibration", photograph.calibration_id
    return "bench test", photograph.bench_test_id or 0


def _worst(calibration: CalibrationLine) -> str | None:
    counted = (("reject", calibration.reject), ("repeat", calibration.repeat), ("watch", calibration.watch))
    found = next((word for word, number in counted if number), None)
    return found or ("pass" if calibration.cells else None)


def test_words(test: BenchTestRecord) -> str:
    """A bench test in words."""
    said = [strung(", ", (test.kind, say(test.direction))) if test.direction else test.kind]
    if test.held is not None:
        said.append(say("held") if test.held else say("fell"))
    if test.watched_minutes is not None:
        said.append(say("watched {watched_minutes:g} min", watched_minutes=test.watched_minutes))
    if test.value is not None:
        said.append(in_unit(test.value, measured_in(test.unit_of_value)))
    return strung(": ", (said[0], strung(", ", said[1:]))) if said[1:] else said[0]


def _worked(records: HistoryRecords, names: Mapping[int, str]) -> Iterator[HistoryLine]:
    for opening in records.openings:
        words = say("{kind} opening: {what}", kind=say(opening.kind), what=opening.what)
        yield HistoryLine(
            opening.at,
            kind="opening",
            key=opening.ticket_id or 0,
            words=words,
            person=names.get(opening.person_id or 0),
            verdict=None,
        )
    for move in records.moves:
        yield from _moved(move, names)
    for ticket in records.tickets:
        number = ticket_number(ticket.year, ticket.number)
        opened = say(
            "ticket {number} opened, {cause}: {reason}", number=number, cause=ticket.cause, reason=ticket.reason
        )
        yield HistoryLine(
            ticket.opened_at, kind="ticket", key=ticket.ticket_id, words=opened, person=ticket.opened_by, verdict=None
        )
        if ticket.signed_at is not None:
            words = say("ticket {number} signed", number=number)
            yield HistoryLine(
                ticket.signed_at,
                kind="ticket",
                key=ticket.ticket_id,
                words=words,
                person=ticket.signed_by,
                verdict=None,
            )
    for clean in records.cleanings:
        words = say(
            "disinfected: {agent} {strength}, {contact_minutes:g} min",
            agent=clean.agent,
            strength=clean.strength,
            contact_minutes=clean.contact_minutes,
        )
        words += say(", rinsed") if clean.rinsed else say(", not rinsed")
        name = names.get(clean.person_id or 0)
        yield HistoryLine(
            clean.at, kind="disinfection", key=clean.disinfection_id, words=words, person=name, verdict=None
        )
    for hold in records.holds:
        words = say("hold placed: {reason}", reason=hold.reason)
        yield HistoryLine(
            hold.placed_at, kind="hold", key=hold.hold_id, words=words, person=hold.placed_by, verdict=None
        )
        if hold.lifted_at is not None:
            words = say("hold lifted: {value}", value=hold.lift_reason or hold.reason)
            yield HistoryLine(
                hold.lifted_at, kind="hold", key=hold.hold_id, words=words, person=hold.lifted_by, verdict=None
            )


def _moved(move: MoveRecord, names: Mapping[int, str]) -> Iterator[HistoryLine]:
    label = move.serial or (
        say("lot {lot}", lot=move.lot) if move.lot else move.ref or say("part {part_id}", part_id=move.part_id)
    )
    what = f"{move.part_type} {label}"
    fitter = names.get(move.fitted_by_id or 0)
    yield HistoryLine(
        move.fitted_at,
        kind="fitting",
        key=move.part_id,
        words=say("{slot}: {what} in", slot=move.slot, what=what),
        person=fitter,
        verdict=None,
    )
    if move.removed_at is not None:
        words = say(
            "{slot}: {what} out{what_2}",
            slot=move.slot,
            what=what,
            what_2=f", {move.why_removed}" if move.why_removed else "",
        )
        remover = names.get(move.removed_by_id or 0)
        yield HistoryLine(move.removed_at, kind="fitting", key=move.part_id, words=words, person=remover, verdict=None)


def _used(records: HistoryRecords, names: Mapping[int, str]) -> Iterator[HistoryLine]:
    for hire in records.hires:
        if hire.out_at is not None:
            words = say(
                "out on {kind} {code}{what}",
                kind=hire.kind,
                code=hire.code,
                what=f", {hire.hand_over}" if hire.hand_over else "",
            )
            yield HistoryLine(
                hire.out_at,
                kind="hire",
                key=hire.line_id,
                words=words,
                person=names.get(hire.out_by_id or 0),
                verdict=None,
            )
        if hire.received_at is not None:
            person = names.get(hire.received_by_id or 0)
            yield HistoryLine(
                hire.received_at, kind="hire", key=hire.line_id, words=_back_words(hire), person=person, verdict=None
            )
    for fill in records.fills:
        mass = GRAM.words(fill.mass_g) if fill.mass_g is not None else say("not weighed")
        packer = names.get(fill.packed_by_id or 0)
        yield HistoryLine(
            fill.packed_at,
            kind="fill",
            key=fill.fill_id,
            words=say("canister packed, {mass}", mass=mass),
            person=packer,
            verdict=None,
        )
        if fill.discarded_at is not None:
            words = say("fill discarded{what}", what=f": {fill.why_discarded}" if fill.why_discarded else "")
            yield HistoryLine(fill.discarded_at, kind="fill", key=fill.fill_id, words=words, person=None, verdict=None)
    for absence in records.absences:
        yield HistoryLine(
            absence.left_at,
            kind="absence",
            key=absence.absence_id,
            words=say("sent away: {why}", why=absence.why),
            person=None,
            verdict=None,
        )
        if absence.back_at is not None:
            words = say("back from: {why}", why=absence.why)
            yield HistoryLine(
                absence.back_at, kind="absence", key=absence.absence_id, words=words, person=None, verdict=None
            )


def _logged(records: HistoryRecords, zone: tzinfo) -> Iterator[HistoryLine]:
    for (line_id, dive), group in groupby(records.log, key=lambda each: (each.line_id, each.dive)):
        readings = list(group)
        first = readings[0]
        when = dive_words(first.on_day, first.started_at, zone)
        words = say(
            "renter's log of {booking}, dive {dive}, {when}: {figure}",
            booking=first.booking,
            dive=dive,
            when=when,
            figure=readings_words([r.figure for r in readings]),
        )
        at = first.started_at or first.received_at
        assert at is not None, "a log is noted after the unit was received"
        yield HistoryLine(at, kind=say("renter's log"), key=line_id, words=words, person=None, verdict=None)


def _back_words(hire: BookedUnit) -> str:
    said = [say("back from {kind} {code}", kind=hire.kind, code=hire.code)]
    states = ((hire.wet, "wet", "dry"), (hire.flooded, "flooded", ""), (hire.fault, say("fault reported"), ""))
    said += [word for value, yes, no in states if value is not None and (word := yes if value else no)]
    if hire.loop_minutes is not None:
        said.append(say("{loop_minutes:g} loop minutes", loop_minutes=hire.loop_minutes))
    if hire.dives is not None:
        said.append(say("{dives} dives", dives=hire.dives))
    return strung(", ", said)


@dataclass(frozen=True, slots=True)
class EvidenceRecords:
    """A unit's records from first through last day: readings as tables, what was done oldest first, the chain's head.

    head: number and hash of the journal's last entry as `verify --head` reads it. broken: the first break that verify
    found while gathering, or None. photographs: each with its ticket or record, and its bytes where its file
    is as it was. signed_pages: hand-over pages as they were signed, and when. left_out: what is not in the folder.
    """

    tag: str
    serial: str | None
    first: date
    last: date
    sheets: tuple[EvidenceTable, ...]
    history: tuple[HistoryLine, ...]
    head: str
    broken: str | None
    photographs: tuple[tuple[str, PhotographRecord, bytes | None], ...] = ()
    signed_pages: tuple[tuple[datetime, bytes], ...] = ()
    left_out: tuple[str, ...] = ()


def gather_evidence(workplace: Workplace, tag: str, first: date, last: date) -> EvidenceRecords:
    """Everything recorded of the unit within the site's days, both inclusive; read in one transaction.

    Raises NotFound for an unknown tag and Refused where the last day is before the first.
    """
    if last < first:
        raise Refused(
            say("last day: {last} is before the first {first}; give them the other way round", last=last, first=first)
        )
    zone = workplace.zone()
    begins = datetime.combine(first, time(), zone)
    ends = datetime.combine(last + timedelta(days=1), time(), zone)
    with workplace.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
        unit = found[0]
        records = read_history(connection, unit.unit_id)
        lines = history_lines(records, read_names(connection), zone)
        tickets = [ticket.ticket_id for ticket in records.tickets]
        sheets = read_evidence(connection, unit.unit_id, begins, ends)
        touched = rows_touching(connection, unit.unit_id, begins, ends, zone)
        signed = [page for page in signed_pages_on(connection, touched.lines) if begins <= page.at < ends]
        unkept = signed_without_page(connection, touched.lines)
        numbers = read_ticket_numbers(connection)
        of_unit = (*read_photographs(connection, ticket_ids=tickets), *records.photographs)
        taken = [each for each in of_unit if begins <= each.at < ends]
    pictures = pictures_of(workplace, (each.sha256 for each in taken))
    pages = {page.sha256: _page_or_none(workplace, page.sha256) for page in signed}
    report = verify(workplace.database)
    return EvidenceRecords(
        tag=unit.tag,
        serial=unit.serial,
        first=first,
        last=last,
        sheets=(*sheets, *touched.sheets, touched.journal),
        history=tuple(line for line in reversed(lines) if begins <= line.at < ends),
        head=f"{report.head_number}:{report.head_hash or 'no entry'}",
        broken=report.first_break,
        photographs=tuple((_under(each, numbers), each, pictures.get(each.sha256)) for each in taken),
        signed_pages=tuple((page.at, data) for page in signed if (data := pages[page.sha256]) is not None),
        left_out=(
            *touched.left_out,
            *(say("signed page {sha256}: its file is missing or was changed",
                sha256=page.sha256[:12]) for page in signed
              if pages[page.sha256] is None),
            *([say("signed pages: {unkept} signatures whose page is not kept, or was erased",
                unkept=unkept)] if unkept else []),
        ),
    )  # fmt: skip


def _under(photograph: PhotographRecord, numbers: Mapping[int, str]) -> str:
    """The ticket that a photograph was taken under, or the record that it stands beside, as part of a file's name."""
    if photograph.ticket_id is not None:
        return numbers[photograph.ticket_id]
    made, key = _beside(photograph)
    return f"{made.replace(' ', '-')}-{key}"


def _page_or_none(workplace: Workplace, digest: str) -> bytes | None:
    with suppress(Refused):
        return read_file(photograph_folder(workplace.database.path), digest, PDF)
    return None
