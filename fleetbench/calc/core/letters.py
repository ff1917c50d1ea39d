"""Letters as people type them: without accents, case and width, for finding and sorting names in any script."""

import re
import unicodedata

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
