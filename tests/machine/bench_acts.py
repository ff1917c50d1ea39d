"""Acts at the bench: calibrations, tests, parts in and out, gas, batteries and canisters."""

from datetime import timedelta
from random import Random
from typing import Any

from sqlalchemy import select

from fleetbench.records.canisters.tables import Container
from fleetbench.records.cells.tables import CalibrationOutcome
from fleetbench.records.tickets.tables import Task
from fleetbench.workshop.bench.sessions import open_session
from fleetbench.workshop.bench.tests import WatchedLoop, record_release, record_test
from fleetbench.workshop.canisters.containers import open_container, receive_container
from fleetbench.workshop.canisters.packing import discard_fill, give_fill, mark_flooded, pack_canister
from fleetbench.workshop.canisters.runs import RunEntry, log_run
from fleetbench.workshop.cells.calibrate import correct, record
from fleetbench.workshop.cells.entry import CalibrationEntry, HandsetEntry, ReadingEntry
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisEntry, record_analyses
from fleetbench.workshop.gas.fills import FillEntry, record_fills
from fleetbench.workshop.gas.oxygen_side import clean_parts
from fleetbench.workshop.parts.acts import quarantine_part, release_part, scrap_part, send_back, undo_last
from fleetbench.workshop.parts.fit import fit_part, remove_part
from fleetbench.workshop.parts.refit import move_fitted, undo_fitting
from fleetbench.workshop.turn_rounds.handsets import record_batteries
from tests.independent.truth import GAS_SIDE, LOCK_UP, Fill, Judged, Part, Tested
from tests.machine.scene import UNDATED, ReachedError, Scene, Store

STEADY = ("held", "held", "held", "held", "creeps", "high", "near", "short", "no gauge")
HOW = ("sound", "sound", "sound", "sound, with pot", "weak", "limited", "damp", "few")
SELDOM = ("head", "loop set", "canister", "handset battery")
"""Kinds that are changed less often than cells and valves."""

ASKED = {"oxygen": 100.0, "diluent": 21.0, "bailout": 21.0}
SHOWN = {"oxygen": 99.6, "diluent": 21.2, "bailout": 20.9}


def bench_session(s: Scene, person: int) -> int | None:
    """A bench session of this person with gas analysed."""
    keys = s.keys.centre
    return s.attempt("calibrate", person, lambda workplace: open_session(
        workplace, pressure_mbar=1008.4, temperature_c=21.0, humidity_percent=45.0, oxygen_shown_percent=99.6,
        analyser_id=keys.analyser, barometer_id=keys.barometer, hygrometer_id=keys.hygrometer))  # fmt: skip


def cells_of(s: Scene, unit: str) -> dict[int, Part]:
    """The cells of a unit by the number of their position."""
    head = s.truth.sits(unit, "head")
    found = {n: s.truth.sits(head.serial, f"cell {n}") for n in (1, 2, 3)} if head else {}
    return {number: part for number, part in found.items() if part is not None}


def figures(s: Scene, cells: dict[int, Part], how: str, bad: int) -> tuple[ReadingEntry, ...]:
    """Readings of the cells that are there; what is bad in them is so in one cell."""
    keys, found = s.keys.centre, []
    for number in cells:
        air, oxygen, pot = 10.2 + number * 0.1, 49.0 + number * 0.4, 78.5 + number * 0.6
        if number == bad:
            oxygen, pot = (29.0, 46.0) if how == "weak" else (oxygen, 60.0) if how == "limited" else (oxygen, pot)
        slot = keys.cell_slots[number - 1]
        for reader in keys.readers:
            found.append(ReadingEntry(slot_id=slot, reader_id=reader, point="air", mv=air))
            if how != "few":
                found.append(ReadingEntry(slot_id=slot, reader_id=reader, point="oxygen", mv=oxygen))
            if "pot" in how or how == "limited":
                found.append(ReadingEntry(slot_id=slot, reader_id=reader, point="pot", mv=pot, pot_bar=1.6))
        stamps = (100.0, 130.0, 160.0) if how != "few" else ()
        found += [ReadingEntry(slot_id=slot, reader_id=keys.readers[0], point="settling", seconds=at, mv=oxygen)
                  for at in stamps]  # fmt: skip
    return tuple(found)


def calibrate(s: Scene, r: Random, unit: str = "", how: str = "", person: int = 0) -> None:
    """A calibration of the cells that a unit has, sound or not, now and then corrected at once."""
    unit, how = unit or r.choice(s.truth.units), how or r.choice(HOW)
    person = person or s.person("calibrate", r)
    cells = cells_of(s, unit)
    session = bench_session(s, person)
    if session is None:
        return
    bad = r.choice(sorted(cells)) if cells and how in ("weak", "limited") else 0
    readers = s.keys.centre.readers
    entry = CalibrationEntry(
        tag=unit, session_id=session, head="damp" if how == "damp" else "dry", vented="yes",
        figures=figures(s, cells, how, bad),
        handsets=tuple(HandsetEntry(reader_id=each, fraction_set=0.996, pressure_set_mbar=1008.0,
                                    shown_oxygen_bar=1.0, shown_air_bar=0.21) for each in readers),
    )  # fmt: skip
    done = s.attempt("calibrate", person, lambda workplace: record(workplace, entry))
    if done is None:
        return
    _note_calibration(s, unit, done.calibration_id, done.at, cells, how, bad)
    if r.random() < 0.1:
        again = entry if how.startswith("sound") else None
        if again is None:
            return
        for part in cells.values():
            part.judged = [one for one in part.judged if one.key != done.calibration_id or one.kind != "calibration"]
        mine = s.truth.calibrated[unit]
        s.truth.calibrated[unit] = [one for one in mine if one[1] != done.calibration_id]
        other = s.must("calibrate", person, lambda workplace: correct(workplace, done.calibration_id, again))
        _note_calibration(s, unit, other.calibration_id, other.at, cells, how, bad)


def _note_calibration(s: Scene, unit: str, key: int, at: Any, cells: dict[int, Part], how: str, bad: int) -> None:
    with s.workplace.database.reading() as connection:
        rows = dict(connection.execute(select(CalibrationOutcome.part_id, CalibrationOutcome.verdict).where(
            CalibrationOutcome.calibration_id == key)).all())  # fmt: skip
    verdicts = {number: rows.get(s.part_ids[part.serial], "repeat") for number, part in cells.items()}
    if bad and verdicts[bad] in ("pass", "watch"):
        raise ReachedError(f"{how} cell {bad} of {unit} was called {verdicts[bad]}")
    if how in ("damp", "few") and "pass" in verdicts.values():
        raise ReachedError(f"a calibration that was {how} passed: {verdicts}")
    for number, part in cells.items():
        limited = how == "limited" and number == bad
        part.judged.append(Judged(at, "calibration", verdicts[number], key, limited, "pot" in how))
    sound = len(cells) == 3 and all(each in ("pass", "watch") for each in verdicts.values())
    s.truth.calibrated.setdefault(unit, []).append((at, key, sound))


def note_test(s: Scene, unit: str, kind: str, way: str, verdict: str, key: int) -> None:
    """A bench test as the truth keeps it, with the part that it speaks of."""
    s.truth.tests.setdefault(unit, []).append(Tested(s.truth.now, kind, way, verdict, key))
    loop = s.truth.sits(unit, "loop set")
    slot = f"{way} {kind}".strip()
    part = s.truth.sits(loop.serial, slot) if loop is not None else None
    if part is not None and part.kind == kind:
        part.judged.append(Judged(s.truth.now, kind, verdict, key))


def release_tests(s: Scene, r: Random, unit: str = "", *, sound: bool = False, person: int = 0) -> None:
    """Valves by breath and loop by eye, all or some, that hold or do not."""
    unit = unit or r.choice(s.truth.units)
    person = person or s.person("release tests", r)
    held: list[bool | None] = [True if sound or r.random() < 0.85 else r.choice((False, None)) for _ in range(4)]
    minutes = 3.0 if sound or r.random() < 0.8 else 1.0
    done = s.attempt(
        "release tests",
        person,
        lambda workplace: record_release(
            workplace,
            unit,
            inhale=held[0],
            exhale=held[1],
            negative=WatchedLoop(held[2], minutes),
            positive=WatchedLoop(held[3], minutes),
        ),
    )
    kinds = (("one-way valve", "inhale"), ("one-way valve", "exhale"), ("loop negative", ""), ("loop positive", ""))
    given = [(each, how) for each, how in zip(kinds, held, strict=True) if how is not None]
    for (each, how), one in zip(given, done or (), strict=False):
        short = each[0].startswith("loop") and minutes < 3
        expected = "reject" if how is False else "repeat" if short else "pass"
        if str(one.answer.verdict) != expected:
            raise ReachedError(f"{each} of {unit}: {one.answer.verdict}, {expected} is true")
        note_test(s, unit, *each, expected, one.test_id)


def bench_test(s: Scene, r: Random, unit: str = "", kind: str = "", held: bool | None = None) -> None:
    """One test of something that works or not."""
    unit = unit or r.choice(s.truth.units)
    kind = kind or r.choice(("mouthpiece valve", "one-way valve", "alarms"))
    way = r.choice(("inhale", "exhale")) if kind == "one-way valve" else ""
    held = held if held is not None else r.random() < 0.75
    done = s.attempt(
        "bench test",
        s.person("bench test", r),
        lambda workplace: record_test(workplace, unit, kind, held=held, direction=way or None),
    )
    if done is not None:
        note_test(s, unit, kind, way, "pass" if held else "reject", done.test_id)


def intermediate(s: Scene, r: Random, stage: str = "", supply: float = 0.0, *, sound: bool = False) -> None:
    """The intermediate pressure of a first stage or of the bailout regulator, which holds, creeps or is off."""
    stages = [part.serial for part in s.truth.parts.values() if part.kind in GAS_SIDE] + ["RB-1", "RB-1"]
    serial, supply = stage or r.choice(stages), supply or r.choice((200.0, 50.0))
    part = s.truth.parts[serial]
    unit, how = s.truth.unit_of(part) or "", "held" if sound else r.choice(STEADY)
    value = {"high": 11.0, "near": 9.95}.get(how, 9.2)
    watched, gauge = 2.0 if how == "short" else 6.0, None if how == "no gauge" else s.centre.gauge
    expected = {"held": "pass", "creeps": "reject", "high": "reject"}.get(how, "repeat")
    done = s.attempt("bench test", s.person("bench test", r), lambda workplace: record_test(
        workplace, unit, "intermediate pressure", held=how != "creeps", watched_minutes=watched, value=value,
        supply_bar=supply, slot=part.slot, equipment_id=gauge), named="intermediate pressure")  # fmt: skip
    if done is None:
        return
    if str(done.answer.verdict) != expected:
        raise ReachedError(f"intermediate pressure of {serial}, {how}: {done.answer.verdict}, {expected} is true")
    s.truth.tests.setdefault(unit, []).append(Tested(s.truth.now, "intermediate pressure", "", expected, done.test_id))
    part.judged.append(Judged(s.truth.now, LOCK_UP[supply < 100], expected, done.test_id))


def batteries(s: Scene, r: Random, unit: str = "", *, sound: bool = False) -> None:
    """The battery's voltage, in limits or not."""
    unit, volts = unit or r.choice(s.truth.units), 3.9 if sound or r.random() < 0.85 else 3.2
    sits = s.truth.sits(unit, "handset 1 battery") is not None
    done = s.attempt("read batteries", s.person("read batteries", r),
                     lambda workplace: record_batteries(workplace, unit, {"handset 1 battery": volts}),
                     against=() if sits else ("no battery sits there",))  # fmt: skip
    if done is not None:
        s.truth.batteries[unit] = (s.truth.now, volts > 3.6)


# parts


def _why_not_fitted(s: Scene, part: Part, kind: str, *, moved: bool = False, to_test: bool = False) -> list[str]:
    inside = [part, *(each for each in s.truth.parts.values() if each.host == part.serial)]
    against = [f"{part.serial} is a {part.kind}, the slot takes a {kind}"] if part.kind != kind else []
    if part.state not in ("stock", *(("fitted",) if moved else ()), *(("quarantine",) if to_test else ())):
        against.append(f"{part.serial} is {part.state}")
    for each in inside:
        if each.rejected() and not (to_test and each is part):
            against.append(f"{each.serial} is rejected: {each.rejected()}")
        if any(hold.part == each.serial for hold in s.truth.holds.values()):
            against.append(f"{each.serial} is on hold")
        if each.lot and each.lot in s.truth.recalls.values():
            against.append(f"lot {each.lot} is recalled")
    return against


def fit(s: Scene, r: Random, unit: str = "", where: tuple[str, str, str] | None = None, serial: str = "") -> bool:
    """A part from the shelf, of the right kind mostly, into a slot; what sits there comes out."""
    unit = unit or r.choice(s.truth.units)
    host, slot, kind = where or r.choice(list(s.truth.slots(unit)))
    if where is None and s.likely(r):
        host, slot, kind = r.choice([each for each in s.truth.slots(unit) if each[2] not in SELDOM])
    fits = [part for part in s.truth.parts.values() if part.kind == kind and part.host is None]
    sound = [part for part in fits if not _why_not_fitted(s, part, kind) and part.serial not in UNDATED]
    pool = list(s.truth.parts.values())
    if s.careful or r.random() < 0.9:
        pool = sound if sound and (s.careful or r.random() < 0.8) else fits or pool
    part, old = s.truth.parts[serial] if serial else r.choice(pool), s.truth.sits(host, slot)
    why = r.choice(("age", "fault", "moved", "low output", "service", "other"))
    to_test = kind == "cell" and not s.careful and r.random() < 0.25
    act = "fit cell" if kind == "cell" else "fit part"
    against = _why_not_fitted(s, part, kind, to_test=to_test)
    done = s.attempt(
        act,
        s.person(act, r),
        lambda workplace: fit_part(workplace, part.serial, unit, slot, why_old=why if old else None, to_test=to_test),
        against=against,
    )
    if done is None:
        return False
    s.log.append(f"    {part.serial} into {unit} {slot}{' to test' if to_test else ''}")
    if old is not None:
        s.truth.take_out(old, why)
    s.truth.put_in(part, host, slot)
    return True


def fit_to_test(s: Scene, r: Random, unit: str, where: tuple[str, str, str], serial: str) -> None:
    """A cell that was set aside goes into an empty slot, only to be measured there."""
    part = s.truth.parts[serial]
    if s.attempt("fit cell", s.person("fit cell", r), lambda workplace: fit_part(
            workplace, serial, unit, where[1], why_old=None, to_test=True),
            against=_why_not_fitted(s, part, where[2], to_test=True)):  # fmt: skip
        s.truth.put_in(part, where[0], where[1])


def remove(s: Scene, r: Random, serial: str = "", why: str = "") -> None:
    """A part comes out and leaves its slot empty."""
    unit = r.choice(s.truth.units)
    host, slot, kind = r.choice([each for each in s.truth.slots(unit) if each[2] not in ("head", "loop set")])
    if serial:
        named = s.truth.parts[serial]
        unit, slot, host, kind = s.truth.unit_of(named) or unit, named.slot, named.host or host, named.kind
    part, act = s.truth.sits(host, slot), "fit cell" if kind == "cell" else "fit part"
    why = why or r.choice(("age", "fault", "moved", "low output", "service", "wrong part"))
    done = s.attempt(act, s.person(act, r), lambda workplace: remove_part(workplace, unit, slot, why=why),
                     against=() if part else ("nothing sits there",), named="remove part")  # fmt: skip
    if done is not None and part is not None:
        s.truth.take_out(part, why)
        s.log.append(f"    {part.serial} out of {unit} {slot}, {why}")


def move(s: Scene, r: Random) -> None:
    """A fitted part goes into a slot of another unit, or of the same."""
    unit, other = r.choice(s.truth.units), r.choice(s.truth.units)
    host, slot, kind = r.choice(list(s.truth.slots(unit)))
    full = [each for each in s.truth.slots(unit) if each[2] not in SELDOM and s.truth.sits(*each[:2])]
    if full and s.likely(r):
        host, slot, kind = r.choice(full)
    targets = [each for each in s.truth.slots(other) if each[2] == kind or r.random() < 0.05]
    if not targets:
        return
    to_host, to_slot, to_kind = r.choice(targets)
    part, old = s.truth.sits(host, slot), s.truth.sits(to_host, to_slot)
    act, why = "fit cell" if kind == to_kind == "cell" else "fit part", r.choice(("moved", "fault", "age"))
    against = _why_not_fitted(s, part, to_kind, moved=True) if part else ["nothing sits there"]
    against += ["it sits there"] if part is old else []
    done = s.attempt(act, s.person(act, r), lambda workplace: move_fitted(
        workplace, unit, slot, other, to_slot, why_old=why if old else None),
        against=against, named="move part")  # fmt: skip
    if done is None or part is None:
        return
    s.log.append(f"    {part.serial} from {unit} {slot} to {other} {to_slot}")
    s.truth.note_opening(part)
    if old is not None:
        s.truth.take_out(old, why)
    s.truth.put_in(part, to_host, to_slot)


def undo_fit(s: Scene, r: Random, unit: str = "") -> None:
    """The last change of a slot is taken back; what sits where is read again, since the program says so alone."""
    unit = unit or r.choice(s.truth.units)
    recent = [(part.fitted_at, part.host, part.slot, part.kind) for part in s.truth.inside(unit) if part.fitted_at]
    _, host, slot, kind = max(recent, key=lambda one: one[0]) if recent and r.random() < 0.7 else (
        None, *r.choice(list(s.truth.slots(unit))))  # fmt: skip
    part, act = s.truth.sits(host, slot), "fit cell" if kind == "cell" else "fit part"
    done = s.attempt(act, s.person(act, r), lambda workplace: undo_fitting(workplace, unit, slot, "entered by mistake"),
                     named="undo fitting")  # fmt: skip
    if done is None:
        return
    s.log.append(f"    undone in {unit} {slot}: {done}")
    if (part is None) != (done.out is None) or (part is not None and done.out != part.serial):
        raise ReachedError(f"undo took {done.out} out of {slot} of {unit}, where {part and part.serial} sits")
    if part is not None:
        s.truth.take_out(part, "wrong part")
        seats = s.where_is(part.serial)
        if seats is not None:
            s.truth.put_in(part, *seats)
        else:
            part.state = s.state_of(part.serial)
    if done.back_in is not None:
        s.truth.put_in(s.truth.parts[done.back_in], host, slot)


FITTING = {"release": ("quarantine",), "aside": ("stock",)}


def shelf(s: Scene, r: Random, serial: str = "", kind: str = "") -> None:
    """A part on the shelf is set aside, released, sent back, scrapped, or its last event is taken back."""
    kind = kind or r.choice(("aside", "aside", "release", "release", "release", "undo", "gone", "gone"))
    parts = [part for part in s.truth.parts.values() if part.host is None and part.kind not in ("head", "canister")]
    if s.likely(r) and kind in FITTING:
        parts = [part for part in parts if part.state in FITTING[kind]] or parts
    part = s.truth.parts[serial] if serial else r.choice(
        parts if parts and r.random() < 0.95 else list(s.truth.parts.values()))  # fmt: skip
    key = s.part_ids[part.serial]
    on_shelf = [] if part.host is None else [f"{part.serial} sits in a slot"]
    if kind == "aside":
        against = [*on_shelf, *([] if part.state == "stock" else [f"is {part.state}"])]
        if s.attempt("set part aside", s.person("set part aside", r),
                     lambda workplace: quarantine_part(workplace, key, "looks odd"), against=against):  # fmt: skip
            part.state = "quarantine"
    elif kind == "release":
        against = [*on_shelf, *([] if part.state == "quarantine" else [f"is {part.state}"]), *part.rejected()]
        against += ["recalled"] if part.lot and part.lot in s.truth.recalls.values() else []
        against += ["on hold"] if any(hold.part == part.serial for hold in s.truth.holds.values()) else []
        measured = any(one.verdict in ("pass", "watch") and part.removed_at and one.at > part.removed_at
                       for one in part.judged)  # fmt: skip
        against += ["out for a fault, and not measured since"] if part.fault and not measured and part.kind in (
            "cell", "one-way valve", "mouthpiece valve") else []  # fmt: skip
        if s.attempt("release part", s.person("release part", r),
                     lambda workplace: release_part(workplace, key, "looked at again"), against=against):  # fmt: skip
            part.state = "stock"
    elif kind == "undo":
        if s.attempt("undo", s.person("undo", r), lambda workplace: undo_last(workplace, key, "typing error"),
                     against=on_shelf):  # fmt: skip
            part.state = s.state_of(part.serial)
    elif part.kind == "cell" and part.state == "quarantine":
        act = r.choice(("scrap part", "send part back", "send part back"))
        call = (lambda workplace: scrap_part(workplace, key, "spent")) if act == "scrap part" else (
            lambda workplace: send_back(workplace, key, "weak", outcomes=s.outcomes_of(part.serial)[:1]))  # fmt: skip
        if s.attempt(act, s.person(act, r), call, against=on_shelf):
            part.state = "scrapped" if act == "scrap part" else "sent back"


# canisters and gas


def canisters(s: Scene) -> list[str]:
    """Serials of every canister."""
    return [part.serial for part in s.truth.parts.values() if part.kind == "canister"]


def pack(s: Scene, r: Random, canister: str = "", line: int | None = None) -> None:
    """A canister is packed for nobody yet, for a diver, or for a hire."""
    empty = [each for each in canisters(s) if not s.truth.standing_fill(each)]
    canister = canister or r.choice(empty if empty and s.likely(r) else canisters(s))
    keys, key, lot = s.keys, *store(s, r)
    diver = r.choice(s.renters) if line is None and r.random() < 0.5 else None
    against = ["it is filled"] if s.truth.standing_fill(canister) else []
    against += ["expired"] if lot == "F-0" else ["too coarse"] if lot == "C-1" else []
    against += ["recalled"] if lot in s.truth.recalls.values() else []
    against += ["on hold"] if any(hold.part == canister for hold in s.truth.holds.values()) else []
    filled = 3500.0 if s.careful or r.random() < 0.9 else 2900.0
    against += ["too little in it"] if filled < 3300 else []
    done = s.attempt("pack canister", s.person("pack canister", r), lambda workplace: pack_canister(
        workplace, canister, key, tare_g=1000.0, filled_g=filled, looked_at=True, diver_id=diver,
        line_id=line, scale_id=keys.scale), against=against)  # fmt: skip
    if done is not None and key in s.stores:
        s.stores[key].kg -= 2.5
        s.stores[key].opened = s.stores[key].opened or s.truth.now
    if done is not None:
        booking, mine = s.truth.line(line) if line is not None else (None, None)
        theirs = booking.diver_of(mine) if booking is not None and mine is not None else diver
        s.truth.fills[done.fill_id] = Fill(canister, lot, s.truth.now, theirs, line)


def store(s: Scene, r: Random) -> tuple[int, str]:
    """A container to pack from and its lot: one that serves mostly; where none is left a new one is received."""
    if not s.careful and r.random() < 0.12:
        return r.choice(((s.keys.expired, "F-0"), (s.keys.coarse, "C-1")))
    held, recalled = {hold.part for hold in s.truth.holds.values()}, set(s.truth.recalls.values())
    good = [(key, each.lot) for key, each in s.stores.items() if each.kg >= 2.6 and each.lot not in recalled | held
            and (each.opened is None or s.clock() - each.opened < timedelta(days=12))]  # fmt: skip
    if not good:
        receive_absorbent(s, r)
        good = [(key, each.lot) for key, each in s.stores.items()][-1:]
    return good[0]


def receive_absorbent(s: Scene, r: Random) -> None:
    """A container is taken in, sealed."""
    lot, last = f"F-{len(s.stores) + 1}", s.workplace.today() + timedelta(days=400)
    done = s.attempt(
        "receive absorbent",
        s.person("receive absorbent", r, wrong=0.0),
        lambda workplace: receive_container(workplace, "LIME-F", lot=lot, kg=20.0, last_good_day=last),
    )
    if done is not None:
        s.stores[done] = Store(lot, 20.0)


def filled(s: Scene, r: Random) -> str:
    """A canister, mostly one that is filled."""
    full = [each for each in canisters(s) if s.truth.standing_fill(each)]
    return r.choice(full if full and s.likely(r) else canisters(s))


def give(s: Scene, r: Random) -> None:
    """A fill is said to be for a diver."""
    canister, diver = filled(s, r), r.choice(s.renters)
    standing = s.truth.standing_fill(canister)
    against = [] if standing else ["no fill"]
    if standing and standing[1].starts and standing[1].diver not in (None, diver):
        against.append("used by another diver")
    done = s.attempt("give fill", s.person("give fill", r),
                     lambda workplace: give_fill(workplace, canister, diver_id=diver), against=against)  # fmt: skip
    if done is not None and standing:
        standing[1].diver, standing[1].line = diver, None


def run(s: Scene, r: Random, canister: str = "") -> None:
    """A run is logged on a fill, with and without its start."""
    canister, minutes = canister or filled(s, r), float(r.choice((20, 45, 45, 90, 240)))
    standing = s.truth.standing_fill(canister)
    if s.likely(r):
        s.clock.advance(hours=r.choice((1, 2, 5)))
    unit = s.truth.unit_of(s.truth.parts[canister])
    diver = r.choice(s.renters) if r.random() < 0.5 else None
    now = s.clock() + timedelta(minutes=1)
    started = now - timedelta(minutes=minutes + 1) if r.random() < 0.5 else None
    against = [] if standing else ["no fill"]
    if standing:
        against += ["began before it was packed"] if started is not None and started < standing[1].packed_at else []
        against += ["nobody is named"] if diver is None and standing[1].diver is None else []
        room = (now - standing[1].packed_at).total_seconds() / 60
        against += ["longer than since it was packed"] if minutes > room + 1 else []
    against += ["sits in no unit"] if unit is None else []
    done = s.attempt(
        "log run",
        s.person("log run", r),
        lambda workplace: log_run(workplace, canister, RunEntry(minutes=minutes, started_at=started, diver_id=diver)),
        against=against,
    )
    if done is not None and standing:
        note_run(s, standing[1], minutes, started or standing[1].packed_at, diver)


def note_run(s: Scene, fill: Fill, minutes: float, earliest: Any, diver: int | None) -> None:
    """A run as the truth keeps it."""
    fill.diver = fill.diver if fill.diver is not None else diver
    fill.divers |= {each for each in (diver if diver is not None else fill.diver, fill.diver) if each is not None}
    fill.minutes += minutes
    fill.starts.append(earliest)


def spoil(s: Scene, r: Random, canister: str = "") -> None:
    """A fill is thrown away, or wetted."""
    act = "discard fill" if canister else r.choice(("discard fill", "canister flooded"))
    canister = canister or filled(s, r)
    standing = s.truth.standing_fill(canister)
    call: Any = (lambda workplace: discard_fill(workplace, canister, "old")) if act == "discard fill" else (
        lambda workplace: mark_flooded(workplace, canister))  # fmt: skip
    done = s.attempt(act, s.person(act, r), call, against=() if standing else ("no fill",))
    if done is not None and standing:
        standing[1].gone, standing[1].wet = act == "discard fill", standing[1].wet or act != "discard fill"
        unit = s.truth.unit_of(s.truth.parts[canister])
        if unit is not None and act == "discard fill":
            s.truth.emptied[unit] = s.truth.now


def container(s: Scene, r: Random) -> None:
    """A container is opened, once."""
    if r.random() < 0.7:
        receive_absorbent(s, r)
    key = list(s.stores)[-1] if s.likely(r) else r.choice((s.keys.sealed, s.keys.coarse, s.keys.undated))
    opened = bool(s.value(Container.opened_at, Container.id == key))
    s.attempt("open container", s.person("open container", r), lambda workplace: open_container(workplace, key),
              against=("was opened before",) if opened else ())  # fmt: skip


def gas(s: Scene, r: Random, serial: str = "", *, sound: bool = False) -> None:
    """A cylinder is filled and analysed, or one of both, with the right gas mostly."""
    serial = serial or r.choice(sorted(s.truth.cylinders))
    cylinder = s.truth.cylinders[serial]
    key, what = s.part_ids[serial], "both" if sound else r.choice(("fill", "analyse", "both", "both"))
    if what != "analyse":
        person = s.person("fill cylinders", r)
        batch = f"B{r.randrange(6)}"
        end = {"oxygen": 186.0, "diluent": 215.0, "bailout": 215.0}[cylinder.role]
        done = s.attempt("fill cylinders", person, lambda workplace: record_fills(workplace, [FillEntry(
            part_id=key, oxygen_percent=ASKED[cylinder.role], start_bar=40.0, end_bar=end, batch=batch,
            oxygen_compatible=True)], confirmed=frozenset((key,))))  # fmt: skip
        if done is None:
            return
        cylinder.asked, cylinder.filled_at = ASKED[cylinder.role], s.truth.now
    if what != "fill":
        shown = SHOWN[cylinder.role] if sound or r.random() < 0.8 else 34.0
        found = s.attempt(
            "analyse gas",
            s.person("analyse gas", r),
            lambda workplace: record_analyses(
                workplace, [AnalysisEntry(part_id=key, oxygen_percent=shown, analyser_id=s.keys.centre.analyser)]
            ),
        )
        if found is not None:
            cylinder.found, cylinder.analysed_at = shown, s.truth.now


def clean(s: Scene, r: Random, unit: str = "") -> None:
    """What must be kept clean for oxygen in a unit is cleaned, and is clean afterwards mostly."""
    unit, passed = unit or r.choice(s.truth.units), s.careful or r.random() < 0.85
    parts = [part.serial for part in s.truth.inside(unit) if part.kind == "oxygen cylinder"]
    done = s.attempt("clean for oxygen", s.person("clean for oxygen", r), lambda workplace: clean_parts(
        workplace, [s.part_ids[each] for each in parts], "bath 2, clean bench", passed=passed))  # fmt: skip
    if done is not None:
        s.truth.cleaned |= dict.fromkeys(parts, s.truth.now) if passed else {}


def tasks_of(workplace: Workplace, ticket: int) -> dict[int, str]:
    """The tasks of a ticket, by key."""
    with workplace.database.reading() as connection:
        return dict(connection.execute(select(Task.id, Task.text).where(Task.ticket_id == ticket)).all())
