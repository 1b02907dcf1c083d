"""Text in a picture, recognised on this machine with models that come in a package; nothing is sent anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np

from workbook.errors import InputError
from workbook.numbers import FloatArray
from workbook.pictures.opening import OpenedPicture

READER = "rapidocr_onnxruntime"
HOW_TO_ADD = (
    "Text in pictures is not read by this copy of the workbook: type the figures in beside the picture, or add "
    "the reader with pip install 'workbook[picture]' (Python 3.11 or 3.12; there is none for a later one yet)."
)
HIGHEST_CONFIDENCE = 0.999
"""The model's word is never a person's."""
_WIDTH_48_PX = 96
"""Least width to which a line 48 pixels high is filled up for the model: a cell's few digits need no more."""


@dataclass(frozen=True, eq=False)
class Word:
    """A run of text in a picture.

    Attributes:
        text: as read.
        confidence: 0 to 1, as the model gives it.
        corners: shape (4, 2), x and y in pixels, clockwise from the upper left of the text.
    """

    text: str
    confidence: float
    corners: FloatArray

    @property
    def centre(self) -> FloatArray:
        """Middle of the text."""
        return np.asarray(self.corners.mean(axis=0))

    @property
    def height(self) -> float:
        """Of the text, in pixels."""
        sides = np.linalg.norm(self.corners[[3, 2]] - self.corners[[0, 1]], axis=1)
        return float(sides.mean())


@cache
def _reader() -> Any:
    """The reader, its models loaded once; None where it is not installed, or a library of the system is not."""
    try:
        package = import_module(READER)
    except ImportError:
        return None
    return package.RapidOCR(
        rec_img_shape=[3, 48, _WIDTH_48_PX], intra_op_num_threads=1, use_cls=False, text_score=0.0
    )


def can_read() -> bool:
    """Whether there is a reader of text.

    Example:
        >>> can_read() in (True, False)
        True
    """
    return _reader() is not None


def written_words(picture: OpenedPicture) -> tuple[Word, ...]:
    """What the page of a PDF holds as text: no reader is needed, and no letter is guessed."""
    return tuple(Word(text, HIGHEST_CONFIDENCE, corners) for text, corners in picture.text)


def read_words(picture: OpenedPicture) -> tuple[Word, ...]:
    """Every run of text in a picture.

    Raises:
        InputError: the reader is not installed; the sentence has how to add it.
    """
    reader = _reader()
    if reader is None:
        raise InputError(HOW_TO_ADD)
    found, _ = reader(np.ascontiguousarray(picture.pixels[:, :, ::-1]))  # blue first
    return tuple(
        Word(text.strip(), min(float(score), HIGHEST_CONFIDENCE), np.array(corners, dtype=float))
        for corners, text, score in found or ()
        if text.strip()
    )
