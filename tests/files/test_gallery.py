"""A folder of designs: all that can be read is sized, what cannot is told, and no file takes the others with it."""

from __future__ import annotations

import os
import shutil
from html import escape
from pathlib import Path
from typing import Any

import pytest

from workbook.errors import InputError
from workbook.files.design_file import read_design
from workbook.files.gallery import MOST_DESIGNS, ORDERS, Gallery, read_gallery, take_design
from workbook.files.packed import packed_text
from workbook.files.sent_page import DESIGN_BEGIN, DESIGN_END
from workbook.sizing.size import HOLDING, SizingResult, size


@pytest.fixture
def designs(club: Path) -> Path:
    return club / "designs"


def added(folder: Path, name: str, old: str, new: str) -> Path:
    """The demo multirotor under another name, with one text of it changed."""
    text = (folder / "survey_six.toml").read_text("utf-8")
    assert old in text
    path = folder / name
    path.write_text(text.replace(old, new, 1), "utf-8")
    return path


def answers(found: Gallery, order: str) -> list[SizingResult[Any]]:
    return [one.answer for one in found.by(order) if one.answer is not None]


def test_each_design_has_the_answer_that_it_has_alone(designs: Path) -> None:
    found = read_gallery(designs).designs
    assert [one.path.name for one in found] == sorted(p.name for p in designs.glob("*.toml"))
    for one in found:
        file = read_design(one.path)
        assert one.answer is not None
        assert one.answer.as_dict() == size(file.design, notices=file.notices).as_dict()


def test_what_cannot_be_read_stands_last_with_its_reason(designs: Path) -> None:
    whole = read_gallery(designs)
    added(designs, "a_broken.toml", "rotors = 6", "rotors = 0")
    (designs / "b_empty.toml").touch()
    (designs / "c_large.toml").write_bytes(b"x = 1\n" * 200_000)
    (designs / "d_folder.toml").mkdir()
    (designs / "e_binary.toml").write_bytes(b"\x00\x01")
    os.mkfifo(designs / "f_pipe.toml")
    (designs / "g_link.toml").symlink_to("/etc/passwd")
    (designs / "h_ring.toml").symlink_to("h_ring.toml")
    added(designs, "i_out.toml", "../tables/survey_motor.csv", "../../../etc/passwd")
    added(designs, "j_\x1b[2J.toml", 'cell = "Sedge"', 'cell = "<script>alert(1)</script>"')
    found = read_gallery(designs)
    assert len(found.designs) == len(whole.designs) + 10
    for order in ORDERS:
        shown = found.by(order)
        assert {one.path for one in shown[:-10]} == {one.path for one in whole.designs}
        assert all(one.faults and one.answer is None for one in shown[-10:])
    reasons = {one.path.name[0]: str(one.faults[0]) for one in found.designs if one.faults}
    assert "craft.rotors is 0" in reasons["a"]
    assert "the file is empty" in reasons["b"]
    assert "at most 500 kB is expected" in reasons["c"]
    assert "this is a folder" in reasons["d"]
    assert "the file is binary" in reasons["e"]
    assert "this is a device" in reasons["f"]
    assert "this is a link that leads out of its folder" in reasons["g"]
    assert "outside the design's own folders" in reasons["i"]
    assert not [text for text in reasons.values() if "\x1b" in text or "root:" in text]


def test_orders(designs: Path) -> None:
    added(designs, "heavy.toml", "payload_g = 350.0", "payload_g = 2000.0")
    packed = packed_text(read_design(designs / "light_quad.toml"))
    (designs / "packed.toml").write_text(packed, "utf-8")
    found = read_gallery(designs)
    names = [answer.design.name.casefold() for answer in answers(found, "name")]
    assert names == sorted(names)
    masses = [answer.point.all_up_mass_g for answer in answers(found, "all-up mass")]
    assert masses == sorted(masses)
    by_verdict = [answer.verdict in HOLDING for answer in answers(found, "verdict")]
    assert by_verdict == sorted(by_verdict, reverse=True)
    assert found.by("verdict")[-1].path.name == "heavy.toml"


def test_of_very_many_designs_a_notice_says_which_are_shown(designs: Path) -> None:
    shutil.copy(designs / "survey_six.toml", designs / "00.toml")
    for number in range(MOST_DESIGNS + 1):
        (designs / f"y{number:03d}.toml").touch()
    found = read_gallery(designs)
    assert len(found.designs) == MOST_DESIGNS
    assert found.designs[0].answer is not None
    assert found.notice.endswith(f"the first {MOST_DESIGNS} by name are shown.")


def test_no_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such folder of designs"):
        read_gallery(tmp_path / "gone")
    assert read_gallery(tmp_path).designs == ()


def page_of(text: str) -> bytes:
    return f"<p>{DESIGN_BEGIN}{escape(text)}{DESIGN_END}</p><script>alert(1)</script>".encode()


@pytest.mark.parametrize("name", ["mine.toml", "MINE.HTML", "..\\..\\mine.toml", "../../mine.html"])
def test_what_somebody_sent_lies_beside_the_others_and_is_never_the_learner_s_own(
    designs: Path, name: str
) -> None:
    text = packed_text(read_design(designs / "survey_six.toml"))
    before = sorted(designs.iterdir())
    content = page_of(text) if name.lower().endswith("html") else text.encode()
    first = take_design(name, content, designs)
    second = take_design(name, content, designs)
    assert sorted({*designs.iterdir()} - {*before}) == sorted([first, second])
    assert [path.name.lower() for path in (first, second)] == ["sent_mine.toml", "sent_mine_2.toml"]
    assert [path.read_text("utf-8") for path in (first, second)] == [text, text]


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("six.toml", b"", "empty"),
        ("six.toml", b"\x89PNG\0", "binary"),
        ("six.toml", b"name = 1\n" * 100_000, "at most"),
        ("six.html", b"<p>Hello", "no design stands in this page"),
        ("six.toml", b"print('hello')", "six.toml"),
        ("a?b.toml", None, "no name on every machine"),
        ("out.toml", None, "outside the design.s own folders"),
    ],
)
def test_what_cannot_be_used_is_not_kept(
    designs: Path, name: str, content: bytes | None, why: str
) -> None:
    if content is None:
        content = (designs / "survey_six.toml").read_bytes()
    if name == "out.toml":
        content = content.replace(b"../tables/survey_motor.csv", b"../../../etc/passwd")
    before = sorted(designs.rglob("*"))
    with pytest.raises(InputError, match=why):
        take_design(name, content, designs)
    assert sorted(designs.rglob("*")) == before
