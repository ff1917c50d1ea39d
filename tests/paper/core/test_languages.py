"""The catalogues of the renter's page: whole, with every placeholder, in the plural forms that each language has.

Sentences are taken from the source by Babel's extractor (general-purpose reference library); the number of plural forms
and what stands for which count are the Unicode CLDR's, as Babel ships them.
"""

import string
from datetime import date
from pathlib import Path

import pytest
from babel.core import Locale
from babel.messages.extract import extract_from_file

from fleetbench.calc.hires.languages import LANGUAGES
from fleetbench.calc.readiness.judge import CHECKS
from fleetbench.paper.core.languages import NOT_CONFIRMED, catalogue, language
from fleetbench.paper.core.pen import lacks_glyphs
from fleetbench.paper.core.words import sheet_texts
from fleetbench.paper.hires import front

OTHERS = [code for code in LANGUAGES if code != "en"]


def sentences() -> set[str | tuple[str, ...]]:
    """Every sentence that the front says, from its source and from the standing texts."""
    texts = sheet_texts()
    said = extract_from_file("python", Path(front.__file__), keywords={"say": None, "count": (1, 2)})
    standing = {texts.cautions[0], texts.cautions[2], texts.lacking_glyph, *texts.kind_said.values()}
    standing |= {row.check for row in CHECKS} | set(front.HELD_AS)
    return {message for _line, message, _comments, _context in said} | standing | {
        line for lines in texts.still_to_do.values() for line in lines
    }  # fmt: skip


def placeholders(text: str) -> list[str]:
    return sorted(name for _text, name, _form, _turn in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("code", OTHERS)
def test_no_sentence_is_missing_and_none_is_left_over(code: str) -> None:
    kept = {message.id for message in catalogue(code) if message.id}
    assert kept == sentences()
    assert not [message.id for message in catalogue(code) if message.id and (message.fuzzy or not message.string)]


@pytest.mark.parametrize("code", OTHERS)
def test_no_placeholder_is_lost_in_any_plural_form_and_every_sign_can_be_set(code: str) -> None:
    for message in (each for each in catalogue(code) if each.id):
        wanted = placeholders(message.id if isinstance(message.id, str) else message.id[0])
        forms = (message.string,) if isinstance(message.string, str) else message.string
        assert all(form and placeholders(form) == wanted and not lacks_glyphs(form) for form in forms), message.id
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
