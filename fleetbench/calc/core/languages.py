"""Whole sentences in the reader's language: gettext catalogues, with named placeholders, plurals and local figures.

And letters as people type them: without accents, case and width, for finding and sorting names in any script.

A catalogue is a .po file in resources/languages. English is the language of the sentences themselves: whatever is said
is its English text, which is what the records keep, what is compared and what is sorted by, and knows the sentence and
the values that it was made of. Only where it meets an eye is it shown in the language that was chosen.
"""

import gettext
import os
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from enum import Enum
from functools import cache, lru_cache
from io import BytesIO
from string import Formatter
from typing import TYPE_CHECKING, Any

from fleetbench.calc.core.measures import Measure
from fleetbench.shipped import shipped

if TYPE_CHECKING:
    from babel import Locale
    from babel.messages.catalog import Catalog


_MARKS = re.compile(
    "[\u0300-\u036f\u0591-\u05bd\u05bf\u05c1\u05c2\u05c4\u05c5\u05c7\u0610-\u061a\u0640\u064b-\u065f\u0670"
    "\u06d6-\u06ed\u1ab0-\u1aff\u1dc0-\u1dff\u200b-\u200f\u202a-\u202e\u2066-\u2069\u20d0-\u20ff\ufe00-\ufe0f\ufe20-\ufe2f]+"
)
"""Accents, points of Hebrew, vowels and the long stroke of Arabic, and signs that nobody sees (blocks of the Unicode
Character Database). Marks that make another letter stay: of Indian scripts, of Thai, of kana."""
_LETTERS = str.maketrans({
    "ø": "o", "ł": "l", "đ": "d", "ð": "d", "ı": "i", "ħ": "h", "ŧ": "t", "æ": "ae", "œ": "oe", "þ": "th", "ə": "e",
    "ς": "σ", "ی": "ي", "ى": "ي", "ک": "ك", "’": "'", "ʼ": "'", "‘": "'", "‐": "-", "‑": "-", "–": "-",
})  # fmt: skip
"""Letters that Unicode does not take apart (UnicodeData.txt gives them no decomposition), and shapes of one sign."""


def folded(text: str) -> str:
    """The text without accents, in small letters of common width: `Núria` is `nuria`, `Đặng` is `dang`.

    Two texts of the same letters give the same, composed or not (Unicode Standard Annex 15, form NFKD).
    """
    if text.isascii():
        return text.lower()
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return _MARKS.sub("", apart).translate(_LETTERS)


def folded_name(text: str) -> str:
    """The same with single blanks, for comparing one name with another: `Søren  Ąžuol` is `soren azuol`."""
    return " ".join(folded(text).split())


ENGLISH = "en"
LANGUAGES = {
    ENGLISH: "English",
    "de": "Deutsch",
    "es": "Español",
    "fr": "Français",
    "el": "Ελληνικά",
    "it": "Italiano",
    "cs": "Čeština",
    "pl": "Polski",
}
"""The languages in which a renter's page can be printed, by ISO 639-1 code, each in its own name."""
PROGRAM_LANGUAGES = (ENGLISH, "de", "es", "fr")
"""Those in which the program itself is offered: their catalogues are whole."""
SYSTEM = "system"
"""In place of a language: whatever the system has."""
NOT_CONFIRMED = "to be confirmed by a native speaker of the trade"
"""The translator's comment on each caution that no speaker of the trade has confirmed yet."""


class Sentence(str):
    """A sentence of the program. As text it is English; `shown` gives it in the reader's language.

    sentence: as the catalogues have it; several: its plural, "" for none; values: of its placeholders. Where parts are
    strung together instead, each a sentence of its own, sentence is what stands between them.
    """

    __slots__ = ("given", "sentence")

    sentence: str
    given: tuple[Any, ...]
    several = ""
    parts: tuple[str, ...] = ()

    @property
    def values(self) -> Mapping[str, Any]:
        """The value of each placeholder; kept without a dictionary of its own, since a judged fleet holds thousands."""
        names, *values = self.given or ((),)
        return dict(zip(names, values, strict=True))

    def __str__(self) -> str:
        return self

    def __add__(self, other: str) -> str:
        return strung("", (self, other))

    def __radd__(self, other: str) -> str:
        return strung("", (other, self))


class _Compound(Sentence):
    """One with a plural, or made of parts."""

    __slots__ = ("parts", "several")

    several: str
    parts: tuple[str, ...]


class _Turned(_Compound):
    """One whose form is another, in whatever language it is shown: without brackets, or with a capital."""

    __slots__ = ("turn",)

    turn: Callable[[str], str]


_NAMES: dict[tuple[str, ...], tuple[str, ...]] = {}
"""The names of values that are given together, once for all sentences that they are given to."""


def _given(values: Mapping[str, Any]) -> tuple[Any, ...]:
    """The values behind their names."""
    names = tuple(values)
    return (_NAMES.setdefault(names, names), *values.values())


def _said(
    text: str, sentence: str, given: tuple[Any, ...] = (), several: str = "", parts: tuple[str, ...] = ()
) -> Sentence:
    said = _Compound(text)
    said.sentence, said.given, said.several, said.parts = sentence, given, several, parts
    return said


@lru_cache(10_000)
def _plain(sentence: str) -> Sentence:
    said = Sentence(sentence)
    said.sentence, said.given = sentence, ()
    return said


def say(sentence: str, /, **values: Any) -> str:
    """The sentence with its placeholders filled in; values are never read as placeholders.

    Without values it is taken as it stands, braces and all; what was said already stays what it is.
    """
    if not values:
        return sentence if isinstance(sentence, Sentence) else _plain(sentence)
    said = Sentence(sentence.format_map(values))
    said.sentence = sentence
    said.given = _given(values)
    return said


def in_row(text: str) -> str:
    """A text that goes into a row as it is, in English: it is kept, and no catalogue is asked for it."""
    return text


@lru_cache(50_000)
def say_ref(sentence: str, ref: object) -> str:
    """What names one record by its key or number, as {ref}: kept, since each judging of a fleet names the same ones."""
    return say(sentence, ref=ref)


def say_count(one: str, many: str, count: int, /, **values: Any) -> str:
    """The form of the sentence that this count asks for; it stands in it as {count}."""
    values["count"] = count
    return _said((one if count == 1 else many).format_map(values), one, _given(values), many)


def say_small(words: str) -> str:
    """The words in small letters, as within an English sentence; other languages keep their own capitals."""
    sentence = words.sentence if isinstance(words, Sentence) else words
    return _said(words.lower(), sentence, getattr(words, "given", ()))


def reworded(english: str, words: str) -> str:
    """The words in another form of the English, such as with a capital; other languages show the words themselves."""
    if isinstance(words, Sentence):
        return _said(english, words.sentence, words.given, words.several, words.parts)
    return _said(english, words)


def strung(between: str, parts: Iterable[str]) -> str:
    """Sentences or words with this between them: each is shown by itself, and nothing is glued into a sentence."""
    told = tuple(parts)
    if len(told) < 2:  # as nearly all are, where a fleet is judged
        return told[0] if told else ""
    return _said(between.join(told), between, parts=told)


_BRACKETED = re.compile(r"\s*\([^()]*\)")


def short_day(on: date) -> str:
    """A day as 04 May; ISO in other languages."""
    return _said(f"{on:%d %b}", "{on:%d %b}", _given({"on": on}))


def day_of_month(on: date) -> str:
    """A day as 4 May; ISO in other languages."""
    return _said(f"{on.day} {on:%B}", "{on:%d %B}", _given({"on": on}))


def unbracketed(text: str) -> str:
    """The text without what stands in brackets; what was said stays so."""
    return _turned(text, _without_brackets)


def first_clause(text: str) -> str:
    """The text up to its first semicolon; what was said stays so."""
    return _turned(text, _to_semicolon)


def _to_semicolon(text: str) -> str:
    return text.partition(";")[0]


def capital(text: str) -> str:
    """The text with a capital; what was said stays so."""
    return _turned(text, _with_capital)


def _turned(text: str, turn: Callable[[str], str]) -> str:
    other = turn(text)
    if not isinstance(text, Sentence | Enum) or (other == text and turn is not _with_capital):
        return other
    said = _Turned(other)
    said.sentence, said.given, said.several, said.parts, said.turn = "", (), "", (text,), turn
    return said


def _with_capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _without_brackets(text: str) -> str:
    """Innermost brackets go first, so that brackets in brackets leave nothing behind."""
    while (shorter := _BRACKETED.sub("", text)) != text:
        text = shorter
    return text


def parted(text: str) -> tuple[str, ...]:
    """The findings that a text strings together with semicolons; those that were said stay so."""
    if isinstance(text, Sentence) and text.parts and text.sentence == "; ":
        return tuple(each for part in text.parts for each in parted(part))
    return (text,) if isinstance(text, Sentence) else tuple(text.split("; "))


def shown(text: str) -> str:
    """What was said, or a word of an enumeration, in the language that was chosen; what a user typed, as it is."""
    reader = _page.get() or _reading
    return text if reader is None else reader.own(text)


def worded(text: str) -> str:
    """The same for words of the program's own, such as a heading: looked up also where they are no sentence yet."""
    reader = _page.get() or _reading
    if reader is None or not text:
        return text
    return reader.of(text) if isinstance(text, Sentence) else reader.texts.gettext(text)


class _Filled(Formatter):
    """Fills placeholders, showing what was itself said, and figures with the language's decimal sign."""

    def __init__(self, language: "Language") -> None:
        self._language = language

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, date) and re.search("%[bBaA]", format_spec):  # those names are English
            return value.isoformat()[:10]
        return format(self._language.own(value) if isinstance(value, str) else value, format_spec)


@dataclass(frozen=True, slots=True)
class Language:
    """One language. confirmed: whether a speaker of the trade has confirmed its cautions."""

    code: str
    texts: gettext.NullTranslations
    locale: "Locale"
    confirmed: bool

    def say(self, sentence: str, **values: object) -> str:
        """The sentence in this language with its placeholders filled in; values are never read as placeholders."""
        return self.texts.gettext(sentence).format(**values)

    def count(self, one: str, many: str, count: int, **values: object) -> str:
        """The form of the sentence that this count asks for."""
        return self.texts.ngettext(one, many, count).format(count=self.number(count), **values)

    def own(self, text: str) -> str:
        """The program's own words, said or of an enumeration, in this language; any other text as it is."""
        if isinstance(text, Sentence):
            return self.of(text)
        return self.texts.gettext(str(text)) if isinstance(text, Enum) else text

    def of(self, said: Sentence) -> str:
        """What was said, in this language."""
        if isinstance(said, _Turned):
            return said.turn(self.own(said.parts[0]))
        values = said.values
        if said.parts or not said:
            return (self.texts.gettext(said.sentence) if said.sentence else "").join(map(self.own, said.parts))
        if said.several:
            sentence = self.texts.ngettext(said.sentence, said.several, values["count"])
        else:
            sentence = self.texts.gettext(said.sentence)
            if sentence == said.sentence and not values:  # also where another form of the English stands here
                return said[:]
        return _Filled(self).vformat(sentence, (), values) if values else sentence

    def number(self, value: float, unit: str | Measure = "", decimals: int = 2) -> str:
        """A figure with the language's decimal sign and at most so many decimals, its unit after a space."""
        from babel.numbers import format_decimal  # CLDR is read only where a page is made in a language

        if isinstance(unit, Measure) and not unit.is_stored:
            typed = unit.number(value, decimals if decimals == 0 else None)
            value, decimals = float(typed), len(typed.partition(".")[2])
        figure = format_decimal(value, format="0." + "#" * decimals if decimals else "0", locale=self.locale)
        return f"{figure} {unit}" if unit else figure

    def day(self, on: date) -> str:
        """A day with its month in words, so that day and month cannot be taken for each other."""
        from babel.dates import format_date  # likewise

        return format_date(on, "long", locale=self.locale)


def month_words(on: date, pattern: str) -> str:
    """A day by a pattern of CLDR, such as LLLL y for its month and year, in the language that was chosen."""
    from babel.dates import format_date  # likewise

    reader = _page.get() or _reading
    return format_date(on, pattern, locale="en_GB" if reader is None else reader.locale)


@cache
def catalogue(code: str) -> "Catalog":
    """The catalogue of one language; FileNotFoundError where the installation lacks it."""
    from babel.messages.pofile import read_po  # likewise

    with (shipped("resources") / "languages" / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, domain="fleetbench", abort_invalid=True)


@cache
def language(code: str | None) -> Language:
    """The language of that code; English for none."""
    from babel import Locale  # likewise
    from babel.messages.mofile import write_mo

    locale = Locale.parse(code or ENGLISH)
    if locale.language == ENGLISH:
        return Language(ENGLISH, gettext.NullTranslations(), Locale("en", "GB"), True)
    read, stream = catalogue(locale.language), BytesIO()
    write_mo(stream, read)
    stream.seek(0)
    unsure = any(NOT_CONFIRMED in each.user_comments for each in read if each.id)
    return Language(locale.language, gettext.GNUTranslations(stream), locale, not unsure)


_reading: Language | None = None
"""The language that was chosen; None for English, which asks no catalogue."""


_page: ContextVar["Language | None"] = ContextVar("page", default=None)
"""The language of the page that this thread makes, where it is not the reader's."""


@contextmanager
def page_in(spoken: Language) -> Iterator[None]:
    """Show what is said in this language while a page is made, for this thread alone."""
    before = _page.set(spoken)
    try:
        yield
    finally:
        _page.reset(before)


def spoken_here() -> str:
    """The code of the language in which what is said is shown here and now."""
    reader = _page.get() or _reading
    return ENGLISH if reader is None else reader.code


def chosen(wanted: str, system: Sequence[str] = ()) -> str:
    """The code of the language to read in.

    wanted: a language in its own name, or SYSTEM. system: what the system has, such as de-AT, the first liked best.
    """
    own = {LANGUAGES[code]: code for code in PROGRAM_LANGUAGES}
    if wanted in own:
        return own[wanted]
    codes = (each.replace("_", "-").partition("-")[0].lower() for each in system)
    return next((code for code in codes if code in PROGRAM_LANGUAGES), ENGLISH)


def of_environment() -> tuple[str, ...]:
    """The languages that the environment of a command line states, the first liked best.

    LC_ALL stands above LC_MESSAGES and that above LANG (POSIX.1-2017, 8.2); C and POSIX ask for no language at all, and
    only beside another one LANGUAGE may list several (GNU gettext, "The LANGUAGE variable").
    """
    stated = next(filter(None, map(os.environ.get, ("LC_ALL", "LC_MESSAGES", "LANG"))), "")
    locale = stated.partition(".")[0].partition("@")[0]
    if locale in ("", "C", "POSIX"):
        return ()
    return (*filter(None, os.environ.get("LANGUAGE", "").split(":")), locale)


def read_in(code: str) -> None:
    """Show what is said in this language from now on, in this whole process, at which one person reads."""
    global _reading  # noqa: PLW0603 - one reader a process, as with units
    _reading = None if code == ENGLISH else language(code)


def read_with(reader: Language | None) -> None:
    """The same with a language that is given; None for English."""
    global _reading  # noqa: PLW0603 - likewise
    _reading = reader


@contextmanager
def reading(reader: Language | None) -> Iterator[None]:
    """This language for a while."""
    before = _reading
    read_with(reader)
    try:
        yield
    finally:
        read_with(before)
