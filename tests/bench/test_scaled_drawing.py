"""The drawing, read back from its own lines and circles: the net, the sizes, the print."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.bench.arranged import any_layout, example_pack
from workbook.bench.arrange import Grid
from workbook.bench.drawing_canvas import SMALLEST_TEXT_MM, STRIP_COLOURS
from workbook.bench.layout import Fittings, lay_out, layouts
from workbook.bench.scaled_drawing import (
    SCALES,
    draw_full_size,
    draw_to_fit,
)
from workbook.bench.strip_plan import plan_strips


def placed(element, x=0.0, y=0.0):
    """Every element with how far it is moved, groups inside groups."""
    moved = re.fullmatch(r"translate\(([-\d.]+) ([-\d.]+)\)", element.get("transform", ""))
    if moved:
        x, y = x + float(moved[1]), y + float(moved[2])
    yield element, x, y
    for child in element:
        yield from placed(child, x, y)


def read(text):
    """The drawn faces: cells by where their circle is, and strips by where their line ends."""
    root = ElementTree.fromstring(text)
    faces = []
    for panel, x, y in placed(root):
        if panel.get("class") != "face":
            continue
        cells, strips, wires = [], [], []
        for g in panel.findall("g"):
            if g.get("class") == "cell":
                circle = g.find("circle")
                middle = (float(circle.get("cx")) + x, float(circle.get("cy")) + y)
                cells.append((*middle, dict(g.attrib)))
            elif g.get("class") == "strip":
                line = g.find("line")
                x1, y1, x2, y2 = (float(line.get(c)) for c in ("x1", "y1", "x2", "y2"))
                strips.append(((x1 + x, y1 + y), (x2 + x, y2 + y), dict(g.attrib)))
            elif g.get("class") == "tap":
                wires.append(dict(g.attrib))
        faces.append((int(panel.get("data-layer")), panel.get("data-face"), cells, strips, wires))
    return root, faces


def cell_under(cells, point):
    """The cell whose circle has its middle at a point, or None."""
    for x, y, data in cells:
        if np.hypot(x - point[0], y - point[1]) < 0.05:
            return int(data["data-cell"]), data["data-pole"]
    return None


def drawn_net(faces):
    """Ends joined by the drawn lines; a fold is drawn on two faces and joins what they end on."""
    joins, folds, tabs = [], {}, []
    for _, _, cells, strips, _ in faces:
        for start, end, data in strips:
            a, b = cell_under(cells, start), cell_under(cells, end)
            assert a is not None
            kind = "fold" if data["data-folded"] == "true" else data["data-kind"]
            assert (b is None) == (kind in ("fold", "tab"))
            assert b is None or (a[1] == b[1]) == (kind == "parallel")
            if kind == "fold":
                folds.setdefault(data["data-link"], []).append(a)
            elif kind == "tab":
                tabs.append((a, "tab " + a[1]))
            else:
                joins.append((a, b))
    for both in folds.values():
        assert sorted(pole for _, pole in both) == ["minus", "plus"]
        joins.append(tuple(both))
    return joins + tabs


def gather(ends, joins):
    """Which ends are one net: the smallest label spreads over every join."""
    net = {end: n for n, end in enumerate(ends)}
    changed = True
    while changed:
        changed = False
        for a, b in joins:
            low = min(net[a], net[b])
            changed |= net[a] != low or net[b] != low
            net[a] = net[b] = low
    return net


@given(any_layout())
def test_the_drawing_is_s_groups_of_p_on_one_path(layout):
    root, faces = read(draw_full_size(layout).svg)
    series, parallel = int(root.get("data-series")), int(root.get("data-parallel"))
    assert (series, parallel) == (layout.series, layout.parallel)
    seen = [(int(d["data-cell"]), d["data-pole"]) for f in faces for _, _, d in f[2]]
    assert len(seen) == len(set(seen)) == 2 * series * parallel  # both ends of every cell, once
    net = gather([*seen, "tab minus", "tab plus"], drawn_net(faces))
    assert len(set(net.values())) == series + 1
    group_of = {int(d["data-cell"]): int(d["data-group"]) for f in faces for _, _, d in f[2]}
    here, order = net["tab minus"], []
    for _ in range(series):
        through = [c for c in group_of if net[(c, "minus")] == here]
        assert len(through) == parallel
        order.append({group_of[c] for c in through})
        (here,) = {net[(c, "plus")] for c in through}
    assert here == net["tab plus"]
    assert order == [{g} for g in range(1, series + 1)]
    # balance wires: B0 on the minus net, Bj on the plus net of group j
    drawn = {}
    for _, _, cells, _, wires in faces:
        poles = {int(d["data-cell"]): d["data-pole"] for _, _, d in cells}
        for w in wires:
            cell = int(w["data-cell"])
            drawn[int(w["data-tap"])] = net[(cell, poles[cell])]
    assert sorted(drawn) == list(range(series + 1))
    assert drawn[0] == net["tab minus"]
    for j in range(1, series + 1):
        member = next(c for c, g in group_of.items() if g == j)
        assert drawn[j] == net[(member, "plus")]


def check_faces(layout, drawn):
    """Cells stand as laid out, at the scale that is told, and nothing sticks out."""
    root, faces = read(drawn.svg)
    assert drawn.scale in SCALES
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(drawn.width_mm, abs=0.01)
    assert float(root.get("height").removesuffix("mm")) == pytest.approx(drawn.height_mm, abs=0.01)
    assert root.get("viewBox") == f"0 0 {root.get('width')[:-2]} {root.get('height')[:-2]}"
    for layer, face, cells, _, _ in faces:
        mine = {c.number: c for c in layout.cells if c.layer == layer}
        assert {int(d["data-cell"]) for _, _, d in cells} == set(mine)
        drawn_xy = np.array([(x, y) for x, y, _ in cells])
        true = np.array(
            [(mine[int(d["data-cell"])].x_mm, mine[int(d["data-cell"])].y_mm) for *_, d in cells]
        )
        # on paper y looks down: seen from above it is turned round, seen from below it is not
        true[:, 1] *= -1.0 if face == "top" else 1.0
        assert drawn_xy - drawn_xy[0] == pytest.approx((true - true[0]) / drawn.scale, abs=0.02)
    corners = []
    for element, x, y in placed(root):
        if element.tag in ("defs", "pattern") or element.get("transform", "x")[0] == "r":
            continue
        for name, across in (("x", 1), ("cx", 1), ("x1", 1), ("x2", 1), ("y", 0), ("cy", 0)):
            if element.get(name) is not None:
                corners.append((float(element.get(name)) + x, 0) if across else
                               (0, float(element.get(name)) + y))  # fmt: skip
        for point in element.get("points", "").split():
            px, py = map(float, point.split(","))
            corners.append((px + x, py + y))
    assert np.min(corners) >= -0.02
    assert np.all(np.max(corners, axis=0) <= (drawn.width_mm + 0.02, drawn.height_mm + 0.02))


@given(any_layout())
def test_faces_are_to_scale_and_the_bottom_is_turned_about_the_long_axis(layout):
    check_faces(layout, draw_full_size(layout))


@given(any_layout(), st.sampled_from((120.0, 190.0)), st.sampled_from((120.0, 260.0)))
def test_a_drawing_for_a_page_is_to_the_scale_that_it_tells(layout, width_mm, page_mm):
    drawn = draw_to_fit(layout, width_mm, page_mm)
    assume(drawn.scale < SCALES[-1])  # a row of a hundred cells fits no page
    assert max(piece.height_mm for piece in drawn.pieces) <= page_mm
    check_faces(layout, drawn)
    bar = [e for e, _, _ in placed(ElementTree.fromstring(drawn.svg)) if e.get("class") == "bar"]
    assert sum(float(e.get("width")) for e in bar) == pytest.approx(50 / drawn.scale, abs=0.03)
    assert f"at 100 % it measures {50 / drawn.scale:.4g} mm" in drawn.svg


def check_texts(drawn):
    """9 pt at least, and nothing hangs out of the drawing."""
    root = ElementTree.fromstring(drawn.svg)
    signs = {e for sign in root.iter() if sign.get("class") == "legend" for e in sign.iter()}
    for element, x, _ in placed(root):
        if element.tag != "text" or element in signs:
            continue
        size = float(element.get("font-size"))
        assert size >= SMALLEST_TEXT_MM - 0.01
        if element.get("transform"):
            continue
        long = 0.6 * size * len(element.text)
        left = x + float(element.get("x"))
        left -= {"start": 0, "middle": long / 2, "end": long}[element.get("text-anchor")]
        assert left >= -0.05
        assert left + long <= drawn.width_mm + 0.05


@given(any_layout(), st.sampled_from((277.0, 120.0)))
def test_text_is_large_enough_and_stays_on_the_sheet(layout, page_mm):
    drawn = draw_to_fit(layout, 190.0, page_mm)
    assume(layout.box_mm[0] / drawn.scale < 180.0)  # a row of a hundred cells fits no page
    check_texts(drawn)


def test_a_row_of_seventy_cells_stays_on_the_sheet():
    grid = Grid("square", False, 1, 14, 1, 1, 70)
    layout = lay_out(example_pack(14, 5), grid, None, Fittings(tabs="each"))
    drawn = draw_to_fit(layout, 190.0, 277.0)
    check_faces(layout, drawn)
    check_texts(drawn)


@pytest.mark.parametrize(
    ("series", "parallel", "layers"),
    [
        (14, 8, 3),
        (14, 5, 1),
        (2, 1, 1),
        pytest.param(14, 20, 2, marks=pytest.mark.long),
        pytest.param(24, 24, 1, marks=pytest.mark.long),
    ],
)
def test_the_pole_of_every_cell_is_written_on_it(series, parallel, layers):
    for layout in layouts(example_pack(series, parallel), max_layers=layers, most=2):
        for panel in ElementTree.fromstring(draw_to_fit(layout, 190.0, 277.0).svg).iter("g"):
            if panel.get("class") != "face":
                continue
            poles = {}
            for kind in ("cell", "label"):
                poles[kind] = [
                    g.get("data-pole") for g in panel.findall("g") if g.get("class") == kind
                ]
            assert poles["cell"] == poles["label"]


def test_every_link_is_drawn():
    for series, parallel in ((4, 2), (6, 4), (5, 1)):
        for layout in layouts(example_pack(series, parallel), most=20):
            _, faces = read(draw_full_size(layout).svg)
            drawn = sorted(int(d["data-link"]) for f in faces for *_, d in f[3])
            once = [k.number for k in layout.links]
            twice = [k.number for k in layout.links if k.folded]
            assert drawn == sorted(once + twice)


def ends_of(drawn):
    """The two ends of the line in a group."""
    line = drawn.find("line")
    return np.array([[float(line.get(f"{c}{end}")) for c in "xy"] for end in "12"])


@pytest.mark.parametrize(
    ("series", "parallel", "bay"),
    [(3, 2, None), (6, 4, None), (14, 20, (148.1, 248.2, 245.9)), (14, 20, (250.0, 250.0, 150.0))],
)
def test_each_lead_lies_across_all_tabs_of_its_pole(series, parallel, bay):
    fittings = Fittings(tabs="each")
    for layout in layouts(example_pack(series, parallel), bay, fittings, most=2):
        root = ElementTree.fromstring(draw_to_fit(layout, 195.9, 259.4).svg)
        for panel in (g for g in root.iter("g") if g.get("class") == "face"):
            for lead in (g for g in panel.findall("g") if g.get("class") == "lead"):
                bar = ends_of(lead)
                for strip in panel.findall("g"):
                    ours = strip.get("data-junction") == lead.get("data-junction")
                    if not ours or strip.get("data-kind") != "tab":
                        continue
                    tab = ends_of(strip)
                    along = int(np.argmax(np.abs(tab[1] - tab[0])))
                    across = 1 - along
                    # the lead crosses the tab's middle line between its two ends
                    assert bar[:, across].min() - 0.02 <= tab[0, across]
                    assert tab[0, across] <= bar[:, across].max() + 0.02
                    assert tab[:, along].min() < bar[0, along] < tab[:, along].max()


def test_self_contained_and_readable_without_colour():
    text = draw_to_fit(layouts(example_pack(4, 2))[0], 190.0, 277.0).svg
    assert "href" not in text
    assert "src=" not in text
    assert "url(" not in text
    # printers draw a pattern as a picture of many megabytes
    assert "<pattern" not in text
    assert "http" not in text
    assert "<script" not in text
    assert "<image" not in text
    root = ElementTree.fromstring(text)
    # each kind of strip has its own hatch and its own dash, whatever its colour
    hatches = {}
    for g in root.iter("g"):
        if g.get("class") == "strip" and g.get("data-kind") not in hatches:
            hatch = next(e for e in g if e.get("class") == "hatch")
            ends = re.findall(r"M(\S+) (\S+?)L(\S+) ([-\d.]+)", hatch.get("d"))
            ways = {
                (abs(float(x2) - float(x1)) > 0.01, abs(float(y2) - float(y1)) > 0.01)
                for x1, y1, x2, y2 in ends
            }
            hatches[g.get("data-kind")] = (frozenset(ways), hatch.get("stroke-dasharray") is None)
    assert len(hatches) == len(set(hatches.values())) == len(STRIP_COLOURS)
    dashes = {}
    for g in root.iter("g"):
        if g.get("class") == "strip":
            dashes.setdefault(g.get("data-kind"), set()).add(g.find("line").get("stroke-dasharray"))
    assert sorted(len(d) for d in dashes.values()) == [1, 1, 1]  # the series strip's is a full line
    assert len(set.union(*dashes.values())) == 3


def contrast(colour):
    """Contrast with white, W3C WCAG 2.1, relative luminance."""
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return 1.05 / (linear @ [0.2126, 0.7152, 0.0722] + 0.05)


def test_strip_colours_stand_out_from_white():
    # WCAG 2.1, 1.4.11: at least 3 to 1 for graphics
    assert all(contrast(c) >= 3.0 for c in STRIP_COLOURS.values())


def test_outer_size_is_written_on_the_drawing():
    grid = Grid("square", False, 1, 4, 2, 1, 4)
    text = draw_full_size(lay_out(example_pack(4, 2), grid, None, Fittings(wrap_mm=0.5))).svg
    # by hand: 4 x 21.2 + 3 x 0.2 of sheets + 2 x 0.5 and 2 x 21.2 + 0.2 + 1.0
    assert ">86.4 mm<" in text
    assert ">43.6 mm<" in text


def signs_of(panel):
    """Left, top, right and bottom of everything on a face that must be read."""
    for g in panel.iter("g"):
        if g.get("class") == "label" or g.get("class") == "tap":
            plate = g.find("rect")
            x, y, wide, high = (float(plate.get(k)) for k in ("x", "y", "width", "height"))
            yield x, y, x + wide, y + high
    for words in panel.findall("text"):
        if words.get("transform"):
            continue
        size = float(words.get("font-size"))
        long = 0.55 * size * len(words.text)
        left = float(words.get("x"))
        left -= {"middle": long / 2, "end": long}.get(words.get("text-anchor"), 0.0)
        y = float(words.get("y"))
        yield left, y - 0.75 * size, left + long, y


@pytest.mark.parametrize(
    ("series", "parallel", "layers"),
    [
        (1, 1, 1),
        (2, 1, 2),
        (6, 4, 2),
        (14, 8, 3),
        pytest.param(4, 2, 2, marks=pytest.mark.long),
        pytest.param(10, 4, 1, marks=pytest.mark.long),
        pytest.param(14, 20, 1, marks=pytest.mark.long),
    ],
)
@pytest.mark.parametrize("height_mm", [277.0, 120.0])
def test_no_sign_covers_another_at_any_size(series, parallel, layers, height_mm):
    for layout in layouts(example_pack(series, parallel), max_layers=layers, most=2):
        drawn = draw_to_fit(layout, 190.0, height_mm)
        for panel in ElementTree.fromstring(drawn.svg).iter("g"):
            if panel.get("class") != "face":
                continue
            signs = np.array(list(signs_of(panel)))
            left, top, right, bottom = signs.T
            over = (
                (left[:, None] < right[None] - 0.02)
                & (right[:, None] > left[None] + 0.02)
                & (top[:, None] < bottom[None] - 0.02)
                & (bottom[:, None] > top[None] + 0.02)
            )
            np.fill_diagonal(over, False)
            assert not over.any()


def test_each_face_says_what_lies_on_it_and_each_lead_is_drawn():
    layout = layouts(example_pack(6, 4), (95.0, 70.0, 150.0))[0]
    text = draw_to_fit(layout, 190.0, 260.0).svg
    assert "s bottom, up to 8.4 V" in text
    root = ElementTree.fromstring(text)
    leads = [g.get("data-junction") for g in root.iter("g") if g.get("class") == "lead"]
    assert sorted(leads) == ["0", "6"]
    assert any(g.get("class") == "stack" for g in root.iter("g"))
    assert any(e.get("class") == "barrier" for e in root.iter("line"))


@pytest.mark.long
@pytest.mark.parametrize(("series", "parallel"), [(14, 20), (24, 24)])
def test_a_large_pack_is_laid_out_joined_and_drawn(series, parallel):
    """How long it takes is in the benchmarks."""
    layout = layouts(example_pack(series, parallel), most=1)[0]
    plan = plan_strips(layout, 5.0 * parallel)
    assert len(layout.cells) == series * parallel
    assert 0.0 < plan.joint_mohm < 100.0
    root = ElementTree.fromstring(draw_to_fit(layout, 190.0, 277.0).svg)
    assert sum(g.get("class") == "lead" for g in root.iter("g")) == 2
