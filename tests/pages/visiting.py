"""Visitors of shared pages, from another process: what a browser does, over real sockets, without one."""

from __future__ import annotations

import asyncio
import html
import json
import os
import re
import subprocess
import sys
import time
import uuid
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jupyter_server.services.kernels.connection.base import (
    deserialize_binary_message,
    deserialize_msg_from_ws_v1,
    serialize_msg_to_ws_v1,
)
from tornado.httpclient import AsyncHTTPClient, HTTPRequest, HTTPResponse
from tornado.websocket import WebSocketClientConnection, websocket_connect

PROJECT = Path(__file__).resolve().parents[2]
PROTOCOL = "v1.kernel.websocket.jupyter.org"
AsyncHTTPClient.configure("tornado.simple_httpclient.SimpleAsyncHTTPClient", max_clients=100)


@dataclass
class Shared:
    """A server that shares pages: its process, where it answers, the club's word and the projector's address."""

    process: subprocess.Popen[bytes]
    log: Path

    def printed(self, pattern: str) -> str:
        """What its log says, once it says it."""
        for _ in range(1200):
            output = self.log.read_text("utf-8", "replace")
            if found := re.search(pattern, output):
                return found[1]
            if self.process.poll() is not None:
                break
            time.sleep(0.1)
        raise AssertionError(output)

    @property
    def address(self) -> str:
        return self.printed(r"Visitors go to (http://[^/]+)")

    @property
    def club(self) -> str:
        return self.printed(r"/\?club=([\w-]+)")

    @property
    def projector(self) -> str:
        return self.printed(r"only: (http://\S+)")


@contextmanager
def sharing(folder: Path, *options: str, port: int = 8890) -> Iterator[Shared]:
    """`workbook share FOLDER`, until it is done with."""
    log = folder.with_name(f"{folder.name}-{uuid.uuid4().hex[:6]}.log")
    command = ["-m", "workbook.cli", "share", str(folder), "--no-browser", "--port", str(port)]
    with log.open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, *command, *options],
            env={**os.environ, "PYTHONPATH": str(PROJECT)},
            stdout=out,
            stderr=subprocess.STDOUT,
        )
    shared = Shared(process, log)
    try:
        shared.printed("(A page takes)")
        yield shared
    finally:
        process.terminate()
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()


@dataclass
class Guest:
    """One visitor with one page.

    Attributes:
        states: of the page's widgets, by id.
    """

    base: str
    cookies: dict[str, str] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)
    states: dict[str, dict[str, Any]] = field(default_factory=dict)
    kernel: str = ""
    line: WebSocketClientConnection | None = None
    session: str = field(default_factory=lambda: uuid.uuid4().hex)

    async def ask(self, path: str, body: str | bytes | None = None, **how: Any) -> HTTPResponse:
        """One request with this visitor's cookies; redirects are not followed."""
        request = HTTPRequest(
            path if path.startswith("http") else self.base + path,
            method="GET" if body is None else "POST",
            body=body,
            headers=self._headers(**how.pop("headers", {})),
            follow_redirects=False,
            request_timeout=120,
            **how,
        )
        answer = await AsyncHTTPClient().fetch(request, raise_error=False)
        for cookie in answer.headers.get_list("Set-Cookie"):
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer

    def _headers(self, **more: str) -> dict[str, str]:
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        return {"Cookie": cookies, **self.headers, **more}

    async def arrive(self, club: str, word: str | None = None) -> str:
        """Come in by the club's address, new or with a word; the word."""
        assert (await self.ask(f"/?club={club}")).code == 302
        answer = await self.ask("/", "" if word is None else f"word={word}")
        assert answer.code == 302, answer.body
        page = (await self.ask("/")).body.decode()
        return re.findall(r'class="word">([\w-]+)<', page)[0]

    async def page(self, name: str) -> str:
        """Open a page; what it holds."""
        answer = await self.ask(f"/voila/render/{name}.ipynb")
        assert answer.code == 200, (answer.code, answer.body[:2000])
        page = answer.body.decode()
        config = re.findall(r'id="jupyter-config-data"[^>]*>(.*?)</script>', page, re.DOTALL)[0]
        self.kernel = json.loads(html.unescape(config))["kernelId"]
        return page

    async def leave(self) -> None:
        """Close the page, as a browser does."""
        if self.line is not None:
            self.line.close()
        if self.kernel:
            token = quote(self.cookies.get("_xsrf", ""))
            await self.ask(f"/voila/api/shutdown/{self.kernel}", f"_xsrf={token}")

    async def connect(self) -> None:
        """Open the line to the page's kernel, and ask which widgets are there, until no more come."""
        request = HTTPRequest(
            f"{self.base.replace('http', 'ws', 1)}/api/kernels/{self.kernel}/channels?session_id={self.session}",
            headers=self._headers(),
            request_timeout=60,
        )
        if self.line is not None:
            self.line.close()
        self.line = await websocket_connect(request, subprotocols=[PROTOCOL])
        await self._look()
        for model in self.models("AnyModel", ready=False):
            await self.set(model, ready=True)
        known = -1
        while known != len(self.states):  # exercises follow the figure
            known = len(self.states)
            await asyncio.sleep(0.5)
            await self._look()

    async def _look(self) -> None:
        """Ask for the state of every widget."""
        comm = uuid.uuid4().hex
        opened = {"comm_id": comm, "target_name": "jupyter.widget.control", "data": {}}
        self.send("comm_open", opened, {"version": "1.0.0"})
        asked = self.send("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}})
        for message in await self.heard(asked):
            for model, sent in message.get("data", {}).get("states", {}).items():
                self.states[model] = {"model": sent["model_name"], **sent["state"]}

    def send(self, kind: str, content: Any, metadata: Any = None, channel: str = "shell") -> str:
        """Send one message; its id."""
        assert self.line is not None
        header = {
            "msg_id": uuid.uuid4().hex, "msg_type": kind, "session": self.session, "version": "5.3",
            "username": "", "date": "2026-05-03T10:00:00Z",
        }  # fmt: skip
        whole = {
            "header": header,
            "parent_header": {},
            "metadata": metadata or {},
            "content": content,
        }
        if self.line.selected_subprotocol:
            parts = [json.dumps(part).encode() for part in whole.values()]
            self.line.write_message(serialize_msg_to_ws_v1(parts, channel), binary=True)
        else:  # a proxy between does not speak of it
            self.line.write_message(json.dumps({**whole, "channel": channel, "buffers": []}))
        return header["msg_id"]

    async def heard(self, asked: str, timeout_s: float = 60) -> list[dict[str, Any]]:
        """Contents of the widgets' messages until the kernel is done with what was asked."""
        assert self.line is not None
        found: list[dict[str, Any]] = []
        while True:
            raw = await asyncio.wait_for(self.line.read_message(), timeout_s)
            if raw is None:
                raise ConnectionError("the line was cut")
            header, parent, content = self._read(raw)
            if parent.get("msg_id") != asked:
                continue
            if header["msg_type"] == "comm_msg":
                found.append(content)
                self._take(content["comm_id"], content["data"])
            if header["msg_type"] == "status" and content["execution_state"] == "idle":
                return found

    def _read(self, raw: str | bytes) -> tuple[Any, Any, Any]:
        """Header, parent's header and content of a message."""
        assert self.line is not None
        if self.line.selected_subprotocol:
            _, parts = deserialize_msg_from_ws_v1(raw)
            header, parent, _, content = (json.loads(part) for part in parts[:4])
            return header, parent, content
        whole = json.loads(raw) if isinstance(raw, str) else deserialize_binary_message(raw)
        return whole["header"], whole["parent_header"], whole["content"]

    def _take(self, model: str, data: dict[str, Any]) -> None:
        """What a widget tells, or many of them in one message."""
        if data.get("method") == "update":
            self.states.get(model, {}).update(data["state"])
        elif data.get("method") == "custom" and isinstance(data["content"], dict):
            for one in data["content"].get("updates", ()):
                self._take(one["id"], one["data"])

    async def set(self, model: str, **state: Any) -> float:
        """Set a widget as a person does; the seconds until everything that follows from it has come back."""
        start = time.perf_counter()
        data = {"method": "update", "state": state, "buffer_paths": []}
        self.states[model].update(state)
        await self.heard(self.send("comm_msg", {"comm_id": model, "data": data}))
        return time.perf_counter() - start

    async def press(self, model: str) -> None:
        """Press a button."""
        data = {"method": "custom", "content": {"event": "click"}}
        await self.heard(self.send("comm_msg", {"comm_id": model, "data": data}))

    def models(self, name: str, **state: Any) -> list[str]:
        """Widgets of a kind, in the order in which they were made, with a state."""
        return [
            model
            for model, sent in self.states.items()
            if re.fullmatch(name, sent["model"]) and all(sent.get(k) == v for k, v in state.items())
        ]

    def texts(self) -> list[str]:
        """Every text on the page that is computed from its controls."""
        return computed(self.states[model]["value"] for model in self.models("HTML(Math)?Model"))


SLIDERS = "(Int|Float)SliderModel"


def computed(texts: Iterable[str]) -> list[str]:
    """Texts that are the same for every visitor and there as soon as the answer is.

    An exercise has numbers of the learner's own, a way out is looked for after the answer is shown, and each part that
    is shown by itself carries the style sheet.
    """
    return sorted(
        text for text in texts if text and not re.search("Exercise|A way out|<style>", text)
    )


def expected(page: str, folder: Path, slider: int, values: list[float]) -> list[list[str]]:
    """What a page must say with one of its sliders at each value, in a process of its own."""
    code = EXPECTED.format(page=page, slider=slider, values=values)
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(PROJECT)},
        capture_output=True,
        text=True,
        check=True,
    )
    return [computed(texts) for texts in json.loads(run.stdout)]


EXPECTED = """
import json, re
import ipywidgets as W
import workbook as wb
from ipywidgets.widgets.widget import _instances
wb.open_page({page!r}.lstrip("0123456789_"))
sliders = [w for w in _instances.values() if re.fullmatch("(Int|Float)SliderModel", w._model_name)]
found = []
for value in {values!r}:
    sliders[{slider}].value = value
    found.append([w.value for w in _instances.values() if re.fullmatch("HTML(Math)?Model", w._model_name)])
print(json.dumps(found))
"""
