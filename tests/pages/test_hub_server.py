"""The pages below a JupyterHub: its own servers, live figures through its proxy, and learners kept apart."""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.pages.visiting import PROJECT, SLIDERS, Guest
from workbook.pages import hub_config

HUB, KEY = "http://127.0.0.1:8940", "0" * 32

OURS = Path(hub_config.__file__)
# the proxy in Python knows nothing of subprotocols, so the older one is asked for
FOR_THE_TEST = f"""
load_subconfig({str(OURS)!r})
c.JupyterHub.bind_url = {HUB!r}
c.JupyterHub.hub_port = 8942
c.JupyterHub.authenticator_class = "dummy"
c.Authenticator.allow_all = True
c.JupyterHub.spawner_class = "simple"
c.SimpleLocalProcessSpawner.home_dir_template = "{{}}/{{username}}"
c.Spawner.environment = {{"PYTHONPATH": {str(PROJECT)!r}}}
c.Spawner.args = ["--allow-root", "--ZMQChannelsWebsocketConnection.kernel_ws_protocol="]
c.ConfigurableHTTPProxy.command = [{sys.executable!r}, "-c", "from configurable_http_proxy.cli import main; main()"]
c.Spawner.start_timeout = c.Spawner.http_timeout = 120
c.JupyterHub.services = [{{"name": "check", "api_token": {KEY!r}}}]
c.JupyterHub.load_roles = [{{"name": "check", "services": ["check"], "scopes": ["admin:users", "admin:servers", "tokens"]}}]
"""


def ask(path: str, body: Any = None) -> Any:
    """One request of whoever runs the hub."""
    data = None if body is None else json.dumps(body).encode()
    asked = urllib.request.Request(f"{HUB}/hub/api{path}", data, {"Authorization": f"token {KEY}"})
    with urllib.request.urlopen(asked, timeout=120) as answer:
        return json.loads(answer.read() or b"null")


@pytest.fixture
def hub(tmp_path: Path) -> Iterator[Path]:
    pytest.importorskip("jupyterhub", reason="pip install 'workbook[hub]'")
    (tmp_path / "config.py").write_text(FOR_THE_TEST.replace("{}/", f"{tmp_path}/"), "utf-8")
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "jupyterhub", "--config", "config.py"],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(PROJECT)},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        for _ in range(300):
            try:
                ask("/users")
                break
            except (urllib.error.URLError, OSError):
                if process.poll() is not None:
                    pytest.fail((tmp_path / "log").read_text())
                time.sleep(0.2)
        yield tmp_path
    finally:
        process.terminate()
        process.wait(60)


def server_of(name: str) -> Guest:
    """A learner whose server runs."""
    ask(f"/users/{name}", {})
    token = ask(f"/users/{name}/tokens", {})["token"]
    ask(f"/users/{name}/server", {})
    for _ in range(300):
        if ask(f"/users/{name}")["server"]:
            break
        time.sleep(0.2)
    return Guest(f"{HUB}/user/{name}", headers={"Authorization": f"token {token}"})


@pytest.mark.long
def test_learners_have_live_pages_of_their_own_and_cannot_reach_each_other(hub: Path) -> None:
    ann, ben = server_of("ann"), server_of("ben")

    async def tried() -> None:
        for guest in (ann, ben):
            await guest.page("02_series_parallel")
            await guest.connect()
            before = guest.texts()
            await guest.set(guest.models(SLIDERS)[1], value=5)
            assert guest.texts() != before
            await guest.leave()
        thief = Guest(ann.base, headers=ben.headers)
        assert (await thief.ask("/voila/render/start.ipynb")).code in (302, 403)
        assert (await thief.ask("/api/contents")).code == 403

    asyncio.run(tried())
    for name in ("ann", "ben"):
        assert (hub / name / "pack-workbook" / "start.ipynb").exists()
