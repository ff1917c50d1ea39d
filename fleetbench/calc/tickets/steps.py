"""The steps of a service task: what each asks for, whether a figure is in limits, and what a step still lacks.

A step is the centre's own text from its manual. A step with no figures is common practice, no published source.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import COMMON, Quantity, Tool
from fleetbench.calc.core.verdict import WorkState


class StepKind(StrEnum):
    """What a step asks for."""

    WORK = "work"
    FIGURE = "figure"
    TORQUE = "torque"
    SEAL = "seal"
    LUBRICANT = "lubricant"
    PARTS = "parts"
    PHOTOGRAPH = "photograph"
    SECOND = "second person"


SEALS_DONE = ("inspected", "replaced")
MOST_TORQUE = 1000.0
"""N·m: nothing on a unit is tightened as far; it catches a slipped decimal point. Common practice, no published source.
"""
MOST_FIGURE = 100_000.0
"""Nothing that a service measures is larger in any unit of the trade. Common practice, no published source."""
MOST_PIECES = 500
"""Parts of a type in one step."""

_OWN: dict[str, tuple[StepKind, ...]] = {
    "what": (StepKind.FIGURE, StepKind.SEAL, StepKind.LUBRICANT),
    "size": (StepKind.SEAL,),
    "unit": (StepKind.FIGURE,),
    "low": (StepKind.FIGURE,),
    "high": (StepKind.FIGURE,),
    "amount": (StepKind.TORQUE, StepKind.PARTS),
    "tolerance": (StepKind.TORQUE,),
    "before": (StepKind.FIGURE,),
    "replace": (StepKind.SEAL,),
    "oxygen": (StepKind.LUBRICANT,),
    "part_type_id": (StepKind.PARTS, StepKind.SEAL),
}
"""Which kinds a column belongs to; with any other kind it stays empty."""


def asked_of_kind(kind: str) -> dict[str, bool]:
    """Whether each column that not every step has is asked of a step of that kind."""
    return {column: kind in kinds for column, kinds in _OWN.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One step of a service task.

    what: the quantity measured, the place of a seal, or the lubricant that the manual names. size: of a seal. unit,
    low, high: of a figure, which may be stated on one side or on none. amount: the torque in N·m with its tolerance, or
    how many parts are used. before: the figure is read before the work too. replace: the seal is replaced and never
    only inspected. oxygen: the lubricant must be one allowed for oxygen. part_type_id: the part used from stock.
    """

    kind: str
    text: str
    source: str
    what: str | None = None
    size: str | None = None
    unit: str | None = None
    low: float | None = None
    high: float | None = None
    amount: float | None = None
    tolerance: float | None = None
    before: bool = False
    replace: bool = False
    oxygen: bool = False
    part_type_id: int | None = None

    def faults(self) -> tuple[tuple[str, str], ...]:
        """What makes the step mean nothing, as (column, remedy); empty where it can be done and judged."""
        return tuple(_faults(self))

    @property
    def pieces(self) -> int:
        """How many parts of its type the step uses where it is done."""
        return int(self.amount or 1) if self.part_type_id is not None else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StepGiven:
    """What was recorded of a step on a ticket.

    before, after: the figure, or the torque as `after`. seal: inspected or replaced. lubricant, lot,
    oxygen_compatible: what was used, None not known. pieces: parts taken from stock for it. photographed, seconded:
    whether it has a photograph of the ticket, and a second person who gave their PIN.
    """

    state: str = WorkState.TO_DO
    before: float | None = None
    after: float | None = None
    seal: str | None = None
    lubricant: str | None = None
    lot: str | None = None
    oxygen_compatible: bool | None = None
    pieces: int = 0
    photographed: bool = False
    seconded: bool = False
    reason: str | None = None


def _faults(step: PlanStep) -> Iterator[tuple[str, str]]:
    if step.kind not in tuple(StepKind):
        yield (
            "kind",
            say("{kind!r} is not known; choose {kinds}", kind=step.kind, kinds=strung(", ", map(say, StepKind))),
        )
        return
    needed = ("text", "source", *_NEEDED.get(StepKind(step.kind), ()))
    yield from ((column, _EMPTY[column]) for column in needed if not str(getattr(step, column) or "").strip())
    for column, kinds in _OWN.items():
        if getattr(step, column) and step.kind not in kinds:
            yield (
                column,
                say(
                    "belongs to a step of kind {kinds}; leave it empty, or change the kind",
                    kinds=strung(" or ", map(say, kinds)),
                ),
            )
    for column in ("low", "high", "amount", "tolerance"):
        if not math.isfinite(getattr(step, column) or 0.0):
            yield column, say("is no number; enter a figure")
    if step.low is not None and step.high is not None and step.low > step.high:
        yield "high", say("{high:g} is under the low limit {low:g}; swap them", high=step.high, low=step.low)
    if step.kind == StepKind.TORQUE:
        yield from _torque_faults(step.amount, step.tolerance)
    if step.kind == StepKind.PARTS and step.amount and not (0 < step.amount <= MOST_PIECES and step.amount % 1 == 0):
        yield (
            "amount",
            say(
                "{amount:g} is no number of parts; enter whole pieces from 1 to {most_pieces}",
                amount=step.amount,
                most_pieces=MOST_PIECES,
            ),
        )


def _torque_faults(amount: float | None, tolerance: float | None) -> Iterator[tuple[str, str]]:
    if amount is None and tolerance is None:
        return
    if amount is None or tolerance is None:
        yield "tolerance", say("a torque has its value and its tolerance; enter both, or none")
    elif not 0 < amount <= MOST_TORQUE:
        yield (
            "amount",
            say(
                "{amount:g} N·m is outside 0 to {most_torque:g}; enter the torque in N·m",
                amount=amount,
                most_torque=MOST_TORQUE,
            ),
        )
    elif not 0 <= tolerance < amount:
        yield (
            "tolerance",
            say("{tolerance:g} N·m is no tolerance of {amount:g}; enter it in N·m", tolerance=tolerance, amount=amount),
        )


_NEEDED = {
    StepKind.FIGURE: ("what", "unit"), StepKind.SEAL: ("what",), StepKind.LUBRICANT: ("what",),
    StepKind.PARTS: ("part_type_id", "amount"),
}  # fmt: skip
_EMPTY = {
    "text": say("is empty; say what is done"),
    "source": say("is empty; name the manual with its edition, or say common practice"),
    "what": say("is empty; name the quantity, the place of the seal or the lubricant"),
    "unit": say("is empty; enter the unit of the figure"),
    "part_type_id": say("is empty; choose the part that is used"),
    "amount": say("is empty; enter how many are used"),
}


class Within(StrEnum):
    """Where a figure lies."""

    IN = "in limits"
    BELOW = "below the limit"
    ABOVE = "above the limit"
    NOT_JUDGED = "not judged: no limits stated"


def limits_of(step: PlanStep) -> tuple[Decimal | None, Decimal | None]:
    """The lowest and highest figure allowed, inclusive, in the step's unit or N·m; None where none is stated.

    In decimals as they were typed, so that 2.4 is within 2.5 ± 0.1 and not a binary digit beside it.
    """
    if step.kind == StepKind.TORQUE:
        if step.amount is None or step.tolerance is None:
            return None, None
        stated, tolerance = _typed(step.amount), _typed(step.tolerance)
        return stated - tolerance, stated + tolerance
    return (
        _typed(step.low) if step.low is not None else None,
        _typed(step.high) if step.high is not None else None,
    )


def _typed(value: float) -> Decimal:
    return Decimal(str(value))


def within(step: PlanStep, value: float) -> Within:
    """Where a figure of the step lies against its limits, which are inclusive."""
    low, high = limits_of(step)
    if low is None and high is None:
        return Within.NOT_JUDGED
    if low is not None and _typed(value) < low:
        return Within.BELOW
    return Within.ABOVE if high is not None and _typed(value) > high else Within.IN


def unit_of(step: PlanStep) -> str:
    """The unit of the step's figure; empty where it has none."""
    return "N·m" if step.kind == StepKind.TORQUE else step.unit or ""


def band(step: PlanStep) -> str:
    """'9 to 10 bar', '2.5 ± 0.1 N·m', 'at least 9 bar', or that nothing is stated; empty for what is no figure."""
    if step.kind not in (StepKind.FIGURE, StepKind.TORQUE):
        return ""
    unit, (low, high) = unit_of(step), limits_of(step)
    if step.kind == StepKind.TORQUE:
        return say("no torque stated") if low is None else f"{step.amount:g} ± {step.tolerance:g} {unit}"
    if low is not None and high is not None:
        return say("{low:g} to {high:g} {unit}", low=float(low), high=float(high), unit=unit)
    if low is None and high is None:
        return say("no limits stated")
    return (
        say("at least {low:g} {unit}", low=step.low, unit=unit)
        if low is not None
        else say("at most {high:g} {unit}", high=step.high, unit=unit)
    )


def quantity_of(step: PlanStep, *, before: bool = False) -> Quantity:
    """What the step's figure may be: usual within its limits, or up to twice a single one, and near the last.

    before: what is found before the work lies outside its limits by nature, and is usual within twice of them.
    """
    most = MOST_TORQUE if step.kind == StepKind.TORQUE else MOST_FIGURE
    low, high = (None if each is None else float(each) for each in limits_of(step))
    far = 2.0 * abs(low or high or 0.0) or most
    usual = None if low is None and high is None else (
        (0.0 if (high or 0.0) > 0.0 else -far) if low is None else low, far if high is None else high
    )  # fmt: skip
    if before and usual is not None:
        usual = min(0.5 * usual[0], 2.0 * usual[0]), max(0.5 * usual[1], 2.0 * usual[1])
    return Quantity(name=step.what or "torque", unit=unit_of(step), low=-most, high=most, why=COMMON, usual=usual,
                    ratio=3.0, remedy=say("enter what was measured"), read_with=meter_of(step))  # fmt: skip


def meter_of(step: PlanStep) -> str:
    """The kinds of test equipment that read the step's figure: by its unit, and by its name where that decides.

    Empty where no equipment of the register does: a torque, a count, what a device shows of itself, a partial pressure.
    """
    named, unit = (step.what or "").casefold(), unit_of(step).removeprefix("°").casefold()
    if step.kind != StepKind.FIGURE or any(each in named for each in _SHOWN):
        return ""
    by_name = next((kind for word, (kind, fits) in _NAMED.items() if word in named and unit in fits), "")
    return by_name or _MEASURES.get(unit, "")


_SHOWN = ("shown", "display", "po2", "pco2", "partial pressure", "handset", "carbon dioxide")
_PRESSURES = ("bar", "mbar", "pa", "hpa", "kpa", "psi")
_NAMED = {
    "helium": (Tool.HELIUM_ANALYSER, ("%",)), "oxygen": (Tool.ANALYSER, ("%",)), "humidity": (Tool.HYGROMETER, ("%",)),
    **dict.fromkeys(("room", "ambient", "barometric"), (Tool.BAROMETER, _PRESSURES)),
}  # fmt: skip
"""Words in a figure's name that tell the equipment where the unit alone does not."""
_MEASURES = {
    **dict.fromkeys(_PRESSURES, say("gauge or manometer")), **dict.fromkeys(("v", "mv"), Tool.BENCH_METER),
    "c": Tool.THERMOMETER, **dict.fromkeys(("g", "kg", "lb"), Tool.SCALE),
    **dict.fromkeys(("l/min", "ml/min", "l", "ml"), Tool.FLOW_METER),
}  # fmt: skip
"""Kinds of equipment by the unit of a figure that nothing else is known of."""


def asks(step: PlanStep) -> str:
    """What settles the step, in words without its own text: 'Intermediate pressure before and after, 9 to 10 bar'."""
    size = f", {step.size}" if step.size else ""
    return {
        StepKind.WORK: "",
        StepKind.FIGURE: f"{step.what}{' before and after' if step.before else ''}, {band(step)}",
        StepKind.TORQUE: f"torque {band(step)}" if step.amount is not None else band(step),
        StepKind.SEAL: f"seal at {step.what}{size}, {'replaced' if step.replace else 'inspected or replaced'}",
        StepKind.LUBRICANT: f"{step.what}{', one allowed for oxygen' if step.oxygen else ''}, with its lot",
        StepKind.PARTS: f"{step.pieces} from stock",
        StepKind.PHOTOGRAPH: "a photograph",
        StepKind.SECOND: "a second person's PIN",
    }[StepKind(step.kind)]


def step_lacks(step: PlanStep, given: StepGiven) -> tuple[str, ...]:
    """Why what was given does not settle the step, each reason with its remedy; empty where it does.

    What was left out is settled by its reason. A figure outside its limits settles nothing, and nor does a torque
    that nobody stated: the work is done again, or left out.
    """
    if given.state == WorkState.LEFT_OUT:
        return () if (given.reason or "").strip() else (say("left out without a reason; give one"),)
    lacks = list(_LACKS.get(StepKind(step.kind), _nothing)(step, given))
    uses = step.pieces if step.kind == StepKind.PARTS or given.seal == "replaced" else 0
    if given.pieces < uses:
        lacks.append(
            say("parts: {pieces} of {uses} taken from stock; take them from the shelf", pieces=given.pieces, uses=uses)
        )
    return tuple(lacks)


def _nothing(_step: PlanStep, _given: StepGiven) -> Sequence[str]:
    return ()


def _figure(step: PlanStep, given: StepGiven) -> Sequence[str]:
    lacks = []
    if step.before and given.before is None:
        lacks.append(say("before: {what} is missing; enter what it was before the work", what=step.what))
    return [*lacks, *_judged(step, given.after, "after" if step.before else str(step.what))]


def _torque(step: PlanStep, given: StepGiven) -> Sequence[str]:
    if step.amount is None:
        return [
            say("torque: none is stated; let the manager enter it from the manual, and leave the step out until then")
        ]
    return _judged(step, given.after, "torque")


def _judged(step: PlanStep, value: float | None, field: str) -> Sequence[str]:
    if value is None or not math.isfinite(value):
        return [say("{field}: is missing; enter the figure in {step}", field=field, step=unit_of(step))]
    found = within(step, value)
    if found in (Within.IN, Within.NOT_JUDGED):
        return []
    return [
        say(
            "{field}: {value:g} {step} is {found}, {step_2}; adjust it and measure again",
            field=field,
            value=value,
            step=unit_of(step),
            found=say(found),
            step_2=band(step),
        )
    ]


def _seal(step: PlanStep, given: StepGiven) -> Sequence[str]:
    if given.seal not in SEALS_DONE:
        return [say("seal: {what} is open; say whether it was inspected or replaced", what=step.what)]
    if step.replace and given.seal != "replaced":
        return [say("seal: {what} must be replaced; replace it", what=step.what)]
    return []


def _lubricant(step: PlanStep, given: StepGiven) -> Sequence[str]:
    lacks = []
    if " ".join((given.lubricant or "").casefold().split()) != " ".join(str(step.what).casefold().split()):
        used = say("{lubricant} was used", lubricant=given.lubricant) if given.lubricant else say("none is recorded")
        lacks.append(say("lubricant: {used}, the step names {what}; use that one", used=used, what=step.what))
    if not (given.lot or "").strip():
        lacks.append(say("lot: is missing; enter what stands on the tube"))
    if step.oxygen and given.oxygen_compatible is not True:
        lacks.append(say("oxygen-compatible: not known to be; use one whose label says so"))
    return lacks


def _photograph(_step: PlanStep, given: StepGiven) -> Sequence[str]:
    return [] if given.photographed else [say("photograph: none of this ticket belongs to it; add one")]


def _second(_step: PlanStep, given: StepGiven) -> Sequence[str]:
    return [] if given.seconded else [say("second person: nobody looked yet; let another one look and enter their PIN")]


_LACKS = {
    StepKind.FIGURE: _figure, StepKind.TORQUE: _torque, StepKind.SEAL: _seal, StepKind.LUBRICANT: _lubricant,
    StepKind.PHOTOGRAPH: _photograph, StepKind.SECOND: _second,
}  # fmt: skip


def step_state(step: PlanStep, given: StepGiven) -> str:
    """The state of a step as it stands: one that was said to be done is to do where its evidence is lacking."""
    return WorkState.TO_DO if step_lacks(step, given) else given.state


def steps_lacking(steps: Iterable[tuple[str, PlanStep, StepGiven]]) -> tuple[str, ...]:
    """What keeps a task with these steps, of (number, step, given), from being done; empty where all are settled."""
    return tuple(
        say(
            "step {number} '{step}': {lacks}",
            number=number,
            step=step.text,
            lacks=strung("; ", step_lacks(step, given)) or say("still to do"),
        )
        for number, step, given in steps
        if step_state(step, given) == WorkState.TO_DO
    )


def steps_left_out(steps: Iterable[tuple[str, PlanStep, StepGiven]], *, signed: bool = True) -> tuple[str, ...]:
    """Each step that was left out with its reason, "step 1.2 'Seat photographed', no camera".

    signed: one without its record is told too, as left out.
    """
    return tuple(
        say(
            "step {number} '{step}', {reason}",
            number=number,
            step=step.text,
            reason=(given.reason or "").strip() or say("without its record"),
        )
        for number, step, given in steps
        if given.state == WorkState.LEFT_OUT or (signed and step_state(step, given) != WorkState.DONE)
    )
