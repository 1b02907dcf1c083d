"""A panel carries the style sheet and its size; colours can be distinguished and read."""

from itertools import combinations

import ipywidgets as W
import numpy as np
import pytest

from workbook.widgets import style
from workbook.widgets.style import Panel

LEAST_DIFFERENCE = 25.0
"""Ours: ten times the 2.3 that is usually called just noticeable in CIE 1976 units."""

VISION = {
    "usual": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


def linear(colour: str) -> np.ndarray:
    srgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    xyz = TO_XYZ @ np.clip(rgb, 0, 1) / (TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    lights = sorted(float(TO_XYZ[1] @ linear(c)) for c in (one, other))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def test_measures_agree_with_what_their_sources_state():
    # WCAG 2.2: black on white is 21:1. CIE: white is L* 100, black L* 0. sRGB red: L*a*b*
    # 53.24, 80.09, 67.20 (D65), as colour handbooks print it.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert lab(linear("#ffffff")) == pytest.approx([100, 0, 0], abs=1e-6)
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.01)
    # Each row of a simulation keeps grey grey, so it sums to 1.
    for matrix in VISION.values():
        assert np.sum(matrix, axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.parametrize("vision", VISION)
def test_any_two_roles_stay_apart(vision):
    seen = {n: lab(np.asarray(VISION[vision]) @ linear(r.colour)) for n, r in style.ROLES.items()}
    gaps = {(a, b): float(np.linalg.norm(seen[a] - seen[b])) for a, b in combinations(seen, 2)}
    assert min(gaps.values()) >= LEAST_DIFFERENCE, min(gaps, key=gaps.get)


def test_a_red_and_a_green_of_one_lightness_would_fail():
    # The check can fail: a plain red and green, which differ for usual eyes, meet for deuteranopes.
    red, green = linear("#b05a3c"), linear("#6e7a3c")
    deuteranopia = np.asarray(VISION["deuteranopia"])
    assert np.linalg.norm(lab(red) - lab(green)) > LEAST_DIFFERENCE
    assert np.linalg.norm(lab(deuteranopia @ red) - lab(deuteranopia @ green)) < LEAST_DIFFERENCE


@pytest.mark.parametrize("name", style.ROLES)
def test_each_role_stands_out_from_paper(name):
    least = 3.0 if name == "faint" else 4.5  # faint names are never the only carrier of a fact
    assert contrast(style.ROLES[name].colour, style.PAPER) >= least


def in_the_dark(colour: str) -> str:
    """A colour as a figure shows it in the dark.

    Source: W3C Filter Effects 1, invert(a): c (1 - 2 a) + a; hue-rotate(180deg): its matrix with cos = -1, sin = 0.
    """
    srgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    turned = srgb * (1 - 2 * style.TURNED) + style.TURNED
    light = np.array([0.213, 0.715, 0.072])
    hue = np.outer(np.ones(3), light) * 2 - np.eye(3)
    return "#" + "".join(f"{round(255 * c):02x}" for c in np.clip(hue @ turned, 0, 1))


def test_white_paper_is_the_pages_ground_in_the_dark():
    assert in_the_dark("#ffffff") == "#191919"  # 0.1 x 255 = 25.5
    assert contrast(in_the_dark("#ffffff"), style.IN_THE_DARK["paper"]) < 1.05


@pytest.mark.parametrize("name", style.ROLES)
def test_each_role_stands_out_in_the_dark(name):
    least = 3.0 if name == "faint" else 4.5
    paper = style.IN_THE_DARK["paper"]
    assert contrast(in_the_dark(style.ROLES[name].colour), paper) >= least
    assert contrast(style.IN_THE_DARK[name], paper) >= least


@pytest.mark.parametrize("vision", VISION)
def test_any_two_roles_stay_apart_in_the_dark(vision):
    shown = {name: linear(in_the_dark(role.colour)) for name, role in style.ROLES.items()}
    seen = {name: lab(np.asarray(VISION[vision]) @ rgb) for name, rgb in shown.items()}
    gaps = {(a, b): float(np.linalg.norm(seen[a] - seen[b])) for a, b in combinations(seen, 2)}
    assert min(gaps.values()) >= LEAST_DIFFERENCE / 2, min(
        gaps, key=gaps.get
    )  # dashes and shapes say it too


def test_text_stands_out_from_the_tints_behind_it():
    dark = style.IN_THE_DARK
    assert set(dark) == set(style.COLOURS)
    assert all(contrast(dark["ink"], dark[of]) >= 4.5 for of in ("holds", "close", "soft", "paper"))
    assert contrast(dark["limit"], dark["broken"]) >= 4.5
    assert contrast(dark["quiet"], dark["paper"]) >= 4.5
    assert contrast(style.INK, "#fbeed6") >= 4.5
    assert contrast(style.INK, "#e4e7fb") >= 4.5
    assert contrast(style.LIMIT.colour, "#f3e3df") >= 4.5
    assert contrast("#545c69", style.PAPER) >= 4.5


def test_shape_doubles_colour():
    roles = style.ROLES.values()
    assert len(roles) <= 6
    assert len({(r.dash, r.width_px) for r in roles}) == len(roles)
    assert len({r.marker for r in roles}) == len(roles)


def test_unknown_role_names_the_known_ones():
    with pytest.raises(KeyError, match="pack, limit"):
        style.role("mauve")


def test_a_panel_that_is_shown_brings_the_style_sheet_once_and_keeps_it():
    text, other = W.HTML("text"), W.HTML("other")
    panel = Panel(Panel(text))
    assert [type(part) for part in panel.children] == [Panel], "in another panel it needs none"
    panel._repr_mimebundle_()
    held, sheet, keys = panel.children
    assert held.children == (text,)
    assert "<style>" in sheet.value
    assert sheet.layout.display == "none"
    panel._repr_mimebundle_()
    panel.children = [other, *panel.children]
    assert panel.children == (other, held, sheet, keys)
    panel.children = [other]
    assert panel.children == (other, sheet, keys)


def test_a_panel_goes_back_to_its_size():
    panel = Panel(W.HTML("text"), name="lesson", max_width="400px")
    assert panel.layout.max_width == "400px"
    panel.set_big(True)
    panel.set_big(False)
    assert panel._dom_classes == ("wb", "wb-lesson")
