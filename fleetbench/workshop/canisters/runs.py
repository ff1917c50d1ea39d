"""Runs of a fill: one use of it, from a hand-back or typed; an error is corrected by a run in its place."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetbench.calc.canisters.fill_clocks import end_of_day
from fleetbench.calc.core.languages import folded_name, say, strung
from fleetbench.calc.core.plausible import DEPTH, LOOP_MINUTES, SEEN_AT_6M, WATER, run_remark
from fleetbench.records.canisters.lookups import (
    correction_of,
    log_readings_of,
    runs_that_count,
    standing_fill,
    unit_with_part,
)
from fleetbench.records.canisters.tables import Fill, Run, RunCorrection
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.tables import Part
from fleetbench.records.people.reads import read_people
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.canisters.packing import canister_of, fill_name, past_moment, subject
from fleetbench.workshop.core.workplace import (
    Workplace,
    figure,
    figure_or_none,
    measured,
    measured_or_none,
    one_word,
    require_person,
    required,
)
from fleetbench.workshop.parts.fit import label

CLOCKS = ("loop", "dive")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunEntry:
    """One use of a fill as it is entered.

    minutes: loop minutes, or dive minutes with clock `dive`; then 10 a dive are added when it is calculated.
    started_at: with its zone; None is not known. on: the day, where that alone is known. Water, depth and work: None is
    not known, which counts as the coldest row, the deepest row and the rated rate. seen_at_6m_bar: as the diver reports
    it, never asked for. told: what the log says beside it, in words.
    """

    minutes: float
    clock: str = "loop"
    dives: int = 1
    started_at: datetime | None = None
    on: date | None = None
    coldest_c: float | None = None
    deepest_m: float | None = None
    co2_l_min: float | None = None
    diver_id: int | None = None
    line_id: int | None = None
    unit: str | None = None
    seen_at_6m_bar: float | None = None
    told: str = ""


@dataclass(frozen=True, slots=True)
class RunChoices:
    """What stands ready when a run is typed: the fill, its diver and unit, and who else could have dived it.

    last_run: the newest run of the fill as it was entered, to be put right; None where there is none.
    """

    part_id: int
    canister: str
    fill: str | None
    packed_at: datetime | None
    unit: str | None
    diver_id: int | None
    divers: tuple[tuple[int, str], ...]
    units: tuple[str, ...]
    last_run_id: int | None
    last_run: RunEntry | None


def log_run(workplace: Workplace, canister: int | str, entry: RunEntry, *, fill_id: int | None = None) -> int:
    """The key of a run noted on the fill in the canister, or on an earlier one by its key.

    A run without a diver is the fill's own; the first run by a diver makes the fill that diver's. A run by a second
    diver is recorded, since it was dived, and spends the fill.
    Raises Refused where it lies before the packing or after the bin, overlaps another, or a figure is out of reason.
    """
    require_person(workplace)
    with workplace.database.read_session() as session:
        about = subject(canister_of(session, canister)[0])
    with workplace.transaction("log run", about) as act:
        part, _ = canister_of(act.session, canister)
        return note_run(act, part, fill_of(act, part, fill_id), entry).id


def note_run(
    act: Transaction,
    part: Part,
    fill: Fill,
    entry: RunEntry,
    *,
    instead_of: int | None = None,
    planned_m: float | None = None,
) -> Run:
    """A run written within an act that is under way, such as a hand-back; Refused as `log_run` says.

    planned_m: the depth that its booking planned, against which the deepest was held as it was entered.
    """
    checked(entry)
    line = entry.line_id if entry.line_id is not None else fill.booking_unit_id
    others = [run for run in runs_that_count(act.session, fill.id) if run.id != instead_of]
    if entry.started_at is not None:
        started, ended_by = past_moment("started at", entry.started_at, act.at), None
        _within(fill, started, entry.minutes, act.at)
        _refuse_overlap(others, started, entry.minutes)
    else:
        started, ended_by = bounds(act, fill, entry.on, line)
        _refuse_too_long(others, started, ended_by, entry.minutes)
    unit = unit_by_tag(act.session, entry.unit) if entry.unit else unit_with_part(act.session, part.id)
    if unit is None:
        raise Refused(say("unit: the canister sits in none; say in which unit the fill was run"))
    diver = entry.diver_id if entry.diver_id is not None else fill.diver_id
    if diver is None:
        raise Refused(say("diver: is missing; a fill serves one diver, so say whose run it was"))
    if fill.diver_id is None:
        act.change(fill, diver_id=diver, booking_unit_id=line if fill.booking_unit_id is None else fill.booking_unit_id)
    return act.add(
        Run(
            fill_id=fill.id,
            unit_id=unit.id,
            booking_unit_id=line,
            diver_id=diver,
            started_at=started,
            minutes=entry.minutes,
            clock=entry.clock,
            dives=entry.dives,
            coldest_c=entry.coldest_c,
            deepest_m=entry.deepest_m,
            co2_l_min=entry.co2_l_min,
            seen_at_6m_bar=entry.seen_at_6m_bar,
            ended_by=ended_by,
            note=_note(entry, planned_m),
        )
    )


MOST_NOTE = 300
"""Characters that the note of a run holds."""


def _note(entry: RunEntry, planned_m: float | None) -> str | None:
    """What was unusual of a run and kept, then what its log says beside the figures."""
    remark = run_remark(
        minutes=entry.minutes,
        dives=entry.dives,
        deepest_m=entry.deepest_m,
        coldest_c=entry.coldest_c,
        seen_at_6m_bar=entry.seen_at_6m_bar,
        planned_m=planned_m,
    )
    whole = strung("; ", filter(None, (remark, entry.told and say("log: {told}", told=entry.told))))
    if len(whole) > MOST_NOTE:
        raise Refused(
            say(
                "readings: {count} characters of them are more than {most}; leave the least out",
                count=len(whole),
                most=MOST_NOTE,
            )
        )
    return whole or None


def bounds(act: Transaction, fill: Fill, on: date | None, line_id: int | None) -> tuple[datetime, datetime]:
    """The earliest a run of a fill can have begun and the latest it can have ended, where its start is not known.

    Not before the fill was packed, the unit left or the stated day began; not after now, the return, the bin or the
    end of that day. Refused where nothing lies between.
    """
    line = act.get(BookingUnit, line_id, "hire line") if line_id is not None else None
    zone = zone_of(act)
    first = [fill.packed_at, *([line.out_at] if line is not None and line.out_at is not None else [])]
    last = [act.at, *(each for each in (fill.discarded_at, line.received_at if line is not None else None) if each)]
    earliest, latest = max(first), min(last)
    if on is not None:
        midnight = datetime.combine(on, time(), tzinfo=zone)
        earliest, latest = max(earliest, midnight), min(latest, end_of_day(on, zone))
    if latest <= earliest:
        days = say(
            "{first:%Y-%m-%d %H:%M} and {last:%Y-%m-%d %H:%M}",
            first=max(first).astimezone(zone),
            last=min(last).astimezone(zone),
        )
        raise Refused(
            say(
                "day: {on} does not lie between {days}, when {fill} was in use; correct it",
                on=on or say("none"),
                days=days,
                fill=fill_name(fill),
            )
        )
    return earliest, latest


def started_words(started_at: datetime, ended_by: datetime | None, zone: ZoneInfo) -> str:
    """When a run began, or the day or days on which it was where that is not known."""
    began = started_at.astimezone(zone)
    if ended_by is None:
        return f"{began:%Y-%m-%d %H:%M}"
    day = known_day(started_at, ended_by, zone)
    if day is not None:
        return say("{day}, start not known", day=day)
    return say("not known, {began:%Y-%m-%d} to {ended_by:%Y-%m-%d}", began=began, ended_by=ended_by.astimezone(zone))


def known_day(started_at: datetime, ended_by: datetime, zone: ZoneInfo) -> date | None:
    """The one day at the site on which a run lay whose start is not known; None where it may be another."""
    day = started_at.astimezone(zone).date()
    return day if ended_by <= end_of_day(day, zone) else None


def zone_of(act: Transaction) -> ZoneInfo:
    """The centre's time zone, read within an act."""
    return ZoneInfo(centre_timezone(act.session.connection()) or "UTC")


def correct_run(
    workplace: Workplace, canister: int | str, run_id: int, *, reason: str, instead: RunEntry | None = None
) -> int | None:
    """Take a wrongly entered run out of the count, with the run that stands in its place; returns that one's key.

    What a renter's log read on it belongs to the run in its place, and is shown no more where there is none.
    """
    person = require_person(workplace)
    said = required("reason", reason)[:200]
    with workplace.database.read_session() as session:
        about = subject(canister_of(session, canister)[0])
    with workplace.transaction("correct run", about) as act:
        part, _ = canister_of(act.session, canister)
        wrong = act.get(Run, run_id, "run")
        fill = fill_of(act, part, wrong.fill_id)
        if correction_of(act.session, run_id) is not None:
            raise Refused(say("run: was corrected before; correct the one that stands in its place"))
        right = note_run(act, part, fill, instead, instead_of=run_id).id if instead is not None else None
        for reading in log_readings_of(act.session, run_id) if right is not None else ():
            act.change(reading, run_id=right)
        act.add(RunCorrection(run_id=run_id, instead_id=right, at=act.at, person_id=person, reason=said))
        return right


def fill_of(act: Transaction, part: Part, fill_id: int | None) -> Fill:
    """The fill of that key if it was packed in this canister, or the one that stands in it now."""
    fill = standing_fill(act.session, part.id) if fill_id is None else act.get(Fill, fill_id, "fill")
    if fill is None or fill.part_id != part.id:
        raise Refused(say("{subject}: holds no such fill; choose it from the canister's page", subject=subject(part)))
    return fill


def checked(entry: RunEntry) -> None:
    """Nothing where every figure is in reason; Refused naming the field otherwise."""
    measured(LOOP_MINUTES, entry.minutes)
    one_word("clock", entry.clock, CLOCKS)
    figure("dives", entry.dives, 1, 20, "enter how many dives the minutes hold")
    measured_or_none(WATER, entry.coldest_c)
    measured_or_none(DEPTH, entry.deepest_m)
    figure_or_none("carbon dioxide", entry.co2_l_min, 0.1, 10, "enter L/min, or leave it empty")
    measured_or_none(SEEN_AT_6M, entry.seen_at_6m_bar)


def _within(fill: Fill, started: datetime, minutes: float, now: datetime) -> None:
    ended = started + timedelta(minutes=minutes)
    if started < fill.packed_at:
        raise Refused(say("started at: lies before {fill} was packed; look at the time", fill=fill_name(fill)))
    if ended > now + timedelta(minutes=1):
        raise Refused(say("minutes: the run would end after now; look at its start and its minutes"))
    if fill.discarded_at is not None and started > fill.discarded_at:
        raise Refused(
            say("started at: lies after {fill} was discarded; choose the fill that was dived", fill=fill_name(fill))
        )


def _refuse_too_long(runs: Sequence[Run], started: datetime, ended_by: datetime, minutes: float) -> None:
    """Runs that all lie between two moments last no longer together than the time between them."""
    inside = sum(
        run.minutes
        for run in runs
        if run.started_at >= started and (run.ended_by or run.started_at + timedelta(minutes=run.minutes)) <= ended_by
    )
    if timedelta(minutes=minutes + inside) > ended_by - started + timedelta(minutes=1):
        hours = (ended_by - started).total_seconds() / 3600
        raise Refused(
            say(
                "minutes: {minutes:g} min do not fit into the {hours:.1f} h in which they can have been; "
                "correct the minutes, or the day and start",
                minutes=minutes + inside,
                hours=hours,
            )
        )


def _refuse_overlap(runs: Sequence[Run], started: datetime, minutes: float) -> None:
    ended = started + timedelta(minutes=minutes)
    for run in runs:
        if run.ended_by is not None:
            continue
        if run.started_at < ended and started < run.started_at + timedelta(minutes=run.minutes):
            raise Refused(
                say(
                    "started at: overlaps the run of {minutes:g} min that is recorded; correct that one or the time",
                    minutes=run.minutes,
                )
            )


def run_choices(workplace: Workplace, canister: int | str) -> RunChoices:
    """What is proposed for a run of the fill in a canister, by its key or serial."""
    with workplace.database.read_session() as session:
        part, _ = canister_of(session, canister)
        fill = standing_fill(session, part.id)
        unit = unit_with_part(session, part.id)
        people = read_people(session.connection())
        tags_by_key = read_unit_tags(session.connection())
        tags = sorted(tags_by_key.values())
        runs = runs_that_count(session, fill.id) if fill is not None else ()
        last = runs[-1] if runs else None
        zone = ZoneInfo(centre_timezone(session.connection()) or "UTC")
        return RunChoices(
            part.id,
            canister=label(part),
            fill=fill_name(fill) if fill is not None else None,
            packed_at=fill.packed_at if fill is not None else None,
            unit=unit.tag if unit is not None else None,
            diver_id=fill.diver_id if fill is not None else None,
            divers=tuple(
                sorted(
                    ((each.person_id, each.name or each.code) for each in people if each.active),
                    key=lambda named: folded_name(named[1]),
                )
            ),
            units=tuple(tags),
            last_run_id=last.id if last is not None else None,
            last_run=entered(last, tags_by_key.get(last.unit_id), zone) if last is not None else None,
        )


def entered(run: Run, unit: str | None, zone: ZoneInfo) -> RunEntry:
    """A recorded run as it would be entered again."""
    return RunEntry(
        minutes=run.minutes,
        clock=run.clock,
        dives=run.dives,
        started_at=run.started_at if run.ended_by is None else None,
        on=known_day(run.started_at, run.ended_by, zone) if run.ended_by is not None else None,
        coldest_c=run.coldest_c,
        deepest_m=run.deepest_m,
        co2_l_min=run.co2_l_min,
        diver_id=run.diver_id,
        line_id=run.booking_unit_id,
        unit=unit,
        seen_at_6m_bar=run.seen_at_6m_bar,
    )
