"""Canisters with what is packed in them, and the absorbent still in its containers."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from fleetbench.calc.canisters.fill import RatingTable, used_share
from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.kinds import GONE
from fleetbench.records.canisters.reads import (
    FillRecord,
    RatingRecord,
    RunRecord,
    read_fills_of,
    read_last_fills,
    read_runs_of,
    read_runs_of_last_fills,
)
from fleetbench.records.core.errors import NotFound
from fleetbench.records.hires.reads import read_promises
from fleetbench.records.parts.reads import FittingRecord, PartRecord, read_fitted, read_parts
from fleetbench.records.readiness.reads import Catalogue, read_catalogue
from fleetbench.records.units.reads import read_unit_tags
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.canisters.absorbent import Absorbent, Left, as_run
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.parts.conditions import root_unit


class FillState(StrEnum):
    """What is in a canister; out: its unit is out, so that nobody knows."""

    EMPTY = "empty"
    FRESH = "fresh"
    IN_USE = "in use"
    SPENT = "spent"
    OUT = "out, use not known"


"""State of a fill whose unit is out: what is left of it is known once the dives are."""


@dataclass(frozen=True, slots=True)
class CanisterRow:
    """One canister and its fill.

    minutes_left: loop minutes at the centre's usual water and depth, at the rated carbon dioxide rate; None without a
    fill. rule, reason: what governs. state: OUT while its unit is out with a
    diver, whose use of the fill nobody has told yet.
    """

    part: PartRecord
    part_type: str
    unit: str | None
    fill: FillRecord | None
    packed_by: str | None
    diver: str | None
    left: Left | None
    state: FillState


@dataclass(frozen=True, slots=True)
class RunLine:
    """One use of a fill, with the share of the fill used up to its end (None without a rated table)."""

    run: RunRecord
    diver: str | None
    loop_minutes: float
    used_after: float | None


@dataclass(frozen=True, slots=True)
class FillStory:
    """One packing with its runs and its end."""

    fill: FillRecord
    packed_by: str | None
    diver: str | None
    used_share: float | None
    loop_minutes: float
    notes: tuple[str, ...]
    runs: tuple[RunLine, ...]


@dataclass(frozen=True, slots=True)
class CanisterPage:
    """One canister with its fills newest first, and the table that rates it."""

    row: CanisterRow
    water_c: float | None
    depth_m: float | None
    fills: tuple[FillStory, ...]
    rating: tuple[RatingRecord, ...]


@dataclass(frozen=True, slots=True)
class _Store:
    """What canisters are looked at against."""

    day: Day
    catalogue: Catalogue
    absorbent: Absorbent
    sits: dict[int, FittingRecord]
    tags: dict[int, str]
    out: frozenset[int]

    def name(self, person_id: int | None) -> str | None:
        return self.catalogue.names.get(person_id) if person_id is not None else None


def list_canisters(workplace: Workplace) -> tuple[CanisterRow, ...]:
    """Every canister in use or in stock, by unit."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        canisters = read_parts(connection, kind="canister")
        catalogue = read_catalogue(connection)
        absorbent = Absorbent(catalogue, read_last_fills(connection), read_runs_of_last_fills(connection))
        sits = {fitting.part_id: fitting for fitting, _ in read_fitted(connection)}
        store = _Store(
            day,
            catalogue=catalogue,
            absorbent=absorbent,
            sits=sits,
            tags=read_unit_tags(connection),
            out=_units_out(connection),
        )
    rows = (_row(store, each) for each in canisters if each.state not in GONE)
    return tuple(sorted(rows, key=lambda row: (row.unit is None, row.unit or "", row.part.label)))


def canister_page(workplace: Workplace, part_id: int) -> CanisterPage:
    """One canister with every fill and its runs; NotFound for a key that is no canister."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        found = read_parts(connection, kind="canister", part_id=part_id)
        if not found:
            raise NotFound(say("canister {part_id}: no canister has this key; look it up with find", part_id=part_id))
        catalogue = read_catalogue(connection)
        fills, runs = read_fills_of(connection, part_id), read_runs_of(connection, part_id)
        absorbent = Absorbent(catalogue, fills[:1], runs)
        sits = {fitting.part_id: fitting for fitting, _ in read_fitted(connection)}
        store = _Store(
            day,
            catalogue=catalogue,
            absorbent=absorbent,
            sits=sits,
            tags=read_unit_tags(connection),
            out=_units_out(connection),
        )
    canister, of_fill = found[0], defaultdict(list)
    for run in runs:
        of_fill[run.fill_id].append(run)
    usual = absorbent.usual_dive()
    return CanisterPage(
        row=_row(store, canister),
        water_c=usual.water_c,
        depth_m=usual.depth_m,
        fills=tuple(_story(store, canister, fill, of_fill[fill.fill_id]) for fill in fills),
        rating=tuple(each for each in catalogue.ratings if each.part_type_id == canister.part_type_id),
    )


def _units_out(connection: Connection) -> frozenset[int]:
    return frozenset(each.unit_id for each in read_promises(connection) if each.out_at is not None)


def _row(store: _Store, canister: PartRecord) -> CanisterRow:
    unit_id = root_unit(store.sits.get(canister.part_id), store.sits)
    fill = store.absorbent.fills.get(canister.part_id)
    if fill is not None and fill.discarded_at is not None:
        fill = None
    left = store.absorbent.left(canister, store.day, None) if fill is not None else None
    spent = left is not None and left.minutes <= 0
    used = FillState.IN_USE if left is not None and left.loop_minutes else FillState.FRESH
    state = FillState.EMPTY if left is None else FillState.SPENT if spent else used
    if left is not None and not spent and unit_id in store.out:
        state = FillState.OUT
    return CanisterRow(
        part=canister,
        part_type=store.catalogue.part_types[canister.part_type_id].name,
        unit=store.tags.get(unit_id) if unit_id is not None else None,
        fill=fill,
        packed_by=store.name(fill.packed_by_id) if fill else None,
        diver=store.name(fill.diver_id) if fill else None,
        left=left,
        state=state,
    )


def _story(store: _Store, canister: PartRecord, fill: FillRecord, runs: list[RunRecord]) -> FillStory:
    table = store.absorbent.table(canister.part_type_id)
    lines = tuple(_run_lines(store, table, fill.grade or "", runs))
    used = used_share(map(as_run, runs), table, fill.grade or "") if table is not None else None
    return FillStory(
        fill=fill,
        packed_by=store.name(fill.packed_by_id),
        diver=store.name(fill.diver_id),
        used_share=used.share if used else None,
        loop_minutes=sum(line.loop_minutes for line in lines),
        notes=used.notes if used else (say("the canister type has no table of rated minutes"),),
        runs=lines,
    )


def _run_lines(store: _Store, table: RatingTable | None, grade: str, runs: Iterable[RunRecord]) -> Iterator[RunLine]:
    before = []
    for run in runs:
        calculated = as_run(run)
        before.append(calculated)
        used = used_share(before, table, grade).share if table is not None else None
        yield RunLine(run, store.name(run.diver_id), calculated.loop_minutes, used)
