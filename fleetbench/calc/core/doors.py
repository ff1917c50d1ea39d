"""Where in the window something is entered: the one table from which every remedy takes its words.

A test opens each of them, so that no remedy names a place that is not there.
"""

from collections.abc import Mapping

from fleetbench.calc.core.languages import say, strung

_REGISTERS = (
    ("Unit types", "unit type"), ("Slots", "slot"), ("Parts that fit a slot", "part type of a slot"),
    ("Handsets", "handset"), ("What handsets read", "reading of a handset"), ("Part types", "part type"),
    ("Lives and test intervals", "life"), ("Limits", "limit"), ("Canister ratings", "rating"),
    ("Service plan", "service task"), ("Needs of the service plan", "need of a service task"),
    ("Steps of service tasks", "step of a service task"),
    ("Disinfectants", "disinfectant"), ("Approved firmware", "approved firmware"),
    ("Accessories", "accessory"), ("Absences", "absence"), ("Cylinders", "cylinder"),
    ("Tests of parts", "test of a part"), ("Owners", "owner"), ("Places", "place"),
)  # fmt: skip
DOORS: Mapping[str, tuple[str, ...]] = {
    "limit": ("Centre", "Limits", "Add limit"),
    "life": ("Centre", "Lives and test intervals", "Add life"),
    "rating": ("Centre", "Canister ratings", "Add rating"),
    "service task": ("Centre", "Service plan", "Add service task"),
    "step of a service task": ("Centre", "Steps of service tasks", "Add step of a service task"),
    "part type": ("Centre", "Part types", "Add part type"),
    "slot": ("Centre", "Slots", "Add slot"),
    "handset": ("Centre", "Handsets", "Add handset"),
    "reading of a handset": ("Centre", "What handsets read", "Add reading of a handset"),
    "altitude": ("Centre", "About the centre", "Correct centre"),
    "equipment figures": ("Centre", "Test equipment", "Correct test equipment"),
    "marks": ("Units", "Enter marks on parts"),
    "test of a cylinder": ("Cylinders", "Test"),
    "owner": ("Places", "New owner"),
    "cylinder": ("Cylinders", "New cylinder"),
    **{f"correct {thing}": ("Centre", title, say("Correct {thing}", thing=say(thing))) for title, thing in _REGISTERS},
    "correct unit": ("Units", "Correct the unit"),
    "correct part": ("Shelf", "Correct the part"),
    "correct role": ("People", "Correct the role…"),
    "name of a person": ("People", "Name, contact…"),
    "approved firmware": ("Centre", "Approved firmware", "Add approved firmware"),
    "certificate of a person": ("People", "Check a certificate…"),
    "correct container": ("Absorbent", "Correct the container"),
    "certificate of equipment": ("Test equipment", "New certificate"),
}  # fmt: skip
"""By what is entered: the page, the list on it where it has several, and the words of the button."""


def at(what: str) -> str:
    """'under Centre, Limits, Add limit'; raises KeyError for what has no door."""
    return say("under {doors}", doors=strung(", ", map(say, DOORS[what])))


def where_corrected(sheet: str, column: str = "") -> str:
    """Where a row of a file that is recorded already is corrected: nothing recorded is edited by a file."""
    if (sheet, column) in (("people", "name"), ("people", "contact")):
        return say("correct it {place}, or take the row out of the file", place=at("name of a person"))
    if sheet not in CORRECTED_AT:
        return say("what was recorded of work done stays; take the row out of the file")
    return say("correct it {place}, or take the row out of the file", place=at(CORRECTED_AT[sheet]))


CORRECTED_AT = {
    "centre": "altitude", "unit_types": "correct unit type", "slots": "correct slot", "readers": "correct handset",
    "reader_cells": "correct reading of a handset", "part_types": "correct part type",
    "part_type_lives": "correct life", "limits": "correct limit", "rating_rows": "correct rating",
    "service_tasks": "correct service task", "units": "correct unit", "parts": "correct part",
    "absences": "correct absence", "people": "correct role", "cylinders": "correct cylinder",
    "part_tests": "correct test of a part", "owners": "correct owner", "places": "correct place",
    "equipment": "equipment figures", "disinfectants": "correct disinfectant", "accessories": "correct accessory",
    "approved_firmware": "correct approved firmware", "service_needs": "correct need of a service task",
    "service_steps": "correct step of a service task",
    "slot_part_types": "correct part type of a slot", "containers": "correct container",
}  # fmt: skip
"""The door by which a row of a file is corrected."""
