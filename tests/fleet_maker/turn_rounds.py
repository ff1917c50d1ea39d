"""Service plans, turn-round cards, baths, firmware and handsets of the invented centre; every figure is invented.

The contact time of the bath alone is published: 29 CFR 1910.134 Appendix B-2, two minutes in 50 ppm of hypochlorite.
"""

import datetime as dt
from collections import defaultdict
from typing import Any

from tests.fleet_maker import flaws
from tests.fleet_maker.catalogue import HABIT, MANUAL_B, MANUAL_C, B, C
from tests.fleet_maker.centre import DAY, Centre, Unit
from tests.fleet_maker.sheets import Row

MIN = dt.timedelta(minutes=1)
CONTACT = 5 * MIN
KEPT_DAYS = 30
"""The centre began to keep cards so many days ago; of each flood it wrote one afterwards from its paper folder."""

FIRMWARE = {B: (("2.4", MANUAL_B), ("2.5", MANUAL_B)), C: (("1.8", MANUAL_C),)}
HANDSET = {"HSET-B": "2.4", "HSET-C": "1.8"}
AGENT = ("hypochlorite bath", "50 ppm", 2, 24, "29 CFR 1910.134 App. B-2")

# text, basis, amount, minutes, roles, qualification, second person, critical, tests, part types
PLANS: dict[str, tuple[tuple[Any, ...], ...]] = {
    B: (
        ("Yearly service: seals of head, solenoid and first stages changed", "months", 12, 120, "technician",
         "technician", True, True, ("intermediate pressure", "loop negative", "loop positive"), ("SOLN-1",)),
        ("Solenoid and its wiring looked at", "hours", 150, 20, "", None, False, True, ("solenoid",), ()),
        ("Clamps of the loop hoses looked at and tightened", "dives", 250, 10, "", None, False, False, (), ()),
        ("Mouthpiece changed", "hires", 40, 5, "", None, False, False, (), ("MPC-1",)),
        ("Water traps and counterlungs looked at for tears", "hand-back", None, 3, "", None, False, True, (), ()),
        ("One-way valves tried by breath, each way", "assembly", None, 2, "technician,manager,instructor", None, False,
         True, ("one-way valve",), ()),
        ("Head, solenoid housing and handset glands opened, rinsed in fresh water and dried", "flood", None, 60, "",
         None, False, True, (), ()),
    ),
    C: (
        ("Yearly service: seals of head and injector changed", "months", 12, 90, "technician", "technician", True,
         True, ("injector flow", "loop negative", "loop positive"), ("INJ-1",)),
        ("Clamps of the loop hoses looked at and tightened", "dives", 250, 10, "", None, False, False, (), ()),
        ("Counterlung looked at for tears", "hand-back", None, 3, "", None, False, True, (), ()),
        ("One-way valves tried by breath, each way", "assembly", None, 2, "technician,manager,instructor", None, False,
         True, ("one-way valve",), ()),
        ("Head and handset gland opened, rinsed in fresh water and dried", "flood", None, 45, "", None, False, True,
         (), ()),
    ),
}  # fmt: skip
SOURCE = {B: MANUAL_B, C: MANUAL_C}

STEP_ADDED = dt.datetime(2026, 5, 4, 9, 0)
# what is asked for in the yearly service of type C, and what was recorded of it last time
STEPS_OF_SERVICE: tuple[tuple[Row, Row], ...] = (
    ({"kind": "photograph", "text": "Injector seat photographed before it is cleaned", "began_at": STEP_ADDED}, {}),
    ({"kind": "figure", "text": "Injector cleaned and its flow read", "what": "injector flow", "unit": "L/min",
      "low": 0.7, "high": 0.9, "before": True}, {"before": 0.74, "after": 0.81}),
    ({"kind": "seal", "text": "Seals of the head", "what": "head, both grooves", "size": "58 x 2", "replace": True},
     {"seal": "replaced"}),
    ({"kind": "seal", "text": "Seal of the injector", "what": "injector inlet", "size": "6 x 1.5"},
     {"seal": "inspected"}),
    ({"kind": "lubricant", "text": "Seals of the oxygen side greased thinly", "what": "Oxygen grease 111",
      "oxygen": True}, {"lubricant": "Oxygen grease 111", "lot": "G-2207", "oxygen_compatible": True}),
    ({"kind": "torque", "text": "Screws of the head tightened crosswise", "amount": 1.2, "tolerance": 0.1},
     {"after": 1.2}),
    ({"kind": "second person", "text": "Head closed: looked at by another one"}, {}),
)  # fmt: skip

# step, minutes after the return, or before the signature where negative
STEPS = (
    ("cylinders", 6), ("batteries out", 8), ("absorbent", 14), ("head", 18), ("strip", 25), ("rinse", 28),
    ("disinfect", 40), ("rinse again", 42), ("dry", None), ("valves", -29), ("assemble", -28), ("tests", -25),
    ("batteries", -22), ("calibrate", -15), ("settings", -6), ("previous data", -5),
)  # fmt: skip
FLOOD_STEPS = (
    ("cylinders", 6), ("batteries out", 8), ("absorbent", 14), ("cells out", 16), ("opened up", 60), ("head", 62),
    ("strip", 66), ("rinse", 70), ("disinfect", 90), ("rinse again", 92), ("dry", None), ("valves", -29),
    ("oxygen clean", -29), ("assemble", -28), ("tests", -25), ("batteries", -22), ("calibrate", -15),
    ("calibrate again", -15), ("settings", -6), ("previous data", -5),
)  # fmt: skip


OF_THE_CARD = ("calibrate again", "settings", "previous data")
"""What a flooded unit is owed the day after its ticket, and goes by the signature of the card."""

WHILE_IT_HANGS = (("opened up", 60), ("head", 62))
"""Lines of a flooded head, which is worked on while its loop lies in the bath and hangs."""

LAST_BEFORE = {False: dict(STEPS)["rinse"], True: dict(FLOOD_STEPS)["rinse"]}
"""Minutes after the return of the last line before the bath; where the bath came sooner all come sooner alike."""


def keep(centre: Centre) -> None:
    """Everything of this module, from what the history left."""
    tasks = _plans(centre)
    _firmware(centre)
    agent = centre.sheets.add("disinfectants", **dict(zip(
        ("name", "strength", "contact_minutes", "use_within_hours", "source"), AGENT, strict=True)))  # fmt: skip
    story = _Story(centre)
    for unit in centre.units:
        _services(centre, story, unit, tasks[unit.kind])
        _cards(centre, story, unit, tasks[unit.kind], agent)


def _plans(centre: Centre) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for kind, plan in PLANS.items():
        for ordinal, (text, basis, amount, minutes, roles, paper, second, critical, tests, parts) in enumerate(plan, 1):
            source = HABIT if basis == "assembly" else SOURCE[kind]
            row = centre.sheets.row(
                "service_tasks", unit_type=kind, ordinal=ordinal, text=text, basis=basis, amount=amount,
                minutes=minutes, roles=roles or None, qualification=paper, second_person=second, critical=critical,
                source=source,
            )  # fmt: skip
            found[kind].append(row)
            if kind == C and basis == "months":
                for place, (step, _done) in enumerate(STEPS_OF_SERVICE, 1):
                    centre.sheets.add("service_steps", service_task=row["record"], ordinal=place, source=source,
                                      **{"before": False, "replace": False, "oxygen": False, **step})  # fmt: skip
            for test in tests:
                centre.sheets.add("service_needs", service_task=row["record"], test=test, quantity=1)
            for part in parts:
                centre.sheets.add("service_needs", service_task=row["record"], part_type=part, quantity=1)
    return found


def _firmware(centre: Centre) -> None:
    for kind, versions in FIRMWARE.items():
        for version, source in versions:
            centre.sheets.add("approved_firmware", unit_type=kind, version=version, source=source)
    for row in centre.sheets.rows["parts"]:
        if row["part_type"] in HANDSET:
            row["firmware"] = HANDSET[row["part_type"]]


class _Story:
    """What the history left, by unit."""

    def __init__(self, centre: Centre) -> None:
        rows = centre.sheets.rows
        self.returns, self.tickets, self.washed, self.out = (defaultdict(list) for _ in range(4))
        for line in rows["hire_lines"]:
            if line.get("received_at"):
                self.returns[line["unit"]].append(line)
            if line.get("out_at"):
                self.out[line["unit"]].append(line["out_at"])
        for ticket in rows["tickets"]:
            self.tickets[ticket["unit"]].append(ticket)
        for row in rows["disinfections"]:
            self.washed[row["unit"]].append(row)
        self.ordinals: dict[str, int] = defaultdict(int)
        self.tasks: dict[str, list[Row]] = defaultdict(list)
        for task in rows["tasks"]:
            self.tasks[task["ticket"]].append(task)
            self.ordinals[task["ticket"]] = max(self.ordinals[task["ticket"]], task["ordinal"])

    def ticket_after(self, unit: str, moment: dt.datetime) -> Row | None:
        """The ticket of the visit that followed a return."""
        evening = [row for row in self.tickets[unit] if row["opened_at"].hour > 15]
        same = [row for row in evening if row["opened_at"].date() == moment.date()]
        return min(same, key=lambda row: row["record"], default=None)


def _services(centre: Centre, story: _Story, unit: Unit, tasks: list[Row]) -> None:
    """Counted tasks done on a ticket of last winter, and on the one just before the stated day's last year."""
    least = {flaws.B8: 350, flaws.C5: 372}.get(unit.index, 60) if len(centre.units) >= 14 else 60
    end = centre.stated - least * DAY
    signed = [row for row in story.tickets[unit.tag] if row.get("signed_at") and row["signed_at"].date() <= end]
    if not signed:
        return
    ticket = max(signed, key=lambda row: (row["signed_at"], row["record"]))
    for task in tasks:
        if task["basis"] not in ("months", "hours", "dives", "hires"):
            continue
        story.ordinals[ticket["record"]] += 1
        done = centre.sheets.add(
            "tasks", ticket=ticket["record"], ordinal=story.ordinals[ticket["record"]], text=task["text"],
            critical=task["critical"], state="done", minutes=task["minutes"], settled_at=ticket["signed_at"] - 3 * MIN,
            person=ticket["signed_by"], times_put_off=0,
        )  # fmt: skip
        centre.sheets.add("service_work", task=done, service_task=task["record"])
        _steps(centre, ticket, done, task)


def _steps(centre: Centre, ticket: Row, task: str, service: Row) -> None:
    """What was recorded of the steps of a service, minutes before its task was done; another technician looked too."""
    steps = [row for row in centre.sheets.rows["service_steps"] if row["service_task"] == service["record"]]
    for place, (step, (_asked, entered)) in enumerate(zip(steps, STEPS_OF_SERVICE if steps else (), strict=True)):
        if step.get("began_at"):
            continue
        done = dict(entered)
        if step["kind"] == "second person":
            done = {"second": next(each for each in ("T1", "T2") if each != ticket["signed_by"])}
        centre.sheets.add(
            "step_results", ticket=ticket["record"], task=task, service_step=step["record"],
            settled_at=ticket["signed_at"] - (30 - 3 * place) * MIN, person=ticket["signed_by"],
            state="done", **done,
        )  # fmt: skip


def _cards(centre: Centre, story: _Story, unit: Unit, tasks: list[Row], agent: str) -> None:
    returns = sorted(story.returns[unit.tag], key=lambda row: row["received_at"])
    kept = [
        line
        for line in returns
        if line is returns[-1] or line.get("flooded") or (centre.stated - line["received_at"].date()).days <= KEPT_DAYS
    ]
    for line in kept:
        ticket = story.ticket_after(unit.tag, line["received_at"])
        _card(centre, story, unit, line, ticket, tasks, agent)


def _card(
    centre: Centre, story: _Story, unit: Unit, line: Row, ticket: Row | None, tasks: list[Row], agent: str
) -> None:  # fmt: skip
    back, flooded = line["received_at"], bool(line.get("flooded"))
    wash = next((row for row in story.washed[unit.tag] if back <= row["at"] <= back + 90 * MIN), None)
    signed = served = ticket.get("signed_at") if ticket else None
    if flooded and signed:
        next_out = min((each for each in story.out[unit.tag] if each > signed), default=signed + 9 * DAY)
        signed = min(signed + 1 * DAY, next_out - 20 * MIN)
    person = ticket["signed_by"] if ticket and signed else (wash or {}).get("person")
    card = centre.sheets.add(
        "turn_rounds", unit=unit.tag, hire_line=line["record"], opened_at=back, opened_by=line["received_by"],
        flooded_at=back if flooded else None, finished_at=signed, finished_by=person if signed else None,
    )  # fmt: skip
    if wash is not None:
        _bath(centre, unit, wash, agent)
    settled = [each["settled_at"] for each in story.tasks[ticket["record"]] if each.get("settled_at")] if ticket else []
    begun = max(settled, default=None) if not signed else None
    wanted: list[tuple[str, int | None, str | None]] = []
    for step, after in FLOOD_STEPS if flooded else STEPS:
        task = next((row["record"] for row in tasks if row["basis"] == "flood"), None) if step == "opened up" else None
        wanted.append((step, after, task))
    wanted += [("service", -4, row["record"]) for row in tasks if row["basis"] == "hand-back"]
    for ordinal, (step, after, task) in enumerate(wanted, 1):
        when = _when(step, after, back, wash, signed if step in OF_THE_CARD else served, begun, flooded)
        centre.sheets.add(
            "turn_round_lines", turn_round=card, ordinal=ordinal, step=step, service_task=task,
            state="done" if when else "to do", settled_at=when, person=person if when else None,
        )  # fmt: skip
    if signed:
        centre.sheets.add("handset_looks", unit=unit.tag, at=signed - 6 * MIN, person=person, settings_reset=True,
                          previous_data="cleared")  # fmt: skip


def _when(
    step: str, after: int | None, back: dt.datetime, wash: Row | None, signed: dt.datetime | None,
    begun: dt.datetime | None, flooded: bool,
) -> dt.datetime | None:  # fmt: skip
    """When a line was settled; begun: the last thing done under a ticket that nobody has signed yet."""
    if step == "dry":
        return wash["dry_at"] if wash is not None and (signed or begun) else None
    if begun is not None and step in ("valves", "assemble", "tests"):
        return begun - {"valves": 9, "assemble": 8, "tests": 2}[step] * MIN
    if after is None or (after < 0 and signed is None) or (after > 0 and wash is None):
        return None
    if after > 0 and wash is not None:
        return _by_the_bath(step, after, back, wash["at"], flooded)
    return signed + after * MIN if signed else None


def _by_the_bath(step: str, after: int, back: dt.datetime, out: dt.datetime, flooded: bool) -> dt.datetime:
    """When a line of the evening was settled: what comes before the bath stands between the return and the bath."""
    if step in ("disinfect", "rinse again"):
        return out + (2 * MIN if step == "rinse again" else 0 * MIN)
    if (step, after) in WHILE_IT_HANGS:
        return back + after * MIN
    there = max(out - CONTACT - back, 0 * MIN) // MIN
    return back + min(after, after * there // (LAST_BEFORE[flooded] or 1)) * MIN


def _bath(centre: Centre, unit: Unit, wash: Row, agent: str) -> None:
    """The bath of an evening; loops washed at one moment lay in it together."""
    rows = centre.sheets.rows["baths"]
    bath = next((row for row in reversed(rows) if row["at"] == wash["at"] - CONTACT), None)
    if bath is None:
        bath = centre.sheets.row(
            "baths", disinfectant=agent, at=wash["at"] - CONTACT, mixed_at=wash["at"] - 30 * MIN,
            use_by=wash["at"] - 30 * MIN + 1 * DAY, contact_minutes=CONTACT // MIN, rinsed=True, person=wash["person"],
        )  # fmt: skip
    centre.sheets.add("bath_loops", bath=bath["record"], disinfection=wash["record"],
                      part=unit.slots["loop set"].record)  # fmt: skip
    centre.sheets.add("dryings", disinfection=wash["record"], at=wash["dry_at"], dry=True, person=wash["person"])
