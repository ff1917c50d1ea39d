"""Acts of a turn-round and of tickets, the clock, and whole chains of acts that bring units far."""

from datetime import timedelta
from random import Random

from sqlalchemy import select

from fleetbench.records.tickets.tables import Task
from fleetbench.records.turn_rounds.tables import TurnRoundLine
from fleetbench.workshop.tickets.work import (
    NewTask,
    SecondPerson,
    add_finding,
    open_ticket,
    put_off_task,
    sign_ticket,
    task_done,
)
from fleetbench.workshop.turn_rounds.baths import disinfect, mark_dry
from fleetbench.workshop.turn_rounds.card import (
    card_finding,
    finish_cards,
    flood_found,
    leave_out,
    line_done,
    open_card,
)
from tests.independent.truth import GAS_SIDE, LOCK_UP, Card, Ticket, site_day
from tests.machine import bench_acts as bench
from tests.machine import hire_acts as hire
from tests.machine.scene import Scene

BY_RECORD = ("disinfect", "oxygen clean", "tests", "batteries", "calibrate", "calibrate again")
NEVER_LEFT = ("absorbent", "strip", "rinse", "disinfect", "rinse again", "dry", "valves", "tests", "oxygen clean",
              "calibrate again")  # fmt: skip
TASKS = ("Calibrate the cells", "Test the loop negative", "Look at the strap", "Clean the shell")


def lines(s: Scene, card: int) -> list[tuple[int, str, str]]:
    """Key, step and stored state of each line of a card, in bench order."""
    with s.workplace.database.reading() as connection:
        query = select(TurnRoundLine.id, TurnRoundLine.step, TurnRoundLine.state).where(
            TurnRoundLine.turn_round_id == card).order_by(TurnRoundLine.ordinal)  # fmt: skip
        return [tuple(row) for row in connection.execute(query)]


def a_card(s: Scene, r: Random) -> tuple[int, Card] | None:
    """An open card, where there is one."""
    found = [(key, card) for key, card in s.truth.cards.items() if not card.finished]
    return r.choice(found) if found else None


def open_by_hand(s: Scene, r: Random, tag: str = "", *, flooded: bool | None = None) -> None:
    """A card is opened for a unit that is here, or a flood is found at the bench."""
    flooded = r.random() < 0.4 if flooded is None else flooded
    here = [each for each in s.truth.units if not s.truth.out(each) and (flooded or not s.truth.open_card(each))]
    tag = tag or r.choice(here if here and s.likely(r) else s.truth.units)
    card = s.truth.open_card(tag)
    act = "flood found" if flooded else "open turn-round"
    against = ["it is out"] if s.truth.out(tag) else []
    now = card is not None and card[1].flooded is not None and card[1].flooded >= card[1].opened
    against += ["open already"] if card and (not flooded or now) else []
    done = s.attempt(
        act,
        s.person(act, r),
        lambda workplace: flood_found(workplace, tag) if flooded else open_card(workplace, tag),
        against=against,
    )
    if done is None:
        return
    fill = s.truth.fill_in(tag)
    if flooded and fill:
        fill[1].wet = True
    if card is None:
        s.truth.cards[done] = Card(tag, s.truth.now, s.truth.now if flooded else None)
    else:
        card[1].flooded = s.truth.now
        stays = {key for key, step, state in lines(s, done) if state != "to do"}
        card[1].ticked = {key: at for key, at in card[1].ticked.items() if key in stays}
    hire.note_holds(s)


def tick(s: Scene, r: Random, chosen: tuple[int, Card] | None = None, only: str = "") -> None:
    """A line of a card is ticked by hand, or left out, or refused because only its record settles it."""
    found = chosen or a_card(s, r)
    if found is None:
        return
    card_id, card = found
    waiting = [each for each in lines(s, card_id) if each[2] == "to do" and (not only or each[1] == only)]
    if not waiting:
        return
    line, step, _ = waiting[0] if only or r.random() < 0.8 else r.choice(waiting)
    if not only and r.random() < 0.12:
        leave(s, r, found, line)
        return
    against = [f"{step} is settled by its record"] if step in BY_RECORD else []
    baths = [at for at, _ in s.truth.baths.get(card.unit, ()) if at >= card.began]
    against += ["no bath"] if step in ("rinse again", "dry") and not baths else []
    early = step == "dry" and bool(baths) and s.clock() - max(baths) < timedelta(hours=11)
    against += ["not dry yet"] if early else []
    if not s.attempt("turn-round line", s.person("turn-round line", r), lambda workplace: line_done(workplace, line),
                     against=against):  # fmt: skip
        return
    card.ticked[line] = s.truth.now
    if step == "strip":
        s.truth.opened[card.unit] = s.truth.now
    elif step == "dry":
        s.truth.dried[card.unit] = s.truth.now
    elif step == "absorbent":
        fill = s.truth.fill_in(card.unit)
        if fill:
            fill[1].gone = True
    elif step == "rinse again":
        s.truth.baths[card.unit] = [(at, True) for at, _ in s.truth.baths[card.unit]]


def leave(s: Scene, r: Random, found: tuple[int, Card], line: int) -> None:
    """A line of a card is left out, where it is one that may be."""
    card, step = found[1], next(step for key, step, _ in lines(s, found[0]) if key == line)
    against = [f"{step} is never left out"] if step in NEVER_LEFT else []
    against += ["after a flood"] if step == "calibrate" and card.flooded else []
    if s.attempt("leave out line", s.person("leave out line", r), lambda w: leave_out(w, line, "not asked for"),
                 against=against):  # fmt: skip
        card.ticked[line] = s.truth.now


def a_loop(s: Scene, r: Random) -> str:
    """A unit, mostly one whose loop is next to go into the bath or to be looked at."""
    cards = [card.unit for card in s.truth.cards.values() if not card.finished and not s.truth.out(card.unit)]
    return r.choice(cards if cards and s.likely(r) else s.truth.units)


def bath(s: Scene, r: Random, tag: str = "") -> None:
    """A loop lies in the bath, long enough or not, mixed in time or not."""
    tag, now = tag or a_loop(s, r), s.clock() + timedelta(minutes=1)
    minutes = 10.0 if s.careful or r.random() < 0.9 else 5.0
    mixed = now - timedelta(hours=1 if s.careful or r.random() < 0.9 else 40)
    card = s.truth.open_card(tag)
    against = ["it is out"] if s.truth.out(tag) else []
    against += ["too short"] if minutes < 10 else []
    against += ["the bath is too old"] if now - mixed > timedelta(hours=25) else []
    if card:
        strip = next(each for each in lines(s, card[0]) if each[1] == "strip")
        at = card[1].ticked.get(strip[0]) if strip[2] != "to do" else None
        against += [] if at and at <= now - timedelta(minutes=minutes) else ["not stripped"]
    rinsed = s.careful or r.random() < 0.9
    done = s.attempt("disinfect loops", s.person("disinfect loops", r), lambda workplace: disinfect(
        workplace, [tag], s.centre.agent, mixed_at=mixed, contact_minutes=minutes, rinsed=rinsed),
        against=against)  # fmt: skip
    if done is not None:
        s.truth.baths.setdefault(tag, []).append((s.truth.now, rinsed))


def dry(s: Scene, r: Random, tag: str = "") -> None:
    """A loop is looked at and found dry, or damp."""
    tag, is_dry = tag or a_loop(s, r), s.careful or r.random() < 0.85
    baths = s.truth.baths.get(tag, [])
    soon = bool(baths) and s.clock() - baths[-1][0] < timedelta(hours=11)
    against = ["hung too short"] if soon and is_dry else []
    against += ["not rinsed"] if baths and not baths[-1][1] else []
    card = s.truth.open_card(tag)
    against += ["no bath"] if card and (not baths or baths[-1][0] < card[1].began) else []
    done = s.attempt("loop dry", s.person("loop dry", r), lambda workplace: mark_dry(workplace, [tag], dry=is_dry),
                     against=against)  # fmt: skip
    if done is not None and is_dry:
        s.truth.dried[tag] = s.truth.now
    elif done is not None:
        s.truth.dried.pop(tag, None)
        s.truth.damp[tag] = s.truth.now


def finding(s: Scene, r: Random) -> None:
    """Something is found at a turn-round, or written under a ticket."""
    found = a_card(s, r)
    if found is not None and r.random() < 0.5:
        found_beside(s, r, found)
    elif s.truth.tickets:
        unsigned = [key for key, one in s.truth.tickets.items() if not one.signed]
        key = r.choice(unsigned if unsigned and s.likely(r) else sorted(s.truth.tickets))
        s.attempt("finding", s.person("finding", r), lambda workplace: add_finding(workplace, key, "a scratch"),
                  against=("signed",) if s.truth.tickets[key].signed else ())  # fmt: skip


def found_beside(s: Scene, r: Random, found: tuple[int, Card]) -> None:
    """Something is found at a turn-round, which begins a ticket or joins the one that is open."""
    critical = r.random() < 0.5
    done = s.attempt("turn-round finding", s.person("turn-round finding", r),
                     lambda workplace: card_finding(workplace, found[0], "seal nicked", critical=critical))  # fmt: skip
    if done is not None:
        known = s.truth.tickets.setdefault(done, Ticket(found[1].unit, critical, s.truth.now))
        known.critical = known.critical or critical


def finish(s: Scene, r: Random, card_id: int = 0) -> None:
    """A card is signed by the right person with the right PIN, or by another, before or after it is done."""
    found = (card_id, s.truth.cards[card_id]) if card_id else a_card(s, r)
    if found is None:
        return
    key, card = found
    signer, against = s.person("finish turn-round", r, signs=True), []
    pin = s.truth.people[signer].pin if card_id or r.random() < 0.9 else "999999"
    against += ["PIN"] if not pin or pin != s.truth.people[signer].pin else []
    against += [] if s.truth.people[signer].signs() else ["may not sign"]
    against += [step for line, step, _ in lines(s, key)
                if step != "service" and not s.truth.line_stands(step, card, line)]  # fmt: skip
    against += s.truth.untested(card.unit, card.began)
    if card.flooded:
        days = {site_day(at) for at in s.truth.sound_since(card.unit, card.began)}
        against += ["calibrated on one day"] if len(days) < 2 else []
    done = s.attempt(
        "finish turn-round",
        signer,
        lambda workplace: finish_cards(workplace, [key], signer_id=signer, pin=pin),
        against=against,
    )
    if done is None:
        return
    card.finished = True
    s.truth.holds = {k: h for k, h in s.truth.holds.items() if (h.kind, h.unit) != ("received", card.unit)}


# tickets


def ticket(s: Scene, r: Random, tag: str = "") -> int:
    """A ticket is opened with tasks."""
    tag, critical = tag or r.choice(s.truth.units), r.random() < 0.5
    tasks = [NewTask(words, critical, r.random() < 0.3) for words in r.sample(TASKS, r.randrange(0, 3))]
    done = s.attempt("open ticket", s.person("open ticket", r), lambda workplace: open_ticket(
        workplace, tag, cause="by hand", reason="strange noise", critical=critical, tasks=tasks))  # fmt: skip
    if done is None:
        return 0
    keys = sorted(bench.tasks_of(s.workplace, done))
    s.truth.tickets[done] = Ticket(tag, critical, s.truth.now, bench.tasks_of(s.workplace, done), second={
        key for key, one in zip(keys, tasks, strict=True) if one.second_person})  # fmt: skip
    return int(done)


def task(s: Scene, r: Random, key: int = 0) -> None:
    """A task is done or put off; one that its record settles is refused without it."""
    waiting = [each for each, one in s.truth.tickets.items() if not one.signed and one.tasks]
    if not waiting:
        return
    of = s.truth.tickets[key or r.choice(waiting)]
    if not of.tasks:
        return
    to_do = [each for each in sorted(of.tasks) if _state(s, each) == "to do"]
    chosen = r.choice(to_do if to_do and s.likely(r) else sorted(of.tasks))
    if r.random() < (0.1 if s.careful else 0.2):
        if s.attempt("put off task", s.person("put off task", r),
                     lambda workplace: put_off_task(workplace, chosen, "no part")):  # fmt: skip
            of.done_by_hand.discard(chosen)
        return
    words = of.tasks[chosen].casefold()
    lacks = words.startswith(("calibrat", "test the loop negative")) and not s.truth.task_stands(of, chosen)
    if s.attempt("task done", s.person("task done", r), lambda workplace: task_done(workplace, chosen),
                 against=("its record is missing",) if lacks else ()):  # fmt: skip
        of.done_by_hand.add(chosen)


def sign(s: Scene, r: Random, key: int = 0, *, alone: bool | None = None) -> None:
    """A ticket is signed, by one or by two, with right and wrong PINs."""
    waiting = [each for each, one in s.truth.tickets.items() if not one.signed] or sorted(s.truth.tickets)
    if not waiting:
        return
    key = key or r.choice(waiting)
    of, signer = s.truth.tickets[key], s.person("sign ticket", r, signs=True)
    pin = s.truth.people[signer].pin if s.careful or r.random() < 0.93 else "999999"
    other = s.staff["manager"] if signer != s.staff["manager"] else s.staff["technician"]
    other = signer if not s.careful and r.random() < 0.05 else other
    said = s.truth.people[other].pin if s.careful or r.random() < 0.95 else "999999"
    second = SecondPerson(other, said) if (s.careful if alone is None else not alone) or r.random() < 0.6 else None
    against = [] if s.truth.people[signer].signs() and pin == s.truth.people[signer].pin else ["may not sign, or PIN"]
    against += ["signed already"] if of.signed else []
    against += [words for each, words in of.tasks.items() if _settled_without(s, of, each)]
    if second is None:
        against += [f"{of.tasks[each]} asks for a second person" for each in of.second if _state(s, each) == "done"]
    elif other == signer or said != s.truth.people[other].pin or not s.truth.people[other].signs():
        against.append("the second person is the signer, or may not sign, or their PIN is wrong")
    if s.attempt("sign ticket", signer, lambda w: sign_ticket(w, key, signer_id=signer, pin=pin, second=second),
                 against=against):  # fmt: skip
        of.signed = True
        s.done["sign ticket by two"] += second is not None and bool(of.second)


def _state(s: Scene, task: int) -> str:
    """The state that is stored of a task."""
    return str(s.value(Task.state, Task.id == task))


def _settled_without(s: Scene, of: Ticket, key: int) -> bool:
    """Whether a task stands as done by nobody: neither done by hand, nor put off, nor shown by its record."""
    return _state(s, key) == "done" and not s.truth.task_stands(of, key)


# the clock, and chains


def pass_time(s: Scene, r: Random) -> None:
    """Hours, a night, days, now and then months go by."""
    step = r.choices(({"hours": 2}, {"hours": 13}, {"days": 1}, {"days": 3}, {"days": 40}), (6, 6, 5, 2, 0.3))[0]
    s.clock.advance(**step)
    s.log.append(f"  {step} go by")


def service(s: Scene, r: Random, tag: str = "") -> None:
    """Bench hands make a unit that is here fit: empty slots filled, cells calibrated, tested, read, filled, signed."""
    here = [each for each in s.truth.units if not s.truth.out(each)]
    if not here:
        return
    tag = tag or r.choice(here)
    _lift_all(s, r, tag)
    held = {hold.part for hold in s.truth.holds.values()}
    for host, slot, kind in list(s.truth.slots(tag)):
        part = s.truth.sits(host, slot)
        if part is None or part.rejected() or part.serial in held:
            bench.fit(s, r, tag, (host, slot, kind))
    _measure(s, r, tag)
    for part in [part for part in s.truth.inside(tag) if part.serial in s.truth.cylinders]:
        if s.truth.cylinders[part.serial].analysed_at is None or "gas" in s.truth.not_for(tag, "kit", None):
            bench.gas(s, r, part.serial, sound=True)
    for key in [key for key, of in sorted(s.truth.tickets.items()) if of.unit == tag and not of.signed]:
        settle_ticket(s, r, key)


def settle_ticket(s: Scene, r: Random, key: int) -> None:
    """What a ticket asks for is done by its tasks, one after another, and signed by two."""
    of = s.truth.tickets[key]
    if any("alibrat" in words for each, words in of.tasks.items() if not s.truth.task_stands(of, each)):
        bench.calibrate(s, r, of.unit, "sound, with pot")
    if any("loop negative" in words for each, words in of.tasks.items() if not s.truth.task_stands(of, each)):
        bench.release_tests(s, r, of.unit, sound=True)
    for _ in range(len(of.tasks)):
        if any(_state(s, each) == "to do" for each in of.tasks):
            task(s, r, key)
    if not of.tasks:
        s.attempt("finding", s.person("finding", r), lambda workplace: add_finding(workplace, key, "a scratch"))
    sign(s, r, key)


def _lift_all(s: Scene, r: Random, tag: str) -> None:
    for key, what in sorted(s.truth.holds.items()):
        if what.unit == tag or (what.part and s.truth.unit_of(s.truth.parts[what.part]) == tag):
            if what.kind == "notice":
                hire.notice(s, r)
            elif what.kind != "received":
                hire.lift(s, r, key)


def _measure(s: Scene, r: Random, tag: str) -> None:
    unfit = s.truth.unfit(tag)
    if "cell outcome" in unfit or "workshop calibration" in unfit or r.random() < 0.1:
        bench.calibrate(s, r, tag, "sound, with pot")
    if s.truth.untested(tag) or r.random() < 0.1:
        bench.release_tests(s, r, tag, sound=True)
    mouthpiece = s.truth.last_test(tag, "mouthpiece valve")
    if mouthpiece is None or mouthpiece.verdict != "pass" or mouthpiece.at < s.truth.opened.get(tag, mouthpiece.at):
        bench.bench_test(s, r, tag, "mouthpiece valve", True)
    for part in list(s.truth.inside(tag)):
        for kind, supply in zip(LOCK_UP, (200.0, 50.0), strict=True) if part.kind in GAS_SIDE else ():
            last = part.since_fitted(kind)
            if last is None or last.verdict != "pass" or s.clock() - last.at > timedelta(days=60):
                bench.intermediate(s, r, part.serial, supply, sound=True)
    if not s.truth.batteries.get(tag, (None, False))[1] or r.random() < 0.2:
        bench.batteries(s, r, tag, sound=True)


def turn_round(s: Scene, r: Random, tag: str = "") -> None:
    """The card of a unit is worked through in bench order and signed, at times with a line forgotten."""
    out = [each for each in s.truth.units if s.truth.out(each)]
    if a_card(s, r) is None and out:
        hire.bring_back(s, r, r.choice(out))
    found = s.truth.open_card(tag) if tag else a_card(s, r)
    if found is None or s.truth.out(found[1].unit):
        return
    forget = not tag and r.random() < 0.15
    _lift_all(s, r, found[1].unit)
    for host, slot, kind in list(s.truth.slots(found[1].unit)):
        if s.truth.sits(host, slot) is None:
            bench.fit(s, r, found[1].unit, (host, slot, kind))
    for _, step, state in lines(s, found[0]):
        if state == "to do" and not (forget and r.random() < 0.15):
            _work(s, r, found, step)
    finish(s, r, found[0])


def _work(s: Scene, r: Random, card: tuple[int, Card], step: str) -> None:
    """What a line of a card asks for."""
    tag = card[1].unit
    s.clock.advance(hours={"disinfect": 0.25, "dry": 14, "calibrate again": 24}.get(step, 0))
    if step == "disinfect":
        bath(s, r, tag)
    elif step == "dry":
        dry(s, r, tag)
    elif step == "tests":
        bench.release_tests(s, r, tag, sound=True)
    elif step == "batteries":
        bench.batteries(s, r, tag, sound=True)
    elif step in ("calibrate", "calibrate again"):
        bench.calibrate(s, r, tag, "sound, with pot")
    elif step == "oxygen clean":
        bench.clean(s, r, tag)
    elif step not in BY_RECORD:
        tick(s, r, card, step)


def hire_out(s: Scene, r: Random) -> None:
    """A unit is made fit, booked, packed for its diver, and handed over."""
    here = [tag for tag in s.truth.units if not s.truth.out(tag) and s.truth.open_card(tag) is None]
    if not here:
        turn_round(s, r)
        return
    tag = r.choice(here)
    service(s, r, tag)
    today = s.workplace.today()
    code = next((each.code for each in s.truth.bookings.values() if not each.cancelled and each.first <= today
                 and each.last >= today and tag in each.lines and each.lines[tag].out_at is None),
                None) or hire.make_booking(s, r, tag, now=True)  # fmt: skip
    if code is None or tag not in s.truth.bookings[code].lines:
        return
    way, line = r.choice(hire.WAYS), s.truth.bookings[code].lines[tag]
    ready_canister(s, r, tag, way, line.diver, line.key)
    hire.hand(s, r, code, tag, way)


def ready_canister(s: Scene, r: Random, tag: str, way: str, diver: int | None, line: int | None = None) -> None:
    """The canister of a unit holds what it may leave with on this way: a fill of its diver's, or none that is spent."""
    canister, fill = s.truth.sits(tag, "canister"), s.truth.fill_in(tag)
    if canister is None or way == "not for diving":
        return
    if fill and (fill[1].spent(s.clock()) or fill[1].diver not in (None, diver)):
        bench.spoil(s, r, canister.serial)
    if way == "assembled" and s.truth.fill_in(tag) is None:
        bench.pack(s, r, canister.serial, line)
