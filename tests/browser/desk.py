"""A running JupyterLab, a Chromium, and a desk to work at both: for tests and for measuring.

Set WORKBOOK_CHROMIUM to the browser's path where it is not on the search path, and WORKBOOK_SHOTS to a
folder that keeps the screenshots.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

import nbformat

from tests.conftest import NOTEBOOKS
from workbook.opening import PAGES, SETTINGS, TEMPLATES

LAPTOP = {"width": 1366, "height": 768}
PHONE = {"width": 390, "height": 844}
START_S, RUN_S, ANSWER_S = 180, 300, 60
"""How long a start, a whole notebook, and the answer to one change may take on a busy machine."""
IDLE = """() =>
  window.jupyterapp?.shell?.currentWidget?.sessionContext?.session?.kernel?.status === 'idle'"""
HARMLESS = re.compile(
    r"favicon|ResizeObserver loop|404 \(Not Found\)|AudioContext|webgl", re.IGNORECASE
)
"""Console lines of JupyterLab itself that say nothing about a notebook."""


class Missing(RuntimeError):
    """Something that a browser test needs is not installed; the message says what to install."""


def chromium_path() -> str:
    """Where Chromium is."""
    found = os.environ.get("WORKBOOK_CHROMIUM") or next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )
    if not found:
        raise Missing("no Chromium found: install the 'chromium' package or set WORKBOOK_CHROMIUM.")
    return str(found)


@dataclass
class Lab:
    """A running JupyterLab: its address, its token and the folder that it shows."""

    url: str
    token: str
    folder: Path

    def address(self, path: str) -> str:
        return f"{self.url}/lab/tree/{quote(path)}?token={self.token}&reset"

    def page_address(self, path: str) -> str:
        return f"{self.url}{PAGES}/{quote(path)}?token={self.token}"


def _free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@contextmanager
def running_lab(base: Path) -> Iterator[Lab]:
    """One server of pages and JupyterLab on a copy of the notebooks, with settings of its own, for the whole run."""
    folder = base / "notebooks"
    shutil.copytree(NOTEBOOKS, folder)
    own = {
        "JUPYTERLAB_SETTINGS_DIR": base / "settings",
        "JUPYTERLAB_WORKSPACES_DIR": base / "workspaces",
        "JUPYTER_CONFIG_DIR": base / "config",
        "JUPYTER_DATA_DIR": base / "data",
        "JUPYTER_RUNTIME_DIR": base / "runtime",
        "JUPYTER_PATH": TEMPLATES,
        "IPYTHONDIR": base / "ipython",
    }
    port, token = _free_port(), secrets.token_hex(12)
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={token}",
        f"--ServerApp.root_dir={folder}", f"--config={SETTINGS}", "--LabApp.expose_app_in_browser=True",
    ]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    log = base / "server.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            command,
            stdout=out,
            stderr=subprocess.STDOUT,
            env={**os.environ, **{k: str(v) for k, v in own.items()}},
            start_new_session=os.name == "posix",
        )
        try:
            url = f"http://127.0.0.1:{port}"
            _wait_for(url, token, server, log)
            yield Lab(url, token, folder)
        finally:
            _stop(server)


def _wait_for(url: str, token: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end:
        if server.poll() is not None:
            break
        try:
            with urllib.request.urlopen(f"{url}/api/status?token={token}", timeout=5):
                return
        except OSError:
            time.sleep(0.2)
    printed = log.read_text("utf-8", "replace")
    raise RuntimeError(f"JupyterLab did not start:\n{printed[-3000:]}")


def _stop(server: subprocess.Popen[bytes]) -> None:
    """End the server and its kernels: only the processes that it started."""
    server.send_signal(signal.SIGTERM)
    try:
        server.wait(15)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait(15)


@contextmanager
def running_browser() -> Iterator[Any]:
    """One Chromium, without a window."""
    path = chromium_path()
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise Missing("playwright is not installed: pip install 'workbook[test]'.") from None
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=path,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield started
        started.close()


@dataclass
class Desk:
    """A browser page at JupyterLab, and what a test does with it."""

    lab: Lab
    page: Any
    shots: Path
    errors: list[str] = field(default_factory=list)

    def _note(self, text: str) -> None:
        if not HARMLESS.search(text):
            self.errors.append(text)

    def write_notebook(self, path: str, cells: list[str]) -> str:
        """Put a notebook of folded code cells into the folder that JupyterLab shows."""
        folded = {"jupyter": {"source_hidden": True}}
        book = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(c, metadata=folded) for c in cells]
        )
        book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
        (self.lab.folder / path).parent.mkdir(parents=True, exist_ok=True)
        nbformat.write(book, self.lab.folder / path)
        return path

    def open_notebook(self, path: str) -> None:
        """Open a notebook and wait until its kernel is ready."""
        self.page.goto(self.lab.address(path))
        self.page.wait_for_function(IDLE, timeout=START_S * 1000)

    def run_all_cells(self) -> None:
        """Run every cell and wait until the kernel is idle and no cell shows an error."""
        self.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
        self.wait_until_idle()
        self.page.wait_for_timeout(300)
        failed = self.page.locator('[data-mime-type="application/vnd.jupyter.stderr"], .jp-RenderedText'
                                   '[data-mime-type="application/vnd.jupyter.error"]')  # fmt: skip
        assert failed.count() == 0, failed.first.inner_text()

    def wait_until_idle(self) -> None:
        """Wait until no cell waits to run and the kernel is idle."""
        self.page.wait_for_function(
            """() => {
              const panel = window.jupyterapp.shell.currentWidget;
              const cells = [...panel.node.querySelectorAll('.jp-InputArea-prompt')];
              return panel.sessionContext.session.kernel.status === 'idle'
                && !cells.some(c => c.textContent.includes('*'));
            }""",
            timeout=RUN_S * 1000,
        )

    def eventually(self, check: Callable[[], None]) -> None:
        """Try what is asserted again until it is so: the page answers in its own time."""
        end = time.monotonic() + ANSWER_S
        while True:
            try:
                return check()
            except AssertionError:
                if time.monotonic() > end:
                    raise
            self.page.wait_for_timeout(200)

    def at_rest(self, read: Callable[[], str], unlike: str | None = None) -> str:
        """What is read from the page once it is unlike what it was, and stays so with an idle kernel."""
        end, seen, same = time.monotonic() + ANSWER_S, read(), 1
        while (seen == unlike or same < 4) and time.monotonic() < end:
            self.page.wait_for_timeout(150)
            now, idle = read(), self.page.evaluate(IDLE)
            seen, same = now, same + 1 if now == seen and idle else 1
        return seen

    def choose(self, box: Any, option: str) -> None:
        """Choose from a list by the beginning of an entry.

        (By keyboard a list takes Home and End; letters and arrows are JupyterLab's own keys there.)
        """
        box.scroll_into_view_if_needed()
        texts = [
            t.replace("\u00a0", " ") for t in box.evaluate("e => [...e.options].map(o => o.text)")
        ]
        box.select_option(index=next(i for i, t in enumerate(texts) if t.startswith(option)))

    def focus_on_output(self) -> None:
        """Hide the side bar, as a learner at a small screen does."""
        self.page.evaluate("() => window.jupyterapp.shell.collapseLeft()")
        self.page.wait_for_timeout(200)

    def screenshot(self, name: str) -> Path:
        """Keep a picture of the page as it stands."""
        self.shots.mkdir(parents=True, exist_ok=True)
        path = self.shots / f"{name}.png"
        self.page.screenshot(path=path)
        return path

    def close(self) -> None:
        """Shut the kernels down and close the page."""
        request = urllib.request.Request(f"{self.lab.url}/api/sessions?token={self.lab.token}")
        with urllib.request.urlopen(request, timeout=10) as answer:
            sessions = json.load(answer)
        self.page.goto("about:blank")  # a page that is left ends its kernel
        self.page.context.close()
        for session in sessions:
            end = urllib.request.Request(
                f"{self.lab.url}/api/sessions/{session['id']}",
                method="DELETE",
                headers={"Authorization": f"token {self.lab.token}"},
            )
            try:
                urllib.request.urlopen(end, timeout=10).close()
            except urllib.error.HTTPError:
                continue


@contextmanager
def sitting(lab: Lab, browser: Any, shots: Path) -> Iterator[Desk]:
    """A fresh page at laptop size; `desk.errors` gathers what the page complains of."""
    page = browser.new_context(viewport=LAPTOP).new_page()
    page.set_default_timeout(ANSWER_S * 1000)
    kept = os.environ.get("WORKBOOK_SHOTS")
    desk = Desk(lab, page, Path(kept) if kept else shots)
    page.on("console", lambda m: desk._note(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: desk._note(str(e)))
    try:
        yield desk
    finally:
        desk.close()
