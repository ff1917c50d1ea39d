"""Where in the window something is entered: the one table from which every remedy takes its words.

A test opens each of them, so that no remedy names a place that is not there.
"""

from collections.abc import Mapping

DOORS: Mapping[str, tuple[str, ...]] = {
    "limit": ("Centre", "Limits", "Add limit"),
    "life": ("Centre", "Lives and test intervals", "Add life"),
    "rating": ("Centre", "Canister ratings", "Add rating"),
    "service task": ("Centre", "Service plan", "Add service task"),
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
    **{f"correct {thing}": ("Centre", title, f"Correct {thing}") for title, thing in (
        ("Unit types", "unit type"), ("Slots", "slot"), ("Parts that fit a slot", "part type of a slot"),
        ("Handsets", "handset"), ("What handsets read", "reading of a handset"), ("Part types", "part type"),
        ("Lives and test intervals", "life"), ("Limits", "limit"), ("Canister ratings", "rating"),
        ("Service plan", "service task"), ("Needs of the service plan", "need of a service task"),
        ("Disinfectants", "disinfectant"), ("Approved firmware", "approved firmware"),
        ("Accessories", "accessory"), ("Absences", "absence"), ("Cylinders", "cylinder"),
        ("Tests of parts", "test of a part"), ("Owners", "owner"), ("Places", "place"),
    )},
    "correct unit": ("Units", "Correct the unit"),
    "correct part": ("Shelf", "Correct the part"),
    "correct role": ("People", "Correct the role…"),
    "name of a person": ("People", "Name, contact…"),
    "correct container": ("Absorbent", "Correct the container"),
    "certificate of equipment": ("Test equipment", "New certificate"),
}  # fmt: skip
"""By what is entered: the page, the list on it where it has several, and the words of the button."""


def at(what: str) -> str:
    """'under Centre, Limits, Add limit'; raises KeyError for what has no door."""
    return f"under {', '.join(DOORS[what])}"
