"""A printed PDF read back by PDFium's reader: text, sizes, places and greys of its pages."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2

MARK_GREY = 204
"""A fifth of black on white, in which UNSAFE is printed across a page."""
MM_PER_POINT = 25.4 / 72.0


@dataclass(frozen=True)
class PdfPage:
    """One page.

    Attributes:
        text: its words.
        width_mm, height_mm: of the paper.
        text_boxes_mm: left, bottom, right, top of each run of text.
        mark_pct: share of the page in the grey of the UNSAFE mark.
    """

    text: str
    width_mm: float
    height_mm: float
    text_boxes_mm: tuple[tuple[float, float, float, float], ...]
    mark_pct: float


def read_pdf(path: Path) -> list[PdfPage]:
    """Every page of a PDF."""
    with pypdfium2.PdfDocument(path) as document:
        return [_page(page) for page in document]


def _page(page: pypdfium2.PdfPage) -> PdfPage:
    words = page.get_textpage()
    pixels = page.render(
        scale=40 / 72, grayscale=True, no_smoothtext=True, no_smoothpath=True
    ).to_numpy()
    boxes = [words.get_rect(number) for number in range(words.count_rects())]
    width, height = page.get_size()
    return PdfPage(
        words.get_text_bounded(),
        width * MM_PER_POINT,
        height * MM_PER_POINT,
        tuple(tuple(MM_PER_POINT * edge for edge in box) for box in boxes),
        100.0 * float(np.mean(pixels == MARK_GREY)),
    )
