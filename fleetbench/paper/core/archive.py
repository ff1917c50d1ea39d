"""What a file for the archive says of itself: its metadata (XMP), and the colours that it means.

ISO 19005-2 (PDF/A-2), 6.2.3 and 6.6; ISO 14289-1 (PDF/UA-1), clause 5; ISO 16684-1 (XMP).
"""

from datetime import UTC, datetime
from functools import cache
from xml.sax.saxutils import escape

from fleetbench.shipped import shipped

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
