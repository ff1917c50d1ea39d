"""PINs: set, checked, reset, never stored readable; wrong entries are counted and make one wait."""

import math
import re
from datetime import timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from fleetbench.calc.people.pin_wait import still_to_wait
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.pins import drop_pin, forgive, keep_pin, moment_of, pin_of
from fleetbench.records.people.tables import Person
from fleetbench.workshop.core.workplace import Shop, WrongPin

HASHER = PasswordHasher()
PIN = re.compile(r"[0-9]{4,12}")


def set_pin(shop: Shop, person_id: int, pin: str) -> None:
    """Give a person without a PIN one of 4 to 12 digits; a PIN that stands is not replaced here."""
    if not PIN.fullmatch(pin):
        raise Refused("PIN: give 4 to 12 digits")
    with shop.as_person(person_id).acting("set PIN", f"person {person_id}") as act:
        person = act.get(Person, person_id, "person")
        if person.pin_digest:
            raise Refused("PIN: this person has one already; a manager must reset it first")
        keep_pin(act, person, HASHER.hash(pin))


def check_pin(person: Person, pin: str) -> None:
    """Nothing where the PIN is the person's; Refused otherwise.

    To be asked inside an act, which counts a wrong entry once it is rolled back; too many of them close the PIN for a
    growing time.
    """
    if not person.pin_digest:
        raise Refused("PIN: this person has none yet; set one before signing")
    kept = pin_of(person)
    if kept is None:
        raise Refused("PIN: what is kept of it does not fit the journal; let a manager reset it, and run verify")
    wait = still_to_wait(kept.tries, kept.last_wrong, moment_of(person))
    if wait is None:
        raise Refused("PIN: entered wrongly too often; let a manager reset it")
    if wait > timedelta(0):
        raise Refused(f"PIN: entered wrongly {kept.tries} times; try again in {_spoken(wait)}")
    try:
        HASHER.verify(kept.pin_hash, pin)
    except (VerifyMismatchError, InvalidHashError) as fault:
        raise WrongPin("PIN: does not match; enter it again", person.id) from fault
    forgive(kept)


def reset_pin(shop: Shop, person_id: int, *, pin: str) -> None:
    """Take a lost PIN away, so that its owner sets a new one; the manager at the desk gives their own PIN."""
    if shop.person_id is None:
        raise Refused("person: choose the manager who resets the PIN first")
    with shop.acting("reset PIN", f"person {person_id}") as act:
        check_pin(act.get(Person, shop.person_id, "manager"), pin)
        person = act.get(Person, person_id, "person")
        if not person.pin_digest:
            raise Refused("PIN: this person has none; they set one when they first sign")
        drop_pin(act, person)


def _spoken(wait: timedelta) -> str:
    seconds = math.ceil(wait.total_seconds())
    return f"{seconds} s" if seconds < 120 else f"{math.ceil(seconds / 60)} min"
