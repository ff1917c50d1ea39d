"""The standing words of the pages: cautions, and what the diver still does. They are data, not code."""

import tomllib
from dataclasses import dataclass
from functools import cache

from fleetbench.shipped import shipped


@dataclass(frozen=True, slots=True)
class SheetTexts:
    """Standing words in one language. still_to_do: by hand-over kind; turn_round: what is done and noted."""

    cautions: tuple[str, ...]
    lacking_glyph: str
    still_to_do: dict[str, tuple[str, ...]]
    kind_said: dict[str, str]
    oxygen_handling: str
    fill_label: str
    shared_fill_label: str
    turn_round: tuple[tuple[str, tuple[str, ...]], ...]
    signed: str
    not_signed: str


@cache
def sheet_texts(language: str = "english") -> SheetTexts:
    """The texts of one language; FileNotFoundError where the installation lacks them."""
    path = shipped("resources") / "sheet_texts" / f"{language}.toml"
    read = tomllib.loads(path.read_text(encoding="utf-8"))
    return SheetTexts(
        cautions=tuple(read["cautions"]),
        lacking_glyph=read["lacking_glyph"],
        still_to_do={kind: tuple(lines) for kind, lines in read["still_to_do"].items()},
        kind_said=dict(read["kind_said"]),
        oxygen_handling=read["oxygen_handling"],
        fill_label=read["fill_label"],
        shared_fill_label=read["shared_fill_label"],
        turn_round=tuple((do, tuple(notes)) for do, notes in read["turn_round"]),
        signed=read["signed"],
        not_signed=read["not_signed"],
    )
