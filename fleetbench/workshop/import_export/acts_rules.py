"""What an act would refuse a sheet may not bring: who may, one unit out once, results, times to come, look-alike codes.

Whatever `verify` would condemn later is a fault of the sheet now.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from fleetbench.calc.bench.leak import LoopLimit
from fleetbench.calc.canisters.fill import RatedMinutes
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict, WorkState
from fleetbench.calc.people.permits import Role, may, who_may
from fleetbench.calc.readiness.limits import amount_fault, crossed, in_force
from fleetbench.calc.tickets.signing import SeenFact, qualified
from fleetbench.calc.tickets.steps import PlanStep, StepGiven, step_lacks
from fleetbench.records.upkeep.tables import days_and_moments_past, ticket_gaps
from fleetbench.workshop.bench.equipment import connection_faults
from fleetbench.workshop.bench.tests import LOOP_TESTS, MEASURED, MeasuredLimits, answer_of
from fleetbench.workshop.cells.judging import LIMIT_NAMES, cell_limits
from fleetbench.workshop.import_export.columns import SHEETS
from fleetbench.workshop.import_export.import_plan import UNSURE, ImportPlan, Row
from fleetbench.workshop.people.acts import CODE

WHO: dict[str, tuple[tuple[str, str], ...]] = {
    "tickets": (("signed_by", "sign ticket"), ("second", "sign ticket")),
    "holds": (("placed_by", "place hold"), ("lifted_by", "lift hold")),
    "hire_lines": (("out_by", "hand over"), ("received_by", "receive")),
    "acceptances": (("person", "lift incident hold"),),
    "bench_tests": (("person", "bench test"),),
    "fittings": (("fitted_by", "fit part"), ("removed_by", "remove part")),
    "turn_rounds": (("finished_by", "finish turn-round"),),
}
"""Columns that name who did something, with the act that asks who may."""

SIGNED_CODES = {"people": "code", "units": "tag", "bookings": "code", "unit_types": "code", "part_types": "code"}
"""By what people tell things apart on screens and paper."""

PASSING = ("pass", "watch")


def obey(plan: ImportPlan, today: date) -> None:
    """Note what of the new rows no act of the program would have recorded."""
    day = SiteDay(today, plan.sheets.site.zone)
    for name, sheet in plan.plans.items():
        told = _telling_the_past(name)
        for row in sheet.new:
            for column, message in _row_faults(plan, name, row, told, day):
                plan.fault(name, row["id"], column, message)
    _one_out_once(plan)
    _no_ticket_gap(plan)
    _limits_fit(plan)
    _alike(plan)


def _row_faults(
    plan: ImportPlan, name: str, row: Row, told: Sequence[tuple[str, str]], today: "SiteDay"
) -> Iterator[tuple[str, str]]:
    for column, field in told:
        value = row.get(field)
        if value is not None and today.is_before(value):
            yield column, say("{day} is still to come; enter when it happened", day=today.day_of(value))
    if name in WHO:
        yield from _who(plan, name, row)
    own = _OWN.get(name)
    if own is not None:
        yield from own(plan, row)


def _telling_the_past(name: str) -> list[tuple[str, str]]:
    """The columns of a sheet that tell when something happened, with their fields."""
    past = frozenset(days_and_moments_past(SHEETS[name].table))
    return [(column.name, column.field) for column in SHEETS[name].columns if column.field in past and column.field]


class SiteDay:
    """The site's day, which nothing that happened lies after."""

    def __init__(self, day: date, zone: ZoneInfo) -> None:
        self._day, self._zone = day, zone
        self._ends = datetime.combine(day + timedelta(days=1), time(), zone).astimezone(UTC)

    def is_before(self, value: date) -> bool:
        """Whether a day or moment lies after it."""
        return value >= self._ends if isinstance(value, datetime) else value > self._day

    def day_of(self, value: date) -> date:
        """The site's day of a moment."""
        return value.astimezone(self._zone).date() if isinstance(value, datetime) else value


def _who(plan: ImportPlan, name: str, row: Row) -> Iterator[tuple[str, str]]:
    for column, act in WHO.get(name, ()):
        person = plan.plans["people"].known.get(row.get(SHEETS[name].column(column).field or "") or 0)
        if person is not None and not may(person["role"], act):
            asked = strung(" or ", map(say, who_may(act)))
            yield (
                column,
                say(
                    "{code} is a {role}, and '{act}' is for a {asked}; correct it",
                    code=person["code"],
                    role=say(person["role"]),
                    act=say(act),
                    asked=asked,
                ),
            )


def _ticket(plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    if row["signed_at"] is None:
        return
    if row.get("second_id") is not None and row["second_id"] == row["signed_by_id"] != UNSURE:
        yield "second", say("is the signer; the second person must be another one")
    unit_type = plan.plans["units"].known.get(row["unit_id"], {}).get("unit_type_id")
    day = row["signed_at"].astimezone(plan.sheets.site.zone).date()
    for column, key in (("signed_by", row["signed_by_id"]), ("second", row.get("second_id"))):
        person = plan.plans["people"].known.get(key or 0)
        if person is not None and unit_type is not None and not qualified(_seen(plan, key), unit_type, day):
            yield (
                column,
                (
                    say(
                        "no technician's qualification of {code} for this unit type was seen that held on {day}; "
                        "enter it in qualifications, or leave the ticket unsigned",
                        code=person["code"],
                        day=day,
                    )
                ),
            )


def _seen(plan: ImportPlan, person_id: int | None) -> Iterable[SeenFact]:
    return [
        SeenFact(row["unit_type_id"], row["seen_on"], row["valid_until"])
        for row in plan.plans["qualifications"].known.values()
        if row["person_id"] == person_id and row["kind"] == "technician"
    ]


def _ticket_time(plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    ticket = plan.plans["tickets"].known.get(row["ticket_id"])
    if ticket is not None and ticket["signed_at"] is not None and row["ended_at"] is None:
        yield "ended_at", say("is empty though the ticket is signed; enter when work on it ended")


def _step_result(plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    """A step is done by its evidence, and left out with a reason."""
    asked = plan.plans["service_steps"].known.get(row["service_step_id"])
    if asked is None or row["state"] == WorkState.TO_DO:
        return
    pieces = sum(each["step_result_id"] == row["id"] for each in plan.plans["part_events"].known.values())
    given = StepGiven(
        **{name: row[name] for name in StepGiven.__dataclass_fields__ if name in row},
        pieces=pieces, photographed=bool(row["photograph"]),
        seconded=row["second_id"] is not None and row["second_id"] != row["person_id"],
    )  # fmt: skip
    step = PlanStep(**{name: asked[name] for name in PlanStep.__dataclass_fields__})
    lacks = step_lacks(step, given)
    if lacks:
        yield "state", say("is {state}, but {lacks}", state=say(row["state"]), lacks=strung("; ", lacks))


def _bench_test(plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    """A result is held against what was seen: what did not hold, or was not seen at all, never passes."""
    if row["result"] not in PASSING:
        return
    kind = row["kind"]
    limits = _limits_of(plan, row)
    asked = limits.get(f"{kind} minutes")
    answer = answer_of(
        kind,
        held=row["held"],
        watched_minutes=row["watched_minutes"],
        value=row["value"],
        expanded_u=0.0,
        bounds=MeasuredLimits(low=limits.get(f"{kind} low"), high=limits.get(f"{kind} high"), source="limits"),
        loop_limit=LoopLimit(asked, "limits") if asked is not None else None,
    )
    by_eye = row["value"] is None and row["equipment_id"] is None and kind not in MEASURED
    stated = kind not in LOOP_TESTS or asked is not None or not row["held"]
    if answer.verdict is Verdict.REJECT or row["held"] is False:
        yield (
            "result",
            say(
                "is {result}, and what was seen says reject: {why} Correct one of them",
                result=say(row["result"]),
                why=answer.sentence,
            ),
        )
    elif by_eye and stated and answer.verdict is Verdict.REPEAT:
        yield (
            "result",
            say(
                "is {result}, and what was seen says repeat: {why} Correct one of them",
                result=say(row["result"]),
                why=answer.sentence,
            ),
        )
    elif row["held"] is None and row["value"] is None:
        yield (
            "result",
            say("is {result} though nothing was seen or measured; enter held or value", result=say(row["result"])),
        )


def _limits_of(plan: ImportPlan, row: Row) -> dict[str, float]:
    """Limits of what was tested by name: the part type's own before the unit type's, and that before the centre's."""
    unit_type = plan.plans["units"].known.get(row["unit_id"], {}).get("unit_type_id")
    part_type = plan.plans["parts"].known.get(row["part_id"] or 0, {}).get("part_type_id")
    found: dict[str, float] = {}
    for of in ((None, None), (unit_type, None), (None, part_type)):
        stated = [
            SimpleNamespace(**limit)
            for limit in plan.plans["limits"].known.values()
            if (limit["unit_type_id"], limit["part_type_id"]) == of
        ]
        found |= {each.name: each.amount for each in in_force(stated)}
    return found


def _rating(_plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    names = ("grade", "water_c", "depth_m", "co2_l_min", "minutes")
    try:
        RatedMinutes(**{name: row[name] for name in names}, source=row["source"] or "manual")
    except (ValueError, TypeError) as fault:
        column, _, message = str(fault).partition(": ")
        yield column if column in names else "minutes", message or str(fault)


def _person(_plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    if not CODE.fullmatch(row["code"]):
        yield "code", say("give 1 to 20 letters, digits and hyphens; it stays when the name is erased")


def _qualification(plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    """Papers by which staff sign or teach are seen by a manager, and nobody sees their own but an only manager."""
    seen_by = plan.plans["people"].known.get(row["seen_by_id"] or 0)
    if row["kind"] not in ("technician", "instructor") or seen_by is None:
        return
    managers = [each for each in plan.plans["people"].known.values() if each["role"] == Role.MANAGER]
    if seen_by["role"] != Role.MANAGER:
        yield (
            "seen_by",
            say(
                "{code} is a {role}; a {kind}'s paper is seen by a manager",
                code=seen_by["code"],
                role=say(seen_by["role"]),
                kind=say(row["kind"]),
            ),
        )
    elif seen_by["id"] == row["person_id"] and len(managers) > 1:
        yield "seen_by", say("nobody sees their own papers; enter which other manager saw it")


def _life(_plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    most = {"days": 36_500, "months": 1_200}.get(row["unit"])
    if most is not None and row["amount"] > most:
        yield (
            "amount",
            say(
                "{amount:g} {unit} is over any part's life; give {most} at the most",
                amount=row["amount"],
                unit=row["unit"],
                most=most,
            ),
        )


def _limit(_plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    said = amount_fault(row["name"], row["unit"], row["amount"])
    if said is not None:
        yield "amount", said


def _equipment(_plan: ImportPlan, row: Row) -> Iterator[tuple[str, str]]:
    yield from connection_faults(row)


_OWN: dict[str, Callable[[ImportPlan, Row], Iterator[tuple[str, str]]]] = {
    "tickets": _ticket,
    "ticket_times": _ticket_time,
    "step_results": _step_result,
    "bench_tests": _bench_test,
    "equipment": _equipment,
    "rating_rows": _rating,
    "people": _person,
    "qualifications": _qualification,
    "part_type_lives": _life,
    "limits": _limit,
}


# ---- between rows --------------------------------------------------------------------------------------------------


def _one_out_once(plan: ImportPlan) -> None:
    """A unit is with one diver at a time."""
    sheet = plan.plans["hire_lines"]
    by_unit: dict[int, list[Row]] = {}
    for row in sheet.known.values():
        if row["out_at"] is not None and row["unit_id"] not in (None, UNSURE):
            by_unit.setdefault(row["unit_id"], []).append(row)
    for rows in by_unit.values():
        rows.sort(key=lambda row: (row["out_at"], row["id"]))
        for earlier, later in pairwise(rows):
            back = earlier["received_at"]
            told = later if later["id"] in sheet.row_of else earlier
            if (back is None or later["out_at"] < back) and told["id"] in sheet.row_of:
                said = say(
                    "{label} is out on another line then; correct one of them",
                    label=plan.label("units", told["unit_id"]),
                )
                plan.fault("hire_lines", told["id"], "out_at", said)


def _no_ticket_gap(plan: ImportPlan) -> None:
    if any(fault.sheet == "tickets" for fault in plan.faults.found):
        return  # a row that could not be read is told already, and leaves a gap of its own
    sheet = plan.plans["tickets"]
    keys = {(row["year"], row["number"]): key for key, row in sheet.known.items()}
    for year, missing, following in ticket_gaps(sorted(keys)):
        key = keys[year, following]
        if key in sheet.row_of:
            plan.fault(
                "tickets",
                key,
                "number",
                say("{year}-{missing:03d} is missing before it; numbers leave no gap", year=year, missing=missing),
            )


def _limits_fit(plan: ImportPlan) -> None:
    """Limits of one thing go together: none ends below where it begins, and a cell's can be judged by."""
    sheet = plan.plans["limits"]
    of: dict[tuple[Any, Any], list[Row]] = {}
    for row in sheet.known.values():
        of.setdefault((row["unit_type_id"], row["part_type_id"]), []).append(row)
    for (_, part_type), rows in of.items():
        new = [row for row in rows if row["id"] in sheet.row_of]
        stated = [SimpleNamespace(**row) for row in rows]
        amounts = {each.name: each.amount for each in in_force(stated)}
        for lower, upper in crossed(amounts):
            for row in new:
                if row["name"] in (lower, upper):
                    plan.fault(
                        "limits",
                        row["id"],
                        "amount",
                        say("'{lower}' is over '{upper}'; correct one of them", lower=lower, upper=upper),
                    )
        if part_type is None or not new:
            continue
        try:
            cell_limits([each for each in stated if each.name in LIMIT_NAMES])  # type: ignore[misc]
        except ValueError as fault:
            for row in new:
                if row["name"] in LIMIT_NAMES:
                    plan.fault(
                        "limits", row["id"], "amount", say("cannot be judged by ({fault}); correct it", fault=fault)
                    )


def _alike(plan: ImportPlan) -> None:
    """Two codes that look the same on a screen, and signs that nobody sees."""
    for name, column in SIGNED_CODES.items():
        sheet = plan.plans[name]
        seen: dict[str, Any] = {}
        for key, row in sheet.known.items():
            text = row[column]
            if not isinstance(text, str):
                continue
            if key in sheet.row_of and any(unicodedata.category(char) in ("Cf", "Zl", "Zp") for char in text):
                plan.fault(name, key, column, say("holds a sign that nobody can see; type it again"))
            other = seen.setdefault(look_of(text), text)
            if other != text and key in sheet.row_of:
                plan.fault(
                    name,
                    key,
                    column,
                    say("looks like '{other}'; give it a code that nobody takes for the other", other=other),
                )


LOOKS = str.maketrans("оаеросхуіАВЕКМНОРСТХΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "oaepocxyiABEKMHOPCTXABEZHIKMNOPTYX")
"""Cyrillic and Greek letters that look like Latin ones: Unicode Technical Standard 39, from memory."""


def look_of(text: str) -> str:
    """What is left of a code once nothing counts that a reader does not see: case, blanks, width, invisible signs."""
    plain = unicodedata.normalize("NFKC", text).translate(LOOKS).casefold()
    seen = "".join(char for char in plain if unicodedata.category(char) not in ("Cf", "Cc"))
    return re.sub(r"\s+", " ", seen).strip()
