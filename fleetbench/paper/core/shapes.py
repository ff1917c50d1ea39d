"""What the printed pages hold, as plain values. None means 'not known' and is printed as 'not recorded'.

Moments are wall-clock times of the site. Dates are calendar dates, or text where only a month or quarter is marked.
"""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.workshop.units.schematic import Schematic

MarkedDay = date | str


@dataclass(frozen=True, slots=True)
class Letterhead:
    """What every page says of itself.

    printed_at: the moment of printing, as text with its zone, passed in so that the same data prints the same bytes.
    journal_entry, journal_hash: last entry of the journal at that moment, which `verify --head` compares.
    """

    centre: str
    printed_at: str
    telephone: str | None = None
    printed_by: str | None = None
    journal_entry: int | None = None
    journal_hash: str | None = None


@dataclass(frozen=True, slots=True)
class DueLine:
    """One due item. uid: stable name of the item, kept from one export to the next; days_left counts the last day."""

    uid: str
    unit: str | None
    slot: str | None
    part_type: str | None
    part: str | None
    item: str
    last_good_day: date | None
    basis: str | None
    days_left: int | None
    state: str
    projected: bool = False
    place: str | None = None
    first_hit: str | None = None


@dataclass(frozen=True, slots=True)
class FetchLine:
    """Parts of one type to fetch from the shelf: what is wanted, what to take (oldest usable first), what is short."""

    part_type: str
    wanted: float
    take: tuple[str, ...]
    place: str | None
    short: float
    counted_in: str = "piece"


@dataclass(frozen=True, slots=True)
class DuePageFacts:
    """The due list from one day through another. grouped_by: 'day', 'unit', 'part type' or 'place'."""

    letterhead: Letterhead
    record: str
    on: date
    through: date
    lines: tuple[DueLine, ...]
    grouped_by: str = "day"
    fetch: tuple[FetchLine, ...] | None = None


@dataclass(frozen=True, slots=True)
class CellReading:
    """What one handset showed of one cell. shows: 'mV', 'pO2' (then the figures are bar) or 'nothing'."""

    air: float | None
    oxygen: float | None
    shows: str = "mV"


@dataclass(frozen=True, slots=True)
class CellLine:
    """One cell with its latest outcome; readings stand in the order of the handsets. linearity, expanded_u: percent.

    serial: None is not recorded; '' for every cell leaves the column out.
    """

    position: str
    serial: str | None
    lot: str | None
    last_good_day: date | None
    readings: tuple[CellReading, ...]
    linearity_percent: float | None
    expanded_u_percent: float | None
    verified_up_to_bar: float | None
    verdict: str | None
    finding: str | None = None


@dataclass(frozen=True, slots=True)
class CalibrationBlock:
    """One calibration: when, by whom, in which conditions, and a line a cell. when: for instance 'before'."""

    handsets: tuple[str, ...]
    cells: tuple[CellLine, ...]
    at: datetime | None
    by: str | None
    record: str | None = None
    when: str | None = None
    made: str = "workshop"
    pressure_mbar: float | None = None
    temperature_c: float | None = None
    humidity_percent: float | None = None
    oxygen_percent: float | None = None


@dataclass(frozen=True, slots=True)
class TestLine:
    """One bench test: a held-or-fell test has `held` and minutes, a measured one a value with its unit and U (k = 2).

    finding: the ground of its answer, with the limit that was in force and its source.
    """

    __test__ = False

    name: str
    at: datetime | None
    by: str | None
    result: str | None
    direction: str | None = None
    held: bool | None = None
    watched_minutes: float | None = None
    value: float | None = None
    unit: str | None = None
    supply_bar: float | None = None
    equipment: str | None = None
    note: str | None = None
    record: str | None = None
    expanded_u: float | None = None
    finding: str | None = None


@dataclass(frozen=True, slots=True)
class FindingLine:
    """Something seen under a ticket, in somebody's own words."""

    at: datetime | None
    by: str | None
    text: str


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One task of a ticket: 'to do', 'done' or 'put off' with its reason; missing: the record it needs and lacks."""

    ordinal: int
    text: str
    critical: bool
    state: str
    minutes: float | None = None
    settled_at: datetime | None = None
    by: str | None = None
    put_off_reason: str | None = None
    times_put_off: int = 0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartMove:
    """A part that came out of a slot or went into one."""

    slot: str
    part_type: str
    serial: str | None
    lot: str | None
    at: datetime | None
    by: str | None
    why_removed: str | None = None


@dataclass(frozen=True, slots=True)
class PhotographFact:
    """A photograph: JPEG bytes (None where the file is missing or was changed), caption, and the file's SHA-256."""

    data: bytes | None
    wide: int
    high: int
    caption: str
    at: datetime | None
    by: str | None
    sha256: str


@dataclass(frozen=True, slots=True)
class TicketFacts:
    """A service ticket from opening to sign-off. number: as people say it, for instance 'KB-2026-0042'.

    signed_in: the journal entry that holds the signature, with its hash, in words. schematic: loop and gas sides of
    the unit with their states at the moment of printing. worked: minutes by person. put_right_by: later tickets that
    refer to this one. not_counted: tasks of the service plan that stay due though it is signed, in words.
    """

    letterhead: Letterhead
    number: str
    unit: str
    unit_type: str | None
    unit_serial: str | None
    cause: str
    reason: str
    critical: bool
    opened_at: datetime | None
    opened_by: str | None
    minutes: float | None
    signed_at: datetime | None
    signed_by: str | None
    second_person: str | None = None
    refers_to: str | None = None
    findings: tuple[FindingLine, ...] = ()
    tasks: tuple[TaskLine, ...] = ()
    calibrations: tuple[CalibrationBlock, ...] = ()
    tests: tuple[TestLine, ...] = ()
    parts_out: tuple[PartMove, ...] = ()
    parts_in: tuple[PartMove, ...] = ()
    openings: tuple[str, ...] = ()
    disinfections: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    signed_in: str | None = None
    schematic: Schematic | None = None
    worked: tuple[tuple[str, float], ...] = ()
    photographs: tuple[PhotographFact, ...] = ()
    put_right_by: tuple[str, ...] = ()
    not_counted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HandsetLine:
    """One handset that goes along."""

    name: str
    serial: str | None
    firmware: str | None


@dataclass(frozen=True, slots=True)
class FillFacts:
    """The packed canister that goes along. rated: minutes with their conditions in words; never minutes left."""

    number: str | None
    canister: str | None
    absorbent: str | None
    mass_g: float | None
    packed_at: datetime | None
    packed_by: str | None
    discard_by: datetime | None
    rated: str | None = None
    plan: str | None = None
    against: str = ""


@dataclass(frozen=True, slots=True)
class CylinderLine:
    """One cylinder. maximum_depth_m: as worked out from the analysis; gas_density_g_l at that depth.

    dense_at_m: depths at which the gas reaches 5.2 and 6.2 g/L, None not known.

    stale: it was filled after its last analysis, so that its figures say nothing of what is in it now.
    """

    role: str
    serial: str | None
    bar: float | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_at: datetime | None
    analysed_by: str | None
    hydrostatic: MarkedDay | None
    visual: MarkedDay | None
    test_last_good_day: date | None
    maximum_depth_m: float | None
    size_l: float | None = None
    gas_density_g_l: float | None = None
    stale: bool = False
    dense_at_m: tuple[float | None, float | None] = (None, None)
    limit_bar: float | None = None


@dataclass(frozen=True, slots=True)
class RegulatorLine:
    """A regulator or first stage that goes along, in its slot, and its last good day, None not known."""

    slot: str
    serial: str
    last_good_day: date | None


@dataclass(frozen=True, slots=True)
class BatteryLine:
    """The battery of one device with its last reading."""

    device: str
    volts: float | None
    read_at: datetime | None
    fitted_on: date | None = None


@dataclass(frozen=True, slots=True)
class AccessoryLine:
    """A thing that goes along, counted."""

    name: str
    count: int | None


@dataclass(frozen=True, slots=True)
class Remark:
    """A known fault, or an advise that was accepted. see: the ticket or record that holds the whole of it."""

    text: str
    see: str | None = None


@dataclass(frozen=True, slots=True)
class SignatureFacts:
    """A signature under the sheet: party `diver` or `centre`, when; strokes as points in a box of 1000 by 300.

    No strokes: signed on paper, or the drawing was erased. of_other_days: the dates were changed since.
    """

    party: str
    at: datetime
    strokes: tuple[tuple[tuple[int, int], ...], ...] = ()
    of_other_days: bool = False


@dataclass(frozen=True, slots=True)
class HandoverFacts:
    """One renter's page. kind: 'assembled', 'kit' or 'not for diving'.

    stops: why the unit is on hold, in sentences; with one of them the page says before anything else that the unit is
    not to go out for diving. schematic: loop and gas sides with their states; also_do: what the diver does besides the
    usual, in sentences.
    """

    letterhead: Letterhead
    record: str
    kind: str
    renter: str | None
    starts_on: date | None
    ends_on: date | None
    return_by: str | None
    unit: str
    unit_type: str | None
    unit_serial: str | None
    head_serial: str | None
    handsets: tuple[HandsetLine, ...]
    set_point_low_bar: float | None
    set_point_high_bar: float | None
    calibration: CalibrationBlock | None
    fill: FillFacts | None
    cylinders: tuple[CylinderLine, ...]
    batteries: tuple[BatteryLine, ...]
    tests: tuple[TestLine, ...]
    disinfected_at: datetime | None
    dry_at: datetime | None
    accessories: tuple[AccessoryLine, ...]
    remarks: tuple[Remark, ...]
    booking: str | None = None
    harness: str | None = None
    handed_over_by: str | None = None
    schematic: Schematic | None = None
    also_do: tuple[str, ...] = ()
    stops: tuple[str, ...] = ()
    deposit: float | None = None
    regulators: tuple[RegulatorLine, ...] = ()
    absorbent_kg: float | None = None
    signatures: tuple[SignatureFacts, ...] = ()
    handed_over_at: datetime | None = None
    spare: bool = False
    planned_depth_m: float | None = None
    planned_minutes: float | None = None


@dataclass(frozen=True, slots=True)
class UnitForm:
    """A form for one unit to be filled in by hand; no unit is a wholly blank one, for a day without power.

    cells, handsets: names of the positions and handsets, for the grid of the daily log.
    """

    letterhead: Letterhead
    record: str
    unit: str | None = None
    unit_type: str | None = None
    booking: str | None = None
    first_day: date | None = None
    cells: tuple[str, ...] = ("cell 1", "cell 2", "cell 3")
    handsets: tuple[str, ...] = ("handset 1", "handset 2")


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One unit on the board, all in words; why: what stops it, or what is to do."""

    unit: str
    who: str
    leaves: str
    harness: str
    state: str
    why: str


@dataclass(frozen=True, slots=True)
class CourseBoard:
    """The board of one course or booking; without: who has no unit yet."""

    letterhead: Letterhead
    code: str
    kind: str
    unit_type: str | None
    instructor: str | None
    starts_on: date
    ends_on: date
    wanted: int
    spares: int
    minutes: float | None
    depth_m: float | None
    rows: tuple[BoardRow, ...]
    without: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReturnReceipt:
    """The receipt of one return; accessories: name, how many went along and came back, None not counted."""

    letterhead: Letterhead
    record: str
    unit: str
    booking: str
    renter: str | None
    starts_on: date
    ends_on: date
    received_at: datetime
    received_by: str | None
    days_late: int
    deposit: float | None
    deposit_back: float | None
    loop_minutes: float | None
    dives: int | None
    damaged: bool | None
    missing: str | None
    accessories: tuple[tuple[str, int, int | None], ...] = ()


@dataclass(frozen=True, slots=True)
class FillLabelFacts:
    """The label of one packed canister. rated: minutes with their conditions in words; minutes left have no place.

    hours_after_first_use: the limit that begins with the first breath on it, which no date printed today can hold.
    shared: packed for the try sessions of one day under one instructor, whose divers may share it.
    """

    centre: str
    record: str
    canister: str | None
    packed_at: datetime | None
    packed_by: str | None
    mass_g: float | None
    lot: str | None
    rated: str | None
    discard_by: datetime | None
    diver: str | None
    hours_after_first_use: float | None = None
    shared: bool = False


@dataclass(frozen=True, slots=True)
class TagLabelFacts:
    """The label that a unit carries."""

    centre: str
    telephone: str | None
    unit: str
    unit_type: str | None
    unit_serial: str | None


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One part type of the order list. order_on: None where nothing is to order. why: a sentence each.

    counted_in: `piece` or `kg`.
    """

    part_type: str
    code: str
    on_hand: float
    usable: float
    reserved: int
    expiring: float
    need: float
    safety: float
    short_on: date | None
    order_on: date | None
    late_by: int
    quantity: float
    packs: int
    pack_size: float
    lead_days: int
    cost: float | None
    why: tuple[str, ...] = ()
    counted_in: str = "piece"


@dataclass(frozen=True, slots=True)
class OrderPageFacts:
    """What to order in the days from one through another, at a stated service level (0 to 1)."""

    letterhead: Letterhead
    record: str
    on: date
    through: date
    service_level: float
    rows: tuple[OrderRow, ...]


@dataclass(frozen=True, slots=True)
class NoticeUnitRow:
    """A unit on which a notice's action is not done. why: what in it is named, a sentence each."""

    number: str
    title: str
    action: str
    weight: str
    by_when: date | None
    late: bool
    unit: str
    place: str | None
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoticeListFacts:
    """Every unit on which a notice's action is not done, in their order."""

    letterhead: Letterhead
    record: str
    on: date
    rows: tuple[NoticeUnitRow, ...]


@dataclass(frozen=True, slots=True)
class RecallUnitRow:
    """A unit that a recall touches. now: it holds something named now."""

    unit: str
    place: str | None
    now: bool
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RecallPartRow:
    """A part or container that a recall names, with where it is."""

    part: str
    part_type: str
    state: str
    where: str | None


@dataclass(frozen=True, slots=True)
class RecallHireRow:
    """A hire or course that a named part was on. state: `out now`, `to come` or `back`."""

    booking: str
    kind: str
    unit: str
    diver: str | None
    first: date
    last: date
    state: str


@dataclass(frozen=True, slots=True)
class RecallFacts:
    """A notice with everything it touches, for the people who act on it."""

    letterhead: Letterhead
    number: str
    title: str
    text: str
    action: str
    issued_on: date
    by_when: date | None
    weight: str
    units: tuple[RecallUnitRow, ...]
    parts: tuple[RecallPartRow, ...]
    hires: tuple[RecallHireRow, ...]


@dataclass(frozen=True, slots=True)
class ProofLine:
    """One reading that a return rests on. kind: `calibration` or a bench test's word; figures: as read, in words."""

    at: datetime
    kind: str
    result: str
    finding: str
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReturnFacts:
    """A part sent back under warranty, with the readings that prove the fault. served: stays in units, in words."""

    letterhead: Letterhead
    record: str
    part: str
    part_type: str
    serial: str | None
    lot: str | None
    made: MarkedDay | None
    opened: MarkedDay | None
    received_on: date | None
    supplier: str | None
    price: float | None
    sent_at: datetime
    sent_by: str | None
    reason: str
    served: tuple[str, ...]
    proofs: tuple[ProofLine, ...]
