"""What a screen reader and an archive find in a PDF: an own walk of its structure, read by another library (qpdf).

Each fault names the clause that it breaks: ISO 32000-1 (PDF 1.7), ISO 14289-1 (PDF/UA-1), ISO 19005-2 (PDF/A-2).
"""

import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree import ElementTree

import pikepdf
from fontTools.ttLib import TTFont

_STANDARD = frozenset(
    "Document Part Sect H1 H2 H3 P L LI Lbl LBody Table TR TH TD Figure Form Span Caption".split()  # noqa: SIM905
)
"""Kinds of ISO 32000-1, 14.8.4 that are used."""
_INSIDE = {"LI": ("L",), "LBody": ("LI",), "Lbl": ("LI",), "TR": ("Table",), "TH": ("TR",), "TD": ("TR",)}
_PAINTS = frozenset(
    ["Tj", "TJ", "'", '"', "f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "Do", "sh", "EI", "INLINE IMAGE"]
)
_XMP = {
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "dc": "http://purl.org/dc/elements/1.1/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
}


@dataclass
class Element:
    """One element of the structure with what is heard of it."""

    kind: str
    node: pikepdf.Object
    language: str
    alt: str = ""
    marks: list[tuple[int, int]] = field(default_factory=list)
    kids: list["Element"] = field(default_factory=list)

    def downwards(self) -> Iterator["Element"]:
        """This element and all below it, in reading order."""
        yield self
        for kid in self.kids:
            yield from kid.downwards()


@dataclass
class Read:
    """A PDF as it was read: the root of its structure, the text of each mark, and what is against it."""

    root: Element
    marked: dict[tuple[int, int], str]
    faults: list[str]

    def heard(self) -> list[tuple[str, str]]:
        """Kind and text of each element that has text of its own or stands for a figure, in reading order."""
        told = ((each, " ".join(self.marked[mark] for mark in each.marks).strip()) for each in self.root.downwards())
        return [
            (each.kind, each.alt if each.kind == "Figure" else text)
            for each, text in told
            if text or each.kind == "Figure"
        ]


def read(pdf: bytes) -> Read:
    """Walk the whole file."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        pages = {page.obj.objgen: number for number, page in enumerate(document.pages)}
        top = document.Root.get("/StructTreeRoot")
        if top is None:
            return Read(Element("none", document.Root, ""), {}, ["ISO 14289-1, 7.1: the file has no structure"])
        (first,) = _many(top.K)
        root = _element(first, str(document.Root.get("/Lang", "")), pages)
        marked, faults = _marks(document)
        faults += _of_tree(root, top, marked, pages)
        faults += [*_of_elements(root), *_of_file(document), *_of_fonts(document), *_of_streams(pdf)]
        return Read(root, marked, faults)


def _many(value: pikepdf.Object) -> list[pikepdf.Object]:
    return list(value) if isinstance(value, pikepdf.Array) else [value]


def _element(node: pikepdf.Object, language: str, pages: dict[tuple[int, int], int]) -> Element:
    spoken = str(node.get("/Lang", language))
    found = Element(str(node.S)[1:], node, spoken, str(node.get("/Alt", "")))
    for kid in _many(node.get("/K", pikepdf.Array())):
        if isinstance(kid, int):
            found.marks.append((pages[node.Pg.objgen], kid))
        elif kid.get("/Type") == "/MCR":
            found.marks.append((pages[kid.Pg.objgen], int(kid.MCID)))
        elif kid.get("/Type") != "/OBJR":
            found.kids.append(_element(kid, spoken, pages))
    return found


def _of_tree(
    root: Element, top: pikepdf.Object, marked: dict[tuple[int, int], str], pages: dict[tuple[int, int], int]
) -> list[str]:
    """That marks and elements know each other: ISO 32000-1, 14.7.4.4, asked for by ISO 14289-1, 7.1."""
    held = Counter(mark for each in root.downwards() for mark in each.marks)
    faults = [f"14289-1, 7.1: mark {mark} belongs to no element" for mark in marked if not held[mark]]
    faults += [f"32000-1, 14.7.4: mark {mark} has {n} elements" for mark, n in held.items() if n > 1]
    faults += [f"32000-1, 14.7.4: mark {mark} is on no page" for mark in held if mark not in marked]
    listed_pages = list(top.ParentTree.Nums)
    by_number = {int(page): tags for page, tags in zip(listed_pages[::2], listed_pages[1::2], strict=True)}
    owner = {mark: each.node.objgen for each in root.downwards() for mark in each.marks}
    for number in pages.values():
        listed = [each.objgen for each in by_number[number]]
        drawn = [owner.get((number, mark)) for mark in range(len(listed))]
        if listed != drawn:
            faults.append(f"32000-1, 14.7.4.4: the parent tree of page {number} tells other elements")
    for each in root.downwards():
        for kid in each.kids:
            if kid.node.P.objgen != each.node.objgen:
                faults.append(f"32000-1, 14.7.2: {kid.kind} names another parent")
    return faults


def _marks(document: pikepdf.Pdf) -> tuple[dict[tuple[int, int], str], list[str]]:
    """The text of each mark; everything painted is marked or an artifact, and no mark lies in another."""
    marked: dict[tuple[int, int], str] = {}
    faults: list[str] = []
    for number, page in enumerate(document.pages):
        found = _Page(number, page, faults)
        for operands, operator in pikepdf.parse_content_stream(page):
            found.follow(str(operator), operands)
        marked |= found.marked
        if page.obj.get("/StructParents") != number or page.obj.get("/Tabs") != "/S":
            faults.append(f"32000-1, 14.7.4.4: page {number} tells no structure")
        if sorted(mark for _, mark in found.marked) != list(range(len(found.marked))):
            faults.append(f"32000-1, 14.6: page {number}: its marks are not numbered from 0")
    return marked, faults


class _Page:
    """One page as its marks are followed."""

    def __init__(self, number: int, page: pikepdf.Page, faults: list[str]) -> None:
        self.number, self.faults = number, faults
        self.marked: dict[tuple[int, int], str] = {}
        self._fonts = page.Resources.get("/Font", pikepdf.Dictionary())
        self._signs: dict[str, dict[int, str]] = {}
        self._face: dict[int, str] = {}
        self._bytes = 1
        self._inside: object = None
        self._reversed = False

    def follow(self, word: str, operands: pikepdf.Object) -> None:
        """One operation of the page."""
        if word == "BMC" and str(operands[0]) == "/ReversedChars":  # 32000-1, 14.8.2.3.3: within a mark, of its strings
            self._reversed = self._inside is not None
        elif word == "EMC" and self._reversed:
            self._reversed = False
        elif word in ("BDC", "BMC"):
            self._begin(str(operands[0]), operands[1].get("/MCID") if word == "BDC" else None)
        elif word == "EMC":
            self._inside = None
        elif word == "Tf" and str(operands[0]) in self._fonts:
            name = str(operands[0])
            self._face = self._signs[name] = self._signs.get(name) or _to_unicode(self._fonts[name])
            self._bytes = 2 if self._fonts[name].Subtype == "/Type0" else 1
        elif word in _PAINTS and self._inside is None:
            self.faults.append(f"14289-1, 7.1: page {self.number}: {word} paints outside of all marks")
        elif word == "Tj" and isinstance(self._inside, tuple):
            string = bytes(operands[0])
            codes = [int.from_bytes(string[at : at + self._bytes]) for at in range(0, len(string), self._bytes)]
            signs = [self._face[code] for code in codes]
            self.marked[self._inside] += " " + "".join(signs[::-1] if self._reversed else signs)

    def _begin(self, kind: str, mark: int | None) -> None:
        if self._inside is not None:
            self.faults.append(f"14289-1, 7.1: page {self.number}: a mark lies in another")
        self._inside = "artifact"
        if kind != "/Artifact" and mark is None:
            self.faults.append(f"14289-1, 7.1: page {self.number}: {kind} is marked without a number")
        elif mark is not None:
            self._inside = (self.number, int(mark))
            self.marked[self.number, int(mark)] = ""


def _to_unicode(font: pikepdf.Object) -> dict[int, str]:
    """Codes and their characters (ISO 32000-1, 9.10.3); of a code that stands for none, an error as it is read."""
    told = font.ToUnicode.read_bytes().decode("ascii")
    found: dict[int, str] = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", told, re.S):
        for code, sign in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            found[int(code, 16)] = bytes.fromhex(sign).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", told, re.S):
        for first, _last, listed in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*\[(.*?)\]", block, re.S):
            for place, sign in enumerate(re.findall(r"<([0-9A-Fa-f]*)>", listed)):
                found[int(first, 16) + place] = bytes.fromhex(sign).decode("utf-16-be")
    return found


def _of_elements(root: Element) -> Iterator[str]:
    """Kinds, headings, tables, lists and figures."""
    level = 0
    for each in root.downwards():
        if each.kind not in _STANDARD:
            yield f"14289-1, 7.1: {each.kind} is no standard kind, and no role is told"
        if not each.language:
            yield f"14289-1, 7.2: the language of {each.kind} cannot be known"
        if re.fullmatch("H[1-6]", each.kind):
            now = int(each.kind[1])
            if now > level + 1:
                yield f"14289-1, 7.4.2: {each.kind} follows a heading of level {level}"
            level = now
        for kid in each.kids:
            if kid.kind in _INSIDE and each.kind not in _INSIDE[kid.kind]:
                yield f"32000-1, 14.8.4.3: {kid.kind} stands in {each.kind}"
        if each.kind == "Figure" and not each.alt.strip():
            yield "14289-1, 7.3: a figure has no words instead of it"
        if each.kind == "Figure" and "/BBox" not in each.node.get("/A", pikepdf.Dictionary()):
            yield "32000-1, 14.8.5.4.3: a figure does not tell where it stands"
        if each.kind == "Table":
            yield from _of_table(each)


def _of_table(table: Element) -> Iterator[str]:
    """Each heading has its scope (ISO 14289-1, 7.5), and with what they span all rows are of one width (7.2)."""
    widths, hanging = set(), Counter[int]()
    for number, row in enumerate(table.kids):
        wide = hanging[number]
        for cell in row.kids:
            told = cell.node.get("/A", pikepdf.Dictionary())
            if cell.kind == "TH" and told.get("/Scope") not in ("/Column", "/Row"):
                yield "14289-1, 7.5: a heading of a table has no scope"
            spans = int(told.get("/ColSpan", 1))
            wide += spans
            for below in range(1, int(told.get("/RowSpan", 1))):
                hanging[number + below] += spans
        widths.add(wide)
    if len(widths) != 1:
        yield f"14289-1, 7.2: rows of a table are {sorted(widths)} cells wide"
    if not any(cell.kind == "TH" for row in table.kids for cell in row.kids):
        yield "14289-1, 7.5: a table has no heading"


def _of_file(document: pikepdf.Pdf) -> Iterator[str]:
    """Title, language, metadata, colours, and what neither standard allows."""
    root = document.Root
    if not bool(root.get("/MarkInfo", pikepdf.Dictionary()).get("/Marked", False)):
        yield "14289-1, 7.1: the file does not say that it is marked"
    if not str(root.get("/Lang", "")):
        yield "14289-1, 7.2: the file tells no language"
    if not bool(root.get("/ViewerPreferences", pikepdf.Dictionary()).get("/DisplayDocTitle", False)):
        yield "14289-1, 7.1: the title is not shown"
    packet = ElementTree.fromstring(root.Metadata.read_bytes().decode("utf-8").split("?>", 1)[1].rsplit("<?", 1)[0])
    claims = {name: packet.findtext(f".//{name}", namespaces=_XMP) for name in
              ("pdfaid:part", "pdfaid:conformance", "pdfuaid:part")}  # fmt: skip
    if list(claims.values()) != ["2", "A", "1"]:
        yield f"19005-2, 6.6.4, and 14289-1, 5: the file claims {claims}"
    title = packet.findtext(".//dc:title/rdf:Alt/rdf:li", namespaces=_XMP)
    if not title or title.split() != str(document.docinfo.Title).split():
        yield f"14289-1, 7.1: the title is {title!r} in one place and {document.docinfo.Title!r} in another"
    intent = root.get("/OutputIntents", [None])[0]
    if intent is None or intent.S != "/GTS_PDFA1" or intent.DestOutputProfile.read_bytes()[36:40] != b"acsp":
        yield "19005-2, 6.2.3: no profile tells what the greys mean"
    if document.is_encrypted or "/ID" not in document.trailer:
        yield "19005-2, 6.1.3: the file has no identifier, or is encrypted"
    for key in ("/OpenAction", "/AA", "/NeedsRendering"):
        if key in root:
            yield f"19005-2, 6.5: {key} is not allowed"


def _of_fonts(document: pikepdf.Pdf) -> Iterator[str]:
    """Each face is embedded, tells its characters, and its widths are those of its outlines."""
    for font in document.objects:
        if not isinstance(font, pikepdf.Dictionary) or font.get("/Type") != "/Font" or "/FontDescriptor" not in font:
            if isinstance(font, pikepdf.Dictionary) and font.get("/Type") == "/Font" and font.Subtype != "/Type0":
                yield f"19005-2, 6.2.11.4: {font.BaseFont} is not embedded"
            continue
        if "/FontFile2" not in font.FontDescriptor:
            yield f"19005-2, 6.2.11.4: {font.BaseFont} is not embedded"
            continue
        if not re.match("/[A-Z]{6}[+]", str(font.BaseFont)):
            yield f"32000-1, 9.6.4: {font.BaseFont} is no subset by its name"
        if font.Subtype == "/TrueType":
            if "/ToUnicode" not in font:
                yield f"19005-2, 6.2.11.7: {font.BaseFont} does not tell its characters"
            yield from _of_widths(font)
        elif font.Subtype == "/CIDFontType2":
            yield from _of_wide_codes(font)
    for font in document.objects:
        if isinstance(font, pikepdf.Dictionary) and font.get("/Subtype") == "/Type0":
            unnamed = [code for code, text in _to_unicode(font).items() if not text or _unfit(text)]
            if unnamed or font.Encoding != "/Identity-H":
                yield f"19005-2, 6.2.11.7: {font.BaseFont} does not tell its characters: {unnamed}"


def _unfit(text: str) -> bool:
    """ISO 19005-2, 6.2.11.7.2 and .3: no null, no mark of the order of bytes, nothing for private use."""
    return any(sign in "\0\ufeff\ufffe" or "\ue000" <= sign <= "\uf8ff" for sign in text)


def _of_wide_codes(font: pikepdf.Object) -> Iterator[str]:
    """The same of codes of two bytes, which are the numbers of glyphs (ISO 32000-1, 9.7.4.3)."""
    face = TTFont(io.BytesIO(font.FontDescriptor.FontFile2.read_bytes()))
    first, widths = font.W
    for code, told in enumerate(widths, start=int(first)):
        drawn = face["hmtx"][face.getGlyphName(code)][0] * 1000 / face["head"].unitsPerEm
        if abs(drawn - float(told)) > 1:
            yield f"19005-2, 6.2.11.5: {font.BaseFont}: code {code} is {told} wide and drawn {drawn}"
    if font.CIDToGIDMap != "/Identity":
        yield f"19005-2, 6.2.11.3.2: {font.BaseFont} does not tell which glyph a code is"


def _of_widths(font: pikepdf.Object) -> Iterator[str]:
    """ISO 19005-2, 6.2.11.5: widths in the file and in the face differ by no more than a thousandth of the size."""
    face = TTFont(io.BytesIO(font.FontDescriptor.FontFile2.read_bytes()))
    (cmap,) = face["cmap"].tables[:1]
    if len(face["cmap"].tables) != 1:
        yield f"19005-2, 6.2.11.6: {font.BaseFont} is symbolic and has more than one table of codes"
    for place, told in enumerate(font.Widths):
        code = int(font.FirstChar) + place
        if code in cmap.cmap and cmap.cmap[code] != ".notdef":
            drawn = face["hmtx"][cmap.cmap[code]][0] * 1000 / face["head"].unitsPerEm
            if abs(drawn - float(told)) > 1:
                yield f"19005-2, 6.2.11.5: {font.BaseFont}: code {code} is {told} wide and drawn {drawn}"


def _of_streams(pdf: bytes) -> Iterator[str]:
    """ISO 19005-2, 6.1.2 and 6.1.7.1: the first lines, and the end of line before each `endstream`."""
    if not re.match(rb"%PDF-1\.[0-7]\n%[\x80-\xff]{4}", pdf):
        yield "19005-2, 6.1.2: the file does not begin as it has to"
    for found in re.finditer(rb"/Length (\d+)\b[^>]*>>\nstream\n", pdf):
        end = found.end() + int(found[1])
        if pdf[end : end + 10] != b"\nendstream":
            yield f"19005-2, 6.1.7.1: a stream ends in {pdf[end : end + 10]!r}"
