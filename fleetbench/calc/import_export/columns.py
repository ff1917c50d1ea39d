"""What the columns of a foreign table mean: guessed from their names and from what stands in them.

Names are common words of the trade in some languages, common practice, no published source.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleetbench.calc.core.measures import measured_in
from fleetbench.calc.import_export.cells import is_unknown, likely_date

SURE, LIKELY = 0.85, 0.5
"""A guess from SURE up is taken as it stands; below LIKELY there is none."""


class Subject(StrEnum):
    """What a row of a table is about."""

    UNITS = "units, with the parts in them"
    PARTS = "cells and other parts"
    CYLINDERS = "cylinders"
    PEOPLE = "people"
    BOOKINGS = "bookings"


class Says(StrEnum):
    """What kind of thing a column holds."""

    TEXT = "text"
    DATE = "date"
    FIGURE = "figure"
    YES_NO = "yes or no"


@dataclass(frozen=True, slots=True)
class TableField:
    """A thing that a column can say: its name, what it is called on the screen, its kind, and words that name it.

    in_slot: said of the part in a slot. past: a date that cannot lie ahead. unit: what a figure is stored in.
    """

    name: str
    label: str
    says: Says
    words: str
    in_slot: bool = False
    past: bool = False
    unit: str = ""


_TEXT, _DATE, _FIGURE = Says.TEXT, Says.DATE, Says.FIGURE
_SERIAL = "serial|serial no|serial number|s/n|sn|ser|seriennummer|numero de serie|serie"
_LAST_DAY = "use by|expires|expiry|expiry date|exp|best before|ablauf|valid until"
_LOT = "lot|lot no|batch|batch no|charge|lote"
_MADE = "made|made on|manufactured|mfg|mfd|mfg date|date of manufacture|dom|born|production|prod date|hergestellt|"
_MADE += "baujahr|fabrication|manufacture date|year made|year"
_PLACE = "place|location|shelf|where|stored|storage|position on shelf|lagerort|standort|ort|emplacement|ubicacion|rack"
_OWNER = "owner|owned by|besitzer|eigentumer|proprietaire|property of"
_HYDRO = (
    "hydrostatic|hydro|hydro test|test|test date|tested|tuv|last test|stamp|stamped|retest|prufung|pruefung|epreuve"
)

FIELDS: Mapping[Subject, tuple[TableField, ...]] = {
    Subject.UNITS: (
        TableField("tag", "Unit tag", _TEXT,
              "unit|unit no|unit number|tag|asset|asset tag|rebreather|ccr|gerat|geraet|unit id|inventory no|no|nr|#|"
              "id|name|number|apparat|equipo|appareil|label"),
        TableField("unit_type", "Unit type", _TEXT, "type|model|unit type|typ|modell|modele|modelo|version|make|kind"),
        TableField("serial", "Unit serial", _TEXT, _SERIAL + "|unit serial"),
        TableField("former_tag", "Former tag", _TEXT, "former tag|old tag|old no|previous|formerly|alt|ancien"),
        TableField("place", "Place", _TEXT, _PLACE),
        TableField("owner", "Owner", _TEXT, _OWNER),
        TableField("in_service_on", "In service since", _DATE,
              "in service|in service since|in service on|purchased|bought|since|commissioned|acquired|purchase date|"
              "start|gekauft|kaufdatum|achete|comprado|first use", past=True),
        TableField("retired_on", "Retired on", _DATE, "retired|sold|out of service|decommissioned", past=True),
        TableField("harness", "Harness", _TEXT, "harness|harness size|size|bcd|gurt|wing"),
        TableField("part_serial", "serial", _TEXT, _SERIAL, in_slot=True),
        TableField("part_lot", "lot", _TEXT, _LOT, in_slot=True),
        TableField("made_on", "made", _DATE, _MADE + "|date", in_slot=True, past=True),
        TableField("opened_on", "opened", _DATE, "opened|opened on|open|geoffnet", in_slot=True, past=True),
        TableField("fitted_on", "fitted", _DATE,
              "fitted|fitted on|installed|install|in since|changed|replaced|eingebaut|install date|since", in_slot=True,
              past=True),
        TableField("part_type", "part type", _TEXT, "type|model|part type|make", in_slot=True),
        TableField("firmware", "firmware", _TEXT, "firmware|fw|software|sw|version", in_slot=True),
        TableField("hydrostatic", "hydrostatic test", _DATE, _HYDRO, in_slot=True, past=True),
        TableField("size_l", "water volume, L", _FIGURE, "size|volume|capacity|litres|l", in_slot=True, unit="l"),
        TableField("working_bar", "working pressure, {unit}", _FIGURE, "working pressure|wp|pressure|bar", in_slot=True,
              unit="bar"),
    ),
    Subject.PARTS: (
        TableField("part_serial", "Serial", _TEXT, _SERIAL + "|cell|sensor|cell no|part no|no|id"),
        TableField("part_lot", "Lot", _TEXT, _LOT),
        TableField("kind", "Kind of part", _TEXT, "kind|what|item|part|category|art|piece|description"),
        TableField("part_type", "Part type", _TEXT, "part type|type|model|article|typ|product"),
        TableField("made_on", "Made", _DATE, _MADE, past=True),
        TableField("opened_on", "Opened", _DATE, "opened|opened on|open|unsealed", past=True),
        TableField("received_on", "Received", _DATE, "received|delivered|delivery|arrived|bought|purchased", past=True),
        TableField("fixed_on", "Last valid day", _DATE, _LAST_DAY),
        TableField("unit", "Fitted in unit", _TEXT, "unit|fitted in|in unit|rebreather|unit tag|installed in|ccr"),
        TableField("slot", "Position", _TEXT, "slot|position|pos|cell position|place in unit|channel"),
        TableField("fitted_on", "Fitted", _DATE, "fitted|fitted on|installed|in since|install date", past=True),
        TableField("place", "Place", _TEXT, _PLACE),
        TableField("owner", "Owner", _TEXT, _OWNER),
        TableField("firmware", "Firmware", _TEXT, "firmware|fw|software|version"),
        TableField("supplier", "Supplier", _TEXT, "supplier|vendor|workplace|bought from|lieferant"),
        TableField("price", "Price", _FIGURE, "price|cost|preis|prix|paid"),
    ),
    Subject.CYLINDERS: (
        TableField("part_serial", "Serial", _TEXT, _SERIAL + "|cylinder|tank|bottle|cyl|cylinder no|no|id|flasche"),
        TableField("role", "Gas or role", _TEXT, "gas|role|use|content|contents|for|purpose"),
        TableField("part_type", "Part type", _TEXT, "type|model|part type"),
        TableField("size_l", "Water volume, L", _FIGURE, "size|volume|capacity|litres|liters|l|grosse|vol",
              unit="l"),
        TableField("working_bar", "Working pressure, {unit}", _FIGURE,
              "working pressure|wp|pressure|rated|service pressure|max pressure|bar|druck", unit="bar"),
        TableField("material", "Material", _TEXT, "material|metal|steel|alu"),
        TableField("marking", "Marking", _TEXT, "marking|marks|standard|stamped|colour"),
        TableField("made_on", "Made", _DATE, _MADE, past=True),
        TableField("hydrostatic", "Hydrostatic test", _DATE, _HYDRO, past=True),
        TableField("visual", "Visual inspection", _DATE, "visual|vis|visual inspection|vip|internal", past=True),
        TableField("unit", "Fitted in unit", _TEXT, "unit|fitted in|in unit|rebreather|unit tag"),
        TableField("place", "Place", _TEXT, _PLACE),
        TableField("owner", "Owner", _TEXT, _OWNER),
    ),
    Subject.PEOPLE: (
        TableField("name", "Name", _TEXT, "name|full name|person|diver|renter|customer|client|kunde|nom|surname|guest"),
        TableField("first_name", "First name", _TEXT, "first name|given name|forename|vorname|prenom|first"),
        TableField("code", "Code", _TEXT, "code|initials|short|id|no|nr|kurzel|member no|customer no"),
        TableField("contact", "Contact", _TEXT, "contact|mail|e-mail|email|phone|telephone|tel|mobile|telefon|handy"),
        TableField("role", "Role", _TEXT, "role|function|job|position|status|funktion"),
    ),
    Subject.BOOKINGS: (
        TableField("code", "Booking code", _TEXT, "code|booking|booking no|no|id|reference|ref|course|buchung"),
        TableField("kind", "Hire or course", _TEXT, "kind|type|what|hire or course|art"),
        TableField("starts_on", "First day", _DATE, "start|starts|from|first day|begin|out|von|pick up|start date"),
        TableField("ends_on", "Last day", _DATE, "end|ends|to|until|last day|back|return|bis|till|end date"),
        TableField("renter", "Renter", _TEXT, "renter|customer|client|name|diver|guest|kunde|who|booked by"),
        TableField("instructor", "Instructor", _TEXT, "instructor|teacher|trainer|led by"),
        TableField("unit_type", "Unit type", _TEXT, "unit type|model|rebreather|equipment|unit"),
        TableField("units_wanted", "Units", _FIGURE, "units|number|count|how many|qty|quantity|pcs|anzahl"),
    ),
}  # fmt: skip
"""What each kind of table can say; the first field of each is what its rows are known by."""

KEY_FIELDS: Mapping[Subject, tuple[str, ...]] = {
    Subject.UNITS: ("tag",), Subject.PARTS: ("part_serial", "part_lot"), Subject.CYLINDERS: ("part_serial",),
    Subject.PEOPLE: ("name", "code"), Subject.BOOKINGS: ("starts_on",),
}  # fmt: skip
"""Without one of these a row of that subject says nothing."""

_SLOT_WORDS = (
    (r"(?:o2\s*|oxygen\s*)?(?:cell|sensor|zelle|sensore|capteur|celda)s?\s*(?:no\.?\s*|#\s*)?(\d)", "cell {}"),
    (r"\bc\s?(\d)\b", "cell {}"), (r"\bs(\d)\b", "cell {}"), (r"(\d)(?:st|nd|rd)?\s*(?:cell|sensor)\b", "cell {}"),
    (r"(?:handset|display|computer|controller)\s*(?:no\.?\s*|#\s*)?(\d)", "handset {}"),
    (r"\b(?:handset|display|computer|controller)\b", "handset 1"),
    (r"(?:oxygen|o2|sauerstoff)\s*(?:cylinder|cyl|tank|bottle|flasche)\b", "oxygen cylinder"),
    (r"(?:diluent|dil|air)\s*(?:cylinder|cyl|tank|bottle|flasche)\b", "diluent cylinder"),
    (r"(?:cylinder|cyl|tank|bottle|flasche)\s*(?:oxygen|o2)\b", "oxygen cylinder"),
    (r"(?:cylinder|cyl|tank|bottle|flasche)\s*(?:diluent|dil)\b", "diluent cylinder"),
    (r"\b(?:o2|oxygen)\b(?!\s*(?:cell|sensor))", "oxygen cylinder"), (r"\b(?:dil|diluent)\b", "diluent cylinder"),
    (r"\bhead\b", "head"), (r"\b(?:canister|scrubber|kanister)\b", "canister"),
)  # fmt: skip
_KIND_OF_SLOT = {
    "cell": "cell", "handset": "handset", "oxygen": "oxygen cylinder", "diluent": "diluent cylinder", "head": "head",
    "canister": "canister",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column says: a field, of the part in a slot where one is named; no field is 'not used'."""

    field: str = ""
    slot: str = ""


NOT_USED = Meaning()


@dataclass(frozen=True, slots=True)
class Guess:
    """What a column was taken to mean and how sure that is, from 0 to 1; unit: of its figures, as its name states."""

    meaning: Meaning
    sure: float
    unit: str = ""


def kind_of_slot(slot: str) -> str:
    """The kind of part that a slot of that name takes; empty where the name does not tell."""
    return _KIND_OF_SLOT.get(slot.split(maxsplit=1)[0], "") if slot else ""


def field_of(subject: Subject, name: str) -> TableField:
    """The field of that name; raises KeyError where the subject has none."""
    for field in FIELDS[subject]:
        if field.name == name:
            return field
    raise KeyError(name)


def label_of(subject: Subject, meaning: Meaning) -> str:
    """What a meaning is called on the screen."""
    if not meaning.field:
        return "Not used"
    field = field_of(subject, meaning.field)
    label = field.label.format(unit=measured_in(field.unit))
    return f"{meaning.slot[:1].upper()}{meaning.slot[1:]}: {label}" if meaning.slot else label


def is_name(text: str) -> bool:
    """Whether a text is known as the name of a column of any subject."""
    plain, _ = split_unit(text)
    if not plain or len(plain) > 60:
        return False
    slot, rest = split_slot(plain)
    if slot and (not rest or _best(rest, [each for each in FIELDS[Subject.UNITS] if each.in_slot])[1] >= SURE):
        return True
    return any(_best(plain, fields)[1] >= SURE for fields in FIELDS.values())


def guess_subject(names: Sequence[str], samples: Sequence[Sequence[str]]) -> Subject:
    """What the table is most likely about: the subject in which most of its columns mean something."""

    def score(subject: Subject) -> tuple[bool, float]:
        guesses = guess_columns(subject, names, samples)
        keyed = any(each.meaning.field in KEY_FIELDS[subject] and not each.meaning.slot for each in guesses)
        return keyed, sum(each.sure for each in guesses)

    return max(Subject, key=score)


def guess_columns(subject: Subject, names: Sequence[str], samples: Sequence[Sequence[str]]) -> tuple[Guess, ...]:
    """What each column means, each meaning given once, to the column that fits it best."""
    offers: list[tuple[float, int, Meaning, str]] = []
    for place, (name, texts) in enumerate(zip(names, samples, strict=True)):
        plain, unit = split_unit(name)
        offers += [(sure, place, meaning, unit) for meaning, sure in _offers(subject, plain, texts)]
    taken: dict[int, Guess] = {}
    meant: set[Meaning] = set()
    for sure, place, meaning, unit in sorted(offers, key=lambda each: (-each[0], each[1])):
        if place not in taken and meaning not in meant and sure >= LIKELY:
            taken[place] = Guess(meaning, round(sure, 2), unit)
            meant.add(meaning)
    return tuple(taken.get(place, Guess(NOT_USED, 0.0, split_unit(name)[1])) for place, name in enumerate(names))


def _offers(subject: Subject, plain: str, texts: Sequence[str]) -> list[tuple[Meaning, float]]:
    found: list[tuple[Meaning, float]] = []
    slot, rest = split_slot(plain)
    if subject is Subject.UNITS and slot:
        for field in (each for each in FIELDS[subject] if each.in_slot):
            sure = _likeness(rest, field) if rest else 0.9 if field.name == "part_serial" else 0.0
            found.append((Meaning(field.name, slot), sure * _fits(field, texts)))
        if not rest and _share(texts, _is_date) > 0.6:
            wanted = "hydrostatic" if kind_of_slot(slot).endswith("cylinder") else "made_on"
            found.append((Meaning(wanted, slot), 0.7))
        return found
    plain_fields = [each for each in FIELDS[subject] if not each.in_slot]
    for place, field in enumerate(plain_fields):
        sure = _likeness(plain, field) * _fits(field, texts)
        found.append((Meaning(field.name), sure - 0.001 * place))
    return found


def _best(plain: str, fields: Iterable[TableField]) -> tuple[TableField | None, float]:
    scored = [(_likeness(plain, field), field) for field in fields]
    sure, field = max(scored, key=lambda each: each[0], default=(0.0, None))
    return field, sure


def _likeness(plain: str, field: TableField) -> float:
    """How well a name names a field: all of it is 1, a part of it less."""
    words = plain.split()
    best = 0.0
    for phrase in field.words.split("|"):
        wanted = phrase.split()
        if words == wanted:
            return 1.0
        if all(word in words for word in wanted):
            best = max(best, 0.55 + 0.35 * len(wanted) / len(words))
        elif len(phrase) > 4 and plain.replace(" ", "").startswith(phrase.replace(" ", "")):
            best = max(best, 0.6)
    return best


def _fits(field: TableField, texts: Sequence[str]) -> float:
    """How well what stands in a column fits the field: 1 where it does or nothing stands there."""
    said = [text for text in texts if not is_unknown(text)]
    if not said:
        return 0.9
    if field.says is Says.DATE:
        return 0.35 + 0.65 * _share(said, _is_date)
    if field.says is Says.FIGURE:
        return 0.35 + 0.65 * _share(said, lambda text: bool(re.search(r"\d", text)) and not _is_full_date(text))
    if field.says is Says.TEXT and _share(said, _is_full_date) > 0.8:
        return 0.3
    if field.name in ("tag", "part_serial") and len(said) > 3:
        return 0.5 + 0.5 * len(set(said)) / len(said)
    return 1.0


def _share(texts: Sequence[str], holds: Callable[[str], bool]) -> float:
    said = [text for text in texts if not is_unknown(text)]
    return sum(map(holds, said)) / len(said) if said else 0.0


def _is_date(text: str) -> bool:
    return likely_date(text) is not None


def _is_full_date(text: str) -> bool:
    return bool(re.search(r"\d\D+\d", text)) and likely_date(text) is not None


def split_unit(name: str) -> tuple[str, str]:
    """A column's name in plain small letters, and the unit that it states in brackets or after a comma or 'in'."""
    text = unicodedata.normalize("NFKD", name.replace("ß", "ss"))
    plain = "".join(sign for sign in text if not unicodedata.combining(sign)).casefold()
    unit = ""
    for bracketed in re.findall(r"[(\[]([^)\]]*)[)\]]", plain):
        if re.fullmatch(r"[a-z°%/ ]{1,8}", bracketed.strip()) and not unit:
            unit = bracketed.strip()
    plain = re.sub(r"[(\[][^)\]]*[)\]]", " ", plain)
    after = re.search(r"(?:,|/|\bin)\s*(psi|bar|mbar|kpa|mpa|l|ltr|litres|kg|lb|lbs|m|ft)\s*$", plain)
    if after and not unit:
        unit, plain = after[1], plain[: after.start()]
    plain = re.sub(r"\bs\s*/\s*n\b", "s/n", plain)
    plain = re.sub(r"(?<![a-z])e-mail", "email", plain)
    return " ".join(re.sub(r"[^\w/#]+|_", " ", plain).split()), unit


def split_slot(plain: str) -> tuple[str, str]:
    """The slot that a plain name speaks of, and what is left of the name; no slot where it names none."""
    for pattern, slot in _SLOT_WORDS:
        match = re.search(pattern, plain)
        if match:
            rest = " ".join((plain[: match.start()] + " " + plain[match.end() :]).split())
            return slot.format(*match.groups()), rest.strip(" /#:.-")
    return "", plain
