"""Pictures and PDFs as they are, and as nobody would wish them: one sentence each, bounded in memory and time."""

from __future__ import annotations

import io
import struct
import subprocess
import sys
import time
import zlib
from collections.abc import Sequence

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from tests.pictures.drawn import encoded
from workbook.errors import InputError
from workbook.pictures import opening
from workbook.pictures.opening import LONGEST_PX, MOST_BYTES, open_picture


def pdf(pages: int = 1, content: bytes = b"", extra: bytes = b"") -> bytes:
    """A PDF of empty A4 pages, each drawn by the same content, written by hand."""
    kids = b" ".join(b"%d 0 R" % (10 + n) for n in range(pages))
    objects = {
        1: b"<< /Type /Catalog /Pages 2 0 R %s >>" % extra,
        2: b"<< /Type /Pages /Kids [%s] /Count %d >>" % (kids, pages),
        3: b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content),
    }
    for n in range(pages):
        objects[10 + n] = (
            b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 3 0 R /Resources << /Font << "
            b"/F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> >> >>"
        )
    out, places = b"%PDF-1.4\n", {}
    for number, body in objects.items():
        places[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n"
    for number, place in places.items():
        out += b"%d 1\n%010d 00000 n \n" % (number, place)
    return out + b"trailer << /Root 1 0 R /Size 999 >>\nstartxref\n%d\n%%%%EOF" % start


def printed(rows: Sequence[Sequence[str]], mode: int = 0) -> bytes:
    """What draws rows of text on a page, 90 points apart and 20 points below each other."""
    lines = [
        f"BT /F 10 Tf {mode} Tr {50 + 90 * column} {780 - 20 * row} Td ({text}) Tj ET"
        for row, texts in enumerate(rows)
        for column, text in enumerate(texts)
    ]
    return "\n".join(lines).encode()


def png_that_says(width: int, height: int, body: bytes = b"") -> bytes:
    """A PNG whose head states a size, with that little behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(body))
        + chunk(b"IEND", b"")
    )


PLAIN = Image.new("RGB", (300, 200), (10, 200, 30))


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "BMP", "GIF"])
def test_each_kind_of_picture_is_opened_with_its_colours(kind: str) -> None:
    out = io.BytesIO()
    PLAIN.save(out, kind)
    seen = open_picture(out.getvalue(), "plain").pixels
    assert seen.shape == (200, 300, 3)
    assert np.abs(seen.astype(int) - (10, 200, 30)).max() <= 8  # what JPEG and WebP may be off


def test_what_is_clear_is_white_and_what_lies_on_its_side_is_set_upright() -> None:
    clear = encoded(Image.new("RGBA", (80, 80), (0, 0, 0, 0)))
    assert open_picture(clear, "clear").pixels.min() == 255
    out, sideways = io.BytesIO(), Image.Exif()
    sideways[0x0112] = 6  # EXIF 2.32, tag Orientation: to be turned a quarter clockwise
    PLAIN.save(out, "JPEG", exif=sideways)
    assert open_picture(out.getvalue(), "sideways").pixels.shape == (300, 200, 3)


def test_a_large_picture_is_made_as_small_as_reading_needs() -> None:
    large = encoded(Image.new("L", (6000, 3000), 200), jpeg=80)
    assert open_picture(large, "large").pixels.shape == (LONGEST_PX // 2, LONGEST_PX, 3)


def test_one_page_of_a_pdf_is_drawn() -> None:
    red_lower_half = b"1 0 0 rg 0 0 595 421 re f"
    opened = open_picture(pdf(3, red_lower_half), "three.pdf", page=2)
    assert (opened.page, opened.pages) == (2, 3)
    assert opened.pixels.shape[0] == LONGEST_PX
    assert opened.pixels[100, 100].tolist() == [255, 255, 255]
    assert opened.pixels[-100, 100].tolist() == [255, 0, 0]
    assert open_picture(opened.png, "again").pixels.shape == opened.pixels.shape


def test_what_a_page_holds_as_text_comes_with_its_place() -> None:
    opened = open_picture(pdf(1, printed([["Motor 311", "12.5"]])), "text.pdf")
    assert [text for text, _ in opened.text] == ["Motor 311", "12.5"]
    scale = (
        LONGEST_PX / 842
    )  # pixels a point; the lines begin 50 and 140 points from the left, 780 from below
    for (_, corners), left in zip(opened.text, (50, 140), strict=True):
        assert corners[0, 0] == pytest.approx(left * scale, abs=6)
        assert corners[0, 1] < (842 - 780) * scale < corners[2, 1]


def test_text_that_is_not_seen_and_text_without_end_are_not_taken() -> None:
    unseen = 3  # text rendering mode of ISO 32000-1, table 106: neither fill nor stroke
    assert open_picture(pdf(1, printed([["12.5"]], unseen)), "scan.pdf").text == ()
    assert open_picture(pdf(1, printed([["9" * 30_000]])), "long.pdf").text == ()


SCRIPT = b"/OpenAction << /S /JavaScript /JS (app.alert\\('x'\\)) >>"
HOSTILE = {
    "a bomb of pixels": (png_that_says(60_000, 60_000), "more than the 60 million pixels"),
    "more than the head says": (png_that_says(9_000, 9_000), "9000 x 9000 pixels"),
    "a picture cut short": (encoded(PLAIN.resize((900, 900)), 90)[:900], "damaged or cut short"),
    "nothing behind the head": (png_that_says(500, 500), "damaged or cut short"),
    "a dot": (encoded(Image.new("L", (3, 3))), "nothing to be read"),
    "a script as picture": (b"<svg><script>alert(1)</script></svg>", "neither a picture"),
    "nothing": (b"", "neither a picture"),
    "noise": (np.random.default_rng(1).bytes(5000), "neither a picture"),
    "too many bytes": (b"\x89PNG" + bytes(MOST_BYTES), "MB is expected here, so it was not read"),
    "a PDF with a script": (pdf(1, extra=SCRIPT), "carries a script"),
    "a PDF of 200 pages": (pdf(200), "it has 200 pages; at most 100 are taken"),
    "a PDF cut short": (b"%PDF-1.4\n" + bytes(100), "cut short or no PDF"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_a_hostile_file_is_refused_in_one_sentence_and_at_once(case: str) -> None:
    content, sentence = HOSTILE[case]
    began = time.monotonic()
    with pytest.raises(InputError) as refused:
        open_picture(content, "file")
    assert sentence in str(refused.value)
    assert len(refused.value.problems) == 1
    assert time.monotonic() - began < 10.0  # a page alone may take 20 s, and none of these has one


def test_a_page_that_is_not_there_is_reported() -> None:
    with pytest.raises(InputError, match="it has 3 pages; there is no page 4"):
        open_picture(pdf(3), "three.pdf", page=4)


def test_a_page_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "MOST_SECONDS", 0.01)
    with pytest.raises(InputError, match="takes longer than"):
        open_picture(pdf(), "slow.pdf")


def test_a_page_as_large_as_a_field_takes_no_more_room_than_another() -> None:
    field = pdf().replace(b"[0 0 595 842]", b"[0 0 9e6 9e6]")
    assert max(open_picture(field, "field.pdf").pixels.shape) <= LONGEST_PX


def test_a_picture_that_unpacks_to_much_is_refused_before_it_is_unpacked() -> None:
    code = (
        "import resource, sys\nfrom workbook.errors import InputError\n"
        "from workbook.pictures.opening import open_picture\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "try: open_picture(sys.stdin.buffer.read(), 'bomb')\nexcept InputError: pass\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)"
    )
    pytest.importorskip("resource")
    bomb = png_that_says(10_000, 10_000, bytes(10_000 * 30_001))
    run = subprocess.run([sys.executable, "-c", code], input=bomb, capture_output=True, check=True)
    assert int(run.stdout) < 100_000  # kB; unpacked it has 300 000


def test_the_pages_that_the_tests_write_are_pages() -> None:
    assert len(pypdfium2.PdfDocument(pdf(3))) == 3
