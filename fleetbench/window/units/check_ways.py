"""Where the window goes from a check: the act that puts it right, and the record that its result stands on."""

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import Check
from fleetbench.window.shell.place import Place
from fleetbench.window.tickets.ticket_work_new import new_ticket_key

CALIBRATE, BENCH, UNIT, CANISTERS, CYLINDERS = "calibrate", "bench", "units", "canisters", "cylinders"

REMEDIES: dict[str, str] = {
    "cell outcome": CALIBRATE,
    "workshop calibration": CALIBRATE,
    "handset calibration": CALIBRATE,
    "handset agreement": CALIBRATE,
    "point above 1 bar": CALIBRATE,
    "one-way valves and loop": BENCH,
    "intermediate pressure and gas addition": BENCH,
    "bailout or mouthpiece valve": BENCH,
    "alarms, displays and set-point": BENCH,
    "absorbent": CANISTERS,
    "absorbent sent along": "absorbent",
    "gas": CYLINDERS,
    "diluent at planned depth": CYLINDERS,
    "cylinder test and oxygen-clean": CYLINDERS,
    "bailout": CYLINDERS,
    "batteries": CYLINDERS,
    "test equipment": "equipment",
    "notices": "notices",
    "return": "hires",
    "diver": "hires",
    "accessories": "hires",
}
"""The page on which the act stands that puts a check right; for any other check it is a ticket on the unit."""

OF_THE_UNIT = (CALIBRATE, BENCH)
"""Pages that open with the unit on them."""

RECORDS = {"ticket": "tickets", "notice": "notices", "part": "parts"}
"""The pages of the records by the word that names them."""


def remedy_of(check: Check, tag: str) -> Place | None:
    """Where the act is started that puts a check right, None where nothing is to do.

    An open ticket is worked on; what no page puts right begins a ticket on the unit with the check's own words.
    """
    if check.result is Result.OK:
        return None
    page = REMEDIES.get(check.check)
    if page is not None:
        return Place(page, tag if page in OF_THE_UNIT else _key_in(check, page))
    ticket = next((each.removeprefix("ticket ") for each in check.records if each.startswith("ticket ")), None)
    if check.check == "open tickets" and ticket is not None:
        return Place("ticket_work", ticket)
    return Place("ticket_work", new_ticket_key(tag, f"{check.check}: {check.evidence}"[:200], "hold"))


def record_of(check: Check) -> Place | None:
    """The page of the first record that a check's result stands on and that has a page of its own."""
    for each in check.records:
        word, _, key = each.partition(" ")
        if word in RECORDS and key:
            return Place(RECORDS[word], key)
    return None


def _key_in(check: Check, page: str) -> str | None:
    """The notice itself where a notice is meant; other pages open as they stand."""
    found = record_of(check)
    return found.key if found is not None and found.page == page else None
