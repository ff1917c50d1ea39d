"""The details of returns, noted after the units were received: on one grid of many units, or a log line by line.

A log comes in typed, as the form of its unit filled in on a screen (PDF), or as a table (CSV); which of them makes no
difference to what is checked.
"""

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetbench.calc.canisters.fill_clocks import end_of_day
from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.plausible import HIRE_MINUTES
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.calc.hires.log import (
    CELLS,
    COLUMNS,
    HANDSETS,
    LINES,
    LOG_OF,
    LogColumn,
    LogSpan,
    ReadLine,
    RunBack,
    columns_of,
    field_name,
    log_of,
)
from fleetbench.records.canisters.lookups import line_of, standing_fill
from fleetbench.records.canisters.reads import read_runs_in
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.journal import is_frozen
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import (
    canister_in,
    counts_of,
    fill_at,
    fills_between,
    hand_back_of,
    open_hand_back_ticket,
    parts_at,
    read_returns_without_details,
)
from fleetbench.records.hires.tables import Accessory, Booking, BookingUnit, HandBack, HireNote, LogReading
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.tables import Finding
from fleetbench.records.units.tables import Unit
from fleetbench.workshop.canisters.packing import fill_name
from fleetbench.workshop.canisters.runs import RunEntry, fill_of, note_run, zone_of
from fleetbench.workshop.core.workplace import Workplace, figure_or_none, measured_or_none, require_person
from fleetbench.workshop.hires.pages import form_fields
from fleetbench.workshop.hires.receive import open_return_ticket
from fleetbench.workshop.turn_rounds.handsets import handset_desk
from fleetbench.workshop.units.list import unit_page

if TYPE_CHECKING:
    from fleetbench.records.canisters.tables import Fill


@dataclass(frozen=True, slots=True, kw_only=True)
class HandBackEntry:
    """The details of one unit's return, a row of the grid; loop minutes and dives None are summed from the runs."""

    line_id: int
    loop_minutes: float | None = None
    dives: int | None = None
    runs: tuple[RunBack, ...] = ()
    remarks: str = ""
    faults: str = ""
    missing: str = ""
    damaged: bool | None = None
    deposit_back: float | None = None


@dataclass(frozen=True, slots=True)
class OpenReturn:
    """A unit that was received and whose details are to note; before: figures of the last run in it."""

    line_id: int
    unit: str
    booking: str
    diver: str
    planned_depth_m: float | None = None
    before: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HandedBack:
    """What was noted of one return; unlogged: minutes that no fill on record could be charged with."""

    line_id: int
    unit: str
    runs: int
    unlogged_minutes: float
    ticket_id: int | None


def open_returns(workplace: Workplace) -> tuple[OpenReturn, ...]:
    """The rows of the hand-back grid: every unit received whose details nobody has noted, oldest first."""
    with workplace.database.reading() as connection:
        found, names = read_returns_without_details(connection), read_names(connection)
        last = {run.unit_id: asdict(run) for run in read_runs_in(connection, [each[-1] for each in found])}
    return tuple(
        OpenReturn(line, tag, booking=code, diver=names.get(who or 0, ""), planned_depth_m=m, before=last.get(unit, {}))
        for line, tag, code, who, m, unit in found
    )


@dataclass(frozen=True, slots=True)
class OpenLog:
    """The log of one return: whose it is, its columns, and what its lines are held against."""

    about: OpenReturn
    columns: tuple[LogColumn, ...]
    span: LogSpan

    @property
    def name(self) -> str:
        """What names it, on paper and in every file."""
        return log_of(self.about.booking, self.about.unit)


def log_columns(workplace: Workplace, tag: str) -> tuple[LogColumn, ...]:
    """The columns of a unit's log, with its own cells and handsets."""
    cells = tuple(each.position for each in unit_page(workplace, tag).cells)
    handsets = tuple(each.slot for each in handset_desk(workplace, tag).handsets)
    return columns_of(cells or CELLS, handsets or HANDSETS)


def _last_mv(workplace: Workplace, tag: str, columns: Sequence[LogColumn]) -> dict[str, float]:
    """What each column's cell gave at its last calibration, in mV, by the column's key."""
    mv = {
        (cell.position, kept_as): value
        for cell in unit_page(workplace, tag).cells
        if (seen := cell.outcome) is not None
        for kept_as, value in (("air mV", seen.air_mv), ("oxygen mV", seen.oxygen_mv))
    }
    return {each.key: value for each in columns if (value := mv.get((each.short, each.kept_as))) is not None}


def open_log(workplace: Workplace, about: OpenReturn) -> OpenLog:
    """The log of a unit that was received: its days are those between leaving and coming back."""
    columns, zone = log_columns(workplace, about.unit), workplace.zone()
    with workplace.database.read_session() as session:
        line, booking = line_of(session, about.line_id)
        back = line.received_at or workplace.clock()
        fills = fills_between(session, line.unit_id, line.out_at or back, back)
        first = booking.starts_on if line.out_at is None else line.out_at.astimezone(zone).date()
        span = LogSpan(
            first=first,
            last=max(first, back.astimezone(zone).date()),
            planned_depth_m=about.planned_depth_m,
            fills={fill_name(fill): fill.id for fill in fills},
            last_mv=_last_mv(workplace, about.unit, columns),
        )
    return OpenLog(about, columns, span)


def log_entry(log: OpenLog, lines: Sequence[ReadLine], **rest: object) -> HandBackEntry:
    """What a log states, as the details of its return; rest: what else is noted of it, by the entry's own names."""
    runs = tuple(each.run for each in lines if each.run is not None)
    faults = strung("; ", (say("dive {number}: {fault}", number=number, fault=each.fault) for number,
        each in enumerate(lines, start=1) if each.fault))  # fmt: skip
    return HandBackEntry(line_id=log.about.line_id, runs=runs, faults=faults, **rest)  # type: ignore[arg-type]


def log_template(log: OpenLog) -> bytes:
    """The log as a table to fill in (CSV, RFC 4180, UTF-8 with its mark for spreadsheets)."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([LOG_OF, log.name])
    writer.writerow(["line", *(each.title for each in log.columns)])
    writer.writerows([number] for number in range(1, LINES + 1))
    return stream.getvalue().encode("utf-8-sig")


MOST_FILE, MOST_LINES = 4_000_000, 60
"""Bytes and lines of a log's file; common practice, no published source."""


def read_log_file(log: OpenLog, path: Path) -> tuple[dict[str, str], ...]:
    """The lines of a filled form (PDF) or table (CSV), the text of each cell by its column, as if they were typed.

    Raises Refused for another file, for one of another unit or hire, and for columns that this log has not.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MOST_FILE + 1)
    except OSError as fault:
        raise Refused(say("{path}: cannot be read ({fault}); choose another file", path=path.name,
            fault=fault.strerror)) from fault  # fmt: skip
    if len(data) > MOST_FILE:
        raise Refused(say("{path}: is larger than {most} MB and no log; choose another file", path=path.name,
            most=MOST_FILE // 1000000))  # fmt: skip
    named, titles, rows = _form(path.name, data) if data.startswith(b"%PDF") else _table(path.name, data)
    if named.casefold().split() != log.name.casefold().split():
        raise Refused(say("{path}: is the log of {named}, not of {log}; choose that unit's own file", path=path.name,
            named=named or say("nothing"), log=log.name))  # fmt: skip
    by_title = {each.title.casefold(): each.key for each in log.columns}
    unknown = [title for title in titles if title and title.casefold() not in by_title]
    if unknown:
        raise Refused(say("{path}: column {column!r} is not in this log; save a new file to fill in", path=path.name,
            column=unknown[0]))  # fmt: skip
    keys = [by_title.get(title.casefold(), "") for title in titles]
    found = [{key: text for key, text in zip(keys, row, strict=False) if key and text.strip()} for row in rows]
    while found and not found[-1]:
        found.pop()
    if not found:
        raise Refused(say("{path}: has no line filled in; nothing was read", path=path.name))
    if len(found) > MOST_LINES:
        raise Refused(say("{path}: has {count} lines, more than {most}; give each hire a file of its own",
            path=path.name, count=len(found), most=MOST_LINES))  # fmt: skip
    return tuple(found)


LogText = tuple[str, list[str], list[list[str]]]
"""Whose log a file says that it is, its columns' titles, and the texts of its rows."""


def _table(name: str, data: bytes) -> LogText:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(say("{name}: is no text in UTF-8; save it as CSV in UTF-8", name=name)) from None
    sign = max(",;\t", key=text[:200].count)
    try:
        rows = [row for row in csv.reader(io.StringIO(text, newline=""), delimiter=sign) if any(map(str.strip, row))]
    except csv.Error as fault:
        raise Refused(say("{name}: is no table ({fault}); save it as CSV", name=name, fault=fault)) from None
    if len(rows) < 2 or rows[0][0].strip().casefold() != LOG_OF or rows[1][0].strip().casefold() != "line":
        raise Refused(
            say(
                "{name}: does not begin with '{heading}' and the titles; fill in the file that was saved here",
                name=name,
                heading=LOG_OF,
            )
        )
    named = rows[0][1].strip() if len(rows[0]) > 1 else ""
    return named, [title.strip() for title in rows[1][1:]], [row[1:] for row in rows[2:]]


def _form(name: str, data: bytes) -> LogText:
    fields = form_fields(name, data)
    try:
        titles = json.loads(fields.get(COLUMNS, ""))
        whole = isinstance(titles, list) and all(isinstance(each, str) for each in titles)
    except ValueError:
        whole = False
    if LOG_OF not in fields or not whole:
        raise Refused(say("{name}: is no log to fill in; use the form that was saved here", name=name))
    lines = range(1, LINES + 1)
    return fields[LOG_OF], titles, [[fields.get(field_name(n, c), "") for c in range(len(titles))] for n in lines]


# ---- what is noted --------------------------------------------------------------------------------------------------


def hand_back(workplace: Workplace, entries: Sequence[HandBackEntry]) -> tuple[HandedBack, ...]:
    """What was noted of each return, the whole grid in one act or nothing of it.

    Runs go into the ledger of the fill that stood in the canister at their time; minutes count for every fitted part.
    The fill of the hire is thrown away. A fault, damage or a missing accessory opens a ticket or is added to the one
    that the return opened. Remarks go where they can be erased.
    """
    person = require_person(workplace)
    today = workplace.today()
    if not entries:
        raise Refused(say("hand-back: no row is filled in; enter at least one unit"))
    with workplace.transaction("hand back", f"{len(entries)} units") as act:
        done, faults = [], []
        for each in entries:
            try:
                done.append(_back_one(act, each, person, today))
            except Refused as refusal:
                faults.append(str(refusal))
        if faults:
            raise Refused(strung("; ", faults))
        return tuple(done)


def _back_one(act: Transaction, entry: HandBackEntry, person: int, today: date) -> HandedBack:
    line, booking = line_of(act.session, entry.line_id)
    unit = act.get(Unit, line.unit_id, "unit")
    if line.received_at is None:
        raise Refused(say("unit {tag}: is not received yet; receive it first", tag=unit.tag))
    if hand_back_of(act.session, line.id) is not None:
        raise Refused(say("unit {tag}: the details of {code} are noted already; correct a run in Canisters",
            tag=unit.tag, code=booking.code))  # fmt: skip
    minutes, dives = _totals(unit, entry)
    logged = _log_runs(act, unit, line, entry, booking.planned_depth_m)
    act.change(line, loop_minutes=minutes, dives=dives)
    missing = entry.missing.strip()
    _count_back(act, line, missing)
    act.add(
        HandBack(
            booking_unit_id=line.id,
            at=act.at,
            person_id=person,
            missing=missing[:300] or None,
            damaged=entry.damaged,
            deposit_back=figure_or_none("deposit back", entry.deposit_back, 0, 100_000, "enter the sum, or leave it"),
        )
    )
    if entry.remarks.strip():
        act.add(HireNote(booking_unit_id=line.id, at=act.at, text=entry.remarks.strip()))
    ticket = _ticket_of_return(act, unit, line, booking, entry, person, today)
    _throw_fill_away(act, unit, line, person)
    return HandedBack(
        line.id,
        unit=unit.tag,
        runs=len(entry.runs),
        unlogged_minutes=max(0.0, (minutes or 0.0) - logged),
        ticket_id=ticket,
    )


def _count_back(act: Transaction, line: BookingUnit, missing: str) -> None:
    """What was counted out came back, but for what is named as missing; `2 torch` is two of them."""
    for row in counts_of(act.session, line.id):
        name = act.get(Accessory, row.accessory_id, "accessory").name
        said = re.search(rf"(?:(\d+)\s+)?{re.escape(name)}", missing, re.IGNORECASE)
        lost = int(said.group(1) or 1) if said else 0
        act.change(row, back=max(0, row.sent - lost))


def _totals(unit: Unit, entry: HandBackEntry) -> tuple[float | None, int | None]:
    minutes, dives = entry.loop_minutes, entry.dives
    ran = sum(each.minutes for each in entry.runs)
    if minutes is None and entry.runs:
        minutes = ran
    if dives is None and entry.runs:
        dives = sum(each.dives for each in entry.runs)
    measured_or_none(HIRE_MINUTES, minutes, say("unit {tag}: loop minutes", tag=unit.tag))
    figure_or_none(say("unit {tag}: dives", tag=unit.tag), dives, 0, 300, "enter the dives of the whole hire")
    if minutes is not None and ran > minutes + 0.5:
        raise Refused(say("unit {tag}: loop minutes: {minutes:g} is less than its runs, {ran:g}; look at both",
            tag=unit.tag, minutes=minutes, ran=ran))  # fmt: skip
    return minutes, dives


def _log_runs(act: Transaction, unit: Unit, line: BookingUnit, entry: HandBackEntry, planned_m: float | None) -> float:
    """Minutes that went into the ledger; of a run without a start it is kept between which moments it was.

    A student of a kit packs fills that nobody here recorded: such a run counts for the unit's parts and for no fill.
    """
    logged = 0.0
    canister = canister_in(act.session, unit.id)
    for dive, run in enumerate(entry.runs, start=1):
        started, latest = _start(act, unit, line, run)
        fill: Fill | None = None
        if canister is not None and run.fill_id is not None:
            fill = fill_of(act, canister, run.fill_id)
        elif canister is not None:
            fill = fill_at(act.session, canister.id, latest)
        if canister is None or fill is None:
            _note_told(act, line, run)
            _keep_readings(act, line, run, dive, started, latest, None)
            continue
        diver = line.diver_id if line.diver_id is not None else fill.diver_id
        try:
            charged = note_run(
                act,
                canister,
                fill,
                RunEntry(
                    minutes=run.minutes,
                    dives=run.dives,
                    started_at=started,
                    on=run.on if started is None else None,
                    coldest_c=run.coldest_c,
                    deepest_m=run.deepest_m,
                    diver_id=diver,
                    line_id=line.id,
                    unit=unit.tag,
                    seen_at_6m_bar=run.seen_at_6m_bar,
                    told=run.told,
                ),
                planned_m=planned_m,
            )
        except Refused as refusal:
            raise Refused(say("unit {tag}: {refusal}", tag=unit.tag, refusal=refusal)) from None
        _keep_readings(act, line, run, dive, started, latest, charged.id)
        logged += run.minutes
    return logged


def _keep_readings(
    act: Transaction, line: BookingUnit, run: RunBack, dive: int, started: datetime | None, latest: datetime,
    run_id: int | None,
) -> None:  # fmt: skip
    """What the renter read on a dive, of the cell or cylinder that sat there then, as far as it is recorded."""
    seats = parts_at(act.session, line.unit_id, latest) if run.readings else {}
    kinds = Counter(kind for kind, _ in seats)
    in_kind = {kind: part for (kind, _), part in seats.items() if kinds[kind] == 1}  # of two, the log names neither
    act.bulk(
        LogReading,
        [
            {
                "booking_unit_id": line.id, "unit_id": line.unit_id, "run_id": run_id, "dive": dive,
                "part_id": seats.get(("cell", each.position)) if each.position
                else in_kind.get(f"{each.quantity.split()[0]} cylinder"),
                "on_day": run.on, "started_at": started, "quantity": each.quantity,
                "handset": each.handset or None, "position": each.position or None, "value": each.value,
                "note": each.note,
            }
            for each in run.readings
        ],
    )  # fmt: skip


def _note_told(act: Transaction, line: BookingUnit, run: RunBack) -> None:
    """What the log told in words of a run that no fill on record is charged with is a note of the hire."""
    if run.told:
        on = run.on.isoformat() if run.on else "day not known"
        words = in_row(f"run of {run.minutes:g} min, {on}: {run.told}")
        act.add(HireNote(booking_unit_id=line.id, at=act.at, text=words))


def _start(act: Transaction, unit: Unit, line: BookingUnit, run: RunBack) -> tuple[datetime | None, datetime]:
    """When a run began, None where that is not known, and the latest moment at which it can have been."""
    zone, back = zone_of(act), line.received_at or act.at
    started = run.started_at
    if started is None and run.on is not None and run.start is not None:
        try:
            started = moment_at(datetime.combine(run.on, run.start), zone)
        except ValueError as fault:
            raise Refused(say("unit {tag}: day and start: {fault}", tag=unit.tag, fault=str(fault))) from None
    day = run.on if started is None else started.astimezone(zone).date()
    left = line.out_at.astimezone(zone) if line.out_at is not None else None
    if left is not None and (started < left if started is not None else day is not None and day < left.date()):
        raise Refused(
            say(
                "unit {tag}: day and start: a run begins before the unit left, {left:%Y-%m-%d %H:%M}; correct it",
                tag=unit.tag,
                left=left,
            )
        )
    if started is None and day is not None and day > back.astimezone(zone).date():
        raise Refused(say("unit {tag}: day and start: {day} is after the return; correct it, or leave it empty",
            tag=unit.tag, day=day))  # fmt: skip
    if started is not None:
        return started, started
    return None, back if day is None else min(back, end_of_day(day, zone))


def _ticket_of_return(
    act: Transaction, unit: Unit, line: BookingUnit, booking: Booking, entry: HandBackEntry, person: int, today: date
) -> int | None:
    said = [words for words in (
        entry.faults.strip(),
        in_row("damaged") if entry.damaged else "",
        in_row(f"missing: {entry.missing.strip()}") if entry.missing.strip() else "",
    ) if words]  # fmt: skip
    if not said:
        return None
    critical = bool(entry.faults.strip() or entry.damaged)
    known = open_hand_back_ticket(act.session, unit.id, line.received_at or act.at)
    if known is None:
        reason = in_row(f"Back from {booking.code}: {'; '.join(said)}")
        return open_return_ticket(act, unit, person, today, reason, critical=critical)
    for words in said:
        act.add(Finding(ticket_id=known.id, at=act.at, person_id=person, text=words))
    if critical and not known.critical:
        act.change(known, critical=True)
    return known.id


def _throw_fill_away(act: Transaction, unit: Unit, line: BookingUnit, person: int) -> None:
    """A fill belongs to one diver and one hire: what is left of it is written off. A fill packed since is another's.

    That it is out of the canister is for the one who takes it out to say, on the turn-round's card. After an incident
    it is kept as it is.
    """
    if is_frozen(act.session, unit.id):
        return
    canister = canister_in(act.session, unit.id)
    fill = standing_fill(act.session, canister.id) if canister is not None else None
    if fill is None or (line.received_at is not None and fill.packed_at > line.received_at):
        return
    if fill.booking_unit_id in (None, line.id):
        act.change(fill, discarded_at=act.at, discarded_by_id=person, why_discarded="hand-back")
