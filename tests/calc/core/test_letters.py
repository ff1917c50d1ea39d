"""Letters as they are typed: the same name is found whatever its accents, case, width and composition.

Decompositions are those of the Unicode Character Database; which letters are typed for one another is common practice,
no published source.
"""

import unicodedata

import pytest

from fleetbench.calc.core.languages import folded, folded_name


@pytest.mark.parametrize(("name", "typed"), [
    ("Núria Łęcka", "nuria lecka"),
    ("Søren Ąžuol", "soren azuol"),
    ("İdil Işık", "idil isik"),
    ("Đặng Thị Ánh", "dang thi anh"),
    ("Groß", "gross"),
    ("ＮＵＲＩＡ", "nuria"),
    ("Œuvré Þórir", "oeuvre thorir"),
    ("O’Dea-Quill", "o'dea-quill"),
    ("Νίκος", "νικοσ"),
    ("أحمد", "احمد"),
    ("علی", "علي"),
    ("שָׂרָה", "שרה"),
])  # fmt: skip
def test_a_name_is_found_as_it_is_typed_without_accents(name: str, typed: str) -> None:
    assert folded_name(name) == folded_name(typed) == folded_name(unicodedata.normalize("NFD", name))
    assert folded_name(name) == unicodedata.normalize("NFKD", typed)


@pytest.mark.parametrize(
    ("one", "other"), [("かき", "がき"), ("कम", "कमि"), ("ดี", "ดา"), ("김", "검"), ("Ana", "Anna")]
)
def test_signs_that_make_another_letter_stay(one: str, other: str) -> None:
    assert folded(one) != folded(other)


def test_names_sort_by_their_letters_and_accents_come_after() -> None:
    """Unicode Technical Standard 10: accents count after letters."""
    names = ["Zoe", "Émile", "Eva", "Ángel", "Anton", "Ödön", "Otto"]
    assert sorted(names, key=folded_name) == ["Ángel", "Anton", "Émile", "Eva", "Ödön", "Otto", "Zoe"]


def test_blanks_count_once_in_a_name() -> None:
    assert folded_name("  Søren \u00a0 Ąžuol ") == "soren azuol"
