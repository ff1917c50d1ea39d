"""A supplier's certificate of a batch of gas, typed line by line beside what the specification asks."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from fleetbench.calc.gas.cylinders import PurityLimit, Specification
from fleetbench.window.forms.form import Field, Form, Shown
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import specification_of
from fleetbench.workshop.gas.fills import enter_certificate

GASES = ("oxygen", "air")
IN_A_ROW = 3


def specifications(workplace: Workplace) -> dict[str, Specification]:
    """What each gas is held against."""
    return {gas: specification_of(workplace, gas) for gas in GASES}


def certificate_form(workplace: Workplace, held: Mapping[str, Specification], batch: str) -> Form:
    """What a certificate states; what it does not state stays empty and is told as not stated."""

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        chosen = held[found["gas"]]
        asked = {_name(gas, line): gas == found["gas"] for gas, each in held.items() for line in each.lines}
        return {"held": f"Held against {chosen.name}: {chosen.source}.", **asked}

    def enter(gas: str, batch: str, supplier: str, issued: date, **stated: float | None) -> object:
        named = {line.what: stated[_name(gas, line)] for line in held[gas].lines}
        values = {what: value for what, value in named.items() if value is not None}
        return enter_certificate(workplace, batch=batch, gas=gas, issued_on=issued, values=values, supplier=supplier)

    return Form(
        "Gas certificate",
        "Save certificate",
        "A figure outside its limit stops every cylinder filled from the batch. What is not stated stays empty. "
        f"{OXYGEN_CAUTION}",
        (
            Field("gas", "Gas", "choice", choices=[(gas, gas) for gas in held]),
            Field("batch", "Batch", hint="as on the bank or cylinder", default=batch, beside=True),
            Field("supplier", "Supplier or laboratory", spoken="supplier", beside=True),
            Field("issued", "Issued on", "day", "such as 2026-05-04", wants="is missing; enter the day on it",
                  beside=True),
            Field("held", kind="told"),
            *(
                Field(_name(gas, line), line.what.capitalize(), "figure", asked_words(line), unit=line.unit,
                      spoken=line.what, hidden=gas != GASES[0], beside=at % IN_A_ROW > 0)
                for gas, each in held.items()
                for at, line in enumerate(each.lines)
            ),
        ),
        enter,
        look=look,
        first="supplier" if batch else "batch",
        wide=230,
    )  # fmt: skip


def _name(gas: str, line: PurityLimit) -> str:
    return f"{gas} {line.what}"


def asked_words(line: PurityLimit) -> str:
    """'at least 99.5' or '20 to 22' or 'at most 10'."""
    if line.least is not None and line.most is not None:
        return f"{line.least:g} to {line.most:g}"
    return f"at least {line.least:g}" if line.least is not None else f"at most {line.most:g}"
