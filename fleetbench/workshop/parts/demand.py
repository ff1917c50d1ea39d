"""The need of parts: what falls due, what fails as such parts failed before, and what open tickets take."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import median

from fleetbench.calc.core.languages import strung
from fleetbench.calc.parts.demand import Life, Need, Position, expected_need, failure_model
from fleetbench.calc.parts.life import LifeLimit, LimitBasis, LimitUnit
from fleetbench.records.parts import lives as reads
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import PartRecord, read_parts
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.units.reads import read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.due.list import DueItem, list_due
from fleetbench.workshop.parts.lives import limits_by_type
from fleetbench.workshop.units.use import DEEPEST_NESTING

HORIZON_DAYS = 90

FAILED = frozenset(("low output", "fault", "other"))
"""Why a part came out that failed before its time. Taken out for age, service, to be moved or as the wrong one, it
did not."""

DAYS_A_MONTH = 30.4


@dataclass(frozen=True, slots=True)
class DemandForecast:
    """What a part type is expected to need. reserved: by open tickets; undated: fitted parts of unknown last good day;
    words: what the failures rest on."""

    need: Need
    reserved: int
    undated: int
    words: str


def no_need(horizon_days: int) -> DemandForecast:
    """The forecast of a part type of which nothing sits in any unit."""
    model = failure_model(())
    return DemandForecast(expected_need((), model, horizon_days), 0, 0, model.words)


def forecast_need(
    workplace: Workplace, *, horizon_days: int = HORIZON_DAYS, on: date | None = None
) -> dict[int, DemandForecast]:
    """The expected need of every part type that is fitted or was used up, from due days and failures."""
    day = day_of(workplace, on)
    due = list_due(workplace, within_days=horizon_days, on=on)
    with workplace.database.reading() as connection:
        services = reads.read_services(connection)
        units = {unit.unit_id: unit for unit in read_units(connection)}
        tasks = reads.read_open_tasks(connection)
        year_ago = day.midnight(day.today - timedelta(days=365))
        used_up = reads.read_used_up(connection, year_ago)
        lives = read_life_records(connection)
        ages = ages_on_arrival(read_parts(connection))
    limits = limits_by_type(lives.limits)
    retired = {key for key, unit in units.items() if unit.retired_on is not None and unit.retired_on <= day.today}
    book = _Services(services, day, retired)
    taken = _taken_by_tickets(tasks, due, book)
    ends = _ends(due)
    found = {}
    for key in {*book.fitted, *used_up}:
        positions, undated = [], 0
        for part_id in book.fitted.get(key, ()):
            end = -1 if part_id in taken else ends.get(part_id, (None, False))[0]
            undated += part_id in ends and ends[part_id][1] and end is None
            positions.append(Position(book.served_days(part_id), end, book.lots.get(part_id)))
        model = failure_model(book.lives.get(key, ()), by_lot=book.lives_by_lot.get(key))
        life = _life_days(limits.get(key, ()), ages.get(key))
        steady = used_up.get(key, 0) / 365
        need = expected_need(positions, model, horizon_days, life_days=life, steady=steady)
        reserved = sum(part_id in taken for part_id in book.fitted.get(key, ()))
        found[key] = DemandForecast(need, reserved, undated, model.words)
    return found


def watched_lives(
    connection: Connection, day: Day
) -> tuple[Mapping[int, list[Life]], Mapping[int, Mapping[Hashable, list[Life]]]]:
    """Every watched life by part type, and by part type and lot; two statements."""
    units = read_units(connection)
    retired = {each.unit_id for each in units if each.retired_on is not None and each.retired_on <= day.today}
    book = _Services(reads.read_services(connection), day, retired)
    return book.lives, book.lives_by_lot


class _Services:
    """How long each part served and how it ended; parts of retired units are watched only until they were retired."""

    def __init__(self, services: Iterable[reads.ServiceRecord], day: Day, retired: set[int]) -> None:
        self._day = day
        self._of_part: dict[int, list[reads.ServiceRecord]] = defaultdict(list)
        for each in services:
            self._of_part[each.part_id].append(each)
        ended = [each.removed_at for listed in self._of_part.values() for each in listed if each.removed_at]
        # What failed before anybody recorded it is not in the records: parts count from then, not from their fitting.
        self._began = min(ended, default=day.now)
        self.fitted: dict[int, list[int]] = defaultdict(list)
        self.seats: dict[int, tuple[int, str]] = {}
        self.lots: dict[int, str] = {}
        self.lives: dict[int, list[Life]] = defaultdict(list)
        self.lives_by_lot: dict[int, dict[Hashable, list[Life]]] = defaultdict(lambda: defaultdict(list))
        for part_id, listed in self._of_part.items():
            self._take(part_id, listed, retired)

    def served_days(self, part_id: int) -> float:
        """Days that a part served in all its fittings until now."""
        return sum(self._days(each) for each in self._of_part[part_id])

    def _take(self, part_id: int, listed: list[reads.ServiceRecord], retired: set[int]) -> None:
        last = listed[-1]
        key, lot = last.part_type_id, last.lot
        if lot:
            self.lots[part_id] = lot
        seat = self._seat(part_id)
        if last.removed_at is None and seat is not None and seat[0] not in retired:
            self.fitted[key].append(part_id)
            self.seats[part_id] = seat
        if last.removed_at is not None and last.removed_at < self._began:
            return
        days = self.served_days(part_id)
        entered = sum(self._days(each, until=self._began) for each in listed)
        life = Life(days, last.why_removed in FAILED, min(entered, days))
        self.lives[key].append(life)
        if lot:
            self.lives_by_lot[key][lot].append(life)

    def _seat(self, part_id: int) -> tuple[int, str] | None:
        """The unit in which a part sits now and the name of its own slot."""
        current, slot, depth = part_id, "", DEEPEST_NESTING
        while depth:
            listed = self._of_part.get(current)
            if not listed or listed[-1].removed_at is not None:
                return None
            slot = slot or listed[-1].slot
            unit_id, host = listed[-1].unit_id, listed[-1].host_part_id
            if unit_id is not None:
                return unit_id, slot
            if host is None:
                return None
            current, depth = host, depth - 1
        return None

    def _days(self, each: reads.ServiceRecord, until: datetime | None = None) -> float:
        end = min(each.removed_at or self._day.now, until or self._day.now, self._day.now)
        return max(0.0, (end - each.fitted_at).total_seconds() / 86_400)


def _taken_by_tickets(
    tasks: Iterable[reads.OpenTaskRecord], due: Iterable[DueItem], book: "_Services"
) -> dict[int, int]:
    """Fitted parts that open tickets will replace, with the ticket's key.

    A task that is not done and begins with `replace` takes the slots it names; `all cells` takes every one, and
    'what runs out' what is past or rejected in the unit.
    """
    words: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for task in tasks:
        if task.text.casefold().startswith("replace"):
            words[task.unit_id].append((task.text.casefold(), task.ticket_id))
    past = {item.part_id for item in due if item.days_left is not None and item.days_left < 0 and _is_replaced(item)}
    taken: dict[int, int] = {}
    for part_id, (unit_id, slot) in book.seats.items():
        for text, ticket_id in words.get(unit_id, ()):
            name = slot.casefold()
            if _names(text, name) or ("what runs out" in text and part_id in past):
                taken.setdefault(part_id, ticket_id)
    return taken


@dataclass(frozen=True, slots=True)
class Reservation:
    """A piece that an open ticket will take from the shelf, for which unit and slot, in place of which part."""

    part_type_id: int
    ticket: str
    unit: str
    slot: str
    part_id: int

    @property
    def words(self) -> str:
        """'2026-012: B-03, cell 1'."""
        return strung("", (self.ticket, ": ", self.unit, ", ", self.slot))


def list_reservations(workplace: Workplace) -> tuple[Reservation, ...]:
    """Every piece that open tickets reserve, by ticket, unit and slot; a fixed number of statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        tasks = [each for each in reads.read_open_tasks(connection) if each.text.casefold().startswith("replace")]
        if not tasks:
            return ()
        services, units = reads.read_services(connection), {unit.unit_id: unit for unit in read_units(connection)}
        numbers = read_ticket_numbers(connection)
        types = {part.part_id: part.part_type_id for part in read_parts(connection, states=("fitted",))}
    retired = {key for key, unit in units.items() if unit.retired_on is not None and unit.retired_on <= day.today}
    book, tags = _Services(services, day, retired), {key: unit.tag for key, unit in units.items()}
    taken = _taken_by_tickets(tasks, list_due(workplace, within_days=-1), book)
    found = (
        Reservation(types[part_id], ticket=numbers[ticket_id], unit=tags[unit_id], slot=slot, part_id=part_id)
        for part_id, ticket_id in taken.items()
        for unit_id, slot in (book.seats[part_id],)
    )
    return tuple(sorted(found, key=lambda each: (each.ticket, each.unit, each.slot)))


def _names(text: str, slot: str) -> bool:
    """Whether a task's words name a slot whole: `cell 1` is not in `cell 12`; `all cells` names each cell."""
    place = text.find(slot)
    whole = place >= 0 and not text[place + len(slot) : place + len(slot) + 1].isalnum()
    return whole or (slot.startswith("cell ") and "all cells" in text)


def _is_replaced(item: DueItem) -> bool:
    return item.item == "replace" and item.part_id is not None


def _ends(due: Iterable[DueItem]) -> dict[int, tuple[int | None, bool]]:
    """Days left of each part that is to be replaced, the fewest of its items, and whether one is not known."""
    found: dict[int, tuple[int | None, bool]] = {}
    for item in due:
        if not _is_replaced(item) or item.part_id is None:
            continue
        left, unknown = found.get(item.part_id, (None, False))
        if item.days_left is None:
            found[item.part_id] = left, True
        else:
            found[item.part_id] = min(item.days_left, left if left is not None else item.days_left), unknown
    return found


def ages_on_arrival(parts: Iterable[PartRecord]) -> dict[int, int]:
    """Usual days from made to received of each part type."""
    ages: dict[int, list[int]] = defaultdict(list)
    for part in parts:
        if part.made_on is not None and part.received_on is not None:
            ages[part.part_type_id].append((part.received_on - part.made_on).days)
    return {key: int(median(listed)) for key, listed in ages.items()}


def in_days(limit: LifeLimit) -> int:
    """A life in whole days, a month taken as its mean length."""
    return int(limit.amount * (DAYS_A_MONTH if limit.unit is LimitUnit.MONTHS else 1))


def _life_days(limits: Iterable[LifeLimit], age: int | None) -> int | None:
    """How long a newly bought part may serve by its calendar limits, None where none ends it."""
    found = [in_days(each) for each in limits if each.basis in (LimitBasis.FITTED, LimitBasis.OPENED)]
    found += [in_days(each) - (age or 0) for each in limits if each.basis is LimitBasis.MADE]
    return max(1, min(found)) if found else None
