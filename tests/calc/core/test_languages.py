"""The catalogues of the program and of the renter's page: whole, with every placeholder, in plural forms.

Sentences are taken from the source (`tests/house/sentences`); the number of plural forms and what stands for which
count are the Unicode CLDR's, as Babel ships them.
"""

import gc
import json
import pickle
import sqlite3
import string
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date

import pytest
from babel.core import Locale

from fleetbench.calc.core.languages import (
    LANGUAGES,
    NOT_CONFIRMED,
    PROGRAM_LANGUAGES,
    SYSTEM,
    catalogue,
    chosen,
    language,
    reading,
    say,
    say_count,
    say_small,
    shown,
    strung,
    worded,
)
from fleetbench.paper.core.pen import lacks_glyphs
from fleetbench.records.core.errors import Refused
from tests.house.sentences import TRANSLATED, lacking, program_sentences, renter_sentences

OTHERS = [code for code in LANGUAGES if code != "en"]


def placeholders(text: str) -> list[str]:
    return sorted(name for _text, name, _form, _turn in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("code", OTHERS)
def test_no_sentence_is_missing_and_none_is_left_over(code: str) -> None:
    kept = {each.id: each for each in catalogue(code) if each.id}
    renters, program = renter_sentences(), program_sentences()
    assert renters <= set(kept) and set(kept) - renters - (program if code in TRANSLATED else set()) == set()
    assert not [each for each in renters if kept[each].fuzzy or not kept[each].string]


def test_a_language_is_offered_only_where_every_sentence_of_the_program_has_its_words() -> None:
    assert [each for code in PROGRAM_LANGUAGES[1:] for each in lacking(code)] == [], (
        "python -m tests.house.sentences --write gives the catalogue their places"
    )


@pytest.mark.parametrize("code", OTHERS)
def test_no_placeholder_is_lost_in_any_plural_form_and_every_sign_can_be_set(code: str) -> None:
    printed = renter_sentences()
    for message in (each for each in catalogue(code) if each.id and each.string):
        wanted = placeholders(message.id if isinstance(message.id, str) else message.id[0])
        forms = (message.string,) if isinstance(message.string, str) else message.string
        assert all(form and placeholders(form) == wanted for form in forms), message.id
        assert message.id not in printed or not any(map(lacks_glyphs, forms)), message.id
    assert all(
        len(message.string) == catalogue(code).num_plurals for message in catalogue(code) if message.pluralizable
    )


@pytest.mark.parametrize("code", list(LANGUAGES))
def test_the_form_of_a_plural_is_the_one_that_cldr_names_for_the_count(code: str) -> None:
    forms: dict[str, set[str]] = {}
    for count in (1, 2, 3, 5, 11, 12, 22, 25, 101):
        text = language(code).count("{count} entry", "{count} entries", count)
        assert text.startswith(f"{count} ")
        forms.setdefault(Locale(code).plural_form(count), set()).add(text.removeprefix(f"{count} "))
    assert all(len(each) == 1 for each in forms.values()) and len({min(each) for each in forms.values()}) == len(forms)


def test_figures_and_days_stand_as_each_language_writes_them() -> None:
    """Decimal signs and months: Unicode CLDR."""
    assert language("en").number(5.2, "g/L") == "5.2 g/L" and language("de").number(5.2, "g/L") == "5,2 g/L"
    assert (
        language("de").day(date(2026, 5, 8)) == "8. Mai 2026" and language("pl").day(date(2026, 5, 8)) == "8 maja 2026"
    )
    assert language("el").number(30.0, "m") == "30 m" and language(None).code == "en"


def test_what_a_person_typed_is_never_read_as_a_placeholder() -> None:
    assert language("de").say("Accessories: {list}", list="{0} {list} %s") == "Zubehör: {0} {list} %s"


def test_every_caution_is_marked_as_not_confirmed_and_the_language_says_so() -> None:
    bail_out = "As you were trained: bail out to open circuit first, and end the dive."
    for code in OTHERS:
        assert NOT_CONFIRMED in catalogue(code)[bail_out].user_comments
        assert not language(code).confirmed
    assert language("en").confirmed


def test_what_is_said_is_its_english_text_wherever_it_is_kept_compared_or_carried() -> None:
    said = say("Handed over: {kind}", kind="{0} %s")
    assert said == "Handed over: {0} %s" and str(said) is said and json.dumps([said]) == '["Handed over: {0} %s"]'
    with closing(sqlite3.connect(":memory:")) as connection:
        assert connection.execute("select ?", (said,)).fetchone() == ("Handed over: {0} %s",)
    assert shown(said) == said and shown(pickle.loads(pickle.dumps(said))) == said
    assert say("no {values}, no holes") == "no {values}, no holes" and say_small("To Do") == "to do"
    assert say_count("{count} entry", "{count} entries", 1) == "1 entry"


def test_a_sentence_is_read_in_the_language_that_was_chosen_with_all_that_was_said_in_it() -> None:
    with reading(language("de")):
        inner = say("Handed over: {kind}", kind=say("not recorded"))
        assert shown(inner) == "Übergeben: nicht verzeichnet"
        assert shown(strung("; ", (inner, "typed by a user"))) == "Übergeben: nicht verzeichnet; typed by a user"
        assert shown("not recorded") == "not recorded", "what a user typed stays as it is"
        assert worded("not recorded") == "nicht verzeichnet" and worded("") == ""
        assert shown(str(Refused(inner))) == shown(str(Refused(Refused(inner)))) == "Übergeben: nicht verzeichnet"
        assert in_thread(lambda: shown(inner)) == "Übergeben: nicht verzeichnet"
    assert shown(inner) == "Handed over: not recorded"


def in_thread(work: Callable[[], str]) -> str:
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(work).result()


def test_the_language_is_that_of_the_settings_or_the_first_of_the_systems_that_is_offered() -> None:
    assert chosen("English", ["de-AT"]) == "en" and chosen(SYSTEM, ["xx", "en-GB", "de"]) == "en"
    assert chosen(SYSTEM, []) == chosen("Klingon") == "en"
    assert [chosen(SYSTEM, [f"{code}_XX"]) for code in PROGRAM_LANGUAGES] == list(PROGRAM_LANGUAGES)


def test_a_sentence_holds_its_values_without_a_dictionary_of_its_own() -> None:
    """A judged fleet holds tens of thousands of sentences; a dictionary is larger than the sentence itself."""
    one, other = (say("{what} of {unit}", what=each, unit="KB-07") for each in ("test", "battery"))
    assert not [each for each in gc.get_referents(one) if isinstance(each, dict)]
    assert one.given[0] is other.given[0], "the names are kept once"
    assert (one.values, other.values["what"]) == ({"what": "test", "unit": "KB-07"}, "battery")
    assert say("as it is").values == {}
