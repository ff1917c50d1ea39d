"""Names in any script on paper: every sign there, joined as HarfBuzz joins it, in order, and read back as typed.

The names are invented, of given and family names common in each language; common practice, no published source.
"""

import re
import unicodedata
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetbench.paper.canisters.labels import write_fill_labels
from fleetbench.paper.core import scripts
from fleetbench.paper.core.document import new_canvas
from fleetbench.paper.core.pen import _GLYPHS, BOLD, REGULAR, Pen, clusters, cut, settable, width
from fleetbench.paper.core.scripts import _END, _ISOLATE, ScriptFace, face_of, in_order, pieces
from fleetbench.paper.hires.pages import write_handover
from tests.independent import shaping
from tests.paper import sample_pages
from tests.paper.pdf_reader import made, texts
from tests.paper.structure import read

ARABIC, HEBREW, THAI, HINDI = "محمد الشامي", "נועה לוי", "ณัฐธิดา น้ำทิพย์", "क्षितिज श्रीवास्तव"
JAPANESE, CHINESE, KOREAN, GEORGIAN = "田中 さくら", "陈晓明", "김서연", "ნინო ბერიძე"
NAMES = (
    ARABIC, "سلامة الأحمدي", "عبد الله منصور", "علی‌رضا رضایی", "گلناز پورنیا", HEBREW, "יצחק בן־דוד", "שָׂרָה כֹּהֵן",
    JAPANESE, "渡辺 健太", CHINESE, "陳大文", KOREAN, "박지훈", THAI, "สมชาย ใจดี", GEORGIAN, "გიორგი მაისურაძე",
    HINDI, "प्रियंका ठाकुर", "Արամ Սարգսյան", "தமிழ்ச்செல்வி", "সুমন দাস", "కృష్ణ రావు", "ಕವಿತಾ ರೆಡ್ಡಿ", "കുമാരി നായർ",
    "කුමාරි පෙරේරා", "សុខ ដារា", "ဇော်မင်း", "ሰላም ተስፋዬ",
)  # fmt: skip
LEFTWARDS = NAMES[:8]


def drawn(*lines: str) -> bytes:
    stream = BytesIO()
    canvas = new_canvas(stream, (420, 40 + 30 * len(lines)), "names", "centre")
    pen = Pen(canvas, 40 + 30 * len(lines))
    for place, line in enumerate(lines):
        pen.text(20, 30 + 30 * place, line, 14)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def place_of(face: ScriptFace) -> tuple[Path, int]:
    """The file of a face and which one of a collection it is, for the reference to open."""
    for path in filter(None, map(scripts._path, dict.fromkeys(scripts.SCRIPTS.values()))):
        for index in range(4) if path.suffix == ".ttc" else (0,):
            if scripts._face(path.name, index, False) is face:
                return path, index
    raise LookupError(face.name)


@pytest.mark.parametrize("name", NAMES)
def test_every_sign_of_a_name_is_drawn_as_harfbuzz_draws_the_whole_word(name: str) -> None:
    assert settable(name) == unicodedata.normalize("NFC", name)
    leftwards = name in LEFTWARDS
    shown = pieces(settable(name), _GLYPHS, bold=False)
    assert {piece.leftwards for piece in shown if piece.face is not None} == {leftwards}
    assert sum(len(piece.text) for piece in shown) == len(settable(name))
    for piece in shown:
        if piece.face is None:
            assert piece.text in (" ", "־")
            continue
        path, index = place_of(piece.face)
        expected = shaping.glyphs(path, index, piece.text, leftwards=leftwards)
        at, found = 0, []
        for each in piece.clusters:
            found += [(number, at + right) for number, right, _up in each.glyphs]
            at += each.advance
        assert found == expected
        assert 0 not in [number for number, _ in found]


@pytest.mark.parametrize("name", [ARABIC, HINDI, THAI, JAPANESE])
def test_what_a_file_holds_of_a_face_covers_what_the_face_itself_draws(name: str) -> None:
    """Outlines by fontTools' own reading of the variable face, beside the program in the file."""
    (piece,) = [each for each in pieces(name, _GLYPHS, bold=False) if each.face is not None][:1]
    path, index = place_of(piece.face)
    with pikepdf.open(BytesIO(drawn(name))) as document:
        (font,) = (each for each in document.objects if isinstance(each, pikepdf.Dictionary) and "/CIDToGIDMap" in each)
        kept = BytesIO(font.FontDescriptor.FontFile2.read_bytes())
    for code, each in enumerate(dict.fromkeys(piece.clusters), start=1):
        assert shaping.box(kept, 0, ((code, 0, 0),)) == pytest.approx(shaping.box(path, index, each.glyphs), abs=2)


def test_arabic_letters_join_and_others_take_their_places() -> None:
    """The Unicode Standard, chapters 9 (joining), 12 (Devanagari) and 16 (Thai)."""
    (word, *_) = pieces("محمد", _GLYPHS, bold=False)
    path, index = place_of(word.face)
    joined = [each.glyphs[0][0] for each in reversed(word.clusters)]
    alone = [shaping.nominal(path, index, sign) for sign in "محمد"]
    assert all(one != other for one, other in zip(joined, alone, strict=True))
    (syllable,) = pieces("कि", _GLYPHS, bold=False)
    (cluster,) = syllable.clusters
    path, index = place_of(syllable.face)
    assert [number for number, _, _ in cluster.glyphs][1] == shaping.nominal(path, index, "क"), "the vowel stands first"
    (conjunct,) = pieces("क्ष", _GLYPHS, bold=False)
    assert [len(each.glyphs) for each in conjunct.clusters] == [1]
    (vowel,) = pieces("ดี", _GLYPHS, bold=False)
    path, index = place_of(vowel.face)
    (letter, mark) = [each for one in vowel.clusters for each in one.glyphs]
    assert shaping.box(path, index, (mark,))[1] >= shaping.box(path, index, (letter,))[3] - 60, "above the letter"
    assert width("ดี", REGULAR, 10) == pytest.approx(width("ด", REGULAR, 10))
    assert width(ARABIC, BOLD, 10) > width(ARABIC, REGULAR, 10)


def test_a_name_is_one_whether_typed_composed_or_not() -> None:
    """Unicode Standard Annex 15: canonical equivalents."""
    for name in ("Nguyễn Thị Ánh Đào", "Łęcka", "가", "が", "Zoë"):
        apart = unicodedata.normalize("NFD", name)
        assert settable(apart) == settable(name) == name
    assert drawn(unicodedata.normalize("NFD", "김서연 Nguyễn")) == drawn("김서연 Nguyễn")


@pytest.mark.parametrize(("typed", "seen"), [
    ("car means CAR.", "car means RAC."),  # UAX #9, 3.4, example 1 of reordering: Hebrew is written as capitals
    ("he said “IT DOES,” she agreed", "he said “SEOD TI,” she agreed"),  # from memory: the like of its example 3
    ("he said “THE VALUES ARE 123, 456, 789, OK”", "he said “KO ,789 ,456 ,123 ERA SEULAV EHT”"),  # 2.4, from memory
    ("diver CAR DIV, KB-104", "diver VID RAC, KB-104"),
    ("CAR DIV 3 units", "VID RAC 3 units"),  # HL3: the figure behind a name is the page's
    ("CAR (DIV) x", "(VID) RAC x"),  # L4: brackets are mirrored
    ("(CAR) x", "(RAC) x"),
])  # fmt: skip
def test_a_line_reads_in_the_order_of_the_bidirectional_algorithm(typed: str, seen: str) -> None:
    assert as_seen(hebrew(typed)) == hebrew(seen)


def hebrew(text: str) -> str:
    """Capitals as Hebrew letters, as the standard writes its examples; the code of a booking stays."""
    return "".join(
        part if part == "KB-104" else re.sub("[A-Z]", lambda found: chr(0x5D0 + ord(found[0]) - 65), part)
        for part in re.split("(KB-104)", text)
    )


def as_seen(line: str) -> str:
    """The line from the left, its brackets as they are drawn."""
    found = ""
    for group in re.split(f"({_ISOLATE}[^{_END}]*{_END})", in_order(line)):
        name = group.startswith(_ISOLATE)
        found += scripts._mirrored(group[1:-1]) if name else group
    return found


@given(st.text(st.sampled_from("אבגמשعلي 12-.,"), min_size=1, max_size=14))
def test_a_name_alone_stands_as_another_implementation_orders_it(text: str) -> None:
    """UAX #9 by code in Python that shares nothing with the one that is used, but the standard."""
    letters = [place for place, sign in enumerate(text) if unicodedata.bidirectional(sign) in ("R", "AL")]
    name = text[letters[0] : letters[-1] + 1] if letters else "א"
    found = in_order(f"x {name} y").replace(_ISOLATE, "").replace(_END, "")
    assert found == f"x {shaping.seen(name, leftwards=True)} y"


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_copied_from_a_page_as_it_was_typed(name: str) -> None:
    # The library puts a blank in place of a sign without width.
    assert settable(name).replace("\u200c", " ") in texts(drawn(name))[0]


def test_a_listener_hears_a_sentence_with_names_in_the_order_in_which_it_is_read() -> None:
    sentence = f"Diver {ARABIC}, KB-104, beside {HEBREW} (3 units) and {JAPANESE}."
    pdf = drawn(sentence, *NAMES)
    found = read(pdf)
    assert found.faults == []
    assert found.heard()[0][1].replace(" ", "") == sentence.replace(" ", "")
    heard = [text.replace(" ", "") for _, text in found.heard()[1:]]
    assert heard == [settable(each).replace(" ", "") for each in NAMES]
    assert pdf == drawn(sentence, *NAMES)


@pytest.mark.parametrize("name", [ARABIC, HEBREW, JAPANESE, THAI, HINDI, GEORGIAN])
def test_a_sheet_and_a_label_hold_the_name_and_stay_whole(name: str) -> None:
    for pdf in (
        made(write_handover, sample_pages.handover(diver=name)),
        made(write_fill_labels, [sample_pages.fill_label(diver=name)]),
    ):
        assert name in " ".join(texts(pdf))
        assert read(pdf).faults == []


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_is_cut_keeps_its_letters_whole_and_fits(name: str) -> None:
    line = settable(name)
    room = width(line, REGULAR, 10) * 0.7
    short = cut(line, REGULAR, 10, room)
    assert short.endswith("…") and width(short, REGULAR, 10) <= room
    kept = clusters(short[:-1])
    assert kept == clusters(line)[: len(kept)]
    if name in LEFTWARDS:
        assert in_order(short).index("…") < in_order(short).index(line[0]), "at the end, which is on the left"


def test_chinese_signs_are_drawn_as_the_name_s_country_draws_them() -> None:
    """By syllables, else by the national lists of characters: GB 2312, Big5, Shift JIS (Python's own codecs)."""
    weights = {name: next(each.face for each in pieces(name, _GLYPHS, bold=False) if each.face) for name in
               (JAPANESE, CHINESE, KOREAN, "陳大文", "渡辺")}  # fmt: skip
    assert [place_of(face)[1] for face in weights.values()] == [0, 2, 1, 3, 0]


def test_joiners_are_kept_where_letters_join_and_nowhere_else() -> None:
    assert settable("علی\u200cرضا") == "علی\u200cرضا"
    assert settable("An\u200cna\u202e") == "Anna"


def test_a_sign_of_a_script_whose_face_is_not_installed_is_lacking(monkeypatch: pytest.MonkeyPatch) -> None:
    face_of.cache_clear()
    monkeypatch.setattr(scripts, "_face", lambda *_which: None)
    assert face_of("漢") is None and face_of("م") is None
    face_of.cache_clear()


def test_a_latin_page_reads_no_other_face(monkeypatch: pytest.MonkeyPatch) -> None:
    def read_one(*_which: object) -> None:
        raise AssertionError("a face was read")

    monkeypatch.setattr(scripts, "_face", read_one)
    face_of.cache_clear()
    assert b"SCRIP" not in made(write_handover, sample_pages.handover(diver="Núria Łęcka Nguyễn Дмитро Αθηνά"))
