"""A cylinder taken in with its stamps, and the rule by which cylinders of a part type are tested."""

from collections.abc import Mapping
from functools import cache, partial
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.parts.intervals import CylinderRule
from fleetbench.window.forms.form import Field, Form, Shown
from fleetbench.window.parts.part_dialogs import MARK_HINT
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.entry import (
    ROLES,
    VISUAL_MONTHS,
    CylinderChoices,
    NewCylinder,
    cylinder_choices,
    receive_cylinder,
    role_of,
    set_own_rule,
    set_test_rule,
)

OWN_RULE = say("a rule that is not listed")
STAMPED = say("is missing; enter it as stamped")


def cylinder_form(workplace: Workplace) -> Form:
    """A cylinder as stamped: type, serial, role, size, working pressure, marking, owner, place, and its last tests."""
    choices = cache(partial(cylinder_choices, workplace))

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        known = choices()
        usual = role_of(next((each.kind for each in known.types if each.code == found["code"]), ""))
        return {
            "code": [(each.name, each.code) for each in known.types],
            "role": [(role, role) for role in sorted(ROLES, key=lambda role: role != usual)],
            "owner_id": [(name, key) for key, name in known.owners],
            "place_id": [(say("not recorded"), None), *((place.name, place.place_id) for place in known.places)],
        }

    def receive(**stamped: Any) -> object:
        return receive_cylinder(workplace, NewCylinder(**stamped))

    return Form(
        "New cylinder",
        act_words="Save cylinder",
        note="As stamped on it. A test whose date is not known stays empty, and nothing is filled until it is known. "
        "Oxygen-clean is not taken over from a seller's word: record its cleaning.",
        fields=(
            Field("code", "Part type", "choice", wants="choose what kind of cylinder it is",
                  nothing="No part type of a cylinder is recorded; import the centre's files first."),
            Field("serial", "Serial", hint="scan or type", beside=True),
            Field("role", "Role", "choice", beside=True),
            Field("size_l", "Size", "figure", unit=say("L of water"), spoken="size", wants=STAMPED),
            Field("working_bar", "Working pressure", "figure", unit=BAR, wants=STAMPED, beside=True),
            Field("material", "Material", hint="steel or aluminium", beside=True),
            Field("marking", "Marking", hint="as stamped", beside=True),
            Field("made", "Made", "marked", MARK_HINT),
            Field("hydrostatic", "Hydrostatic test", "marked", MARK_HINT, beside=True),
            Field("visual", "Internal visual", "marked", MARK_HINT, beside=True),
            Field("owner_id", "Owner", "choice"),
            Field("place_id", "Place", "choice", beside=True),
        ),
        act=receive,
        look=look,
        first="serial",
        wide=210,
    )  # fmt: skip


WHOLE_MONTHS = say("enter a whole number of months")


def rule_form(workplace: Workplace) -> Form:
    """The rule by which cylinders of a part type are tested, with its date; every last valid day follows it."""
    choices = cache(partial(cylinder_choices, workplace))

    def look(found: Mapping[str, Any]) -> Mapping[str, Shown]:
        known, rule = choices(), found["rule"]
        rules = [(f"{each.rule}, {each.specification}", each) for each in known.rules]
        listed = rule if isinstance(rule, CylinderRule) else None
        own = rule == OWN_RULE
        return {
            "code": [(f"{each.name}, {each.code}", each.code) for each in known.types],
            "rule": [*rules, (OWN_RULE, OWN_RULE)],
            "current": _current(known, found["code"]),
            "years": [(f"{years}", years) for years in listed.years] if listed else not own,
            "local_rule": not own,
            **dict.fromkeys(("name", "edition", "months"), own),
        }

    def save(code: str, rule: Any, visual_months: int, years: int | None, local_rule: str | None, **own: Any) -> None:
        if isinstance(rule, CylinderRule):
            assert years is not None, "each rule listed has years to choose from"
            set_test_rule(
                workplace,
                code,
                rule=rule.rule,
                specification=rule.specification,
                years=years,
                visual_months=visual_months,
                local_rule=local_rule or "",
            )
        else:
            set_own_rule(
                workplace, code, rule=own["name"], edition=own["edition"], hydrostatic_months=own["months"],
                visual_months=visual_months,
            )  # fmt: skip

    return Form(
        "Rule of periodic tests",
        act_words="Save rule",
        note="Local law stands above every rule listed here. A longer period is for a centre that meets the rule's "
        "conditions; visuals further apart than a year need the local rule or the risk assessment in words.",
        fields=(
            Field("code", "Part type", "choice", wants="choose the cylinders that the rule is for"),
            Field("rule", "Rule and specification", "choice", spoken="rule", beside=True),
            Field("current", kind="told"),
            Field("years", "Hydrostatic test every, years", "choice", spoken="years"),
            Field("visual_months", "Internal visual every", "whole", default=VISUAL_MONTHS, unit=say("months"),
                  spoken="visual months", wants=WHOLE_MONTHS, beside=True),
            Field("local_rule", "By which local rule or assessment", hint="where visuals are further apart than a year",
                  spoken="local rule", beside=True),
            Field("name", "Name of the rule", spoken="rule's name", hidden=True),
            Field("edition", "Its date or edition", spoken="date of the rule", hidden=True, beside=True),
            Field("months", "Hydrostatic test every", "whole", unit=say("months"), spoken="hydrostatic months",
                  wants=WHOLE_MONTHS, hidden=True, beside=True),
        ),
        act=save,
        look=look,
        wide=210,
    )  # fmt: skip


def _current(known: CylinderChoices, code: str | None) -> str:
    """The intervals that are in force for a part type."""
    part_type = next((each.part_type_id for each in known.types if each.code == code), None)
    told = [
        say("{test} every {months:g} months ({source})", test=say(test), months=months, source=source)
        for (key, test), (months, source) in known.intervals.items()
        if key == part_type and test in ("hydrostatic", "visual")
    ]
    return say("Now: {value}.", value=strung("; ", told) or say("no interval is recorded"))
