"""What is asked about people: enter, change, certificates checked, PINs, legal holds, leaving and erasing."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.people.permits import Role
from fleetbench.calc.people.retention import KINDS
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import PersonRecord
from fleetbench.settings import SETTINGS, data_folder, read_settings
from fleetbench.window.forms.form import Choices, Field, Form, replacing
from fleetbench.workshop.core.workplace import Workplace, clock_in_doubt
from fleetbench.workshop.parts.lives import correct_clock
from fleetbench.workshop.people.acts import (
    change_contact,
    change_pin,
    end_service,
    enter_person,
    erase_person,
    lift_legal_hold,
    place_legal_hold,
    reset_pin,
    see_paper,
    set_pin,
    set_retention,
)
from fleetbench.workshop.people.list import LegalHoldRow, people_desk

ROLES = ("renter", "student", "instructor", "technician", "manager")
PAPERS = ("diver", "medical", "instructor", "technician")
NAMES_NOBODY = say("It stays in the journal, so it names nobody.")
CONTACT = Field("contact", "Telephone or e-mail")


def _then(words: str, act: Callable[..., object], *about: object) -> Callable[..., str]:
    """The act, which gives these words once it was done."""

    def done(**given: object) -> str:
        act(*about, **given)
        return words

    return done


def enter_form(workplace: Workplace) -> Form:
    """Enters a new person."""

    def enter(code: str, role: str, name: str, contact: str) -> str:
        enter_person(workplace, code, role, name, contact)
        return say("{code} is entered as {role}.", code=code.strip(), role=say(role))

    return Form(
        "New person",
        act_words="Save person",
        note="The code stays for good; name and contact can be erased.",
        fields=(
            Field("code", "Code"),
            Field("role", "Role", "choice", choices=[(say(role), role) for role in ROLES], beside=True),
            Field("name", "Name"),
            CONTACT,
        ),
        act=enter,
    )


def contact_form(workplace: Workplace, row: PersonRecord) -> Form:
    """Writes another name or contact; what another desk saved meanwhile is shown before it is replaced."""
    named = row.name if row.name != row.code else ""

    def save(**given: Any) -> str:
        change_contact(workplace, row.person_id, **given)
        return say("Name and contact of {code} are saved.", code=row.code)

    return Form(
        say("Name and contact of {code}", code=row.code),
        act_words="Save contact",
        note="",
        fields=(
            Field("name", "Name", default=named),
            Field("contact", "Telephone or e-mail", default=row.contact or ""),
        ),
        act=replacing({"name": named, "contact": row.contact or ""}, save),
    )


def paper_form(workplace: Workplace, row: PersonRecord, today: date) -> Form:
    """Notes that a certificate was checked."""

    def see(kind: str, unit_type: str | None, seen_on: date, valid_until: date | None) -> str:
        of_type = None if kind == "medical" else unit_type
        see_paper(workplace, row.person_id, kind, unit_type=of_type, seen_on=seen_on, valid_until=valid_until)
        return say("{kind} of {code}: seen on {seen_on}.", kind=kind, code=row.code, seen_on=seen_on)

    def types() -> Mapping[str, Choices]:
        named = [(f"{code}: {name}", code) for code, name in people_desk(workplace).unit_types]
        return {"unit_type": [(say("every type"), None), *named]}

    kinds = [
        (say("{kind} qualification", kind=kind) if kind != "medical" else say("medical statement"), kind)
        for kind in PAPERS
    ]
    return Form(
        say("A certificate of {code}", code=row.code),
        act_words="Save check",
        note="Only what it is, the day and who saw it are kept; never a copy, never a medical form.",
        fields=(
            Field("kind", "What", "choice", default=row.role, choices=kinds),
            Field("unit_type", "For the unit type", "choice", choices=(("every type", None),)),
            Field("seen_on", "Seen on", "day", default=today.isoformat(), wants="is missing; enter 2028-01-31"),
            Field("valid_until", "Last valid day; empty where it states no end", "day", spoken="last valid day"),
        ),
        act=see,
        load=types,
    )


def _twice(pin: str, again: str) -> None:
    if pin != again:
        raise Refused(say("PIN: the two entries differ; enter the PIN again"))


def set_pin_form(workplace: Workplace, row: PersonRecord, people: Sequence[PersonRecord]) -> Form:
    """Lets a person without a PIN set one, twice the same, beside a manager who enters their own."""
    managers = [each for each in people if each.role == Role.MANAGER and each.active and each.has_pin]
    beside = bool(managers) or row.role != Role.MANAGER

    def keep(pin: str, again: str, manager: int | None = None, manager_pin: str = "") -> str:
        _twice(pin, again)
        set_pin(workplace, row.person_id, pin, manager_id=manager, manager_pin=manager_pin)
        return say("{code} has a PIN.", code=row.code)

    note = (
        say("{row} enters it beside a manager, who enters their own first. Nobody can read it.", row=row.name)
        if beside
        else say(
            "No manager has a PIN yet: {row} sets the first one alone, signed in under their own "
            "name. Do so before others work here; this PIN vouches for every other.",
            row=row.name,
        )
    )
    present = (
        Field("manager", "Manager present", "choice", choices=[(each.name, each.person_id) for each in managers],
              spoken="manager",
              wants="none has a PIN yet; let a manager set theirs first, on their own page under People"),
        Field("manager_pin", "The manager's own PIN", "pin"),
    )  # fmt: skip
    own = (Field("pin", "PIN, 4 to 12 digits", "pin"), Field("again", "The same PIN again", "pin"))
    return Form(
        say("PIN of {row}", row=row.name),
        act_words="Set PIN",
        note=note,
        fields=(*present, *own) if beside else own,
        act=keep,
    )


def change_pin_form(workplace: Workplace, row: PersonRecord) -> Form:
    """Lets a person set another PIN, who enters the old one."""

    def change(old: str, pin: str, again: str) -> str:
        _twice(pin, again)
        change_pin(workplace, row.person_id, old, pin)
        return say("The PIN of {code} is changed.", code=row.code)

    return Form(
        say("Another PIN for {row}", row=row.name),
        act_words="Change PIN",
        note="A PIN that was forgotten is reset by a manager.",
        fields=(
            Field("old", "The old PIN", "pin"),
            Field("pin", "The new PIN, 4 to 12 digits", "pin"),
            Field("again", "The new PIN again", "pin"),
        ),
        act=change,
    )


def reset_pin_form(workplace: Workplace, row: PersonRecord) -> Form:
    """Removes a lost PIN under the manager's own."""
    return Form(
        say("Lost PIN of {row}", row=row.name),
        act_words="Reset PIN",
        note=say("The journal holds that it was reset, and by whom. {row} then sets a new one with a "
"manager present.", row=row.name),
        fields=(Field("pin", "Your own PIN, as the manager who is signed in", "pin"),),
        act=_then(say("The PIN of {code} is reset; they set a new one with a manager present.", code=row.code),
            reset_pin,
            workplace,
              row.person_id),
    )  # fmt: skip


def legal_hold_form(workplace: Workplace, row: PersonRecord) -> Form:
    """Keeps a person's records from being erased."""
    return Form(
        say("Legal hold on {code}", code=row.code),
        act_words="Place hold",
        note=say("Nothing of theirs is erased while it stands. {names_nobody}", names_nobody=NAMES_NOBODY),
        fields=(Field("reason", "Why, for instance the number of the claim", spoken="reason"),),
        act=_then(say("Records of {code} are held.", code=row.code), place_legal_hold, workplace, row.person_id),
    )


def lift_legal_form(workplace: Workplace, row: PersonRecord, holds: Sequence[LegalHoldRow]) -> Form:
    """Lifts a legal hold."""
    return Form(
        say("Lift a legal hold on {code}", code=row.code),
        act_words="Lift hold",
        note="",
        fields=(Field("hold_id", "Hold", "choice", choices=[(hold.reason[:100], hold.hold_id) for hold in holds]),),
        act=_then(say("The legal hold on {code} is lifted.", code=row.code), lift_legal_hold, workplace),
    )


def _sure_form(title: str, words: str, note: str, row: PersonRecord, act: Callable[[], object], done: str) -> Form:
    """An act that cannot be undone: it is ticked first."""

    def once_sure(sure: bool) -> str:
        assert sure, "the form wants it ticked"
        told = act()
        return strung(" ", (strung("", (row.code, " ", done, ".")), *(told if isinstance(told, tuple) else ())))

    tick = Field(
        "sure",
        say("Yes, {row}", row=row.name),
        "tick",
        spoken="sure",
        wants="tick that it is meant; it cannot be undone",
    )
    return Form(title, act_words=words, note=note, fields=(tick,), act=once_sure)


def leave_form(workplace: Workplace, row: PersonRecord) -> Form:
    """The person no longer works or hires here."""
    return _sure_form(
        say("{code} is no longer here", code=row.code),
        say("No longer here"),
        say("They can be chosen nowhere any more; what they did stays under their name."),
        row,
        partial(end_service, workplace, row.person_id),
        say("is no longer active"),
    )


def _erase(workplace: Workplace, person_id: int) -> tuple[str, ...]:
    data, backups = data_folder(), read_settings(data_folder() / SETTINGS)["backup_folder"]
    return erase_person(workplace, person_id, (data, *([Path(backups)] if backups else ())))


def erase_form(workplace: Workplace, row: PersonRecord) -> Form:
    """Erases a renter."""
    return _sure_form(
        say("Erase {code}", code=row.code),
        say("Erase for good"),
        say(
            "Name, contact, PIN and hire notes are deleted for good. Units, times and readings stay "
            "under the code alone. Backups and pages of before still hold the name; what is found is "
            "told by name."
        ),
        row,
        partial(_erase, workplace, row.person_id),
        say("is erased; the history stays, nameless"),
    )


def clock_form(workplace: Workplace) -> Form:
    """Confirms that this computer's clock is right, and corrects records that are dated after it."""

    def confirm(pin: str) -> str:
        moved = correct_clock(workplace, pin=pin)
        return say("The clock is confirmed. Records dated after it and corrected: {moved}.", moved=moved)

    def told() -> Mapping[str, Choices | str]:
        said = clock_in_doubt(workplace) or say("The clock runs on from the last entry; nothing is wrong with it.")
        now = workplace.clock().astimezone(workplace.zone())
        return {"doubt": say("This computer says {now:%Y-%m-%d %H:%M}. {said}", now=now, said=said)}

    return Form(
        "The clock of this computer",
        act_words="Confirm clock",
        note="Check date and time first. Records dated after this moment get the earliest time at which they can have "
        "been made, in the order in which they were recorded. The journal keeps both times.",
        fields=(
            Field("doubt", "", "told"),
            Field("pin", "PIN of the manager who is signed in", "pin", spoken="PIN"),
        ),
        act=confirm,
        load=told,
    )


SHOWN_KINDS = dict(zip(KINDS, (say("Names and contacts"), say("Hire notes")), strict=True))
"""Kinds of erasable records as a screen names them."""


def years_form(workplace: Workplace, years: Sequence[tuple[str, int | None, str]]) -> Form:
    """Sets for how many years each kind of erasable record is kept, and by which rule."""

    saving = {
        kind: replacing({"years": kept, "source": source}, partial(set_retention, workplace, kind))
        for kind, kept, source in years
    }

    def keep(**given: object) -> str:
        wanted = {kind: (given[f"years of {kind}"], given[f"rule for {kind}"]) for kind, _years, _source in years}
        if all(each is None for each, _source in wanted.values()):
            raise Refused(say("years: none is set; give the years of at least one kind"))
        for kind, (each, source) in wanted.items():
            if isinstance(each, int):
                saving[kind](years=each, source=str(source))
        return say("The years are set.")

    fields = []
    for kind, kept, source in years:
        fields += [
            Field(f"years of {kind}", SHOWN_KINDS[kind], "whole", hint="after the last booked day", default=kept,
                  unit="years", spoken=say("years of {kind}", kind=say(kind))),
            Field(f"rule for {kind}", "By which rule", default=source, spoken=say("rule for {kind}", kind=say(kind)),
                beside=True,
                  longest=300),
        ]  # fmt: skip
    return Form(
        "Retention",
        act_words="Save years",
        note="How many years records of people are kept. Local law and your privacy notice say how long; what is empty "
        "is not set. Nothing is erased by itself.",
        fields=tuple(fields),
        act=keep,
    )
