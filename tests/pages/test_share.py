"""Shared pages from outside: five visitors at once, a server that is killed, and a visitor who tries what is not theirs."""

from __future__ import annotations

import asyncio
import errno
import gc
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Awaitable, Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from tornado.httpclient import HTTPClientError, HTTPRequest
from tornado.httpserver import HTTPServer
from tornado.websocket import WebSocketClosedError, websocket_connect

from tests.conftest import PROJECT
from tests.pages.visiting import PROTOCOL, SLIDERS, Guest, Shared, expected, sharing
from workbook.errors import InputError
from workbook.pages.share import MOST_OF_ONE, _listen_on_free_port

pytestmark = [
    pytest.mark.long,
    pytest.mark.filterwarnings("ignore:Unclosed WebSocketClientConnection"),  # refused ones
]


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shared]:
    folder = tmp_path_factory.mktemp("share") / "club"
    folder.mkdir()
    (folder.parent / "secret.toml").write_text("secret-of-the-owner = 1\n", "utf-8")
    with sharing(folder, "--board", "--visitors", "8", port=8880) as server:
        yield server
    gc.collect()  # connections that were refused, while the mark above still lets them be


def state_of(shared: Shared) -> str:
    return shared.projector.replace("/projector?", "/projector/state?")


def folders(shared: Shared) -> Path:
    return Path(shared.printed(r"visitors keep: (.+)"))


def visit(shared: Shared, do: Callable[[Guest], Awaitable[None]]) -> None:
    """One visitor, who is gone afterwards."""

    async def whole() -> None:
        guest = Guest(shared.address)
        await guest.arrive(shared.club)
        try:
            await do(guest)
        finally:
            await guest.leave()

    asyncio.run(whole())


async def keep(guest: Guest) -> None:
    """Press the lesson's button that keeps its figures."""
    [button] = guest.models("ButtonModel", description="keep this for the next lesson")
    await guest.press(button)


def test_five_visitors_at_once_are_all_answered_rightly(shared: Shared) -> None:
    async def one(number: int, right: list[list[str]]) -> list[bool]:
        guest = Guest(shared.address)
        await guest.arrive(shared.club)
        await guest.page("02_series_parallel")
        await guest.connect()
        slider = guest.models(SLIDERS)[1]
        found = []
        for step in range(10):
            value = 1 + (number + step) % 6
            await guest.set(slider, value=value)
            found.append(guest.texts() == right[value - 1])
        await guest.leave()
        return found

    async def all_of_them() -> list[list[bool]]:
        first = Guest(shared.address)
        await first.arrive(shared.club)
        await first.page("02_series_parallel")
        await first.leave()
        [folder] = folders(shared).iterdir()
        right = expected("02_series_parallel", folder, 1, [1, 2, 3, 4, 5, 6])
        assert len({str(texts) for texts in right}) == 6
        return await asyncio.gather(*(one(number, right) for number in range(5)))

    assert asyncio.run(all_of_them()) == [[True] * 10] * 5


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("after_s", [0.0, 1.5])
def test_ended_while_a_kernel_is_being_started_it_says_nothing_more(
    tmp_path: Path, stop: signal.Signals, after_s: float
) -> None:
    command = ["-m", "workbook.cli", "share", str(tmp_path), "--no-browser", "--port", "8920"]
    server = subprocess.Popen(
        [sys.executable, *command],
        env={**os.environ, "PYTHONPATH": str(PROJECT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert server.stdout is not None
    for line in server.stdout:
        if line.startswith("What visitors keep"):
            break
    time.sleep(after_s)
    server.send_signal(stop)
    time.sleep(0.3)
    server.send_signal(stop)  # pressed again, since it takes a moment
    _, output = server.communicate(timeout=90)
    assert (server.returncode, output) == (0, "")


def test_a_server_that_is_killed_loses_no_design_that_was_kept(tmp_path: Path) -> None:
    folder = tmp_path / "club"
    folder.mkdir()
    with sharing(folder, port=8900) as server:

        async def kept() -> str:
            guest = Guest(server.address)
            word = await guest.arrive(server.club)
            await guest.page("02_series_parallel")
            await guest.connect()
            await guest.set(guest.models(SLIDERS)[1], value=5)
            await keep(guest)
            return word

        word, club = asyncio.run(kept()), server.club
        server.process.kill()
        server.process.wait(10)
    with sharing(folder, port=8900) as server:
        assert server.club == club

        async def back() -> str:
            guest = Guest(server.address)
            assert await guest.arrive(club, word) == word
            await guest.page("02_series_parallel")
            await guest.connect()
            return " ".join(guest.texts()), guest.states[guest.models(SLIDERS)[1]]["value"]

        output, parallel = asyncio.run(back())
        assert "your own" in output
        assert parallel == 5


FORBIDDEN = (
    "/lab", "/tree", "/terminals/1", "/api", "/api/kernels", "/api/contents", "/api/contents/start.ipynb",
    "/api/sessions", "/api/terminals", "/api/kernelspecs", "/api/status", "/api/shutdown", "/files/start.ipynb",
    "/voila", "/voila/tree", "/voila/files/start.ipynb", "/voila/files/.workbook/share.json",
    "/voila/api/contents/", "/voila/render/", "/voila/render/designs/survey_six.toml",
    "/voila/render/..%2f..%2fsecret.toml", "/voila/render/.workbook/share.json", "/voila/render/../start.ipynb",
    "/voila/render/nothing.ipynb", "/voila/static/../../../../../../etc/passwd",
    "/voila/static/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
    "/voila/templates/page/static/../../../../../opening.py", "/voila/templates/page/conf.json", "/voila/labextensions/../../../etc/passwd",
    "/voila/labextensions//etc/passwd", "/voila/api/themes/../../../../../../../etc/passwd", "/nbextensions/x.js",
    "/static/x.js", "/login", "/logout", "/metrics", "/projector", "/projector/board", "/projector/state",
    "/projector?key=0", "/projector/state?key=",
)  # fmt: skip


def raw(shared: Shared, path: str, cookies: str = "", more: str = "") -> tuple[int, bytes]:
    """An answer to a path exactly as it is written."""
    host, port = shared.address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), 20) as line:
        line.sendall(
            f"GET {path} HTTP/1.1\r\nHost: {host}:{port}\r\nConnection: close\r\n{more}Cookie: {cookies}\r\n\r\n".encode()
        )
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    return int(answer.split(b" ", 2)[1]), answer


def test_all_that_a_page_is_made_of_is_there(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        made_of = re.findall(r"""["'](/voila/[^"'?]+\.(?:js|css))""", await guest.page("start"))
        assert made_of
        for path in made_of:
            answer = await guest.ask(path)
            assert answer.code == 200, path
            if path.endswith("voila-style.js"):
                fonts = re.findall(r"\w+\.woff2", answer.body.decode())
        assert fonts
        for font in fonts:
            assert (await guest.ask(f"/voila/templates/page/static/{font}")).code == 200, font

    visit(shared, tried)


def test_no_other_address_and_no_path_outside_is_answered(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        cookies = "; ".join(f"{name}={value}" for name, value in guest.cookies.items())
        for path in FORBIDDEN:
            code, answer = await asyncio.to_thread(raw, shared, path, cookies)
            assert code in (403, 404), (path, code)
            for secret in (
                b"root:",
                b"secret-of",
                b"nbformat",
                b"def lay_out",
                shared.club.encode(),
            ):
                assert secret not in answer, (path, secret)
            assert b"Traceback" not in answer

    visit(shared, tried)


def test_without_the_club_s_word_there_is_nothing(shared: Shared) -> None:
    async def tried() -> None:
        guest = Guest(shared.address)
        assert (await guest.ask("/voila/render/start.ipynb")).headers["Location"].startswith("/?")
        assert (await guest.ask("/", "")).code == 403
        assert (await guest.ask("/?club=reed-otter-1234")).code == 200
        assert (await guest.ask("/", "")).code == 403
        codes = [(await guest.ask(f"/?club=reed-otter-{n}")).code for n in range(1000, 1015)]
        assert codes[-1] == 429

    asyncio.run(tried())


def test_words_cannot_be_tried_for_long(tmp_path: Path) -> None:
    folder = tmp_path / "club"
    folder.mkdir()
    with sharing(folder, port=8910) as server:

        async def tried() -> None:
            guest = Guest(server.address)
            word = await guest.arrive(server.club)
            codes = [(await guest.ask("/", f"word=reed-otter-{n}")).code for n in range(1000, 1012)]
            assert codes == [200] * 10 + [429] * 2
            assert (await guest.ask("/", f"word={word}")).code == 429

        asyncio.run(tried())


def test_a_page_asked_for_by_another_site_is_refused(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        away = {"Origin": "http://elsewhere.example"}
        assert (await guest.ask("/", "", headers=away)).code == 403
        await guest.page("02_series_parallel")
        kernel = f"{shared.address.replace('http', 'ws')}/api/kernels/{guest.kernel}/channels"
        cookies = "; ".join(f"{name}={value}" for name, value in guest.cookies.items())
        with pytest.raises(HTTPClientError, match="403"):
            await websocket_connect(
                HTTPRequest(kernel, headers={"Cookie": cookies, **away}), subprotocols=[PROTOCOL]
            )

    visit(shared, tried)


def test_another_s_kernel_is_out_of_reach(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        await guest.page("02_series_parallel")
        await guest.connect()
        thief = Guest(shared.address)
        await thief.arrive(shared.club)
        thief.kernel = guest.kernel
        assert (await thief.ask(f"/api/kernels/{guest.kernel}")).code == 403
        with pytest.raises(HTTPClientError, match="403"):
            await thief.connect()
        await thief.leave()
        nobody = Guest(shared.address, kernel=guest.kernel)
        with pytest.raises(HTTPClientError, match="403"):
            await nobody.connect()
        assert guest.texts()
        await guest.set(guest.models(SLIDERS)[1], value=2)

    visit(shared, tried)


def test_no_code_is_taken_from_a_page(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        await guest.page("02_series_parallel")
        await guest.connect()
        mark = folders(shared) / "ran"
        code = {"code": f"open({str(mark)!r}, 'w').close()", "silent": False}
        for kind in ("execute_request", "shutdown_request", "complete_request", "debug_request"):
            for channel in ("shell", "control", "stdin"):
                guest.send(kind, code, channel=channel)
        guest.send("comm_open", {"comm_id": "1", "target_name": "jupyter.widget", "data": {}})
        await guest.set(guest.models(SLIDERS)[1], value=2)
        assert not mark.exists()
        assert guest.line is not None
        guest.line.write_message((2**62).to_bytes(8, "little"), binary=True)
        with pytest.raises(ConnectionError):
            await guest.heard("never")
        await guest.connect()

    visit(shared, tried)


SCRIPT = "<script>run()</script><img src=x onerror=run()>"


def test_a_script_in_every_field_comes_back_as_text(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        for page in ("sizing_bench", "my_craft", "02_series_parallel", "14_what_flight_said"):
            await guest.page(page)
            guest.states.clear()
            await guest.connect()
            fields = guest.models("(Text|Textarea|Combobox)Model")
            assert fields
            for field in fields:
                await guest.set(field, value=SCRIPT)
            for button in guest.models("ButtonModel"):
                await guest.press(button)
            scripts = [text for text in guest.texts() if "run()" in text]
            assert [text for text in scripts if re.search(r"<(script|img)", text)] == []
        answer = await guest.ask("/", f"word={urllib.parse.quote(SCRIPT)}")
        assert answer.code in (
            200,
            429,
        )  # the tests before may have tried words enough for a minute
        assert SCRIPT.encode() not in answer.body

    visit(shared, tried)


def test_a_field_for_a_path_reaches_nothing_outside(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        other = Guest(shared.address)
        word = await other.arrive(shared.club)
        found = [
            f
            for f in folders(shared).iterdir()
            if (f / ".workbook/word.txt").read_text().strip() == word
        ]
        await guest.page("sizing_bench")
        await guest.connect()
        [path] = guest.models("TextModel", description="design")
        [load] = guest.models("ButtonModel", description="load")
        [save] = guest.models("ButtonModel", description="save")
        [anywhere] = guest.models(
            "CheckboxModel", description="let a design take files from other folders"
        )
        await guest.set(anywhere, value=True)
        for outside in (
            found[0] / ".workbook/word.txt",
            folders(shared).parents[2] / "secret.toml",
        ):
            await guest.set(path, value=str(outside))
            await guest.press(load)
            assert any("outside your own folder" in text for text in guest.texts())
            assert not any("secret-of" in text or word in text for text in guest.texts())
            await guest.set(path, value=str(outside.with_suffix(".new.toml")))
            await guest.press(save)
            assert not outside.with_suffix(".new.toml").exists()

    visit(shared, tried)


def test_a_gigabyte_is_not_taken(shared: Shared) -> None:
    host, port = shared.address.removeprefix("http://").split(":")
    before = resident(shared.process.pid)
    with socket.create_connection((host, int(port)), 20) as line:
        line.sendall(
            f"POST / HTTP/1.1\r\nHost: {host}:{port}\r\nContent-Length: 1000000000\r\n\r\n".encode()
        )
        sent = 0
        try:
            while sent < 1_000_000_000:
                sent += line.send(bytes(1_000_000))
        except OSError:
            pass
    assert sent < 20_000_000

    async def tried(guest: Guest) -> None:
        await guest.page("sizing_bench")
        await guest.connect()
        assert guest.line is not None
        with suppress(WebSocketClosedError):
            await guest.line.write_message(bytes(20_000_000), binary=True)
        with pytest.raises(ConnectionError):
            await guest.heard("never")
        await guest.connect()

    visit(shared, tried)
    assert resident(shared.process.pid) - before < 100_000_000


def resident(pid: int) -> int:
    import psutil

    return int(psutil.Process(pid).memory_info().rss)


def answers(address: str) -> bool:
    """Whether a server takes one more connection."""
    try:
        urllib.request.urlopen(f"{address}/nothing", timeout=5)
    except urllib.error.HTTPError:
        return True
    except OSError:
        return False
    return True


def test_a_thousand_connections_do_not_stop_the_others(shared: Shared) -> None:
    host, port = shared.address.removeprefix("http://").split(":")
    lines = []
    try:
        for _ in range(1000):
            line = socket.socket()
            line.settimeout(5)
            line.connect((host, int(port)))
            lines.append(line)
        refused = sum(1 for line in lines[MOST_OF_ONE:] if line.recv(1) == b"")
        assert refused == 1000 - MOST_OF_ONE
        for line in lines[: MOST_OF_ONE // 2]:
            line.close()
        for _ in range(100):  # until the server has seen that they are gone
            if answers(shared.address):
                break
            time.sleep(0.1)

        async def tried(guest: Guest) -> None:
            await guest.page("02_series_parallel")
            await guest.connect()

        visit(shared, tried)
    finally:
        for line in lines:
            line.close()


def test_a_cut_line_is_taken_up_again(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        await guest.page("02_series_parallel")
        await guest.connect()
        slider = guest.models(SLIDERS)[1]
        await guest.set(slider, value=4)
        before = guest.texts()
        assert guest.line is not None
        guest.line.stream.close()  # type: ignore[union-attr]
        await asyncio.sleep(0.5)
        guest.states.clear()
        await guest.connect()
        assert guest.texts() == before
        await guest.set(slider, value=2)

    visit(shared, tried)


def test_when_all_places_are_taken_a_page_says_so(tmp_path: Path) -> None:
    folder = tmp_path / "club"
    folder.mkdir()
    with sharing(folder, "--visitors", "1", port=8920) as server:

        async def tried() -> None:
            first, second = Guest(server.address), Guest(server.address)
            for guest in (first, second):
                await guest.arrive(server.club)
            await first.page("02_series_parallel")
            await first.connect()
            full = await second.ask("/voila/render/start.ipynb")
            assert full.code == 503
            assert b"All places are taken" in full.body
            assert full.headers["Retry-After"]
            await first.leave()
            await second.page("02_series_parallel")

        asyncio.run(tried())


def test_the_board_counts_what_visitors_answered_and_names_nobody(shared: Shared) -> None:
    state = state_of(shared)

    async def wrong_then_right(guest: Guest) -> None:
        await guest.page("02_series_parallel")
        await guest.connect()
        for choice in guest.models("RadioButtonsModel"):
            for number in range(len(guest.states[choice]["_options_labels"])):
                await guest.set(choice, index=number)
                for button in guest.models("ButtonModel", description="check"):
                    await guest.press(button)

    visit(shared, wrong_then_right)
    visit(shared, wrong_then_right)
    with urllib.request.urlopen(state, timeout=20) as answer:
        values: dict[str, Any] = json.load(answer)
    answered = [row for row in values["rows"] if row["right"]]
    assert answered[0]["right"] == 2
    assert [count for _, count in answered[0]["slips"]] == [2] * len(answered[0]["slips"])
    assert answered[0]["slips"]
    words = [f.read_text().strip() for f in folders(shared).glob("*/.workbook/word.txt")]
    assert not any(word in json.dumps(values) for word in words)
    forged = urllib.request.Request(state.replace("key=", "key=0"), b'{"exercise": ""}')
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(forged, timeout=20)
    assert not [p for p in folders(shared).parent.rglob("*board*")]


def here(shared: Shared) -> int:
    with urllib.request.urlopen(state_of(shared), timeout=20) as answer:
        return int(json.load(answer)["here"])


def test_a_page_that_is_closed_gives_its_place_back(shared: Shared) -> None:
    async def tried(guest: Guest) -> None:
        before = await asyncio.to_thread(here, shared)
        await guest.page("02_series_parallel")
        assert await asyncio.to_thread(here, shared) == before + 1
        await guest.leave()
        assert await asyncio.to_thread(here, shared) == before

    visit(shared, tried)


@pytest.mark.parametrize(("first", "last"), [(8877, 8886), (65530, 65535)])
def test_where_no_port_is_free_that_is_said(
    first: int, last: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def in_use(_port: int, _address: str) -> None:
        raise OSError(errno.EADDRINUSE, "in use")

    server = HTTPServer(lambda _request: None)
    monkeypatch.setattr(server, "listen", in_use)
    with pytest.raises(InputError, match=f"none of the ports {first} to {last} is free"):
        _listen_on_free_port(server, first, "127.0.0.1")
