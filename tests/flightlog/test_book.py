"""The book of a pack: nothing that was written is ever lost, whoever writes, whatever breaks off."""

from __future__ import annotations

import datetime
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbook.errors import InputError
from workbook.flightlog.book import (
    HEAD,
    KINDS,
    Event,
    add_event,
    merge,
    new_event,
    parse_book,
    plain_words,
    read_book,
    strike,
)
from workbook.quantities import NOTED

POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and limits of POSIX")
DAY = datetime.date(2026, 5, 3)
PROJECT = Path(__file__).resolve().parents[2]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "heron_1.txt"
    add_event(path, new_event("built", DAY, {"series": 6, "rated_ah": "12000 mAh"}, "first pack"))
    return path


def flown(words: str = "", day: datetime.date = DAY) -> Event:
    return new_event("flown", day, {"time_min": "14 min", "charge_ah": "6100mAh"}, words)


def test_a_line_is_read_as_it_was_written(path: Path) -> None:
    event = flown("windy; north bank [of the reed]\nand cold")
    add_event(path, event)
    built, then = read_book(path).events
    assert then == event
    assert then.words == "windy; north bank (of the reed) and cold"
    assert built.figures == {"series": 6.0, "rated_ah": 12.0}
    assert path.read_text("utf-8").startswith(HEAD)


def test_the_file_is_plain_to_a_person(path: Path) -> None:
    add_event(path, flown("windy"))
    assert "2026-05-03 flown: time 14 min, charge 6.1 Ah; windy [" in path.read_text("utf-8")


@given(
    st.dates(datetime.date(1995, 1, 1), DAY),
    st.sampled_from(sorted(set(KINDS) - {"struck"})),
    st.dictionaries(st.sampled_from(sorted(NOTED)), st.integers(1, 40), min_size=1),
    st.text(max_size=400),
)
def test_any_event_comes_back(
    day: datetime.date, kind: str, figures: dict[str, int], words: str
) -> None:
    given = {key: float(min(value, NOTED[key].most)) for key, value in figures.items()}
    event = new_event(kind, day, given, words)
    book = parse_book(f"{HEAD}\n{event.line}\n")
    assert book.events == (event,)
    assert book.notices == ()


def test_a_line_broken_off_at_any_byte_is_set_aside_or_whole_and_never_another_figure(
    path: Path,
) -> None:
    event = new_event(
        "flown", DAY, {"charge_ah": 6.1234, "resistance_mohm": 43.5}, "über den Teich"
    )
    whole = path.read_bytes()
    line = event.line.encode()
    for length in range(1, len(line) + 1):
        path.write_bytes(whole + line[:length])
        book = read_book(path)
        assert len(book.events) + len(book.notices) == 2
        assert all(e == event for e in book.events[1:])
        assert (len(book.events) == 2) == (length == len(line))
        later = flown()
        add_event(path, later)
        again = read_book(path)
        assert later in again.events
        assert again.events[0] == book.events[0]
        assert len(again.events) + len(again.notices) == 3


def test_what_a_power_cut_leaves_on_a_disk_does_not_close_the_book(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"\0" * 700 + b"\xff\xfe2026-05-04 flo")
    add_event(path, flown())
    book = read_book(path)
    assert [event.kind for event in book.events] == ["built", "flown"]
    assert len(book.notices) == 1
    assert "broken off" in str(book.notices[0])


@POSIX
@pytest.mark.parametrize("kills", [24, pytest.param(120, marks=pytest.mark.long)])
def test_kills_while_lines_are_added_lose_nothing(path: Path, kills: int) -> None:
    draw, marks = random.Random(7), set(read_book(path).marks)
    for number in range(kills):
        inward, outward = os.pipe()
        child = os.fork()
        if child == 0:  # pragma: no cover - another process
            try:
                while True:
                    event = flown("windy" * draw.randrange(1, 40))
                    add_event(path, event)
                    os.write(outward, f"{event.mark}\n".encode())
            finally:
                os._exit(1)
        os.close(outward)
        if number % 6:  # on a busy machine it takes a while to begin
            select.select([inward], [], [], 10.0)
        time.sleep(draw.uniform(0.0, 0.03))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(inward, encoding="ascii") as written:
            marks |= set(written.read().split())
    book = read_book(path)
    assert len(marks) > 0.8 * kills
    assert marks <= book.marks
    assert len(book.notices) <= kills
    assert len({event.mark for event in book.events}) == len(book.events)


@POSIX
def test_two_who_write_at_once_lose_nothing(path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\n"
        "from workbook.flightlog.book import add_event, new_event\n"
        "for _ in range(60): add_event(Path(sys.argv[1]), new_event('charged', None, {'charge_ah': 3.0}))\n"
    )
    runs = [subprocess.Popen([sys.executable, "-c", code, str(path)], cwd=PROJECT) for _ in "ab"]
    assert [run.wait() for run in runs] == [0, 0]
    book = read_book(path)
    assert len(book.of("charged")) == 120
    assert book.notices == ()


@POSIX
def test_a_full_disk_is_reported_in_words_and_the_book_is_as_it_was(path: Path) -> None:
    before = path.read_bytes()
    code = (
        "import resource, sys\nfrom workbook.cli import main\n"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({len(before) + 20},) * 2)\n"
        f"sys.exit(main(['book', {str(path)!r}, '--flown', '14min', '--charge', '6100mAh']))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=PROJECT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 2
    assert "cannot be written (File too large); what was there is as it was" in run.stderr
    assert "Traceback" not in run.stderr
    assert path.read_bytes() == before


def test_a_disk_without_room_for_another_byte(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before, real = path.read_bytes(), os.write

    def full(handle: int, data: bytes) -> int:
        if len(data) < 30:
            raise OSError(28, "No space left on device")
        return real(handle, data[:20])

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(InputError, match=r"No space left on device.*as it was"):
        add_event(path, flown("a line of some length"))
    assert path.read_bytes() == before


def test_two_copies_become_one_whichever_is_added_to_which(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "copy.txt"
    shutil.copy(path, other)
    mine, theirs = flown("mine"), flown("theirs", DAY - datetime.timedelta(days=1))
    add_event(path, mine)
    add_event(other, theirs)
    assert merge(path, other) == (1, ())
    assert merge(path, other) == (0, ())
    assert merge(other, path) == (1, ())
    assert read_book(path).marks == read_book(other).marks
    assert [event.words for event in read_book(path).events] == ["theirs", "first pack", "mine"]


def test_a_tool_that_unites_lines_merges_two_copies(path: Path, tmp_path: Path) -> None:
    if shutil.which("git") is None:
        pytest.skip("git is not here")
    base, other = tmp_path / "base.txt", tmp_path / "other.txt"
    shutil.copy(path, base)
    shutil.copy(path, other)
    for n in range(3):
        add_event(path, flown(f"mine {n}"))
        add_event(other, flown(f"theirs {n}"))
    command = ["git", "merge-file", "--union", str(path), str(base), str(other)]
    subprocess.run(command, check=True)
    book = read_book(path)
    assert len(book.events) == 7
    assert book.notices == ()


def test_a_line_that_was_changed_by_hand_in_one_copy_is_reported(
    path: Path, tmp_path: Path
) -> None:
    other = tmp_path / "copy.txt"
    add_event(path, flown("windy"))
    text = path.read_text("utf-8")
    other.write_text(text.replace("6.1 Ah", "61 Ah") + "2026-05-09 flown: ti", "utf-8")
    added, notices = merge(path, other)
    assert added == 0
    assert len(notices) == 2
    assert "differs from line 5" in str(notices[0])
    assert "broken off" in str(notices[1])
    assert path.read_text("utf-8") == text
    path.write_text(text + text.splitlines()[-1].replace("6.1 Ah", "61 Ah") + "\n", "utf-8")
    book = read_book(path)
    assert [event.figures["charge_ah"] for event in book.of("flown")] == [6.1]
    assert "says something else" in str(book.notices[0])


def test_a_struck_line_stays_in_the_file_and_no_longer_counts(path: Path) -> None:
    wrong = flown("typed twice")
    add_event(path, wrong)
    strike(path, wrong.mark, "typed twice", DAY)
    book = read_book(path)
    assert book.of("flown") == ()
    assert book.struck == (wrong.line,)
    assert wrong.line in path.read_text("utf-8")
    with pytest.raises(InputError, match="no line here has the mark zzzz"):
        strike(path, "zzzz")


@pytest.mark.parametrize(
    ("line", "notice"),
    [
        ("2026-13-03 flown: time 14 min [abcdefgh]", "2026-13-03 is no day"),
        ("2026-05-03 flew: time 14 min [abcdefgh]", "one of built, tested"),
        ("2026-05-03 flown: tide 14 min [abcdefgh]", "'tide 14 min' is no figure of a book"),
        (
            "2026-05-03 flown: time 14 V [abcdefgh]",
            "time: '14 V' it has the unit V|the unit here is min",
        ),
        ("2026-05-03 flown: time 14 min, time 15 min [abcdefgh]", "time stands here twice"),
        ("2026-05-03 flown: time 99999 min [abcdefgh]", "99999 min is out of range"),
        ("2026-05-03 struck: abcd1234 [abcdefgh]", "strikes abcd1234, which is no line here"),
        ("written by hand, no mark", "no mark in brackets at its end"),
    ],
)
def test_a_line_that_is_not_understood_is_set_aside_with_its_place(line: str, notice: str) -> None:
    book = parse_book(f"{HEAD}\n2026-05-01 charged: charge 5 Ah [aaaaaaaa]\n{line}\n", "heron.txt")
    assert len(book.events) == 1
    assert any(part in str(book.notices[0]) for part in notice.split("|"))
    assert str(book.notices[0]).startswith("heron.txt")


def test_a_line_may_be_written_by_hand_with_a_comma_and_another_unit() -> None:
    text = f"{HEAD}\r\n2026-05-03 flown: time 14,5 min, charge 6100 mAh [mine01]\r\n"
    (event,) = parse_book(text).events
    assert event.figures == {"time_min": 14.5, "charge_ah": 6.1}


@pytest.mark.parametrize(
    ("kind", "day", "figures", "message"),
    [
        ("flown", None, {"charge_ah": "6100"}, "charge: 6100 is out of range; 0 to 1000 Ah"),
        ("flown", None, {"charge_ah": "0 mAh"}, "0 is not above 0"),
        ("flown", None, {"time_min": "14 parsec"}, "time:"),
        ("flown", DAY + datetime.timedelta(days=9), {}, "still to come"),
        ("tested", None, {}, "a test without a figure says nothing"),
        ("flew", None, {}, "one of built, tested"),
    ],
)
def test_what_cannot_be_used_is_not_written(
    kind: str, day: datetime.date | None, figures: dict[str, str], message: str
) -> None:
    with pytest.raises(InputError) as fault:
        new_event(kind, day, figures, today=DAY)
    assert message in str(fault.value)


def test_nothing_is_added_to_a_file_that_is_no_book(tmp_path: Path) -> None:
    design = tmp_path / "design.toml"
    design.write_text("[craft]\n", "utf-8")
    with pytest.raises(InputError, match="no book of a pack"):
        add_event(design, flown())
    assert design.read_text("utf-8") == "[craft]\n"


def test_long_words_are_cut_and_kept_on_a_line() -> None:
    assert len(plain_words("reed " * 500)) == 300
    assert "\n" not in plain_words("a\nb\u2028c\x1b[2K")


def test_ten_years_of_flights_are_read() -> None:
    first = datetime.date(2016, 1, 1)
    lines = [
        f"{first + datetime.timedelta(days=n)} flown: time 14 min, charge 6.1 Ah, resistance 43 mΩ [{n:08d}]"
        for n in range(3000)
    ]
    book = parse_book("\n".join((HEAD, *lines)))
    assert len(book.events) == 3000
