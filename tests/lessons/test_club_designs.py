"""The page of a club's designs: one table, one design opened, nothing of a stranger's that the page would obey."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

from workbook.files.design_file import read_design
from workbook.files.packed import packed_text
from workbook.lessons.club_designs import ClubDesigns
from workbook.lessons.lesson_view import open_page


@pytest.fixture
def page(club: Path, monkeypatch: pytest.MonkeyPatch) -> ClubDesigns:
    monkeypatch.chdir(club)
    return open_page("club_designs")


def names(page: ClubDesigns) -> list[str]:
    heads = page.table.html.value.split('<th scope="row">')[1:]
    return [head.partition("</th>")[0] for head in heads]


def in_folder() -> int:
    return len(list(Path("designs").glob("*.toml")))


def test_every_design_is_in_the_table_and_one_is_open(page: ClubDesigns) -> None:
    assert len(names(page)) == in_folder() > 4
    assert "△ HOLDS, BUT CLOSE" in page.table.html.value
    assert "Sedge, 6S3P" in page.table.html.value
    page.opened.label = "survey_wing.toml"
    assert "load designs/survey_wing.toml on the sizing bench" in page.hint.value
    assert "CLOSE" in page.verdict.html.value
    assert "stall" in page.limits.html.value


def test_it_is_sorted_as_asked(page: ClubDesigns) -> None:
    before = names(page)
    page.order.value = "all-up mass"
    lightest = names(page)
    assert sorted(before) == sorted(lightest)
    assert "light_quad.toml" in lightest[0]


def test_what_came_meanwhile_is_seen_and_what_is_wrong_with_it(page: ClubDesigns) -> None:
    page.opened.label = "survey_six.toml"
    text = Path("designs/survey_six.toml").read_text("utf-8")
    evil = "<img src=x onerror=alert(1)>"
    named = text.replace("Census six-rotor, long survey", evil)
    Path("designs/evil.toml").write_text(named.replace("series = 6", "series = 5"), "utf-8")
    Path("designs/odd.toml").write_text(named.replace('"Sedge"', f'"{evil}"'), "utf-8")
    page.refresh_button.click()
    assert len(names(page)) == in_folder()
    assert page.opened.label == "survey_six.toml"
    page.opened.label = "evil.toml"
    shown = "".join(
        part.value for part in (page.table.html, page.hint, page.verdict.html, page.limits.html)
    )
    assert "<img" not in shown
    assert "&lt;img src=x" in shown
    assert "no cell is called" in page.table.html.value
    assert names(page)[-1] == "odd.toml"


def test_one_file_is_made_of_a_design_and_none_is_written_over(page: ClubDesigns) -> None:
    page.opened.label = "survey_wing.toml"
    page.pack.click()
    assert "Written: packed/survey_wing.toml" in page.reply.value
    whole = read_design("designs/survey_wing.toml")
    assert read_design("packed/survey_wing.toml").design.pack == whole.design.pack
    inside = re.search(r'download="survey_wing.toml" href="data:[^,]+,([^"]+)"', page.link.value)
    assert inside is not None
    assert base64.b64decode(inside[1]) == Path("packed/survey_wing.toml").read_bytes()
    page.pack.click()
    assert "a file is already here and was left as it is" in page.reply.text
    page.opened.label = "survey_six.toml"
    assert not page.reply.text
    assert not page.reply.value
    assert not page.link.value


def test_a_design_that_somebody_sent_is_kept_and_opened_and_a_wrong_file_is_not(
    page: ClubDesigns,
) -> None:
    there = in_folder()
    page.sent.take_upload([{"name": "six.html", "content": b"<p>Hello"}])
    assert "no design stands in this page" in page.sent.reply.text
    assert in_folder() == there
    packed = packed_text(read_design("designs/survey_wing.toml"))
    page.sent.take_upload([{"name": "wing.toml", "content": packed.encode()}])
    assert page.opened.label == "sent_wing.toml"
    assert "designs/sent_wing.toml; it is open below" in page.sent.reply.value
    assert len(names(page)) == in_folder() == there + 1


def test_a_folder_that_is_gone_is_reported_and_the_table_stays(page: ClubDesigns) -> None:
    there = in_folder()
    Path("designs").rename("elsewhere")
    page.refresh_button.click()
    assert "there is no such folder of designs" in page.notice.html.value
    assert len(names(page)) == there


def test_an_empty_folder(tmp_path: Path) -> None:
    page = open_page("club_designs", tmp_path)
    assert names(page) == []
    assert page.verdict.layout.display == "none"
