"""Whole sentences in the reader's language: gettext catalogues, with named placeholders, plurals and local figures.

A catalogue is a .po file in resources/languages. English is the language of the sentences themselves.
"""

import gettext
from dataclasses import dataclass
from datetime import date
from functools import cache
from io import BytesIO

from babel import Locale
from babel.dates import format_date
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from fleetbench.calc.core.measures import Measure
from fleetbench.calc.hires.languages import ENGLISH
from fleetbench.shipped import shipped

NOT_CONFIRMED = "to be confirmed by a native speaker of the trade"
"""The translator's comment on each caution that no speaker of the trade has confirmed yet."""


@dataclass(frozen=True, slots=True)
class Language:
    """One language. confirmed: whether a speaker of the trade has confirmed its cautions."""

    code: str
    texts: gettext.NullTranslations
    locale: Locale
    confirmed: bool

    def say(self, sentence: str, **values: object) -> str:
        """The sentence in this language with its placeholders filled in; values are never read as placeholders."""
        return self.texts.gettext(sentence).format(**values)

    def count(self, one: str, many: str, count: int, **values: object) -> str:
        """The form of the sentence that this count asks for."""
        return self.texts.ngettext(one, many, count).format(count=self.number(count), **values)

    def number(self, value: float, unit: str | Measure = "", decimals: int = 2) -> str:
        """A figure with the language's decimal sign and at most so many decimals, its unit after a space."""
        if isinstance(unit, Measure) and not unit.is_stored:
            typed = unit.number(value, decimals if decimals == 0 else None)
            value, decimals = float(typed), len(typed.partition(".")[2])
        figure = format_decimal(value, format="0." + "#" * decimals if decimals else "0", locale=self.locale)
        return f"{figure} {unit}" if unit else figure

    def day(self, on: date) -> str:
        """A day with its month in words, so that day and month cannot be taken for each other."""
        return format_date(on, "long", locale=self.locale)


@cache
def catalogue(code: str) -> Catalog:
    """The catalogue of one language; FileNotFoundError where the installation lacks it."""
    with (shipped("resources") / "languages" / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, domain="fleetbench", abort_invalid=True)


@cache
def language(code: str | None) -> Language:
    """The language of that code; English for none."""
    locale = Locale.parse(code or ENGLISH)
    if locale.language == ENGLISH:
        return Language(ENGLISH, gettext.NullTranslations(), Locale("en", "GB"), True)
    read, stream = catalogue(locale.language), BytesIO()
    write_mo(stream, read)
    stream.seek(0)
    unsure = any(NOT_CONFIRMED in each.user_comments for each in read if each.id)
    return Language(locale.language, gettext.GNUTranslations(stream), locale, not unsure)
