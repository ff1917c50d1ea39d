"""PINs: set, checked, never stored readable."""

import re

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from fleetbench.records.errors import Refused
from fleetbench.records.people import Person
from fleetbench.workshop.shop import Shop

HASHER = PasswordHasher()
PIN = re.compile(r"[0-9]{4,12}")


def set_pin(shop: Shop, person_id: int, pin: str) -> None:
    """Give a person without a PIN one of 4 to 12 digits; a PIN that stands is not replaced here."""
    if not PIN.fullmatch(pin):
        raise Refused("PIN: give 4 to 12 digits")
    with shop.as_person(person_id).acting("set PIN", f"person {person_id}") as act:
        person = act.get(Person, person_id, "person")
        if person.pin_hash:
            raise Refused("PIN: this person has one already; a manager must reset it first")
        act.change(person, pin_hash=HASHER.hash(pin))


def check_pin(person: Person, pin: str) -> None:
    """Nothing where the PIN is the person's; Refused otherwise."""
    if not person.pin_hash:
        raise Refused("PIN: this person has none yet; set one before signing")
    try:
        HASHER.verify(person.pin_hash, pin)
    except (VerifyMismatchError, InvalidHashError) as fault:
        raise Refused("PIN: does not match; enter it again") from fault
