"""Invented people in three scripts: surnames were made up, so that no first and last name together is anybody known."""

from collections.abc import Iterator

import numpy as np

LATIN_FIRST = (
    "Maëlle", "Jónas", "Željka", "Inês", "Łucja", "Tomáš", "Kübra", "Réka", "Søren", "Åsa", "Ignác", "Fañch", "Zoë",
    "Núria", "Ödön", "Ragnhild", "Dürten", "Čeněk", "Eimhear", "Siân",
)  # fmt: skip
LATIN_LAST = (
    "Tarnovék", "Øvrebrim", "Késmárdin", "Lindqvarn", "Dašograd", "Păltinar", "Çınarbey", "Vallmyrgård", "Morénilac",
    "Štěrbolin", "Ąžuolvit", "Niñartegui", "Grêvelain", "Håvstrøken", "Błotniak", "Úrszigeth", "Tölvarsen", "Bréizhon",
    "Fenmôr", "Zuñebar",
)  # fmt: skip
GREEK_WOMEN = ("Δάφνη", "Ελπίδα", "Ιφιγένεια", "Ξένια", "Ζωή")
GREEK_WOMEN_LAST = ("Αχινάρη", "Βραχολιά", "Πετροθάλη", "Μελισσάκου", "Ανεμοδούρα")
GREEK_MEN = ("Άρης", "Θάνος", "Λεωνίδας", "Ορέστης", "Φώτης")
GREEK_MEN_LAST = ("Αχινάρης", "Βραχολιάς", "Πετροθάλης", "Μελισσάκος", "Ανεμοδούρας")
CYRILLIC_FIRST = ("Мила", "Ярослав", "Ганна", "Тимофей", "Любомира", "Захар", "Оксана", "Єгор")
CYRILLIC_LAST = ("Прибоєнко", "Хвильченко", "Озеряник", "Маяковченюк", "Вересняченко", "Камышеник", "Тихохвиль")


def all_names() -> list[str]:
    """Every full name that can be drawn, in a fixed order."""
    pools = (
        (LATIN_FIRST, LATIN_LAST), (GREEK_WOMEN, GREEK_WOMEN_LAST),
        (GREEK_MEN, GREEK_MEN_LAST), (CYRILLIC_FIRST, CYRILLIC_LAST),
    )  # fmt: skip
    return [f"{first} {last}" for firsts, lasts in pools for first in firsts for last in lasts]


def without_end(rng: np.random.Generator) -> Iterator[str]:
    """Names for as long as a history lasts, in which they come round again."""
    names = all_names()
    while True:
        yield from (names[i] for i in rng.permutation(len(names)))


def draw(count: int, rng: np.random.Generator) -> list[str]:
    """`count` names; no name twice until all have been used once."""
    names = all_names()
    drawn: list[str] = []
    while len(drawn) < count:
        drawn += [names[i] for i in rng.permutation(len(names))]
    return drawn[:count]
