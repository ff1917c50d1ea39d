"""Names in any script: which face has a sign, in what order a line reads, how its signs join, and what a file keeps.

The page's own face has Latin, Greek and Cyrillic. Other signs come from Noto's faces (SIL Open Font License 1.1): one
row of SCRIPTS each. HarfBuzz joins and places them; the order is that of the Unicode bidirectional algorithm (UAX #9)
in a page that reads from left to right, where each name that reads the other way stands for itself, as between a
first strong isolate and its end (UAX #9, 2.4.2 and HL3): a number behind it belongs to the page and stays behind it.
"""

import re
import unicodedata
import zlib
from functools import cache, cached_property, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from reportlab.pdfbase import pdfdoc

_NOTO = "NotoSans{}[wght].ttf"
_LATIN = "NotoSans[wght].ttf"
_CJK = "NotoSansCJK-VF.otf.ttc"
SCRIPTS = {
    **{word.upper(): _NOTO.format(word) for word in (
        "Arabic", "Armenian", "Bengali", "Devanagari", "Ethiopic", "Georgian", "Gujarati", "Gurmukhi", "Hebrew",
        "Kannada", "Khmer", "Lao", "Malayalam", "Myanmar", "Oriya", "Sinhala", "Tamil", "Telugu", "Thai",
    )},
    **dict.fromkeys(("ARABIC-INDIC", "EXTENDED"), _NOTO.format("Arabic")),
    **dict.fromkeys(("LATIN", "GREEK", "CYRILLIC", "COMBINING", "MODIFIER"), _LATIN),
    **dict.fromkeys(("CJK", "HIRAGANA", "KATAKANA", "KATAKANA-HIRAGANA", "HANGUL", "BOPOMOFO", "IDEOGRAPHIC",
                     "FULLWIDTH", "HALFWIDTH"), _CJK),
}  # fmt: skip
"""The face of a script, by the first word of its signs' names in the Unicode Character Database."""
_JAPANESE, _KOREAN, _SIMPLIFIED, _TRADITIONAL = range(4)
"""Which face of the collection draws the signs as that country does."""
_BOLD_WEIGHT, _REGULAR_WEIGHT = 700.0, 400.0


def east_asian_faces() -> bool:
    """Whether the faces for Chinese, Japanese and Korean are installed, which are an extra because of their size."""
    return _path(_CJK) is not None


@cache
def _path(file: str) -> Path | None:
    found = find_spec("manimgx_fonts_cjk" if file == _CJK else "manimgx_fonts")
    path = Path(found.origin or "").parent / file if found is not None else None
    return path if path is not None and path.is_file() else None


def shipped_faces() -> list[Path]:
    """The files of all faces that are installed here, for a window on a machine that has none of its own."""
    return [path for path in map(_path, dict.fromkeys(SCRIPTS.values())) if path is not None]


class Glyph(NamedTuple):
    """One glyph of a run, from the left end of its baseline, in thousandths of the size.

    text: what it stands for; of several that stand for one thing together, nothing but the first.
    """

    number: int
    right: float
    up: float
    text: str


class Piece(NamedTuple):
    """A run of a line in one face and direction; face None: the page's own.

    place: among the line's runs from the left. clusters: glyphs that stand for one thing together, as they are read.
    wide: in parts of the size, where the face is not the page's own.
    """

    place: int
    face: "ScriptFace | None"
    text: str
    leftwards: bool
    clusters: tuple[tuple[Glyph, ...], ...] = ()
    wide: float = 0.0


class ScriptFace:
    """One face in one weight, read when the first name needs it."""

    def __init__(self, path: Path, index: int, bold: bool) -> None:
        import uharfbuzz  # a page in Latin letters needs none of it

        self.weight = _BOLD_WEIGHT if bold else _REGULAR_WEIGHT
        self.hb = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(path)), index)
        self.font = uharfbuzz.Font(self.hb)
        self.font.set_variations({"wght": self.weight})
        self.scale = 1000 / self.hb.upem
        self.name = re.sub(r"[^A-Za-z]", "", path.name.split("[")[0].split(".")[0]) + (
            "-Bold" if bold else "-Regular"
        )

    @cached_property
    def glyphs(self) -> frozenset[int]:
        """The signs that the face has."""
        return frozenset(self.hb.unicodes)

    def shaped(self, text: str, *, leftwards: bool) -> tuple[tuple[tuple[Glyph, ...], ...], float]:
        """The clusters of a text in the order in which it is read, and how wide it is in parts of the size."""
        import uharfbuzz

        buffer = uharfbuzz.Buffer()
        buffer.add_str(text)
        buffer.direction = "rtl" if leftwards else "ltr"
        buffer.guess_segment_properties()
        uharfbuzz.shape(self.font, buffer)
        placed: dict[int, list[tuple[int, float, float]]] = {}
        at = 0.0
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            right, up = (at + place.x_offset) * self.scale, place.y_offset * self.scale
            placed.setdefault(info.cluster, []).append((info.codepoint, right, up))
            at += place.x_advance
        ends = [*sorted(placed)[1:], len(text)]
        clusters = (
            self._told(text[start:end], placed[start][::-1] if leftwards else placed[start])
            for start, end in zip(sorted(placed), ends, strict=True)
        )
        return tuple(clusters), at * self.scale / 1000

    def _told(self, text: str, placed: list[tuple[int, float, float]]) -> tuple[Glyph, ...]:
        """What each glyph of a cluster stands for: its own sign where it has one, the rest at the first without."""
        left = list(text)
        own = []
        for number, _, _ in placed:
            own.append(next((sign for sign in left if self.font.get_nominal_glyph(ord(sign)) == number), ""))
            if own[-1]:
                left.remove(own[-1])
        if left and "" not in own:
            own[-1] += "".join(left)
        elif left:
            own[own.index("")] = "".join(left)
        return tuple(Glyph(*each, said) for each, said in zip(placed, own, strict=True))


_NOTHING = "\u200b"
"""What a file says of a glyph whose sign is told by another of its cluster: a space without width."""


@cache
def _face(file: str, index: int, bold: bool) -> ScriptFace | None:
    path = _path(file)
    return None if path is None else ScriptFace(path, index, bold)


@lru_cache(maxsize=4096)
def face_of(sign: str, *, bold: bool = False, index: int = _JAPANESE) -> ScriptFace | None:
    """The face that has a sign which the page's own lacks; None where no installed face has it."""
    file = SCRIPTS.get(unicodedata.name(sign, "").partition(" ")[0])
    face = None if file is None else _face(file, index if file == _CJK else 0, bold)
    return face if face is not None and ord(sign) in face.glyphs else None


def joins(sign: str) -> bool:
    """Whether a sign without a shape of its own tells its neighbours to join or not: Persian and Indian names need it."""
    return sign in "\u200c\u200d"


@lru_cache(maxsize=1024)
def _country(line: str) -> int:
    """As which country a line's Chinese signs are drawn: by syllables, else by the first list that has them all."""
    if re.search("[\u3040-\u30ff]", line):
        return _JAPANESE
    if re.search("[\u1100-\u11ff\u3130-\u318f\uac00-\ud7a3]", line):
        return _KOREAN
    signs = "".join(sign for sign in line if unicodedata.name(sign, "").startswith("CJK"))
    for country, listed in ((_SIMPLIFIED, "gb2312"), (_TRADITIONAL, "big5"), (_JAPANESE, "shift_jis")):
        try:
            signs.encode(listed)
        except UnicodeEncodeError:
            continue
        return country
    return _SIMPLIFIED


# ---- order -----------------------------------------------------------------------------------------------------------

_ISOLATE, _END = "\u2067", "\u2069"
_LEFTWARDS = re.compile("[([]?R(?:[^L]*R)?m*[])]?…?")
"""A name that reads from right to left: from its first such letter to its last, with no letter of the other way
between; a bracket or an ellipsis at its ends belongs to it."""
_KINDS = {"R": "R", "AL": "R", "L": "L", "NSM": "m", "BN": "m"}


def _kind(sign: str) -> str:
    return sign if sign in "()[]…" else _KINDS.get(unicodedata.bidirectional(sign), "o")


def _isolated(found: re.Match[str], line: str) -> str:
    """The name between its isolate and end, without a bracket whose other half is not in it."""
    start, end = found.span()
    inner = line[start:end]
    for opening, closing in ("()", "[]"):
        if inner.startswith(opening) and inner.count(opening) > inner.count(closing):
            start += 1
        if inner.rstrip("…").endswith(closing) and inner.count(closing) > inner.count(opening):
            end = start + inner.rindex(closing)
    return f"{line[found.start():start]}{_ISOLATE}{line[start:end]}{_END}{line[end:found.end()]}"


def in_order(line: str) -> str:
    """The signs from the left as they are seen, with a mark at the beginning and the end of each name; UAX #9."""
    from bidi import get_display

    kinds = "".join(map(_kind, line))
    marked, last = "", 0
    for found in _LEFTWARDS.finditer(kinds):
        marked += line[last : found.start()] + _isolated(found, line)
        last = found.end()
    return str(get_display(marked + line[last:], base_dir="L"))


@lru_cache(maxsize=2048)
def pieces(line: str, own: frozenset[int], *, bold: bool) -> tuple[Piece, ...]:
    """The runs of a line in the order in which they are read; own: the signs that the page's own face has."""
    leftwards = any(unicodedata.bidirectional(sign) in ("R", "AL") for sign in line)
    country = _country(line)
    found: list[Piece] = []
    for shown in re.split(f"({_ISOLATE}[^{_END}]*{_END})", in_order(line)) if leftwards else [line]:
        name = shown.startswith(_ISOLATE)
        group: list[Piece] = []
        for part, back in _by_direction(_mirrored(shown[1:-1])) if name else [(shown, False)]:
            faced = _by_face(part[::-1] if back else part, own, country, bold=bold)
            for face, text in reversed(faced) if back else faced:
                shaped = ((), 0.0) if face is None else face.shaped(text, leftwards=back)
                group.append(Piece(len(found) + len(group), face, text, back, *shaped))
        found += reversed(group) if name else group
    return tuple(found)


def _mirrored(shown: str) -> str:
    """Brackets as they look in a name that reads from right to left (UAX #9, L4)."""
    from bidi.mirror import MIRRORED

    return "".join(MIRRORED.get(sign, sign) if unicodedata.mirrored(sign) else sign for sign in shown)


def _by_direction(shown: str) -> list[tuple[str, bool]]:
    """Parts of a name as it is seen, each with whether it reads from right to left; marks stand before their letter."""
    found: list[tuple[str, bool]] = []
    back = False
    for sign in reversed(shown):
        kind = unicodedata.bidirectional(sign)
        if kind not in ("NSM", "BN"):
            back = kind in ("R", "AL")
        if found and found[-1][1] == back:
            found[-1] = (sign + found[-1][0], back)
        else:
            found.append((sign, back))
    return found[::-1]


def _by_face(text: str, own: frozenset[int], country: int, *, bold: bool) -> list[tuple[ScriptFace | None, str]]:
    """Parts of a text of one direction, each in one face; marks stay with what they stand on."""
    found: list[tuple[ScriptFace | None, str]] = []
    for sign in text:
        last = found[-1][0] if found else None
        face = None if ord(sign) in own else face_of(sign, bold=bold, index=country)
        if last is not None and (joins(sign) or unicodedata.category(sign)[0] == "M" and ord(sign) in last.glyphs):
            face = last
        if found and found[-1][0] is face:
            found[-1] = (face, found[-1][1] + sign)
        else:
            found.append((face, sign))
    return found


# ---- what a file keeps -------------------------------------------------------------------------------------------------


class FacesOfFile:
    """The glyphs that one file shows of each face, with what each stands for; they are written when it is saved."""

    def __init__(self) -> None:
        self._shown: dict[ScriptFace, dict[int, str]] = {}

    def words(self, piece: Piece, x: float, y: float, size: float) -> str:
        """The operations that draw a piece with the left end of its baseline at x, y.

        ISO 32000-1, 9.4, and 14.8.2.3.3: strings stand in the order in which they are read, the signs of each from the
        left; 14.9.4: what several glyphs stand for together is told beside them.
        """
        face = piece.face
        assert face is not None
        shown = self._shown.setdefault(face, {})
        font = f"BT /S{list(self._shown).index(face)} {size:.3f} Tf"
        words: list[str] = []
        plain: list[Glyph] = []

        def end() -> None:
            if plain:
                string = _string(face, plain[::-1] if piece.leftwards else plain, x, y, size)
                words.append(f"/ReversedChars BMC {font} {string} ET EMC" if piece.leftwards else f"{font} {string} ET")
            plain.clear()

        for cluster in piece.clusters:
            for glyph in cluster:
                if shown.get(glyph.number, _NOTHING) == _NOTHING:
                    shown[glyph.number] = glyph.text or _NOTHING
            first = cluster[0]
            if len(cluster) == 1 and not first.up and shown[first.number] == first.text:
                plain.append(first)
                continue
            end()
            drawn = " ".join(_string(face, [glyph], x, y, size) for glyph in cluster)
            said = "".join(glyph.text for glyph in cluster)
            words.append(f"/Span<</ActualText<FEFF{said.encode('utf-16-be').hex().upper()}>>>BDC {font} {drawn} ET EMC")
        end()
        return " ".join(words)

    def write(self, document: pdfdoc.PDFDocument) -> None:
        """Put the faces into the file, each with the glyphs that it shows alone (ISO 32000-1, 9.7)."""
        fonts = document.idToObject["BasicFonts"].dict
        for number, (face, shown) in enumerate(self._shown.items()):
            fonts[f"S{number}"] = _composite(document, face, shown, number)


def _string(face: ScriptFace, glyphs: list[Glyph], x: float, y: float, size: float) -> str:
    """Glyphs from the left, the first where it stands and each further one moved to where it stands."""
    at, line = glyphs[0].right, ""
    for glyph in glyphs:
        if abs(at - glyph.right) > _SEEN:
            line += f">{at - glyph.right:.2f}<"
        line += f"{glyph.number:04X}"
        at = glyph.right + _advance(face, glyph.number)
    place = f"{x + glyphs[0].right * size / 1000:.3f} {y + glyphs[0].up * size / 1000:.3f}"
    return f"1 0 0 1 {place} Tm [<{line}>] TJ"


_SEEN = 0.01


@lru_cache(maxsize=4096)
def _advance(face: ScriptFace, number: int) -> float:
    return float(face.font.get_glyph_h_advance(number)) * face.scale


def _composite(
    document: pdfdoc.PDFDocument, face: ScriptFace, shown: dict[int, str], number: int
) -> pdfdoc.PDFObjectReference:
    """A font whose codes are the face's own numbers of glyphs."""
    program, kind = _subset(face, frozenset(shown))
    tag = "".join(chr(65 + number // 26**place % 26) for place in (1, 0))
    base = pdfdoc.PDFName(f"SCRI{tag}+{face.name}")
    key = "FontFile2" if kind == "CIDFontType2" else "FontFile3"
    keys = {"Length1": len(program)} if kind == "CIDFontType2" else {"Subtype": pdfdoc.PDFName("CIDFontType0C")}
    extents = face.font.get_font_extents("ltr")
    boxes = [box for box in map(face.font.get_glyph_extents, shown) if box is not None]
    sides = (
        min(box.x_bearing for box in boxes), min(box.y_bearing + box.height for box in boxes),
        max(box.x_bearing + box.width for box in boxes), max(box.y_bearing for box in boxes),
    )  # fmt: skip
    descriptor = pdfdoc.PDFDictionary({
        "Type": pdfdoc.PDFName("FontDescriptor"), "FontName": base, "Flags": 4, "ItalicAngle": 0,
        "FontBBox": pdfdoc.PDFArray([round(side * face.scale) for side in sides]), "StemV": 80, "CapHeight": 714,
        "Ascent": round(extents.ascender * face.scale), "Descent": round(extents.descender * face.scale),
        key: document.Reference(_packed(program, keys)),
    })  # fmt: skip
    widths = pdfdoc.PDFArray([
        item for glyph in sorted(shown)
        for item in (glyph, pdfdoc.PDFArray([round(_advance(face, glyph), 2)]))
    ])  # fmt: skip
    described = {
        "Type": pdfdoc.PDFName("Font"), "Subtype": pdfdoc.PDFName(kind), "BaseFont": base, "DW": 1000, "W": widths,
        "CIDSystemInfo": pdfdoc.PDFDictionary({
            "Registry": pdfdoc.PDFString("Adobe"), "Ordering": pdfdoc.PDFString("Identity"), "Supplement": 0,
        }),
        "FontDescriptor": document.Reference(descriptor),
    } | ({"CIDToGIDMap": pdfdoc.PDFName("Identity")} if kind == "CIDFontType2" else {})  # fmt: skip
    return document.Reference(pdfdoc.PDFDictionary({
        "Type": pdfdoc.PDFName("Font"), "Subtype": pdfdoc.PDFName("Type0"), "BaseFont": base,
        "Encoding": pdfdoc.PDFName("Identity-H"),
        "DescendantFonts": pdfdoc.PDFArray([document.Reference(pdfdoc.PDFDictionary(described))]),
        "ToUnicode": document.Reference(_packed(_to_unicode(shown), {})),
    }))  # fmt: skip


@lru_cache(maxsize=64)
def _subset(face: ScriptFace, glyphs: frozenset[int]) -> tuple[bytes, str]:
    """The program of a face with these glyphs alone in its weight, under their numbers, and the kind of its font."""
    import uharfbuzz

    wanted = uharfbuzz.SubsetInput()
    wanted.glyph_set.update(glyphs)
    wanted.pin_all_axes_to_default(face.hb)
    wanted.pin_axis_location(face.hb, "wght", face.weight)
    wanted.layout_feature_tag_set.clear()
    flags = uharfbuzz.SubsetFlags
    wanted.flags = (
        flags.RETAIN_GIDS | flags.NO_HINTING | flags.NO_LAYOUT_CLOSURE | flags.NO_BIDI_CLOSURE
        | flags.NOTDEF_OUTLINE | flags.DOWNGRADE_CFF2 | flags.CFF_IDENTITY_CHARSET
    )  # fmt: skip
    cut = uharfbuzz.subset(face.hb, wanted)
    if "CFF " in cut.table_tags:
        return bytes(cut.reference_table("CFF ").data), "CIDFontType0"
    return bytes(cut.blob.data), "CIDFontType2"


def _packed(content: bytes, keys: dict[str, object]) -> pdfdoc.PDFStream:
    return pdfdoc.PDFStream(
        pdfdoc.PDFDictionary({**keys, "Filter": pdfdoc.PDFName("FlateDecode")}), zlib.compress(content)
    )


def _to_unicode(shown: dict[int, str]) -> bytes:
    """What each glyph stands for (ISO 32000-1, 9.10.3)."""
    lines = [f"<{each:04X}> <{text.encode('utf-16-be').hex().upper()}>" for each, text in sorted(shown.items())]
    blocks = (lines[start : start + 100] for start in range(0, len(lines), 100))
    return "\n".join([
        "/CIDInit /ProcSet findresource begin", "12 dict begin", "begincmap",
        "/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def",
        "/CMapName /Adobe-Identity-UCS def", "/CMapType 2 def",
        "1 begincodespacerange", "<0000> <FFFF>", "endcodespacerange",
        *("\n".join([f"{len(block)} beginbfchar", *block, "endbfchar"]) for block in blocks),
        "endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end",
    ]).encode()  # fmt: skip
