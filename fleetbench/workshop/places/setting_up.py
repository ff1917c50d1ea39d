"""Units from nothing: the first one from a start point, more like one that stands, and what becomes of a unit.

start_points()                          usual unit types to copy and change, common practice with no published source
first_unit(workplace, first)            the unit with centre, user, owner, type, slots, parts, handsets
add_unit(workplace, unit_type_id, ...)  one more of a type, with a part in every slot that a part type is made for
copy_unit(workplace, unit_id, ...)      more like one unit; of parts only what is said to be the same is copied
mark_parts(workplace, unit_id, kind, ...)  lot and dates read on all parts of a kind in a unit
rename, move, retire, send away, bring back
"""

import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.core.wall_time import MarkedDate
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lookups import centres_own
from fleetbench.records.parts.reads import FittedRecord, read_fitted
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.people.reads import anybody_active
from fleetbench.records.people.tables import Person, PersonPrivate
from fleetbench.records.places.tables import Centre, Owner
from fleetbench.records.turn_rounds.lookups import steps_in_force
from fleetbench.records.units.tables import Absence, Slot, SlotPartType, Unit, UnitType
from fleetbench.records.upkeep.tables import Connection, rows_of
from fleetbench.shipped import shipped
from fleetbench.workshop.core.workplace import Workplace, require_person, required
from fleetbench.workshop.import_export.values import Site
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.places.amend import add_row, amend
from fleetbench.workshop.places.register import REGISTERS
from fleetbench.workshop.units.list import Where, list_units

SHOWN_MV = 0.1
"""Display resolution in mV that a start point states for a handset; common practice, no published source."""

LARGEST_COPY = 50
USUAL = "common practice, no published source"


@dataclass(frozen=True, slots=True)
class StartPoint:
    """A usual unit type: its slots, and the slots of its assemblies by the kind of part that holds them."""

    key: str
    title: str
    build: str
    code: str
    name: str
    slots: tuple[Sequence[Any], ...]
    assemblies: Mapping[str, Sequence[Sequence[Any]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstUnit:
    """What the guided form asks; centre, user and telephone only where none is recorded yet."""

    start: str
    tag: str
    serial: str = ""
    in_service_on: MarkedDate | None = None
    code: str = ""
    manual: str = ""
    centre: str = ""
    timezone: str = "UTC"
    user: str = ""


@cache
def start_points() -> tuple[StartPoint, ...]:
    """Every start point that is shipped, by title."""
    found = []
    for path in sorted(shipped("resources").glob("start_points/*.toml")):
        told = tomllib.loads(path.read_text(encoding="utf-8"))
        found.append(StartPoint(path.stem, **{**told, "slots": tuple(told["slots"])}))
    return tuple(found)


def usual_steps() -> dict[str, tuple[str, list[dict[str, Any]]]]:
    """Title and steps of every start of a service that is shipped, by key; none states a figure."""
    found = {}
    for path in sorted(shipped("resources").glob("start_points/steps/*.toml")):
        told = tomllib.loads(path.read_text(encoding="utf-8"))
        steps = []
        for kind, text, *more in told["steps"]:
            named = {"what": more[0]} if more else {}
            steps.append({"kind": kind, "text": text, **named, **(more[1] if more[1:] else {})})
        found[path.stem] = (told["title"], steps)
    return found


def copy_usual_steps(workplace: Workplace, service_task: int, start: str) -> str:
    """How many usual steps were put at the end of a task's own, in a sentence; they are corrected from the manual."""
    if start not in usual_steps():
        raise Refused(say("usual steps: are not known; choose one of the list"))
    title, steps = usual_steps()[start]
    register, site = REGISTERS["service_steps"], Site(workplace.zone())
    with workplace.transaction("copy usual steps", title) as act:
        last = max((each.ordinal for each in steps_in_force(act.session, service_task)), default=0)
        for place, step in enumerate(steps, last + 1):
            given = {"before": False, "replace": False, "oxygen": False, "source": USUAL, "ordinal": place, **step}
            add_row(act, register, {"service_task": service_task, **given}, site)
    return say("{count} usual steps: copied. Enter figures, torque and lubricant from the maker's manual.",
        count=len(steps))  # fmt: skip


def first_unit(workplace: Workplace, first: FirstUnit) -> str:
    """What was set up, in a sentence: everything in one act, or nothing."""
    start = next((each for each in start_points() if each.key == first.start), None)
    if start is None:
        raise Refused(say("start point: is not known; choose one of the list"))
    zone = _zone(first.timezone) if first.centre else workplace.zone()
    with workplace.transaction("add unit", f"unit {first.tag.strip()[:30]}") as act:
        if act.session.get(Centre, 1) is None:
            _begin_centre(act, first)
        user = _begin_user(act, first.user) if not anybody_active(act.session) else ""
        type_id = begin_type(act, start, first.code, first.manual, zone)
        _add_unit(act, type_id, first.tag, first.serial, first.in_service_on, zone)
    told = say("{tag} is entered with the usual slots of its type.", tag=first.tag)
    return strung(" ", (told, user)) if user else told


def begin_type(act: Transaction, start: StartPoint, code: str, manual: str, zone: ZoneInfo) -> int:
    """The key of a new unit type with slots, part types and handsets as in a start point, within an act."""
    site, named = Site(zone), code.strip() or start.code
    source = required("manual", manual) if manual.strip() else say("not stated yet: enter the maker's manual")
    type_id = _enter(act, "unit_types", site, code=named, name=start.name, build=start.build, manual=source)
    cells: list[int] = []
    for ordinal, each in enumerate(start.slots, 1):
        within = start.assemblies.get(each[1], ())
        part_type = _part_type(act, f"{named} {each[1]}", each[1], source, site, assembly=bool(within))
        _slot(act, ordinal, each, part_type, site, unit_type=type_id)
        for place, inner in enumerate(within, 1):
            inside = _part_type(act, f"{named} {inner[1]}", inner[1], source, site)
            slot_id = _slot(act, place, inner, inside, site, assembly_type=part_type)
            cells += [slot_id] if inner[1] == "cell" else []
    _begin_handsets(act, type_id, cells, site)
    return type_id


def _begin_centre(act: Transaction, first: FirstUnit) -> None:
    name = required("centre", first.centre)
    initials = "".join(word[0] for word in re.findall(r"\w+", name))[:8].upper()
    _enter(
        act, "centre", Site(ZoneInfo("UTC")), name=name, code=initials, timezone=first.timezone, altitude_m=0.0,
        usual_water_c=15.0, usual_depth_m=20.0,
    )  # fmt: skip


def _begin_user(act: Transaction, name: str) -> str:
    said = required("your name", name)[:200]
    code = next(f"M{number}" for number in range(1, 1000) if not _code_taken(act, f"M{number}"))
    person = act.add(Person(code=code, role="manager", active=True, erased_at=None, named_at=act.at))
    act.add(PersonPrivate(person_id=person.id, name=said, contact=None, note=None))
    return say("You are {code}, manager: choose your name at the top of the window.", code=code)


def _code_taken(act: Transaction, code: str) -> bool:
    return any(row["code"] == code for row in rows_of(act.session.connection(), Person))


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name.strip())
    except (ValueError, KeyError, OSError):
        raise Refused(say("time zone: {name!r} is not known; write it as Europe/Berlin", name=name)) from None


def _enter(act: Transaction, sheet: str, site: Site, **given: Any) -> int:
    subject = act.subject
    key, _ = add_row(act, REGISTERS[sheet], given, site)
    act.subject = subject
    return key


def _part_type(act: Transaction, code: str, kind: str, source: str, site: Site, *, assembly: bool = False) -> int:
    known = next((row for row in rows_of(act.session.connection(), PartType) if row["code"] == code[:40]), None)
    if known is not None:
        return int(known["id"])
    name = f"{kind[:1].upper()}{kind[1:]}"
    return _enter(act, "part_types", site, code=code[:40], name=name, kind=kind, assembly=assembly, source=source,
                  stocked_in="piece")  # fmt: skip


def _slot(act: Transaction, ordinal: int, told: Sequence[Any], part_type: int, site: Site, **owner: int) -> int:
    name, kind, critical, flow_place, oxygen_side = told
    slot_id = _enter(act, "slots", site, name=name, kind=kind, critical=critical, ordinal=ordinal,
                     flow_place=flow_place or None, oxygen_side=oxygen_side, **owner)  # fmt: skip
    _enter(act, "slot_part_types", site, slot=slot_id, part_type=part_type)
    return slot_id


def _begin_handsets(act: Transaction, type_id: int, cells: Sequence[int], site: Site) -> None:
    slots = [row for row in rows_of(act.session.connection(), Slot) if row["unit_type_id"] == type_id]
    for ordinal, slot in enumerate((each for each in slots if each["kind"] == "handset"), 1):
        reader = _enter(act, "readers", site, unit_type=type_id, slot=slot["id"], name=slot["name"], kind="handset",
                        ordinal=ordinal, zero_offset_mv=0.1)  # fmt: skip
        for cell in cells:
            _enter(act, "reader_cells", site, reader=reader, cell_slot=cell, shows="mV", resolution=SHOWN_MV)


# ---- more units ------------------------------------------------------------------------------------------------------


def add_unit(workplace: Workplace, unit_type_id: int, tag: str, serial: str, in_service_on: MarkedDate | None) -> str:
    """One more unit of a type, with a part in every slot that one part type is made for; a sentence."""
    require_person(workplace)
    zone = workplace.zone()
    with workplace.transaction("add unit", f"unit {tag.strip()[:30]}") as act:
        _add_unit(act, unit_type_id, tag, serial, in_service_on, zone)
    return say("{tag} is entered.", tag=tag.strip())


def copy_unit(
    workplace: Workplace,
    unit_id: int,
    first_tag: str,
    serials: Sequence[str],
    in_service_on: MarkedDate | None,
    *,
    same_delivery: bool,
) -> str:
    """As many units like this one as serials are given, tagged on from the first tag; a sentence.

    Parts are of the same types; their serials are not known. same_delivery: their cells have the lot and the dates of
    this unit's cells, which a user states; otherwise neither is known, and the unit is held until they are read.
    """
    require_person(workplace)
    said = [each.strip() for each in serials if each.strip()]
    if not 1 <= len(said) <= LARGEST_COPY:
        raise Refused(say("serials: {count} are given; give 1 to {most}, one a line", count=len(said),
            most=LARGEST_COPY))  # fmt: skip
    zone = workplace.zone()
    with workplace.transaction("add unit", f"{len(said)} like unit {unit_id}") as act:
        like = act.get(Unit, unit_id, "unit")
        fitted = read_fitted(act.session.connection(), unit_id)
        tags = tags_from(first_tag, len(said), {row["tag"] for row in rows_of(act.session.connection(), Unit)})
        for tag, serial in zip(tags, said, strict=True):
            new = _unit(act, like.unit_type_id, tag, serial, in_service_on, zone, place=like.place_id,
                        owner=like.owner_id, harness=like.harness)  # fmt: skip
            _fit_like(act, fitted, new, _found_at(act, in_service_on, zone), same_delivery=same_delivery)
            _keep_lives(act, new)
    return say("{tags}: entered like {tag}.", tags=strung(", ", tags), tag=like.tag)


def next_tag(tag: str) -> str:
    """'B-02' after 'B-01'; '2' is added where no number ends the tag."""
    match = re.search(r"(\d+)(\D*)$", tag)
    if match is None:
        return f"{tag}-2"
    number, rest = match.groups()
    return f"{tag[: match.start()]}{int(number) + 1:0{len(number)}d}{rest}"


def tags_from(first: str, count: int, taken: set[str]) -> list[str]:
    """The first tag and those that follow it, leaving out what is taken; Refused where the first is."""
    tag = required("tag", first)
    if tag in taken:
        raise Refused(say("tag: {tag} is recorded already; give another", tag=tag))
    tags: list[str] = []
    while len(tags) < count:
        if tag not in taken:
            tags.append(tag)
        tag = next_tag(tag)
    return tags


def _add_unit(act: Transaction, type_id: int, tag: str, serial: str, since: MarkedDate | None, zone: ZoneInfo) -> Unit:
    unit = _unit(act, type_id, tag, serial, since, zone)
    catalogue = _Catalogue(act.session.connection())
    _fill(act, catalogue.of_unit.get(type_id, []), unit, None, _found_at(act, since, zone), catalogue)
    _keep_lives(act, unit)
    return unit


def _keep_lives(act: Transaction, unit: Unit) -> None:
    refresh_lives(act, [part.part_id for _, part in read_fitted(act.session.connection(), unit.id)])


def _unit(
    act: Transaction, type_id: int, tag: str, serial: str, since: MarkedDate | None, zone: ZoneInfo, **more: Any
) -> Unit:
    if since is not None and since.first_day > act.at.astimezone(zone).date():
        raise Refused(say("in service since: {since} lies ahead; enter the day on which it came into service",
            since=since))  # fmt: skip
    act.get(UnitType, type_id, "unit type")
    owner = more.pop("owner", None) or _own(act).id
    given = {
        "tag": tag.strip(),
        "serial": serial.strip() or None,
        "unit_type": type_id,
        "owner": owner,
        "in_service_on": since,
    }
    unit_id = _enter(act, "units", Site(zone), **given, **more)
    return act.get(Unit, unit_id, "unit")


def _own(act: Transaction) -> Owner:
    return centres_own(act.session) or act.add(Owner(name=in_row("The centre"), kind=OwnerKind.CENTRE))


def _found_at(act: Transaction, since: MarkedDate | None, zone: ZoneInfo) -> datetime:
    """From when a part is known to have sat there: since the unit came into service, or since now."""
    return datetime.combine(since.first_day, time(), tzinfo=zone) if since is not None else act.at


class _Catalogue:
    """Which one part type each slot is made for, and the slots within an assembly."""

    def __init__(self, connection: Connection) -> None:
        made_for: dict[int, list[int]] = {}
        for row in rows_of(connection, SlotPartType):
            made_for.setdefault(row["slot_id"], []).append(row["part_type_id"])
        self.part_type = {slot: types[0] for slot, types in made_for.items() if len(types) == 1}
        self.within: dict[int, list[dict[str, Any]]] = {}
        self.of_unit: dict[int, list[dict[str, Any]]] = {}
        for row in rows_of(connection, Slot):
            self.within.setdefault(row["assembly_type_id"], []).append(row)
            self.of_unit.setdefault(row["unit_type_id"], []).append(row)


def _fill(
    act: Transaction,
    slots: Sequence[Mapping[str, Any]],
    unit: Unit,
    host: Part | None,
    since: datetime,
    catalogue: _Catalogue,
) -> None:
    for slot in slots:
        part_type = catalogue.part_type.get(slot["id"])
        if part_type is None or not slot["critical"]:
            continue
        part = act.add(_part(part_type, unit.owner_id))
        _fit(act, part, slot["id"], unit if host is None else None, host, since)
        _fill(act, catalogue.within.get(part_type, []), unit, part, since, catalogue)


def _part(part_type: int, owner_id: int, **marks: Any) -> Part:
    unknown = {f"{name}_precision": "day" for name in ("made", "opened", "fixed")}
    return Part(part_type_id=part_type, owner_id=owner_id, state="fitted", **{**unknown, **marks})


def _fit(act: Transaction, part: Part, slot_id: int, unit: Unit | None, host: Part | None, since: datetime) -> None:
    act.add(
        Fitting(
            part_id=part.id, slot_id=slot_id, unit_id=unit.id if unit is not None else None,
            host_part_id=host.id if host is not None else None, fitted_at=since, fitted_by_id=None,
            since_unknown=True,
        )
    )  # fmt: skip


SAME_DELIVERY = ("lot", "made_on", "made_precision", "opened_on", "opened_precision", "received_on")


def _fit_like(
    act: Transaction, fitted: Sequence[FittedRecord], unit: Unit, since: datetime, *, same_delivery: bool
) -> None:
    made: dict[int, Part] = {}
    cells = {row["id"] for row in rows_of(act.session.connection(), PartType) if row["kind"] == "cell"}
    for fitting, like in _outer_first(fitted):
        copied = same_delivery and like.part_type_id in cells
        marks = {name: getattr(like, name) for name in SAME_DELIVERY} if copied else {}
        part = made[like.part_id] = act.add(_part(like.part_type_id, unit.owner_id, **marks))
        host = made[fitting.host_part_id] if fitting.host_part_id is not None else None
        _fit(act, part, fitting.slot_id, unit if host is None else None, host, since)


def _outer_first(fitted: Sequence[FittedRecord]) -> list[FittedRecord]:
    """Each part after the assembly it sits in."""
    ordered: list[FittedRecord] = []
    hosts: set[int | None] = {None}
    waiting = list(fitted)
    while waiting:
        ready = [each for each in waiting if each.fitting.host_part_id in hosts]
        ordered += ready
        hosts |= {each.part.part_id for each in ready}
        waiting = [each for each in waiting if each not in ready]
        if not ready:
            break
    return ordered


def mark_parts(
    workplace: Workplace,
    unit_id: int,
    kind: str,
    *,
    lot: str = "",
    made: MarkedDate | None = None,
    opened: MarkedDate | None = None,
    firmware: str = "",
) -> str:
    """Write what is read on all parts of a kind in a unit; what is left empty stays as it is."""
    require_person(workplace)
    read = {"lot": lot.strip(), "made_on": made, "opened_on": opened, "firmware": firmware.strip()}
    given = {name: value for name, value in read.items() if value}
    if not given:
        raise Refused(say("lot: nothing is entered; read lot and dates on the label"))
    with workplace.transaction("correct stock record", f"{kind} of unit {unit_id}") as act:
        kinds = {row["id"]: row["kind"] for row in rows_of(act.session.connection(), PartType)}
        parts = [part for _, part in read_fitted(act.session.connection(), unit_id) if kinds[part.part_type_id] == kind]
        if not parts:
            raise Refused(say("kind: no {kind} sits in this unit; fit one first", kind=say(kind)))
        for part in parts:
            amend(act, REGISTERS["parts"], part.part_id, given, say("read on the part"), Site(workplace.zone()))
    return say("{count} {kind} parts have what is marked on them.", count=len(parts), kind=say(kind))


# ---- what becomes of a unit ------------------------------------------------------------------------------------------


def rename_unit(workplace: Workplace, unit_id: int, tag: str, seen: Mapping[str, str] | None = None) -> str:
    """Give a unit another tag; the former one finds it too. seen: the user's; Clash where it was changed since."""
    require_person(workplace)
    with workplace.transaction("rename unit", f"unit {unit_id}") as act:
        unit = act.get(Unit, unit_id, "unit")
        before = unit.tag
        amend(act, REGISTERS["units"], unit_id, {"tag": tag.strip(), "former_tag": before}, "renamed",
            Site(workplace.zone()), seen)  # fmt: skip
    return say("{before} is now {tag}; both tags find it.", before=before, tag=tag.strip())


def move_unit(workplace: Workplace, unit_id: int, place: int | None) -> str:
    """Keep a unit at another place."""
    require_person(workplace)
    with workplace.transaction("move unit", f"unit {unit_id}") as act:
        lines = amend(act, REGISTERS["units"], unit_id, {"place": place}, "moved", Site(workplace.zone()))
    return lines[0]


def retire_unit(workplace: Workplace, unit_id: int, on: date, why: str) -> str:
    """A unit is sold or retired from a day on: it goes out no more, and its records stay."""
    require_person(workplace)
    said = required("why", why)
    unit = next((each for each in list_units(workplace) if each.unit_id == unit_id), None)
    if unit is not None and unit.where is Where.OUT:
        raise Refused(say("unit {tag}: is out; receive it first", tag=unit.tag))
    with workplace.transaction("retire unit", f"unit {unit_id}") as act:
        amend(act, REGISTERS["units"], unit_id, {"retired_on": on}, said, Site(workplace.zone()))
    return say("{tag} is retired on {on}.", tag=unit.tag if unit is not None else say("It"), on=on)


def send_away(workplace: Workplace, unit_id: int, place: int | None, why: str, expected_on: date | None) -> str:
    """A unit leaves for service, warranty or a trip; it is not offered until it is back."""
    require_person(workplace)
    with workplace.transaction("send unit away", f"unit {unit_id}") as act:
        unit = act.get(Unit, unit_id, "unit")
        if _away(act, unit_id) is not None:
            raise Refused(say("unit {tag}: is away already; bring it back first", tag=unit.tag))
        act.add(Absence(unit_id=unit_id, place_id=place, why=required("why", why)[:200], left_at=act.at,
                        expected_on=expected_on, back_at=None))  # fmt: skip
    return say("{tag} is away.", tag=unit.tag)


def bring_back(workplace: Workplace, unit_id: int) -> str:
    """A unit that was away is back at the centre."""
    require_person(workplace)
    with workplace.transaction("bring unit back", f"unit {unit_id}") as act:
        unit, key = act.get(Unit, unit_id, "unit"), _away(act, unit_id)
        if key is None:
            raise Refused(say("unit {tag}: is not away", tag=unit.tag))
        act.change(act.get(Absence, key, "absence"), back_at=act.at)
    return say("{tag} is back.", tag=unit.tag)


def _away(act: Transaction, unit_id: int) -> int | None:
    rows = rows_of(act.session.connection(), Absence)
    return next((row["id"] for row in rows if row["unit_id"] == unit_id and row["back_at"] is None), None)


def local_zone_name() -> str:
    """The time zone of this computer by its name, UTC where it tells none."""
    link = Path("/etc/localtime")
    name = os.environ.get("TZ") or (str(link.resolve()).partition("zoneinfo/")[2] if link.exists() else "")
    return name if name in available_timezones() else "UTC"
