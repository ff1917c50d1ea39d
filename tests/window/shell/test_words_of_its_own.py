"""Words of the program's own stay its sentences: the name of a slot, a word of an enumeration, a short form."""

import pickle
from datetime import date
from enum import StrEnum

import pytest

from fleetbench.calc.core.languages import (
    capital,
    day_of_month,
    first_clause,
    language,
    parted,
    reading,
    say,
    short_day,
    shown,
    strung,
    unbracketed,
)
from fleetbench.calc.parts.kinds import slot_said
from tests.gallery.languages import OPEN, PSEUDO


class Sky(StrEnum):
    CLEAR = "clear sky"


def test_a_word_of_an_enumeration_is_shown_and_a_text_that_a_user_typed_is_not() -> None:
    with reading(PSEUDO):
        assert shown(Sky.CLEAR).startswith(OPEN) and shown("clear sky") == "clear sky"
        assert shown(say("it is {sky}", sky=Sky.CLEAR)).count(OPEN) == 2
        assert shown(strung(", ", (Sky.CLEAR, "typed"))).count(OPEN) == 2
    assert say("it is {sky}", sky=Sky.CLEAR) == "it is clear sky"


@pytest.mark.parametrize("turn", [unbracketed, capital, first_clause])
def test_a_sentence_in_another_form_is_still_shown_also_after_a_cache_or_a_thread(turn: object) -> None:
    assert callable(turn)
    turned = pickle.loads(pickle.dumps(turn(say("past (by a day); look"))))
    with reading(PSEUDO):
        assert OPEN in shown(turned) and OPEN not in shown(turn("typed (by a user); look"))


def test_findings_that_are_parted_stay_sentences() -> None:
    first, second = parted(strung("; ", (say("the loop is damp"), say("not marked dry"))))
    with reading(PSEUDO):
        assert shown(first).startswith(OPEN) and shown(second).startswith(OPEN)
    assert parted("one; two") == ("one", "two")


def test_a_day_within_a_sentence_names_no_english_month_in_another_language() -> None:
    on = date(2026, 12, 1)
    assert (short_day(on), day_of_month(on)) == ("01 Dec", "1 December")
    with reading(language("de")):
        assert shown(short_day(on)) == shown(day_of_month(on)) == "2026-12-01"
        assert "Dec" not in shown(say("from {first:%d %b}", first=on))


@pytest.mark.parametrize("name", ["cell 3", "oxygen first stage", "handset 1 battery", "exhale one-way valve"])
def test_a_usual_name_of_a_slot_is_shown_in_the_language_and_is_the_same_text(name: str) -> None:
    assert slot_said(name) == name
    with reading(PSEUDO):
        assert OPEN in shown(slot_said(name)) and shown(slot_said("Ines' own slot")) == "Ines' own slot"
