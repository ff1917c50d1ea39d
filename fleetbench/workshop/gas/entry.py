"""A cylinder taken in with what is stamped on it, and what the desk offers for it: part types, rules, specifications.

receive_cylinder(workplace, entry)   received, entered as a cylinder, its stamped tests with it
cylinder_choices(workplace)          part types of cylinders, places, owners, rules
specification_of(workplace, gas)     the lines that a certificate of a gas is held against

Periodic tests and services of parts, the rule that a kind of cylinder is tested by, and cylinders entered as such.

record_test(workplace, part_ids, kind, ...)       hydrostatic, visual, service, calibration of a part
set_test_rule(workplace, code, rule, specification)  the intervals of a part type, with the rule and its edition
set_own_rule(workplace, code, rule, edition, ...)  intervals of a rule that is not known here, with its date
enter_cylinder(workplace, part_id, ...)           role, size, working pressure and marking of a part
"""

from collections.abc import Iterable
from dataclasses import dataclass

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.gas.cylinders import GasRole, Specification
from fleetbench.calc.parts.kinds import CYLINDER_RULES, GONE, CylinderRule
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.reads import (
    cylinder_of,
    lives_with_test,
    part_with_serial,
    parts_of_type,
    read_gas,
    read_owners,
)
from fleetbench.records.gas.tables import Cylinder
from fleetbench.records.parts.lookups import PlaceRecord, part_type_by_code, read_places
from fleetbench.records.parts.reads import PartTypeRecord, read_lives, read_part_types
from fleetbench.records.parts.tables import Part, PartTest, PartTypeLife
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.tables import Hold
from fleetbench.workshop.core.workplace import Workplace, day_of, figure, one_word, require_person, required
from fleetbench.workshop.gas.state import CylinderBook
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.parts.receive import Delivery, receive_serials
from fleetbench.workshop.turn_rounds.ticks import tick_cleaned

TESTS = ("hydrostatic", "visual", "service", "calibration")
ROLES = tuple(each.value for each in GasRole)
VISUAL_MONTHS = 12
"""BS EN ISO 18119:2018: internal examination yearly where no local rule stands, second-hand."""

MOST_HYDROSTATIC_MONTHS = 240
"""Twenty years, the longest period of 49 CFR 180.209 Table 1 (DOT 8 and 8AL)."""

MOST_VISUAL_MONTHS = 30
"""BS EN ISO 18119:2018: longest interval after a risk assessment of low internal degradation, second-hand."""


def record_test(
    workplace: Workplace,
    part_ids: Iterable[int],
    kind: str,
    *,
    done: MarkedDate | None = None,
    passed: bool = True,
    done_by: str | None = None,
    how: str | None = None,
    ticket_id: int | None = None,
) -> tuple[int, ...]:
    """The keys of the tests, one a part, all in one act; done: today where None, or as stamped on it.

    A test that failed is kept too, and puts the part on hold, since an older test of another kind may still be in
    date. Each kind counts for itself: a late visual leaves the hydrostatic day as it is. Refused for a day ahead, or
    before the part was made.
    """
    person = require_person(workplace)
    one_word("test", kind, TESTS)
    today = workplace.today()
    mark = done or MarkedDate(today)
    if mark.first_day > today:
        raise Refused(say("done: {mark} lies ahead; look at the date", mark=mark))
    keys = tuple(dict.fromkeys(part_ids))
    if not keys:
        raise Refused(say("parts: none chosen; mark what was tested"))
    with workplace.transaction(f"record {kind}", f"part {keys[0]}" if len(keys) == 1 else f"{len(keys)} parts") as act:
        if ticket_id is not None:
            act.get(Ticket, ticket_id, "ticket")
        written = []
        for key in keys:
            part = _in_house(act, key)
            if part.made_on is not None and mark.last_day < part.made_on:
                raise Refused(
                    say(
                        "done: {mark} lies before {label} was made, {made_on}; look at both",
                        mark=mark,
                        label=label(part),
                        made_on=part.made_on,
                    )
                )
            written.append(
                act.add(
                    PartTest(
                        part_id=key, kind=kind, done_on=mark.date, precision=mark.precision.value, passed=passed,
                        done_by=_short(done_by), how=_short(how), person_id=workplace.person_id, ticket_id=ticket_id,
                        at=act.at if done is None else None,
                    )
                ).id
            )  # fmt: skip
            if not passed:
                reason = in_row(f"{kind} not passed on {mark}")
                act.add(Hold(part_id=key, kind="manual", reason=reason, placed_at=act.at, placed_by_id=person))
        refresh_lives(act, keys)
        if kind == "oxygen clean" and passed:
            tick_cleaned(act, keys)
        return tuple(written)


def set_test_rule(
    workplace: Workplace,
    code: str,
    *,
    rule: str,
    specification: str,
    years: int | None = None,
    visual_months: int = VISUAL_MONTHS,
    local_rule: str | None = None,
) -> None:
    """Set the test intervals of a part type by a rule that is known, with its edition; every fitting follows.

    years: one of the rule's periods, the shortest where None; a longer one is for a centre that meets its conditions.
    local_rule: the local rule, or the risk assessment, by which visuals are further apart than yearly.
    """
    require_person(workplace)
    known = _rule(rule, specification)
    period = years if years is not None else known.years[0]
    if period not in known.years:
        listed = strung(", ", (str(each) for each in known.years))
        raise Refused(
            say(
                "years: {period} is no period of {rule} for {specification}; choose {listed}",
                period=period,
                rule=rule,
                specification=specification,
                listed=listed,
            )
        )
    longest = MOST_VISUAL_MONTHS if (local_rule or "").strip() else VISUAL_MONTHS
    figure("visual months", visual_months, 1, longest, "longer needs the local rule or risk assessment in words")
    source = f"{known.source}, {specification}, {known.edition}"
    own = (local_rule or "").strip()
    looked = in_row(f"BS EN ISO 18119:2018, second-hand; {own}") if own else in_row(
        "BS EN ISO 18119:2018 guide interval where no local rule stands, second-hand"
    )  # fmt: skip
    with workplace.transaction("set test rule", f"part type {code}") as act:
        kind = part_type_by_code(act.session, code)
        _set_interval(act, kind.id, "hydrostatic", 12.0 * period, source)
        _set_interval(act, kind.id, "visual", float(visual_months), looked)
        refresh_lives(act, parts_of_type(act.session, kind.id))


def set_own_rule(
    workplace: Workplace, code: str, *, rule: str, edition: str, hydrostatic_months: int, visual_months: int
) -> None:
    """Set the test intervals of a part type by a local rule, which is named with its date; every fitting follows."""
    require_person(workplace)
    named, dated = required("rule", rule)[:120], required("date of the rule", edition)[:60]
    hydrostatic = figure("hydrostatic months", hydrostatic_months, 1, MOST_HYDROSTATIC_MONTHS, "enter months")
    visual = figure("visual months", visual_months, 1, hydrostatic, "visuals are no further apart than tests")
    source = in_row(f"{named}, {dated}; entered by the centre")
    with workplace.transaction("set test rule", f"part type {code}") as act:
        kind = part_type_by_code(act.session, code)
        _set_interval(act, kind.id, "hydrostatic", float(hydrostatic), source)
        _set_interval(act, kind.id, "visual", float(visual), source)
        refresh_lives(act, parts_of_type(act.session, kind.id))


def enter_cylinder(
    workplace: Workplace,
    part_id: int,
    *,
    role: str,
    size_l: float,
    working_bar: float,
    material: str | None = None,
    marking: str | None = None,
) -> int:
    """The key of what makes a part a cylinder: its role, size in litres of water, and working pressure at 15 C."""
    require_person(workplace)
    size, working = checked_cylinder(role, size_l, working_bar)
    with workplace.transaction("enter cylinder", f"part {part_id}") as act:
        part = _in_house(act, part_id)
        if cylinder_of(act.session, part_id) is not None:
            raise Refused(say("part {label}: is entered as a cylinder already; look at its page", label=label(part)))
        row = Cylinder(
            part_id=part_id, role=role, size_l=size, working_bar=working,
            material=(material or "").strip()[:20] or None, marking=(marking or "").strip()[:60] or None,
        )  # fmt: skip
        return act.add(row).id


def checked_cylinder(role: str, size_l: float, working_bar: float) -> tuple[float, float]:
    """Size in litres of water and working pressure in bar; Refused naming what is out of reason."""
    one_word("role", role, ROLES)
    size = figure("size", size_l, 0.1, 100, "enter litres of water, as stamped")
    return size, figure("working pressure", working_bar, 10, 450, "enter {unit}, as stamped", BAR)


def _rule(rule: str, specification: str) -> CylinderRule:
    for each in CYLINDER_RULES:
        if (each.rule, each.specification) == (rule, specification):
            return each
    raise Refused(
        say(
            "rule: no default interval is known for {specification!r} under {rule!r}; enter the rule's own",
            specification=specification,
            rule=rule,
        )
    )


def _set_interval(act: Transaction, part_type_id: int, test: str, months: float, source: str) -> None:
    standing = lives_with_test(act.session, part_type_id, test)
    for row in standing[:1]:
        act.change(row, amount=months, unit="months", source=required("source", source)[:300])
    if not standing:
        act.add(
            PartTypeLife(
                part_type_id=part_type_id, basis="test_interval", amount=months, unit="months", test=test,
                source=source[:300],
            )
        )  # fmt: skip


def _in_house(act: Transaction, part_id: int) -> Part:
    part = act.get(Part, part_id, say("part {key}", key=part_id))
    if part.state in GONE:
        raise Refused(
            say("part {label}: is {state}; nothing more is recorded of it", label=label(part), state=say(part.state))
        )
    return part


def _short(words: str | None) -> str | None:
    return (words or "").strip()[:120] or None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCylinder:
    """A cylinder as it is taken in; dates as stamped, None is not known. size_l of water, working_bar at 15 C.

    owner_id: the centre where None.
    """

    code: str
    serial: str
    role: str
    size_l: float
    working_bar: float
    material: str | None = None
    marking: str | None = None
    made: MarkedDate | None = None
    hydrostatic: MarkedDate | None = None
    visual: MarkedDate | None = None
    place_id: int | None = None
    owner_id: int | None = None


@dataclass(frozen=True, slots=True)
class CylinderChoices:
    """What is offered where a cylinder is taken in or a rule is set; intervals: by part type and test, in months."""

    types: tuple[PartTypeRecord, ...]
    places: tuple[PlaceRecord, ...]
    owners: tuple[tuple[int, str], ...]
    rules: tuple[CylinderRule, ...]
    intervals: dict[tuple[int, str], tuple[float, str]]


def cylinder_choices(workplace: Workplace) -> CylinderChoices:
    """Part types of cylinders by name, places, owners, and the rules that are known."""
    with workplace.database.reading() as connection:
        types = [each for each in read_part_types(connection).values() if each.kind.endswith("cylinder")]
        places, owners = read_places(connection), read_owners(connection)
        lives = read_lives(connection)
    intervals = {(each.part_type_id, each.test): (each.amount, each.source) for each in lives if each.test}
    return CylinderChoices(
        tuple(sorted(types, key=lambda each: each.name)),
        places=places,
        owners=owners,
        rules=CYLINDER_RULES,
        intervals=intervals,
    )


def receive_cylinder(workplace: Workplace, entry: NewCylinder) -> int:
    """The key of the part; a part of that type and serial that is recorded already is only entered as a cylinder.

    Everything is looked at before anything is written. What is stamped on it counts as its last tests.
    """
    checked_cylinder(entry.role, entry.size_l, entry.working_bar)
    serial, today = required("serial", entry.serial), workplace.today()
    for name, mark in (("hydrostatic", entry.hydrostatic), ("visual", entry.visual), ("made", entry.made)):
        if mark is not None and mark.first_day > today:
            raise Refused(say("{name}: {mark} lies ahead; look at the stamp", name=name, mark=mark))
        if mark is not None and entry.made is not None and mark.last_day < entry.made.first_day:
            raise Refused(
                say(
                    "{name}: {mark} lies before it was made, {made}; look at both",
                    name=name,
                    mark=mark,
                    made=entry.made,
                )
            )
    with workplace.database.reading() as connection:
        part_id = part_with_serial(connection, entry.code, serial)
    if part_id is None:
        delivery = Delivery(made=entry.made, place_id=entry.place_id, owner_id=entry.owner_id)
        part_id = receive_serials(workplace, entry.code, [serial], delivery).part_ids[0]
    enter_cylinder(
        workplace,
        part_id,
        role=entry.role,
        size_l=entry.size_l,
        working_bar=entry.working_bar,
        material=entry.material,
        marking=entry.marking,
    )
    for kind, mark in (("hydrostatic", entry.hydrostatic), ("visual", entry.visual)):
        if mark is not None:
            record_test(workplace, [part_id], kind, done=mark, done_by=say("as stamped"))
    return part_id


def role_of(kind: str) -> str:
    """The role that a kind of part is for, such as oxygen for `oxygen cylinder`; diluent where it names none."""
    role = kind.removesuffix("cylinder").strip()
    return role if role in ROLES else "diluent"


def specification_of(workplace: Workplace, gas: str) -> Specification:
    """The lines that a certificate of oxygen or air is held against, with the centre's own limits."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        return CylinderBook(read_gas(connection, ()), day.zone, read_limits(connection)).specification(gas)
