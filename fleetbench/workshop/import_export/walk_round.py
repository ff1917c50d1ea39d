"""What is not known of the fleet, as a list to walk along the shelf with.

walk_round(workplace) -> WalkRound; its answers are written by `answer` of workshop/places/accept.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from fleetbench.calc.core.languages import capital, say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.hires.lookups import units_out
from fleetbench.records.parts.tables import PartTest, PartTypeLife
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.import_export.values import Known, Row

MOST_USEFUL = 10
NO_PLACE = say("No place recorded")
WEIGHTS = {
    "made_on": 6, "hydrostatic": 6, "fitted_on": 5, "part_serial": 4, "firmware": 3, "size_l": 3, "working_bar": 3,
    "part_lot": 2, "opened_on": 5, "serial": 2, "place": 1, "in_service_on": 1,
}  # fmt: skip
"""How much an answer settles: a date that a life counts from ends a hold, a lot only tells of recalls. Ours."""

WAITS = say("kept until the other figure is typed")
"""Water volume and working pressure are recorded together or not at all."""

LOOK_FOR = {
    "serial": say("serial number, on its frame or head"),
        "in_service_on": say("in service since, on its invoice or file"),
    "part_serial": say("serial, on its label"), "part_lot": say("lot, on its label"),
        "made_on": say("made, on its label"),
    "opened_on": say("opened, on its bag or label"), "fitted_on": say("fitted, on its label or in the file"),
    "firmware": say("firmware, shown when it starts"), "hydrostatic": say("test date, stamped on its shoulder"),
    "size_l": say("water volume in litres, stamped on its shoulder"), "place": say("where it lies"),
    "working_bar": say("working pressure in {unit}, stamped on its shoulder"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class WalkLine:
    """One thing that is not known: of which unit, in which slot of it, which field, and where to look."""

    unit: str
    place: str
    slot: str
    field: str
    look_for: str

    @property
    def key(self) -> tuple[str, str, str]:
        """By what an answer names the line."""
        return self.unit, self.slot, self.field

    @property
    def weight(self) -> int:
        """How much its answer settles."""
        return WEIGHTS[self.field]


@dataclass(frozen=True, slots=True)
class WalkRound:
    """What is not known, in the order of the shelf, and how many facts of how many are known."""

    lines: tuple[WalkLine, ...]
    known: int
    total: int

    @property
    def most_useful(self) -> tuple[WalkLine, ...]:
        """The ten answers that settle most."""
        return tuple(sorted(self.lines, key=lambda line: -line.weight)[:MOST_USEFUL])

    @property
    def words(self) -> str:
        """How far the fleet is known, in a sentence."""
        share = [f"{100 * self.known // self.total} %"] if self.total else []
        return strung(", ", (say("{known} of {total} facts are known", known=self.known, total=self.total), *share))


@known_once
def walk_round(workplace: Workplace) -> WalkRound:
    """What is not known of the units in service; a fixed number of statements."""
    with workplace.database.reading() as connection:
        facts = FleetFacts(connection)
    asked = [(line, known) for unit in facts.units() for line, known in facts.of_unit(unit)]
    lines = tuple(line for line, known in asked if not known)
    return WalkRound(lines, len(asked) - len(lines), len(asked))


class FleetFacts:
    """Everything that the list asks for, read once."""

    def __init__(self, connection: Connection) -> None:
        self.known = Known(connection)
        self.places = {row["id"]: row["name"] for row in self.known.places.values()}
        self.cylinders = {row["part_id"]: row for row in rows_of(connection, Cylinder)}
        self.out = units_out(connection)
        self.tested = {row["part_id"] for row in rows_of(connection, PartTest) if row["kind"] == "hydrostatic"}
        self.slot_names = {row["id"]: row["name"] for listed in self.known.slots.values() for row in listed}
        self.lives: dict[int, set[str]] = {}
        for row in rows_of(connection, PartTypeLife):
            self.lives.setdefault(row["part_type_id"], set()).add(row["basis"])

    def units(self, *, retired: bool = False) -> list[Row]:
        """Units in service, in the order of the shelf; retired ones too where they are asked for."""
        listed = [row for row in self.known.units.values() if retired or row["retired_on"] is None]
        return sorted(listed, key=lambda row: (self._place(row) == NO_PLACE, self._place(row), _natural(row["tag"])))

    def of_unit(self, unit: Row) -> Iterator[tuple[WalkLine, bool]]:
        """What is asked of one unit, and whether it is known."""
        for name in ("serial", "in_service_on"):
            yield self._line(unit, "", name), bool(unit[name])
        yield self._line(unit, "", "place"), unit["place_id"] is not None or unit["id"] in self.out
        for slot, seat, part in self.seats(unit):
            for name, known in self._of_slot(slot, seat, part):
                yield self._line(unit, slot["name"], name), known

    def _line(self, unit: Row, slot: str, name: str) -> WalkLine:
        thing = capital(slot) if slot else say("The unit")
        return WalkLine(
            unit["tag"],
            place=self._place(unit),
            slot=slot,
            field=name,
            look_for=strung(": ", (thing, say(LOOK_FOR[name], unit=str(BAR)))),
        )

    def _place(self, unit: Row) -> str:
        return str(self.places.get(unit["place_id"], NO_PLACE))

    def seats(self, unit: Row) -> Iterator[tuple[Row, Row | None, Row | None]]:
        """Its slots and those of the assemblies in them, with what sits there."""
        for slot in self.known.slots.get(("unit", unit["unit_type_id"]), ()):
            seat = self.known.seats.get(("unit", unit["id"], slot["id"]))
            part = self.known.parts[seat["part_id"]] if seat else None
            yield slot, seat, part
            for inner in self.known.slots.get(("part", part["part_type_id"]), ()) if part else ():
                inside = self.known.seats.get(("part", part["id"], inner["id"]))  # type: ignore[index]
                yield inner, inside, self.known.parts[inside["part_id"]] if inside else None

    def _of_slot(self, slot: Row, seat: Row | None, part: Row | None) -> Iterator[tuple[str, bool]]:
        kind = slot["kind"]
        if part is None or seat is None:
            if slot["critical"]:
                yield "part_serial", False
            return
        bases = self.lives.get(part["part_type_id"], set())
        labelled = kind in ("cell", "handset") or kind.endswith("cylinder")
        if labelled:
            yield "part_serial", bool(part["serial"])
        if kind == "cell":
            yield "part_lot", bool(part["lot"])
        if kind == "cell" or "made" in bases:
            yield "made_on", part["made_on"] is not None
        if "opened" in bases:
            yield "opened_on", part["opened_on"] is not None
        if kind == "cell" or bases & {"fitted", "hours", "dives", "hires"}:
            yield "fitted_on", not seat["since_unknown"]
        if kind == "handset":
            yield "firmware", bool(part["firmware"])
        if kind.endswith("cylinder"):
            yield "hydrostatic", part["id"] in self.tested
            if part["id"] not in self.cylinders:
                yield "size_l", False
                yield "working_bar", False


def _natural(tag: str) -> tuple[tuple[bool, int, str], ...]:
    """Tags in the order in which people count them: R2 before R10."""
    pieces: list[str] = [""]
    for sign in tag:
        if sign.isdecimal() != pieces[-1][-1:].isdecimal():
            pieces.append("")
        pieces[-1] += sign
    return tuple((each.isdecimal(), int(each) if each.isdecimal() else 0, each) for each in pieces if each)
