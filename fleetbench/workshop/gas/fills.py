"""The fill log, typed for one cylinder or a whole row of them, each row one act; gauges read, and gas certified.

check_fills(workplace, entries)                   what a filler is told, nothing is written
record_fills(workplace, entries, confirmed=...)   the keys of the fills; refused whole where a stop stands
correct_fill(workplace, fill_id, entry)           an entry corrected within ten minutes
record_pressures(workplace, bars)                 what gauges show between fills, for instance on return
enter_certificate(workplace, ...)                 a supplier's certificate of a batch
"""

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.plausible import CYLINDER_PRESSURE, CYLINDER_TEMPERATURE, kept_figures
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.gas.cylinders import CylinderFinding, FillingFact, analysed_mixture, check_filling
from fleetbench.calc.gas.real import Mixture
from fleetbench.calc.parts.kinds import PartState
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.reads import CertificateRecord, cylinder_of, fill_superseded, read_gas
from fleetbench.records.gas.tables import CylinderFill, CylinderReading, GasCertificate, GasCertificateLine
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import read_parts
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.reads import read_limits
from fleetbench.records.upkeep.lookups import open_holds
from fleetbench.workshop.core.workplace import (
    Day,
    Workplace,
    day_of,
    figure,
    measured,
    measured_or_none,
    one_word,
    require_person,
    required,
)
from fleetbench.workshop.gas.state import CylinderBook, tests_last
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.parts.lives import LifeBook, book_of
from fleetbench.workshop.turn_rounds.ticks import tick_gauges

LONGEST_WORDS = 60
TYPED_LATER = timedelta(days=7)
"""How long after it was made a fill may still be typed in: common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillEntry:
    """One fill as typed: gas asked for in percent, gauge pressures in bar, None not read.

    temperature_c: of the cylinder when end_bar was read. batch: of the gas, or its bank. machine: compressor, booster.
    oxygen_compatible: whether the air or gas was; None not known.
    """

    part_id: int
    oxygen_percent: float
    helium_percent: float = 0.0
    start_bar: float | None = None
    end_bar: float | None = None
    temperature_c: float | None = None
    batch: str | None = None
    machine: str | None = None
    oxygen_compatible: bool | None = None


@dataclass(frozen=True, slots=True)
class EntryFindings:
    """What is against one entry of a row; empty where nothing is."""

    part_id: int
    cylinder: str
    findings: tuple[CylinderFinding, ...]

    @property
    def stops(self) -> tuple[CylinderFinding, ...]:
        """What is refused."""
        return tuple(each for each in self.findings if each.result is Result.STOP)

    @property
    def asks(self) -> tuple[CylinderFinding, ...]:
        """What is asked about once."""
        return tuple(each for each in self.findings if each.result is Result.ADVISE)

    def lines(self) -> tuple[str, ...]:
        """Each finding in one line that names the cylinder, the field and the remedy."""
        return tuple(_in_words(self.cylinder, each) for each in self.findings)


def check_fills(workplace: Workplace, entries: Sequence[FillEntry]) -> tuple[EntryFindings, ...]:
    """What is against each entry, in their order; nothing is written. Refused for figures that no fill has."""
    _rows(entries)
    day = day_of(workplace)
    with workplace.database.read_session() as session:
        return _against(Transaction(session, day.now, workplace.person_id, "look", ""), day, entries)


def record_fills(
    workplace: Workplace,
    entries: Sequence[FillEntry],
    *,
    confirmed: AbstractSet[int] = frozenset(),
    at: datetime | None = None,
) -> tuple[int, ...]:
    """The keys of the fills, all written in one act, or none where something is against one of them.

    confirmed: keys of cylinders whose advice was read and is kept. at: when they were filled, now where None; up to
    seven days ago. Refused with every finding in words.
    """
    require_person(workplace)
    _rows(entries)
    day = day_of(workplace)
    with workplace.transaction("fill cylinders", about(entries[0].part_id, len(entries))) as act:
        moment = _filled_at(at, act.at)
        against = _against(act, day, entries)
        refusals = [
            _in_words(each.cylinder, found)
            for each in against
            for found in (*each.stops, *(() if each.part_id in confirmed else each.asks))
        ]
        if refusals:
            raise Refused(strung("; ", refusals))
        rows = [
            _fill_row(entry, moment, workplace.person_id, found) for entry, found in zip(entries, against, strict=True)
        ]
        return tuple(act.add(row).id for row in rows)


def correct_fill(
    workplace: Workplace, fill_id: int, entry: FillEntry, *, confirmed: bool = False, reason: str = "typing"
) -> int:
    """The key of the fill that takes another's place within ten minutes; the moment of filling stays."""
    require_person(workplace)
    _rows((entry,))
    day = day_of(workplace)
    with workplace.transaction("correct fill", f"fill {fill_id}") as act:
        earlier = act.get(CylinderFill, fill_id, "fill")
        if earlier.part_id != entry.part_id:
            raise Refused(say("fill: the one to correct is of another cylinder; record a new one"))
        if fill_superseded(act.session, fill_id):
            raise Refused(say("fill: was corrected already; look again"))
        if act.at - earlier.at > CORRECTED_WITHIN:
            raise Refused(say("fill: is older than ten minutes; analyse the gas, or record a new fill"))
        found = _against(act, day, (entry,))[0]
        told = (*found.stops, *(() if confirmed else found.asks))
        if told:
            raise Refused(
                strung(
                    "; ", (strung("; ", (strung(": ", (say(each.field), each.words)), each.remedy)) for each in told)
                )
            )
        row = _fill_row(entry, earlier.at, workplace.person_id, found)
        row.supersedes_id, row.supersedes_reason = fill_id, required("reason", reason)[:120]
        return act.add(row).id


def record_pressures(
    workplace: Workplace, bars: Mapping[int, float], *, temperature_c: float | None = None
) -> tuple[int, ...]:
    """The keys of gauge readings, by part in bar, all in one act; for instance when a unit comes back."""
    require_person(workplace)
    if not bars:
        raise Refused(say("pressures: none given; read at least one gauge"))
    measured_or_none(CYLINDER_TEMPERATURE, temperature_c)
    for bar in bars.values():
        measured(CYLINDER_PRESSURE, bar)
    with workplace.transaction("read gauges", f"{len(bars)} cylinders") as act:
        for part_id in bars:
            cylinder(act, part_id)
        written = tuple(
            act.add(
                CylinderReading(
                    part_id=key, at=act.at, bar=bar, temperature_c=temperature_c, person_id=workplace.person_id
                )
            ).id
            for key, bar in bars.items()
        )
        tick_gauges(act, bars)
        return written


def enter_certificate(
    workplace: Workplace,
    *,
    batch: str,
    gas: str,
    issued_on: date,
    values: Mapping[str, float],
    supplier: str | None = None,
) -> tuple[CylinderFinding, ...]:
    """What the certificate of a batch says line by line; it is kept, whatever it says.

    gas: oxygen or air. values: in the lines' units. Refused naming a line that the specification does not know.
    """
    require_person(workplace)
    one_word("gas", gas, ("oxygen", "air"))
    mark, day = required("batch", batch)[:LONGEST_WORDS], day_of(workplace)
    if issued_on > day.today:
        raise Refused(say("issued on: {issued_on} lies ahead; look at the certificate", issued_on=issued_on))
    if not values:
        raise Refused(say("values: none given; enter what the certificate states"))
    with workplace.transaction("enter gas certificate", f"batch {mark}") as act:
        read = CertificateRecord(
            0, batch=mark, gas=gas, supplier=supplier, issued_on=issued_on, values=tuple(values.items())
        )
        try:
            findings = gas_book(act, day, ()).certificate_findings(read)
        except ValueError as fault:
            raise Refused(str(fault)) from fault
        row = act.add(
            GasCertificate(
                batch=mark, gas=gas, supplier=(supplier or "").strip()[:120] or None, issued_on=issued_on, at=act.at,
                person_id=workplace.person_id,
            )
        )  # fmt: skip
        for what, value in values.items():
            act.add(GasCertificateLine(gas_certificate_id=row.id, what=what, value=value))
    return findings


def _rows(entries: Sequence[FillEntry]) -> None:
    if not entries:
        raise Refused(say("fills: none given; type at least one"))
    keys = [each.part_id for each in entries]
    doubled = next((key for key in keys if keys.count(key) > 1), None)
    if doubled is not None:
        raise Refused(say("cylinder part {doubled}: stands twice in this row; fill it once", doubled=doubled))
    for each in entries:
        asked_mixture(each)
        measured_or_none(CYLINDER_PRESSURE, each.start_bar, "start")
        measured_or_none(CYLINDER_PRESSURE, each.end_bar, "end")
        measured_or_none(CYLINDER_TEMPERATURE, each.temperature_c)


def asked_mixture(entry: FillEntry) -> Mixture:
    """The gas that was asked for; Refused for oxygen and helium over 100 % together."""
    figure("oxygen", entry.oxygen_percent, 0, 100, "enter percent")
    figure("helium", entry.helium_percent, 0, 100, "enter percent")
    try:
        return analysed_mixture(entry.oxygen_percent, entry.helium_percent)
    except ValueError as fault:
        words = say(
            "helium: oxygen {oxygen:g} % and helium {helium:g} % are over 100 % together; look at both",
            oxygen=entry.oxygen_percent,
            helium=entry.helium_percent,
        )
        raise Refused(words) from fault


def _filled_at(at: datetime | None, now: datetime) -> datetime:
    if at is None:
        return now
    if at > now:
        raise Refused(say("filled at: lies ahead; look at the hour"))
    if now - at > TYPED_LATER:
        raise Refused(say("filled at: is more than seven days ago; import it from a file"))
    return at


def _fill_row(entry: FillEntry, at: datetime, person_id: int | None, found: EntryFindings) -> CylinderFill:
    kept = [in_row(f"kept although {each.words}") for each in found.asks]
    unusual = kept_figures((CYLINDER_TEMPERATURE, entry.temperature_c, None, None))
    return CylinderFill(
        part_id=entry.part_id, at=at, oxygen_asked=entry.oxygen_percent, helium_asked=entry.helium_percent,
        start_bar=entry.start_bar, end_bar=entry.end_bar, person_id=person_id, batch=_short(entry.batch),
        machine=_short(entry.machine), temperature_c=entry.temperature_c, oxygen_compatible=entry.oxygen_compatible,
        note="; ".join(filter(None, (*kept, unusual)))[:300] or None,
    )  # fmt: skip


def _short(words: str | None) -> str | None:
    return (words or "").strip()[:LONGEST_WORDS] or None


def about(part_id: int, count: int) -> str:
    """What the journal says a row of cylinders is about."""
    return f"{count} cylinders" if count > 1 else f"part {part_id}"


def cylinder(act: Transaction, part_id: int) -> Part:
    """The part, which must be recorded as a cylinder; Refused otherwise."""
    part = act.get(Part, part_id, say("part {key}", key=part_id))
    if cylinder_of(act.session, part_id) is None:
        remedy = say("enter its role, size and working pressure {door}", door=door("cylinder"))
        raise Refused(say("part {label}: is not recorded as a cylinder; {remedy}", label=label(part), remedy=remedy))
    return part


def gas_book(act: Transaction, day: Day, part_ids: Sequence[int]) -> CylinderBook:
    """What is known of these cylinders inside an act."""
    connection = act.session.connection()
    return CylinderBook(read_gas(connection, tuple(part_ids)), day.zone, read_limits(connection))


def _against(act: Transaction, day: Day, entries: Sequence[FillEntry]) -> tuple[EntryFindings, ...]:
    keys = tuple(each.part_id for each in entries)
    for key in keys:
        cylinder(act, key)
    book = gas_book(act, day, keys)
    lives = book_of(read_life_records(act.session.connection(), keys), day)
    return tuple(_entry_findings(act, day, each, book, lives) for each in entries)


def _in_test_until(act: Transaction, lives: LifeBook, part_id: int) -> date | None:
    """The earlier last good day of a cylinder's tests, None where one is not known or none is asked for."""
    part = next(iter(read_parts(act.session.connection(), part_id=part_id)), None)
    return tests_last(lives.last_good_days(part)) if part is not None else None


def _entry_findings(act: Transaction, day: Day, entry: FillEntry, book: CylinderBook, lives: LifeBook) -> EntryFindings:
    part = act.get(Part, entry.part_id, "cylinder")
    state = book.states[entry.part_id]
    fact = FillingFact(
        role=state.facts.role,
        asked=asked_mixture(entry),
        start_bar=entry.start_bar,
        end_bar=entry.end_bar,
        working_bar=state.facts.working_bar,
        test_last_good_day=_in_test_until(act, lives, entry.part_id),
        clean=state.clean.clean,
        clean_words=state.clean.words,
        oxygen_compatible=entry.oxygen_compatible,
        temperature_c=entry.temperature_c,
        against_batch=book.against_batch(_short(entry.batch)),
    )
    held = [hold.reason for hold in open_holds(act.session, part_id=part.id)]
    found = [*_not_usable(part, held), *check_filling(fact, on=day.today)]
    return EntryFindings(entry.part_id, label(part), tuple(found))


def _not_usable(part: Part, held: Iterable[str]) -> Iterable[CylinderFinding]:
    if part.state not in (PartState.STOCK, PartState.FITTED):
        yield CylinderFinding("cylinder", Result.STOP, say("is {state}", state=say(part.state)), say("do not fill it"))
    for reason in held:
        yield CylinderFinding("hold", Result.STOP, reason, say("clear its cause, then lift the hold"))


def _in_words(cylinder: str, found: CylinderFinding) -> str:
    return strung("; ", (strung(": ", (cylinder, say(found.field), found.words)), found.remedy))
