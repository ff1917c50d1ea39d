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
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

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
_SMALLER = 0.86
"""Arabic letters are large and reach far down: at this part of the size they keep off the next line."""
_BOLD_WEIGHT, _REGULAR_WEIGHT = 700.0, 400.0


def east_asian_faces() -> bool:
    """Whether the faces for Chinese, Japanese and Korean are installed, which are an extra because of their size."""
    return _path(_CJK) is not None


@cache
def _path(file: str) -> Path | None:
    found = find_spec("manimgx_fonts_cjk" if file == _CJK else "manimgx_fonts")
    path = Path(found.origin or "").parent / file if found is not None else None
    return path if path is not None and path.is_file() else None


class Cluster(NamedTuple):
    """Glyphs that stand for one thing together: a letter with its marks, letters that are joined into one shape.

    glyphs: number in the face, and how far to the right and up it is moved; lengths are in units of the face.
    """

    text: str
    glyphs: tuple[tuple[int, int, int], ...]
    advance: int


class Piece(NamedTuple):
    """A run of a line in one face and direction; face None: the page's own.

    place: among the line's runs from the left. clusters: from the left. wide: in parts of the size.
    """

    place: int
    face: "ScriptFace | None"
    text: str
    leftwards: bool
    clusters: tuple[Cluster, ...] = ()

    @property
    def wide(self) -> float:
        """Its width in parts of the size, where the face is not the page's own."""
        if self.face is None:
            return 0.0
        return float(sum(each.advance for each in self.clusters) / self.face.hb.upem * self.face.part)


class ScriptFace:
    """One face in one weight, read when the first name needs it; part: how large it is drawn beside the page's own."""

    def __init__(self, path: Path, index: int, bold: bool) -> None:
        import uharfbuzz  # a page in Latin letters needs none of it

        self.part = _SMALLER if "Arabic" in path.name else 1.0
        self.weight = _BOLD_WEIGHT if bold else _REGULAR_WEIGHT
        self.hb = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(path)), index)
        self.font = uharfbuzz.Font(self.hb)
        self.font.set_variations({"wght": self.weight})
        self.name = re.sub(r"[^A-Za-z]", "", path.name.split("[")[0].split(".")[0]) + ("-Bold" if bold else "-Regular")

    @cached_property
    def glyphs(self) -> frozenset[int]:
        """The signs that the face has."""
        return frozenset(self.hb.unicodes)

    def shaped(self, text: str, *, leftwards: bool) -> tuple[Cluster, ...]:
        """The clusters of a text in logical order, from the left as they are seen."""
        import uharfbuzz

        buffer = uharfbuzz.Buffer()
        buffer.add_str(text)
        buffer.direction = "rtl" if leftwards else "ltr"
        if leftwards:  # marks stand beside their letters, so that the string as a whole is reversed
            buffer.cluster_level = uharfbuzz.BufferClusterLevel.MONOTONE_CHARACTERS
        buffer.guess_segment_properties()
        uharfbuzz.shape(self.font, buffer)
        starts = sorted({info.cluster for info in buffer.glyph_infos})
        ends = dict(zip(starts, [*starts[1:], len(text)], strict=True))
        found = []
        for start, group in groupby(zip(buffer.glyph_infos, buffer.glyph_positions, strict=True), _cluster):
            glyphs, at = [], 0
            for info, place in group:
                glyphs.append((info.codepoint, at + place.x_offset, place.y_offset))
                at += place.x_advance
            found.append(Cluster(text[start : ends[start]], tuple(glyphs), at))
        return tuple(found)


def _cluster(glyph: tuple[Any, Any]) -> int:
    return int(glyph[0].cluster)


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
    """Whether a sign only tells its neighbours to join or not, as Persian and Indian names need it."""
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
_LEFTWARDS = re.compile("[([]?R(?:[^L]*R)?n*[])]?…?")
"""A name that reads from right to left: from its first such letter to its last, with no letter of the other way
between; a bracket or an ellipsis at its ends belongs to it."""
_KINDS = {"R": "R", "AL": "R", "L": "L", "NSM": "n", "BN": "n"}


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
    return f"{line[found.start() : start]}{_ISOLATE}{line[start:end]}{_END}{line[end : found.end()]}"


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
        for part, back in _by_direction(shown[1:-1]) if name else [(shown, False)]:
            faced = _by_face(part[::-1] if back else part, own, country, bold=bold)
            for face, text in reversed(faced) if back else faced:
                if face is None:
                    group.append(Piece(len(found) + len(group), None, _mirrored(text) if back else text, back))
                else:
                    group.append(Piece(len(found) + len(group), face, text, back, face.shaped(text, leftwards=back)))
        found += reversed(group) if name else group
    return tuple(found)


def _mirrored(shown: str) -> str:
    """Brackets as they look in a name that reads from right to left (UAX #9, L4)."""
    from bidi.mirror import MIRRORED

    return "".join(MIRRORED.get(sign, sign) if unicodedata.mirrored(sign) else sign for sign in shown)


def _by_direction(shown: str) -> list[tuple[str, bool]]:
    """Parts of a name as it is seen, each with whether it reads from right to left: all but its figures."""
    parts = re.split(r"(\d(?:[\d.,:/+-]*\d)?)", shown)
    return [(part, place % 2 == 0) for place, part in enumerate(parts) if part]


def _by_face(text: str, own: frozenset[int], country: int, *, bold: bool) -> list[tuple[ScriptFace | None, str]]:
    """Parts of a text of one direction, each in one face; marks stay with what they stand on."""
    found: list[tuple[ScriptFace | None, str]] = []
    for sign in text:
        face = None if ord(sign) in own else face_of(sign, bold=bold, index=country)
        last = found[-1][0] if found else None
        if last is not None and (joins(sign) or (ord(sign) in last.glyphs and _follows(sign))):
            face = last
        if found and found[-1][0] is face:
            found[-1] = (face, found[-1][1] + sign)
        else:
            found.append((face, sign))
    return found


def _follows(sign: str) -> bool:
    """Whether a sign is set in the face of what stands before it: a mark, a blank or what divides names."""
    return unicodedata.category(sign)[0] in "MZP"


# ---- what a file keeps -----------------------------------------------------------------------------------------------


class FacesOfFile:
    """The clusters that one file shows of each face, in the order of their codes; they are written when it is saved."""

    def __init__(self) -> None:
        self._shown: dict[ScriptFace, dict[Cluster, int]] = {}

    def words(self, piece: Piece, x: float, y: float, size: float) -> str:
        """The operations that draw a piece with the left end of its baseline at x, y (ISO 32000-1, 9.4).

        A name that reads leftwards is one string of reversed characters, as 14.8.2.3.3 has it.
        """
        assert piece.face is not None
        codes = self._shown.setdefault(piece.face, {})
        name = f"/S{list(self._shown).index(piece.face)}"
        string = "".join(f"{codes.setdefault(each, len(codes) + 1):04X}" for each in piece.clusters)
        drawn = f"BT {name} {size * piece.face.part:.3f} Tf 1 0 0 1 {x:.3f} {y:.3f} Tm <{string}> Tj ET"
        return f"/ReversedChars BMC {drawn} EMC" if piece.leftwards else drawn

    def write(self, document: pdfdoc.PDFDocument) -> None:
        """Put the faces into the file, each with what it shows alone: a glyph a cluster (ISO 32000-1, 9.7)."""
        fonts = document.idToObject["BasicFonts"].dict
        for number, (face, codes) in enumerate(self._shown.items()):
            fonts[f"S{number}"] = _composite(document, face, list(codes), number)


def _composite(
    document: pdfdoc.PDFDocument, face: ScriptFace, shown: list[Cluster], number: int
) -> pdfdoc.PDFObjectReference:
    """A font of two bytes a code, with its program, its widths and what each code stands for."""
    name, scale = pdfdoc.PDFName, 1000 / face.hb.upem
    program, sides = _program(face, shown)
    base = name(f"SCRIP{chr(65 + number)}+{face.name}")
    extents = face.font.get_font_extents("ltr")
    descriptor = pdfdoc.PDFDictionary({
        "Type": name("FontDescriptor"), "FontName": base, "Flags": 4, "ItalicAngle": 0, "StemV": 80, "CapHeight": 714,
        "Ascent": round(extents.ascender * scale), "Descent": round(extents.descender * scale),
        "FontBBox": pdfdoc.PDFArray([round(side * scale) for side in sides]),
        "FontFile2": document.Reference(_packed(program, {"Length1": len(program)})),
    })  # fmt: skip
    described = pdfdoc.PDFDictionary({
        "Type": name("Font"), "Subtype": name("CIDFontType2"), "BaseFont": base, "CIDToGIDMap": name("Identity"),
        "W": pdfdoc.PDFArray([1, pdfdoc.PDFArray([round(each.advance * scale, 2) for each in shown])]),
        "CIDSystemInfo": pdfdoc.PDFDictionary({
            "Registry": pdfdoc.PDFString("Adobe"), "Ordering": pdfdoc.PDFString("Identity"), "Supplement": 0,
        }),
        "FontDescriptor": document.Reference(descriptor),
    })  # fmt: skip
    return document.Reference(pdfdoc.PDFDictionary({
        "Type": name("Font"), "Subtype": name("Type0"), "BaseFont": base, "Encoding": name("Identity-H"),
        "DescendantFonts": pdfdoc.PDFArray([document.Reference(described)]),
        "ToUnicode": document.Reference(_packed(_to_unicode([each.text for each in shown]), {})),
    }))  # fmt: skip


def _program(face: ScriptFace, shown: list[Cluster]) -> tuple[bytes, tuple[int, int, int, int]]:
    """A TrueType program with a glyph a cluster, numbered from 1, and its box: left, bottom, right and top."""
    from fontTools.fontBuilder import FontBuilder  # read where a name needs another face

    builder = FontBuilder(face.hb.upem, isTTF=True)
    names = [".notdef", *(f"glyph{code}" for code in range(1, len(shown) + 1))]
    builder.setupGlyphOrder(names)
    builder.setupGlyf(
        dict(zip(names, [_outline(face, ()), *(_outline(face, each.glyphs) for each in shown)], strict=True))
    )
    advances = [face.hb.upem, *(each.advance for each in shown)]
    glyphs = builder.font["glyf"]
    builder.setupHorizontalMetrics({
        each: (wide, getattr(glyphs[each], "xMin", 0)) for each, wide in zip(names, advances, strict=True)
    })  # fmt: skip
    extents = face.font.get_font_extents("ltr")
    builder.setupHorizontalHeader(ascent=extents.ascender, descent=extents.descender)
    builder.setupMaxp()
    head = builder.font["head"]
    head.created = head.modified = _MADE
    builder.font.recalcTimestamp = False
    out = BytesIO()
    builder.font.save(out)
    return out.getvalue(), (head.xMin, head.yMin, head.xMax, head.yMax)


_MADE = 3029529600
"""1 January 2000, in seconds as a TrueType program counts them: the same marks give the same bytes."""


@lru_cache(maxsize=4096)
def _outline(face: ScriptFace, glyphs: tuple[tuple[int, int, int], ...]) -> Any:
    """One outline of all glyphs of a cluster, in curves of the second order as TrueType has them."""
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.transformPen import TransformPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    for number, right, up in glyphs:
        face.font.draw_glyph_with_pen(number, TransformPen(Cu2QuPen(pen, face.hb.upem / 1000), (1, 0, 0, 1, right, up)))
    return pen.glyph()


def _packed(content: bytes, keys: dict[str, object]) -> pdfdoc.PDFStream:
    return pdfdoc.PDFStream(
        pdfdoc.PDFDictionary({**keys, "Filter": pdfdoc.PDFName("FlateDecode")}), zlib.compress(content)
    )


def _to_unicode(texts: list[str]) -> bytes:
    """What each code from 1 on stands for (ISO 32000-1, 9.10.3)."""
    lines = [f"<{code:04X}> <{text.encode('utf-16-be').hex().upper()}>" for code, text in enumerate(texts, start=1)]
    blocks = (lines[start : start + 100] for start in range(0, len(lines), 100))
    return "\n".join([
        "/CIDInit /ProcSet findresource begin", "12 dict begin", "begincmap",
        "/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def",
        "/CMapName /Adobe-Identity-UCS def", "/CMapType 2 def",
        "1 begincodespacerange", "<0000> <FFFF>", "endcodespacerange",
        *("\n".join([f"{len(block)} beginbfchar", *block, "endbfchar"]) for block in blocks),
        "endcmap", "CMapName currentdict /CMap defineresource pop", "end", "end",
    ]).encode()  # fmt: skip
