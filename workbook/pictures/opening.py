"""Opening a picture or a page of a PDF, whatever it holds: bounded in bytes, pixels, pages, memory and time."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from workbook.errors import InputError, Problem
from workbook.files.reading import refuse_size
from workbook.numbers import FloatArray

Pixels = NDArray[np.uint8]
"""Rows of columns of red, green and blue."""

ENDINGS = ".png,.jpg,.jpeg,.webp,.bmp,.gif,.pdf"
MOST_BYTES = 20_000_000
"""Largest file that is opened: a telephone's photograph has 3 to 12 MB."""
MOST_PIXELS = 60_000_000
"""Most pixels that are unpacked: a telephone's photograph has 12 to 50 million."""
LEAST_PX = 60
"""No table and no graph is smaller."""
LONGEST_PX = 2400
"""A longer side is made this long: finer than any text of a page needs."""
MOST_SECONDS = 20.0
"""For drawing one page of a PDF."""
_FORMATS = ("PNG", "JPEG", "WEBP", "BMP", "GIF")


@dataclass(frozen=True, eq=False)
class OpenedPicture:
    """A picture, made no larger than it needs to be.

    Attributes:
        name: of its file.
        pixels: shape (height, width, 3).
        page, pages: of a PDF; 1 of 1 for a picture.
        text: what the page of a PDF holds as text: each run, and its corners as `Word` has them.
    """

    name: str
    pixels: Pixels
    page: int = 1
    pages: int = 1
    text: tuple[tuple[str, FloatArray], ...] = ()

    @property
    def png(self) -> bytes:
        """The picture as a PNG file."""
        out = io.BytesIO()
        Image.fromarray(self.pixels).save(out, "PNG", compress_level=1)
        return out.getvalue()


def open_picture(content: bytes, name: str, page: int = 1) -> OpenedPicture:
    """Open a picture (PNG, JPEG, WebP, BMP, GIF) or one page of a PDF.

    Args:
        content: the file's bytes.
        name: what to call it in a message.
        page: of a PDF, counted from 1.

    Raises:
        InputError: it is no such file, cut short, too large, locked, carries a script, has too many
            pages, or takes too long; in a sentence.

    Example:
        >>> open_picture(b"<svg/>", "drawing.svg")
        Traceback (most recent call last):
        ...
        workbook.errors.InputError: drawing.svg: it is neither a picture (PNG, JPEG, WebP, BMP, GIF) nor a PDF.
    """
    refuse_size(len(content), name, MOST_BYTES)
    if content[:1024].lstrip().startswith(b"%PDF"):
        png, pages, text = _page_of(content, name, page)
        return OpenedPicture(name, _unpacked(png, name), page, pages, text)
    return OpenedPicture(name, _unpacked(content, name))


def _unpacked(content: bytes, name: str) -> Pixels:
    def refuse(message: str) -> InputError:
        return InputError(Problem(message, name))

    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(content), formats=_FORMATS) as image:
            warnings.simplefilter("ignore")
            wide, high = image.size
            if wide * high > MOST_PIXELS:
                raise refuse(
                    f"it has {wide} x {high} pixels; at most {MOST_PIXELS / 1e6:g} million are taken. "
                    "Cut out the table or the graph, or save it smaller."
                )
            if min(wide, high) < LEAST_PX:
                raise refuse(f"it has {wide} x {high} pixels; there is nothing to be read in it.")
            image.draft("RGB", (LONGEST_PX, LONGEST_PX))
            ImageOps.exif_transpose(image, in_place=True)
            upright = _on_white(image)
            upright.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS, reducing_gap=3.0)
            return np.asarray(upright)
    except InputError:
        raise
    except Image.DecompressionBombError:
        raise refuse(
            f"it has far more than the {MOST_PIXELS / 1e6:g} million pixels that are taken, and was not unpacked."
        ) from None
    except UnidentifiedImageError:
        message = "it is neither a picture (PNG, JPEG, WebP, BMP, GIF) nor a PDF."
        raise refuse(message) from None
    except (OSError, ValueError, SyntaxError, EOFError, ArithmeticError, KeyError, IndexError):
        raise refuse("the picture is damaged or cut short; save it once more.") from None


def _on_white(image: Image.Image) -> Image.Image:
    if "A" in image.getbands() or "transparency" in image.info:
        image = image.convert("RGBA")
        image = Image.alpha_composite(Image.new("RGBA", image.size, "white"), image)
    return image.convert("RGB")


def _page_of(
    content: bytes, name: str, page: int
) -> tuple[bytes, int, tuple[tuple[str, FloatArray], ...]]:
    """A page of a PDF as a PNG, how many pages there are, and what the page holds as text."""
    worker = Path(__file__).with_name("pdf_page.py")
    command = [sys.executable, "-P", str(worker), str(page), str(LONGEST_PX)]
    try:
        run = subprocess.run(
            command, input=content, capture_output=True, timeout=MOST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        message = (
            f"page {page} takes longer than {MOST_SECONDS:g} s to draw and was given up. Take a "
            "screenshot of it instead."
        )
        raise InputError(Problem(message, name)) from None
    first_line, _, rest = run.stdout.partition(b"\n")
    runs, _, png = rest.partition(b"\n")
    if first_line and not first_line.isdigit():
        raise InputError(Problem(first_line.decode(errors="replace"), name))
    if run.returncode or not png:
        message = (
            f"page {page} cannot be drawn: it is damaged, or needs more memory than a page may."
        )
        raise InputError(Problem(message, name))
    written = json.loads(runs)
    texts = tuple((text, np.array(corners, dtype=float)) for text, corners in written if text)
    return png, int(first_line), texts
