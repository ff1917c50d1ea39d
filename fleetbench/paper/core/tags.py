"""What a file for the archive says of itself: its metadata and colours, and what each mark on a page is.

The canvas writes the marks' tree, in reading order, into the file. A page that is done is kept as the file will hold
it, packed, and the file is written object by object, so that a batch of a thousand sheets takes hardly more memory than
one of a hundred.

ISO 19005-2 (PDF/A-2), 6.2.3 and 6.6; ISO 14289-1 (PDF/UA-1), clause 5; ISO 16684-1 (XMP).

A page is a tree of headings, paragraphs, lists, tables and figures (ISO 32000-1, 14.7 and 14.8), with everything else
marked as an artifact, as ISO 14289-1 (PDF/UA-1) and level A of ISO 19005-2 (PDF/A-2) ask for.
"""

import zlib
from array import array
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from enum import StrEnum
from functools import cache
from typing import BinaryIO
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from fleetbench.paper.core.scripts import FacesOfFile, Piece
from fleetbench.shipped import shipped

_VERSION = (1, 7)
_PAGE_KEYS = [*pdfdoc.PDFPage.__NoDefault__, "StructParents", "Tabs"]
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)
"""The day that a page without a moment of its own tells, so that the same marks give the same bytes."""

_PACKET = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/"{namespaces}>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:description>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>fleetbench</xmp:CreatorTool>
<xmp:CreateDate>{at}</xmp:CreateDate>
<xmp:ModifyDate>{at}</xmp:ModifyDate>
<pdf:Producer>{producer}</pdf:Producer>
{claims}</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>"""

_NAMESPACES = """
 xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#\""""
# PDF/A-2 knows no name of PDF/UA, so that the file has to explain it (ISO 19005-2, 6.6.2.3).
_CLAIMS = """<pdfaid:part>2</pdfaid:part>
<pdfaid:conformance>A</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
"""


def metadata(title: str, author: str, language: str, producer: str, at: datetime, *, archival: bool = True) -> bytes:
    """The XMP packet of a file; archival: whether it says that it is PDF/A-2a and PDF/UA-1."""
    packet = _PACKET.format(
        title=escape(title),
        author=escape(author),
        language=escape(language),
        producer=escape(producer),
        at=at.isoformat(timespec="seconds"),
        namespaces=_NAMESPACES if archival else "",
        claims=_CLAIMS if archival else "",
    )
    return packet.encode("utf-8", "replace")


def plain_line(words: str) -> str:
    """The words without signs that a title or XML (XML 1.0, 2.2) cannot hold."""
    return "".join(sign if sign.isprintable() else " " for sign in words)


@cache
def colour_profile() -> bytes:
    """The profile of sRGB (IEC 61966-2-1) that every page's greys and pictures mean."""
    return (shipped("resources") / "colour" / "srgb.icc").read_bytes()


LACKING = "not all signs are in the typeface: "
"""Begins the keywords of a file that shows boxes instead of signs."""


class Artifact(StrEnum):
    """Marks that say nothing to a listener: ornament, and what is only repeated at the head or foot of a page."""

    ORNAMENT = "/Artifact BMC"
    HEAD = "/Artifact <</Type /Pagination /Subtype /Header>> BDC"
    FOOT = "/Artifact <</Type /Pagination /Subtype /Footer>> BDC"


class Tag:
    """One element of the structure; it takes its place below its parent as it is made.

    alt: what is said instead of a figure. language: where it is another than the one around it. table: attributes of a
    cell, such as the scope of a heading. box: where a figure stands: left, bottom, right, top, in points.
    """

    __slots__ = ("alt", "box", "kids", "kind", "language", "parent", "table")

    def __init__(
        self, kind: str, parent: "Tag | None" = None, *, alt: str = "", language: str = "", table: str = ""
    ) -> None:
        self.kind, self.parent, self.alt, self.language, self.table = kind, parent, alt, language, table
        self.box: tuple[float, float, float, float] | None = None
        self.kids: tuple[Tag, ...] | list[Tag] = ()
        if parent is not None:
            parent.add(self)

    def add(self, kid: "Tag") -> None:
        """Put one more element below this one; most have none, and hold no list."""
        if isinstance(self.kids, list):
            self.kids.append(kid)
        else:
            self.kids = [kid]


def item_of(group: Tag) -> Tag:
    """The body of a further item of a list."""
    return Tag("LBody", Tag("LI", group))


class TaggedCanvas(Canvas):  # type: ignore[misc]  # the library tells no types
    """A canvas that notes what is drawn as which element, and writes the structure when it is saved.

    at: the moment that the file tells as its own. archival: whether it says that it is PDF/A-2a and PDF/UA-1.
    """

    def __init__(
        self,
        stream: BinaryIO,
        size: tuple[float, float],
        face: str,
        *,
        title: str,
        author: str,
        language: str,
        at: datetime | None = None,
        archival: bool = True,
    ) -> None:
        super().__init__(
            stream,
            pagesize=size,
            invariant=1,
            pageCompression=1,
            lang=language,
            initialFontName=face,
            pdfVersion=_VERSION,
        )
        self._at, self._language, self._archival = at or UNDATED, language, archival
        self._doc.encrypt = _StreamsEnded()
        self.setDateFormatter(self._made_at)
        self.setTitle(plain_line(title))
        self.setSubject(plain_line(title))
        self.setAuthor(plain_line(author))
        self.setCreator("fleetbench")
        self.setViewerPreference("DisplayDocTitle", "true")
        self.lacking: list[str] = []
        """Lines with a sign that the typeface lacks, a box in its place; the file tells them, so that they can be told
        before it is printed."""
        self._other_faces = FacesOfFile()
        self._root = self._place = Tag("Document")
        self._open: Tag | Artifact | None = None
        self._marked: list[list[Tag]] = [[]]
        self._done = _Elements()

    def part(self, language: str) -> None:
        """Begin a part of the document in a language of its own; what is drawn from now on belongs to it.

        Where it begins on a page of its own, nothing of what came before is drawn on again.
        """
        if not self._marked[-1]:
            self._pack()
        self._place = Tag("Part", self._root, language=language)

    def begin(self, mark: Tag | Artifact) -> None:
        """What is drawn from now on is this; it ends what was drawn before."""
        if mark is self._open:
            return
        self._end()
        self._open = mark
        if isinstance(mark, Artifact):
            self._code.append(mark.value)
            return
        self._attach(mark)
        here = self._marked[-1]
        self._code.append(f"/{mark.kind}<</MCID {len(here)}>>BDC")
        here.append(mark)

    def in_face(self, piece: Piece, x: float, y: float, size: float) -> None:
        """Draw a run of another face than the page's own with the beginning of its baseline at x, y."""
        self._code.append(self._other_faces.words(piece, x, y, size))

    def _end(self) -> None:
        if self._open is not None:
            self._code.append("EMC")
        self._open = None

    def _attach(self, tag: Tag) -> None:
        """Put the uppermost element above this one where the document has come to."""
        while tag.parent is not None:
            tag = tag.parent
        if tag is not self._root:
            tag.parent = self._place
            self._place.add(tag)

    def showPage(self) -> None:  # noqa: N802  # the library's name
        """End the page, which then knows its marks by number."""
        self._end()
        super().showPage()
        page = self._doc.Pages[-1]
        page.__NoDefault__ = _PAGE_KEYS
        page.StructParents, page.Tabs = len(self._doc.Pages.pages) - 1, pdfdoc.PDFName("S")
        filters = pdfdoc.PDFArray([pdfdoc.PDFName("FlateDecode")])
        page.Contents = _stream(zlib.compress(page.stream.encode()), Filter=filters)
        page.stream = None
        self._marked.append([])

    def save(self) -> None:
        """Write structure, metadata and the profile of the colours, then the file."""
        if self.lacking:
            self.setKeywords(LACKING + "; ".join(dict.fromkeys(self.lacking)))
        document = self._doc
        catalog, info = document.Catalog, document.info
        catalog.__NoDefault__ = [*catalog.__NoDefault__, "OutputIntents"]
        packet = metadata(info.title, info.author, self._language, info.producer, self._at, archival=self._archival)
        catalog.Metadata = _stream(packet, Type=pdfdoc.PDFName("Metadata"), Subtype=pdfdoc.PDFName("XML"))
        profile = document.Reference(_stream(colour_profile(), N=3)).format(document)
        catalog.OutputIntents = _Written(
            b"[<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB IEC61966-2.1)"
            b" /Info (sRGB IEC61966-2.1) /DestOutputProfile " + profile + b">>]"
        )
        catalog.MarkInfo = _Written(b"<</Marked true>>")
        self._other_faces.write(document)
        self._write_structure()
        document.format = self._write_objects  # where the library puts the whole file together in memory
        super().save()

    def _made_at(self, *_now: int) -> str:
        """The moment as ISO 32000-1, 7.9.4 writes it, with its distance from UTC."""
        zone = f"{self._at:%z}"
        return f"D:{self._at:%Y%m%d%H%M%S}" + (f"{zone[:3]}'{zone[3:5]}'" if zone else "")

    # ---- the structure in the file ----------------------------------------------------------------------------------

    def _pack(self) -> None:
        """Keep what was drawn so far as the file will hold it, of which only the numbers of elements are still open."""
        pages = self._doc.Pages.pages
        first = len(pages) - len(self._marked) + 1
        marks: dict[Tag, list[tuple[bytes, int]]] = defaultdict(list)
        for page, tags in zip(pages[first:], self._marked, strict=False):
            here = self._doc.Reference(page).format(self._doc)
            for mark, tag in enumerate(tags):
                marks[tag].append((here, mark))
        self._done.add(self._root, marks, self._marked[:-1])
        self._root.kids, self._marked = (), self._marked[-1:]

    def _write_structure(self) -> None:
        """Take the numbers of the elements, and write what stands around them."""
        self._pack()
        document, done = self._doc, self._done
        done.first = document.objectcounter + 1
        document.objectcounter += done.count
        root = document.Catalog.StructTreeRoot = _Written()
        done.top = document.Reference(root).format(document)
        lists = (b"%d [%b]" % (page, done.numbers(tags)) for page, tags in enumerate(done.marked))
        tree = document.Reference(_Written(b"<</Nums [" + b"\n".join(lists) + b"]>>")).format(document)
        root.data = b"<</Type /StructTreeRoot /K [%b] /ParentTree %b /ParentTreeNextKey %d>>" % (
            done.numbers([0]),
            tree,
            len(done.marked),
        )

    def _write_objects(self) -> bytes:
        """Write the file object by object as the library's own `format` orders them; returns the rest, which is none.

        ISO 32000-1, 7.5: header, objects, the table of where each stands, and the trailer.
        """
        document, stream, places = self._doc, self._filename, array("Q")
        root, info = document.Reference(document.Catalog), document.Reference(document.info)
        written = pdfdoc.PDFFile(_VERSION).format(document)
        stream.write(written)
        place = len(written)
        for number, each in enumerate(self._objects(), start=1):
            places.append(place)
            written = b"%d 0 obj\n%b%bendobj\n" % (number, each, b"" if each.endswith(b"\n") else b"\n")
            stream.write(written)
            place += len(written)
        stream.write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(places) + 1))
        for at in places:
            stream.write(b"%010d 00000 n \n" % at)
        trailer = pdfdoc.PDFTrailer(place, Size=len(places) + 1, Root=root, Info=info, ID=document.ID())
        stream.write(trailer.format(document))
        return b""

    def _objects(self) -> Iterator[bytes]:
        """All objects by number, of which some are only found while others are written; each is let go once written."""
        document, number = self._doc, 1
        while number <= document.objectcounter:
            if number == self._done.first:
                yield from self._done.written()
                number += self._done.count
                continue
            name = document.numberToId[number]
            each = document.idToObject[name]
            yield pdfdoc.format(each, document, toplevel=1)
            document.idToObject[name] = None
            if isinstance(each, pdfdoc.PDFPage):
                each.Contents = each.Resources = each.MediaBox = None
            number += 1


class _Elements:
    """The elements of a document in reading order, numbered from its root on; first: the number of that in the file.

    top: what the root hangs on. marked: for each page the elements of its marks.
    """

    def __init__(self) -> None:
        self.first, self.count, self.top = 0, 1, b""
        self.marked: list[array[int]] = []
        self._below_root: list[int] = []
        self._packed: list[tuple[bytes, array[int]]] = []

    def add(self, root: Tag, marks: Mapping[Tag, Sequence[tuple[bytes, int]]], marked: Sequence[Sequence[Tag]]) -> None:
        """Add all that hangs on the root. marks: for each element its pages and numbers there."""
        kept = [tag for part in root.kids for tag in _with_content(part, marks)]
        number = {tag: self.count + place for place, tag in enumerate(kept)} | {root: 0}
        lines, numbers = [], array("I")
        for tag in kept:
            kids = [number[kid] for kid in tag.kids if kid in number]
            lines.append(_element(tag, marks.get(tag, ()), len(kids)))
            numbers.append(number[tag.parent or root])
            numbers.extend(kids)
        self._below_root += [number[tag] for tag in root.kids if tag in number]
        self._packed.append((zlib.compress(b"\n".join(lines), 1), numbers))
        self.marked += [array("I", [number[tag] for tag in tags]) for tags in marked]
        self.count += len(kept)

    def numbers(self, elements: Sequence[int]) -> bytes:
        """References to elements as the file holds them."""
        return b" ".join([b"%d 0 R" % (self.first + each) for each in elements])

    def written(self) -> Iterator[bytes]:
        """The elements as the file holds them, once their numbers are known."""
        yield b"<</S/Document/P %b/K[ %b]>>" % (self.top, self.numbers(self._below_root))
        for lines, numbers in self._packed:
            if numbers:
                yield from (zlib.decompress(lines) % tuple([self.first + each for each in numbers])).split(b"\n")


_CELLS = ("TH", "TD")


def _with_content(part: Tag, marks: Mapping[Tag, object]) -> list[Tag]:
    """The elements that hold something, from the top down in reading order; a row keeps its empty cells."""
    kept: list[Tag] = []

    def walk(tag: Tag) -> bool:
        place, filled = len(kept), tag in marks or tag.kind in _CELLS
        kept.append(tag)
        for kid in tag.kids:
            filled = walk(kid) or filled
        if not filled:
            del kept[place:]
        return filled

    walk(part)
    return kept


def _element(tag: Tag, marks: Sequence[tuple[bytes, int]], kids: int) -> bytes:
    """One element as the file holds it: short, since a list of some pages has thousands.

    %d stands for the number of its parent, and of each of so many kids.
    """
    words = b"<</S/%b/P %%d 0 R" % tag.kind.encode()
    if len(marks) == 1 and not kids:
        words += b"/Pg %b/K %d" % marks[0]
    elif marks or kids:
        told = b" ".join([b"<</Type/MCR/Pg %b/MCID %d>>" % mark for mark in marks])
        words += b"/K[%b %b]" % (told, b" ".join([b"%d 0 R"] * kids))
    if tag.alt:
        words += b"/Alt" + _string(tag.alt)
    if tag.language:
        words += b"/Lang" + _string(tag.language)
    if tag.table:
        words += b"/A<</O/Table%b>>" % tag.table.encode()
    if tag.box is not None:
        words += b"/A<</O/Layout/Placement/Block/BBox[%.1f %.1f %.1f %.1f]>>" % tag.box
    return words + b">>"


def _string(words: str) -> bytes:
    """A text string as ISO 32000-1, 7.9.2.2 writes it in UTF-16."""
    return b"<FEFF%b>" % words.encode("utf-16-be", "replace").hex().upper().encode()


class _Written(pdfdoc.PDFObject):  # type: ignore[misc]  # the library tells no types
    """An object of the file of which the bytes are made here; most pages have some hundreds."""

    __RefOnly__ = 1

    def __init__(self, data: bytes = b"") -> None:
        self.data = data

    def format(self, _document: object) -> bytes:
        """The bytes of the object."""
        return self.data


class _Stream(bytes, pdfdoc.PDFObject):  # type: ignore[misc]  # the library tells no types
    """The bytes of a stream with the end of line before its last word (ISO 19005-2, 6.1.7.1), which is not counted."""

    def format(self, _document: object) -> bytes:
        """The bytes as the file holds them."""
        return bytes(self) + b"\n"


class _StreamsEnded(pdfdoc.NoEncryption):  # type: ignore[misc]  # the library tells no types
    """Encrypts nothing: the one place through which every stream of a file goes on its way out."""

    def encode(self, content: str | bytes) -> bytes:
        """The content of a stream, ended as an archive asks for."""
        return _Stream(content.encode("latin-1") if isinstance(content, str) else content)


def _stream(content: bytes, **keys: object) -> pdfdoc.PDFStream:
    return pdfdoc.PDFStream(pdfdoc.PDFDictionary(keys), content)
