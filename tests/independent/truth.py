"""What is true of a small hire centre, kept in plain Python beside the program and without it.

It is told what hands did, and nothing that the program says of it but keys and the verdict of a sound calibration. From
that alone it answers what a unit may not be: out with a diver, promised or printed as fit. It knows fewer reasons than
the program, so that it is a floor: what it calls unfit, the program must not call fit. That a reject travels with its
part, that tests follow an opening, that a fill serves one diver, and that a loop is disinfected after every diver:
common practice, no published source. Contents of cylinders: a diluent or an oxygen as asked for, within a percent point
or so (common practice, no published source).
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

RELEASE = (("one-way valve", "inhale"), ("one-way valve", "exhale"), ("loop negative", ""), ("loop positive", ""))
OPENS = frozenset(("head", "cell", "loop set", "one-way valve", "mouthpiece valve"))
BACK_TO_STOCK = frozenset(("moved", "wrong part"))
IN_LIMITS = frozenset(("pass", "watch"))
SLOTS = {
    "unit": {"head": "head", "loop set": "loop set", "canister": "canister", "handset 1 battery": "handset battery"},
    "head": {"cell 1": "cell", "cell 2": "cell", "cell 3": "cell"},
    "loop set": {
        "inhale one-way valve": "one-way valve",
        "exhale one-way valve": "one-way valve",
        "mouthpiece valve": "mouthpiece valve",
    },
}
"""Every critical slot of the centre's one unit type, by what holds it, with the kind of part that it takes."""

GAS_SIDE = frozenset(("oxygen first stage", "diluent first stage"))
LOCK_UP = ("intermediate pressure, full supply", "intermediate pressure, low supply")
"""A first stage holds its intermediate pressure at both ends of the supply: common practice, no published source."""

BENCH = frozenset(("technician", "manager"))
STAFF = BENCH | {"instructor"}
MANAGER = frozenset(("manager",))
MAY = {
    "calibrate": STAFF, "fit cell": STAFF, "fit part": BENCH, "bench test": BENCH, "release tests": BENCH,
    "set part aside": BENCH, "release part": BENCH, "send part back": BENCH, "scrap part": BENCH, "undo": BENCH,
    "pack canister": STAFF, "give fill": STAFF, "log run": STAFF, "discard fill": STAFF, "canister flooded": STAFF,
    "open container": STAFF, "fill cylinders": BENCH, "analyse gas": STAFF, "read batteries": STAFF,
    "place hold": STAFF, "lift hold": BENCH, "lift incident hold": MANAGER, "near miss": STAFF,
    "record notice": BENCH, "notice done": BENCH, "book": STAFF, "move booking": STAFF, "cancel booking": STAFF,
    "put unit on booking": STAFF, "take off waiting list": STAFF, "hand over": BENCH, "swap unit": BENCH,
    "receive": STAFF, "hand back": STAFF, "open turn-round": STAFF, "flood found": STAFF, "turn-round line": STAFF,
    "leave out line": BENCH, "disinfect loops": STAFF, "loop dry": STAFF, "turn-round finding": STAFF,
    "finish turn-round": BENCH, "open ticket": STAFF, "finding": STAFF, "task done": BENCH, "put off task": BENCH,
    "sign ticket": BENCH, "enter staff": MANAGER, "end service": MANAGER, "reset PIN": MANAGER, "set PIN": MANAGER,
    "change PIN": STAFF, "see staff papers": MANAGER, "clean for oxygen": BENCH, "receive absorbent": BENCH,
    "edit booking": STAFF, "restore booking": STAFF, "take unit off booking": STAFF, "correct stock record": BENCH,
    "take part back": BENCH, "import": MANAGER,
}  # fmt: skip
"""Which roles may do what, written down again from the centre's own rules."""


def site_day(at: datetime) -> date:
    """The day at the centre."""
    return at.astimezone(ZoneInfo("Europe/Berlin")).date()


@dataclass(slots=True)
class Judged:
    """One measurement of a part. at_pot: whether it was measured above 1 bar. key: of its record."""

    at: datetime
    kind: str
    verdict: str
    key: int
    limited: bool = False
    at_pot: bool = False


@dataclass(slots=True)
class Part:
    """A part: where it sits (what holds it, and the slot), or its state on the shelf."""

    serial: str
    kind: str
    lot: str = ""
    host: str | None = None
    slot: str = ""
    state: str = "stock"
    fitted_at: datetime | None = None
    removed_at: datetime | None = None
    fault: bool = False
    judged: list[Judged] = field(default_factory=list)

    def rejected(self) -> tuple[str, ...]:
        """Kinds of measurement whose reject stands: lifted by the same kind in limits, a current limit at the pot."""
        found: dict[str, bool] = {}
        for each in sorted(self.judged, key=lambda one: (one.at, one.key)):
            if each.verdict == "reject":
                found[each.kind] = each.limited or found.get(each.kind, False)
            elif each.verdict in IN_LIMITS and each.kind in found and (each.at_pot or not found[each.kind]):
                del found[each.kind]
        return tuple(found)

    def since_fitted(self, kind: str) -> Judged | None:
        """The last measurement of a kind since it was fitted where it sits."""
        found = [one for one in self.judged if one.kind == kind and self.fitted_at and one.at >= self.fitted_at]
        return max(found, key=lambda one: (one.at, one.key), default=None)


@dataclass(slots=True)
class Fill:
    """What was packed into a canister. starts: the earliest that each run can have begun."""

    canister: str
    lot: str
    packed_at: datetime
    diver: int | None = None
    line: int | None = None
    minutes: float = 0.0
    starts: list[datetime] = field(default_factory=list)
    divers: set[int] = field(default_factory=set)
    wet: bool = False
    gone: bool = False

    def spent(self, now: datetime) -> str:
        """Why nobody may dive it any more; empty where nothing that is known here says so."""
        if self.wet:
            return "wetted"
        if len(self.divers) > 1:
            return "dived by two"
        if self.minutes > 210:
            return "used up by the best row of its table"
        if self.starts and now - min(self.starts) > timedelta(hours=24):
            return "over 24 hours since its first use"
        return ""


@dataclass(slots=True)
class Hold:
    """A hold that stands, on a unit or on a part."""

    kind: str
    unit: str = ""
    part: str = ""
    notice: str = ""


@dataclass(slots=True)
class Ticket:
    """A ticket with its tasks by key. second: tasks at which somebody else must look and sign too."""

    unit: str
    critical: bool
    opened: datetime
    tasks: dict[int, str] = field(default_factory=dict)
    done_by_hand: set[int] = field(default_factory=set)
    second: set[int] = field(default_factory=set)
    signed: bool = False


@dataclass(slots=True)
class Card:
    """A turn-round. ticked: lines settled by hand, with when."""

    unit: str
    opened: datetime
    flooded: datetime | None = None
    ticked: dict[int, datetime] = field(default_factory=dict)
    finished: bool = False

    @property
    def began(self) -> datetime:
        """Since when what is done counts."""
        return max(self.opened, self.flooded or self.opened)


@dataclass(slots=True)
class Line:
    """A unit on a booking."""

    key: int
    diver: int | None
    way: str = ""
    out_at: datetime | None = None
    back_at: datetime | None = None
    detailed: bool = False


@dataclass(slots=True)
class Booking:
    """A booking with its units."""

    code: str
    first: object
    last: object
    renter: int
    lines: dict[str, Line] = field(default_factory=dict)
    cancelled: bool = False
    waits: bool = False
    divers: tuple[int, ...] = ()

    def diver_of(self, line: Line) -> int | None:
        """Whose a unit is: who is named, else the one diver of the booking, where there is but one."""
        return line.diver if line.diver is not None else self.renter if {*self.divers} == {self.renter} else None


@dataclass(slots=True)
class Person:
    """Somebody: role, whether still here, the PIN, and whether their paper as a technician was seen."""

    role: str
    active: bool = True
    pin: str = ""
    papers: bool = False

    def signs(self) -> bool:
        """Whether they may sign a unit off."""
        return self.role in BENCH and self.active and bool(self.pin) and self.papers


@dataclass(slots=True)
class Cylinder:
    """Gas in a cylinder: what was asked for and what was found since."""

    role: str
    asked: float | None = None
    filled_at: datetime | None = None
    found: float | None = None
    analysed_at: datetime | None = None


@dataclass(slots=True)
class Tested:
    """A bench test of a unit."""

    at: datetime
    kind: str
    direction: str
    verdict: str
    key: int


@dataclass(slots=True)
class Truth:
    """The centre."""

    now: datetime
    units: tuple[str, ...]
    parts: dict[str, Part] = field(default_factory=dict)
    people: dict[int, Person] = field(default_factory=dict)
    fills: dict[int, Fill] = field(default_factory=dict)
    holds: dict[int, Hold] = field(default_factory=dict)
    tickets: dict[int, Ticket] = field(default_factory=dict)
    cards: dict[int, Card] = field(default_factory=dict)
    bookings: dict[str, Booking] = field(default_factory=dict)
    cylinders: dict[str, Cylinder] = field(default_factory=dict)
    recalls: dict[str, str] = field(default_factory=dict)
    notices_done: set[tuple[str, str]] = field(default_factory=set)
    tests: dict[str, list[Tested]] = field(default_factory=dict)
    calibrated: dict[str, list[tuple[datetime, int, bool]]] = field(default_factory=dict)
    opened: dict[str, datetime] = field(default_factory=dict)
    baths: dict[str, list[tuple[datetime, bool]]] = field(default_factory=dict)
    dried: dict[str, datetime] = field(default_factory=dict)
    damp: dict[str, datetime] = field(default_factory=dict)
    batteries: dict[str, tuple[datetime, bool]] = field(default_factory=dict)
    returned: dict[str, datetime] = field(default_factory=dict)
    emptied: dict[str, datetime] = field(default_factory=dict)
    cleaned: dict[str, datetime] = field(default_factory=dict)

    # where things sit

    def unit_of(self, part: Part) -> str | None:
        """The unit in which a part sits, up through what holds it; None on the shelf."""
        host = part.host
        while host is not None and host not in self.units:
            host = self.parts[host].host
        return host

    def inside(self, unit: str) -> Iterator[Part]:
        """Every part that sits in a unit."""
        return (part for part in self.parts.values() if self.unit_of(part) == unit)

    def sits(self, host: str, slot: str) -> Part | None:
        """What sits in a slot."""
        return next((part for part in self.parts.values() if (part.host, part.slot) == (host, slot)), None)

    def slots(self, unit: str) -> Iterator[tuple[str, str, str]]:
        """Every slot of a unit that can be reached now: what holds it, its name, the kind it takes."""
        for name, kind in SLOTS["unit"].items():
            yield unit, name, kind
            held = self.sits(unit, name)
            if held is not None:
                for inner, of in SLOTS.get(kind, {}).items():
                    yield held.serial, inner, of

    def put_in(self, part: Part, host: str, slot: str) -> None:
        """A part goes into a slot; work on the loop opens it."""
        part.host, part.slot, part.state, part.fitted_at = host, slot, "fitted", self.now
        self.note_opening(part)

    def take_out(self, part: Part, why: str) -> None:
        """A part comes out of its slot, to stock or set aside."""
        self.note_opening(part)
        part.host, part.slot, part.removed_at = None, "", self.now
        part.state = "stock" if why in BACK_TO_STOCK else "quarantine"
        part.fault = why in ("fault", "low output", "service")

    def note_opening(self, part: Part) -> None:
        """Work on this part opens the loop of the unit in which it sits."""
        unit = self.unit_of(part)
        if unit is not None and part.kind in OPENS:
            self.opened[unit] = self.now

    # who has what

    def out(self, unit: str) -> tuple[Booking, Line] | None:
        """The booking and line on which a unit is out."""
        for booking in self.bookings.values():
            line = booking.lines.get(unit)
            if line is not None and line.out_at is not None and line.back_at is None:
                return booking, line
        return None

    def standing_fill(self, canister: str) -> tuple[int, Fill] | None:
        """The fill in a canister."""
        return next(((key, fill) for key, fill in self.fills.items() if fill.canister == canister and not fill.gone),
                    None)  # fmt: skip

    def line(self, key: int) -> tuple[Booking, Line]:
        """A unit on a booking, by its key."""
        return next((booking, line) for booking in self.bookings.values() for line in booking.lines.values()
                    if line.key == key)  # fmt: skip

    def fill_in(self, unit: str) -> tuple[int, Fill] | None:
        """The fill in a unit's canister."""
        canister = self.sits(unit, "canister")
        return self.standing_fill(canister.serial) if canister is not None else None

    def open_card(self, unit: str) -> tuple[int, Card] | None:
        """The card of a unit that is not finished."""
        return next(((key, card) for key, card in self.cards.items() if card.unit == unit and not card.finished), None)

    def frozen(self, unit: str) -> bool:
        """Whether an incident holds a unit."""
        return any(hold.kind == "incident" and hold.unit == unit for hold in self.holds.values())

    # what was shown

    def last_test(self, unit: str, kind: str, direction: str = "") -> Tested | None:
        """The last test of a kind."""
        mine = [one for one in self.tests.get(unit, ()) if (one.kind, one.direction) == (kind, direction)]
        return max(mine, key=lambda one: (one.at, one.key), default=None)

    def untested(self, unit: str, since: datetime | None = None) -> tuple[str, ...]:
        """Release tests that did not pass since a moment and since the loop was opened."""
        least = max(filter(None, (since, self.opened.get(unit))), default=None)
        found = ((kind, way, self.last_test(unit, kind, way)) for kind, way in RELEASE)
        return tuple(
            f"{kind} {way}".strip()
            for kind, way, test in found
            if test is None or test.verdict not in IN_LIMITS or (least is not None and test.at < least)
        )

    def sound_since(self, unit: str, since: datetime) -> list[datetime]:
        """When all cells of a unit were found in limits since a moment."""
        return [at for at, _, sound in self.calibrated.get(unit, ()) if sound and at >= since]

    def clean_and_dry(self, unit: str, since: datetime) -> bool:
        """Whether the loop was disinfected since a moment, and is not known to be damp.

        Twelve hours after a bath, or after it was found damp, a manager may take it for dry with a reason.
        """
        if not any(at >= since and rinsed for at, rinsed in self.baths.get(unit, ())):
            return False
        hangs = max(*(at for at, _ in self.baths[unit]), self.damp.get(unit, since))
        return self.dried.get(unit, hangs - timedelta(days=1)) >= hangs or self.now >= hangs + timedelta(hours=12)

    # what a unit may not be

    def unfit(self, unit: str) -> dict[str, str]:
        """What keeps a unit from any diver, whoever that is: the check's name with the reason."""
        found: dict[str, str] = {}
        for hold in self.holds.values():
            if hold.unit == unit or (hold.part and self.unit_of(self.parts[hold.part]) == unit):
                found["holds"] = f"{hold.kind} {hold.part}"
        if self.open_card(unit) is not None:
            found["holds"] = "its turn-round is not finished"
        for number, lot in self.recalls.items():
            if (number, unit) not in self.notices_done and lot in self.lots_in(unit):
                found["notices"] = number
        if any(each.critical and not each.signed and each.unit == unit for each in self.tickets.values()):
            found["open tickets"] = "a critical ticket is open"
        self._parts(unit, found)
        untested = self.untested(unit)
        if untested:
            found["one-way valves and loop"] = ", ".join(untested)
        mouthpiece = self.last_test(unit, "mouthpiece valve")
        if mouthpiece is None or mouthpiece.verdict == "reject":
            found["bailout or mouthpiece valve"] = "not shown to work"
        self._gas_side(unit, found)
        return found

    def _gas_side(self, unit: str, found: dict[str, str]) -> None:
        for part in self.inside(unit):
            if part.kind not in GAS_SIDE:
                continue
            if part.rejected():
                found["rejected on the gas side"] = f"{part.serial} {part.rejected()}"
            last = [part.since_fitted(kind) for kind in LOCK_UP]
            if any(each is None or each.verdict not in IN_LIMITS for each in last):
                found["intermediate pressure and gas addition"] = f"{part.serial} not shown to hold"

    def lots_in(self, unit: str) -> set[str]:
        """Lots of parts in a unit and of the absorbent in its canister."""
        fill = self.fill_in(unit)
        return {part.lot for part in self.inside(unit)} | ({fill[1].lot} if fill else set())

    def _parts(self, unit: str, found: dict[str, str]) -> None:
        for host, slot, kind in self.slots(unit):
            part = self.sits(host, slot)
            if part is None:
                found["cell outcome" if kind == "cell" else "part life"] = f"{slot} is empty"
            elif kind == "cell":
                self._cell(part, found)
        head = self.sits(unit, "head")
        if head is None:
            found["cell outcome"] = "no head"
            return
        last = max((at for at, _, _ in self.calibrated.get(unit, ())), default=None)
        changed = [part.fitted_at for part in self.inside(unit) if part.kind in ("cell", "head") and part.fitted_at]
        if last is None or any(each > last for each in changed):
            found["workshop calibration"] = "not calibrated since a cell or the head was changed"

    def _cell(self, part: Part, found: dict[str, str]) -> None:
        last = part.since_fitted("calibration")
        if last is None:
            found["cell outcome"] = f"{part.serial} was not calibrated since it was fitted"
        elif last.verdict not in IN_LIMITS or part.rejected():
            found["cell outcome"] = f"{part.serial} {last.verdict} {part.rejected()}"

    def not_for(self, unit: str, way: str, diver: int | None) -> dict[str, str]:
        """What keeps a unit from leaving now on this way to this diver."""
        if way == "not for diving":
            return {}
        found = self.unfit(unit)
        fill = self.fill_in(unit)
        if way == "assembled":
            spent = fill[1].spent(self.now) if fill else "no fill"
            if spent or (fill and fill[1].diver not in (None, diver)):
                found["absorbent"] = spent or "is another diver's"
        elif fill is not None and (fill[1].spent(self.now) or fill[1].diver not in (None, diver)):
            found["absorbent in the canister"] = fill[1].spent(self.now) or "is another diver's"
        if unit in self.returned and not self.clean_and_dry(unit, self.returned[unit]):
            found["disinfected and dry"] = "not disinfected and dry since the last diver"
        battery = self.batteries.get(unit)
        if battery is None or not battery[1]:
            found["batteries"] = "not read in limits"
        for part in self.inside(unit):
            self._gas(part, found)
        return found

    def _gas(self, part: Part, found: dict[str, str]) -> None:
        gas = self.cylinders.get(part.serial)
        if gas is None or gas.role == "bailout":
            return
        if gas.asked is None or gas.filled_at is None:
            found["gas"] = f"{part.serial} was never filled"
        elif gas.found is None or gas.analysed_at is None or gas.analysed_at < gas.filled_at:
            found["gas"] = f"{part.serial} was not analysed since it was filled"
        elif abs(gas.found - gas.asked) > 5:
            found["gas"] = f"{part.serial} holds another gas"

    # what may stand as done

    def line_stands(self, step: str, card: Card, key: int) -> bool:
        """Whether hands did what a line of a card says, since the card was opened."""
        unit, since = card.unit, card.began
        never = since - timedelta(days=1)
        calibrated = self.sound_since(unit, since)
        bathed = any(at >= since for at, _ in self.baths.get(unit, ()))
        shown = {
            "disinfect": bathed,
            "rinse again": bathed,
            "dry": self.dried.get(unit, never) >= since,
            "absorbent": self.emptied.get(unit, never) >= since,
            "tests": not self.untested(unit, since),
            "batteries": self.batteries.get(unit, (never, False))[0] >= since,
            "oxygen clean": all(
                self.cleaned.get(part.serial, never) >= since
                for part in self.inside(unit)
                if part.kind == "oxygen cylinder"
            ),
            "calibrate": bool(calibrated),
            "calibrate again": len({site_day(at) for at in calibrated}) > 1,
        }
        if step == "dry":
            return shown["dry"] and self.dried[unit] >= max(at for at, _ in self.baths.get(unit, [(since, True)]))
        return card.ticked.get(key, never) >= card.opened or shown.get(step, False)

    def task_stands(self, ticket: Ticket, key: int) -> bool:
        """Whether hands or records did what a task says, since its ticket was opened."""
        words, unit = ticket.tasks[key].casefold(), ticket.unit
        if words.startswith("calibrat"):
            return bool(self.sound_since(unit, ticket.opened))
        if "loop negative" in words:
            test = self.last_test(unit, "loop negative")
            return test is not None and test.verdict in IN_LIMITS and test.at >= ticket.opened
        return key in ticket.done_by_hand
