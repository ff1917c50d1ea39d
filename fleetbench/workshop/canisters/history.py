"""A canister's story: each fill from packing to bin in one order, the journal about it, and what its label says."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleetbench.calc.canisters.fill import RatedMinutes, RatingTable, is_shared, share_a_minute, used_share
from fleetbench.calc.canisters.fill_clocks import FillClock, discard_by, fill_clocks
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import CELSIUS, GRAM, METRE
from fleetbench.records.canisters.lookups import (
    CorrectionRecord,
    FillEventRecord,
    ScaleRecord,
    read_corrections,
    read_fill_events,
    read_scales,
)
from fleetbench.records.canisters.reads import FillRecord, RunRecord, read_fills_of, read_runs_of
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.journal import EntryRecord, read_journal_about
from fleetbench.records.parts.reads import PartRecord, read_parts
from fleetbench.records.people.reads import read_code
from fleetbench.records.readiness.reads import Catalogue, read_catalogue
from fleetbench.workshop.canisters.absorbent import Absorbent, as_fill, as_run, called
from fleetbench.workshop.canisters.runs import started_words
from fleetbench.workshop.core.workplace import Day, Workplace, day_of


@dataclass(frozen=True, slots=True)
class FillHappening:
    """One thing that happened to a fill; used: share of the fill used up to then, None where nothing is rated.

    run_id: the run that it tells of, None for anything else.
    """

    at: datetime
    what: str
    words: str
    person: str | None
    used: float | None = None
    run_id: int | None = None


@dataclass(frozen=True, slots=True)
class FillTale:
    """One fill from packing to bin, oldest first."""

    fill_id: int
    fill: str
    lines: tuple[FillHappening, ...]
    standing: bool


@dataclass(frozen=True, slots=True)
class CanisterStory:
    """Every fill newest first, the clocks of the one that stands in the canister, and the journal newest first."""

    part_id: int
    canister: str
    fills: tuple[FillTale, ...]
    clocks: tuple[FillClock, ...]
    journal: tuple[tuple[EntryRecord, str | None], ...]


@dataclass(frozen=True, slots=True)
class FillLabel:
    """What the label of a fill says; moments are wall-clock times of the site, None is not recorded.

    discard_by: the earliest end of the clocks that run; hours_after_first_use: the one that begins with the first use.
    shared: for the try sessions of one day under one instructor, where the centre lets their divers share it.
    diver_code: tells divers apart whose names the label's typeface lacks.
    """

    fill: str
    canister: str
    packed_at: datetime
    packed_by: str | None
    mass_g: float | None
    lot: str | None
    grade: str | None
    rated: tuple[RatedMinutes, ...]
    discard_by: datetime | None
    hours_after_first_use: float | None
    diver: str | None
    booking: str | None
    shared: bool = False
    diver_code: str | None = None


@dataclass(frozen=True, slots=True)
class _Shelf:
    """What one canister's fills are told from."""

    day: Day
    canister: PartRecord
    catalogue: Catalogue
    fills: tuple[FillRecord, ...]
    runs: Mapping[int, list[RunRecord]]
    absorbent: Absorbent

    def name(self, person_id: int | None) -> str | None:
        return self.catalogue.names.get(person_id) if person_id is not None else None

    def clocks(self, fill: FillRecord) -> tuple[FillClock, ...]:
        runs = [as_run(run) for run in self.runs.get(fill.fill_id, ())]
        limits = self.absorbent.limits(self.canister.part_type_id)
        return fill_clocks(as_fill(fill), runs, limits, self.day.zone)


def canister_story(workplace: Workplace, part_id: int) -> CanisterStory:
    """The story of one canister; NotFound for a key that is no canister. A fixed number of statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        canister = _canister(read_parts(connection, kind="canister", part_id=part_id), part_id)
        catalogue, fills = read_catalogue(connection), read_fills_of(connection, part_id)
        runs = _by_fill(read_runs_of(connection, part_id))
        events, corrections = read_fill_events(connection, part_id), read_corrections(connection, part_id)
        scales = {each.fill_id: each for each in read_scales(connection, part_id)}
        journal = read_journal_about(connection, f"canister {canister.label}"[:120])
    shelf = _Shelf(
        day,
        canister=canister,
        catalogue=catalogue,
        fills=fills,
        runs=runs,
        absorbent=Absorbent(catalogue, fills[:1], ()),
    )
    tales = tuple(_tale(shelf, fill, events, corrections, scales.get(fill.fill_id)) for fill in fills)
    standing = next((fill for fill in fills if fill.discarded_at is None), None)
    return CanisterStory(
        part_id,
        canister=canister.label,
        fills=tales,
        clocks=shelf.clocks(standing) if standing is not None else (),
        journal=tuple((line, shelf.name(line.person_id)) for line in reversed(journal)),
    )


def fill_label(workplace: Workplace, part_id: int, fill_id: int | None = None) -> FillLabel:
    """The label of a fill of one canister, of the newest where none is named; NotFound where there is none."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        canister = _canister(read_parts(connection, kind="canister", part_id=part_id), part_id)
        catalogue, fills = read_catalogue(connection), read_fills_of(connection, part_id)
        runs = _by_fill(read_runs_of(connection, part_id))
        wanted = next((each for each in fills if fill_id in (None, each.fill_id)), None)
        diver = wanted.diver_id if wanted is not None else None
        code = read_code(connection, diver) if diver is not None else None
    if wanted is None:
        raise NotFound(say("canister {label}: no such fill was packed in it; pack it first", label=canister.label))
    shelf = _Shelf(
        day,
        canister=canister,
        catalogue=catalogue,
        fills=fills,
        runs=runs,
        absorbent=Absorbent(catalogue, (wanted,), ()),
    )
    clocks, limits = shelf.clocks(wanted), shelf.absorbent.limits(canister.part_type_id)
    until = discard_by(clocks)
    return FillLabel(
        called(wanted),
        canister=canister.label,
        packed_at=_local(wanted.packed_at, day),
        packed_by=shelf.name(wanted.packed_by_id),
        mass_g=wanted.mass_g,
        lot=wanted.lot,
        grade=wanted.grade,
        rated=rated_lines(shelf.absorbent.table(canister.part_type_id), wanted.grade, catalogue),
        discard_by=_local(until, day) if until is not None else None,
        hours_after_first_use=limits.hours_since_first_use,
        diver=shelf.name(wanted.diver_id),
        booking=wanted.booking,
        shared=is_shared(as_fill(wanted), limits),
        diver_code=code,
    )


def rated_lines(table: RatingTable | None, grade: str | None, catalogue: Catalogue) -> tuple[RatedMinutes, ...]:
    """The row for the centre's usual water and depth and the worst row of the table; one where they are the same."""
    rows = table.of_grade(grade or "") if table is not None else ()
    if table is None or not rows:
        return ()
    worst = min(rows, key=lambda row: (row.minutes, row.water_c, -row.depth_m))
    chosen: list[RatedMinutes] = []
    centre = catalogue.centre
    if centre is not None:
        usual = share_a_minute(
            table, grade or "", water_c=centre.usual_water_c, depth_m=centre.usual_depth_m, co2_l_min=None
        )
        chosen += [usual[1]] if usual is not None else []
    if worst not in chosen:
        chosen.append(worst)
    return tuple(chosen)


def _canister(found: Sequence[PartRecord], part_id: int) -> PartRecord:
    if not found:
        raise NotFound(say("canister {part_id}: no canister has this key; look it up with find", part_id=part_id))
    return found[0]


def _by_fill(runs: Sequence[RunRecord]) -> Mapping[int, list[RunRecord]]:
    grouped: dict[int, list[RunRecord]] = defaultdict(list)
    for run in runs:
        grouped[run.fill_id].append(run)
    return grouped


def _local(at: datetime, day: Day) -> datetime:
    return at.astimezone(day.zone).replace(tzinfo=None)


def _tale(
    shelf: _Shelf,
    fill: FillRecord,
    events: Sequence[FillEventRecord],
    corrections: Sequence[CorrectionRecord],
    scale: ScaleRecord | None,
) -> FillTale:
    lines = [
        _packed(shelf, fill, scale),
        *_runs(shelf, fill),
        *(_happened(shelf, each) for each in events if each.fill_id == fill.fill_id),
        *(_corrected(shelf, each) for each in corrections if each.fill_id == fill.fill_id),
    ]
    known = {each.kind for each in events if each.fill_id == fill.fill_id}
    # Sheets of a centre's own say when, without an event of ours.
    if fill.closed_up_at is not None and "closed up" not in known:
        lines.append(FillHappening(fill.closed_up_at, "closed up", say("closed up partly used"), None))
    if fill.wetted_at is not None and "flooded" not in known:
        lines.append(FillHappening(fill.wetted_at, "flooded", say("flooded: the fill is spent"), None))
    if fill.discarded_at is not None:
        person = shelf.name(scale.discarded_by_id) if scale is not None else None
        lines.append(
            FillHappening(
                fill.discarded_at,
                "discarded",
                say("discarded: {why}", why=say(fill.why_discarded or "no reason recorded")),
                person,
            )
        )
    lines.sort(key=lambda line: line.at)
    return FillTale(fill.fill_id, called(fill), tuple(lines), fill.discarded_at is None)


def _packed(shelf: _Shelf, fill: FillRecord, scale: ScaleRecord | None) -> FillHappening:
    said = [say("packed") if fill.mass_g is not None else say("packed, not weighed")]
    if fill.mass_g is not None:
        within = f" ± {GRAM.spread(fill.mass_u_g)}" if fill.mass_u_g is not None else ""
        said.append(f"{GRAM.number(fill.mass_g)}{within} {GRAM}")
        if scale is not None and scale.tare_g and scale.filled_g is not None:
            told = say(
                "({filled} filled, {tare} empty)", filled=GRAM.words(scale.filled_g), tare=GRAM.words(scale.tare_g)
            )
            said[-1] = strung(" ", (said[-1], told))
        if scale is not None and scale.scale is not None:
            said[-1] = strung(" ", (said[-1], say("on {scale}", scale=scale.scale)))
    said.append(say("lot {lot}", lot=fill.lot) if fill.lot else say("lot not recorded"))
    looked = {
        True: say("seal, seat, spacer and spring looked at"),
        False: say("seal, seat, spacer and spring not looked at"),
        None: say("seal, seat, spacer and spring not recorded whether looked at"),
    }
    said.append(looked[fill.checked])
    return FillHappening(
        fill.packed_at, what="packed", words=strung(", ", said), person=shelf.name(fill.packed_by_id), used=0.0
    )


def _runs(shelf: _Shelf, fill: FillRecord) -> Iterator[FillHappening]:
    table = shelf.absorbent.table(shelf.canister.part_type_id)
    before = []
    for run in shelf.runs.get(fill.fill_id, ()):
        calculated = as_run(run)
        before.append(calculated)
        used = used_share(before, table, fill.grade or "").share if table is not None else None
        words = _with_start(run, calculated.loop_minutes, shelf)
        yield FillHappening(
            run.started_at, what="run", words=words, person=shelf.name(run.diver_id), used=used, run_id=run.run_id
        )


def _with_start(run: RunRecord, loop_minutes: float, shelf: _Shelf) -> str:
    words = run_words(run, loop_minutes)
    return (
        words
        if run.ended_by is None
        else strung("; ", (words, started_words(run.started_at, run.ended_by, shelf.day.zone)))
    )


def run_words(run: RunRecord, loop_minutes: float) -> str:
    """A run in words: minutes on the loop, unit, coldest water and depth, each said where it is not known."""
    said = [say("{loop_minutes:g} loop minutes in {unit}", loop_minutes=loop_minutes, unit=run.unit)]
    if run.clock == "dive":
        said[0] = strung(" ", (said[0], say("({minutes:g} dive minutes, 10 a dive added)", minutes=run.minutes)))
    said.append(CELSIUS.words(run.coldest_c) if run.coldest_c is not None else say("coldest water not known"))
    said.append(METRE.words(run.deepest_m) if run.deepest_m is not None else say("depth not known"))
    if run.co2_l_min is not None:
        said.append(say("{co2_l_min:g} L/min carbon dioxide", co2_l_min=run.co2_l_min))
    if run.note:
        said.append(run.note)
    return strung(", ", said)


def _happened(shelf: _Shelf, event: FillEventRecord) -> FillHappening:
    words = {
        "given": strung(
            ", ",
            (
                say("for {diver}", diver=shelf.name(event.diver_id) or say("a diver not recorded")),
                *([say("booking {code}", code=event.booking)] if event.booking else ()),
            ),
        ),
        "closed up": say("closed up partly used; no hour is won by it"),
        "flooded": say("flooded: the fill is spent"),
    }[event.kind]
    return FillHappening(
        event.at,
        event.kind,
        strung("", (words, f" ({event.note})")) if event.note else words,
        shelf.name(event.person_id),
    )


def _corrected(shelf: _Shelf, each: CorrectionRecord) -> FillHappening:
    began = started_words(each.started_at, each.ended_by, shelf.day.zone)
    when = say("from {began}", began=began) if each.ended_by is None else f"({began})"
    words = say(
        "run of {minutes:g} min {when} left out of the count: {reason}",
        minutes=each.minutes,
        when=when,
        reason=each.reason,
    )
    return FillHappening(each.at, "corrected", words, shelf.name(each.person_id))
