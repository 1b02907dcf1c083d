"""Sharing the pages with a club: a server that gives pages and nothing else, on this machine or on its network."""

from __future__ import annotations

import errno
import logging
import os
import secrets
import signal
import socket
import threading
import webbrowser
from collections import Counter
from pathlib import Path
from typing import Any

import psutil
import tornado.ioloop
from tornado.httpserver import HTTPServer
from traitlets.config import Config
from voila.app import Voila

from workbook.console import can_show, print_line
from workbook.errors import InputError
from workbook.exercises.answers import BOARD
from workbook.opening import laid_out, serve
from workbook.pages import server_config
from workbook.pages.board import Board
from workbook.pages.page import LARGEST_OF_VISITOR_BYTES
from workbook.pages.share_handlers import (
    HEADERS,
    BoardPage,
    ClubShare,
    Door,
    Nothing,
    OwnKernels,
    Page,
    PageEnd,
    PageKernel,
    PageSocket,
    Projector,
    ProjectorState,
    VisitorIdentity,
    shared_page,
)
from workbook.pages.visitor_kernels import PAGES_EACH, PageConnection, VisitorKernels
from workbook.pages.visitors import Visitors

PORT = 8877
IDLE_S = 1800
"""A page that nobody has touched for so long is ended."""
MOST_CONNECTIONS, MOST_OF_ONE = 1200, 400
LARGEST_BODY_BYTES = 100_000
USUAL_VISITORS = 30
KEPT_FREE_BYTES = 1_000_000_000
"""Of the machine's memory, for everything else on it."""
PAGE_BYTES = 160_000_000
"""That a page takes until it was measured; on Linux with Python 3.11 the bench takes less."""
OPENED_BYTES = 45_000_000
"""That a kernel takes more once the bench is open in it: 41 MB on Linux, where kernels share what they loaded."""


class CountedServer(HTTPServer):
    """A server that lets nobody take all its connections."""

    def initialize(self, *args: Any, **settings: Any) -> None:
        """As Tornado makes one."""
        super().initialize(*args, **settings)
        self.open_from: Counter[str] = Counter()

    def handle_stream(self, stream: Any, address: Any) -> None:
        """Take a connection, where there are not too many."""
        who = str(address[0])
        if self.open_from[who] >= MOST_OF_ONE or self.open_from.total() >= MOST_CONNECTIONS:
            stream.close()
            return
        self.open_from[who] += 1
        stream.who = who
        super().handle_stream(stream, address)

    def on_close(self, server_conn: Any) -> None:
        """Count one connection less."""
        super().on_close(server_conn)
        self.open_from[server_conn.stream.who] -= 1


class SharedPages(Voila):  # type: ignore[misc]  # Voila has no types
    """The server of shared pages. Of Voila it takes how a page is made, and none of its addresses but those named here."""

    name = "voila"
    sharing: ClubShare
    browser_opens = True

    def init_settings(self) -> dict[str, Any]:
        """Settings of the server, with those of sharing."""
        found: dict[str, Any] = super().init_settings()
        return found | {
            "sharing": self.sharing,
            "headers": HEADERS,
            "websocket_max_message_size": LARGEST_OF_VISITOR_BYTES,
        }

    def init_handlers(self) -> list[Any]:
        """Every address that there is."""
        theirs = {rule[0]: rule for rule in super().init_handlers()}
        made_of = [rule for address, rule in theirs.items() if address.startswith(STATIC)]
        page = theirs[r"/voila/render/(.*)"][2]
        kernel = r"(?P<kernel_id>\w+-\w+-\w+-\w+-\w+)"
        return [
            (r"/", Door),
            (r"/voila/render/([\w-]+\.ipynb)", Page, page),
            (rf"/api/kernels/{kernel}/channels", PageSocket),
            (rf"/api/kernels/{kernel}", PageKernel),
            (rf"/voila/api/shutdown/{kernel}", PageEnd),
            *made_of,
            (rf"/voila/templates/({STYLE})", theirs[r"/voila/templates/(.*)"][1]),
            (r"/projector", Projector),
            (r"/projector/state", ProjectorState),
            (r"/projector/board", BoardPage),
            (r"/.*", Nothing),
        ]

    def listen(self) -> None:
        """Take the port, print the addresses, and serve until a signal comes."""
        self.ioloop = tornado.ioloop.IOLoop.current()
        server = CountedServer(
            self.app,
            max_body_size=LARGEST_BODY_BYTES,
            max_header_size=16_000,
            idle_connection_timeout=60,
            body_timeout=30,
        )
        self.port: int = _listen_on_free_port(server, self.port, self.ip)
        here = f"http://127.0.0.1:{self.port}"
        self.sharing.address = f"http://{_own_address() if not self.ip else '127.0.0.1'}:{self.port}/?club={self.sharing.visitors.club}"
        os.environ.pop(BOARD, None)
        if self.sharing.board is not None:
            os.environ[BOARD] = f"{here}/projector/state?key={self.sharing.key}"
        self._print_addresses(f"{here}/projector?key={self.sharing.key}")
        # Jupyter gives its pings in ms and Tornado reads seconds, and warns at each page
        logging.getLogger("tornado.general").setLevel(logging.ERROR)
        self.ioloop.add_callback(self._print_memory_use)
        try:
            self.ioloop.start()
        finally:
            self.stop()

    def _handle_signal_stop(self, number: int, frame: Any) -> None:
        """End the server; a further signal asks for nothing else."""
        for further in (signal.SIGINT, signal.SIGTERM):
            signal.signal(further, signal.SIG_IGN)
        super()._handle_signal_stop(number, frame)

    def stop(self) -> None:
        """End every kernel, in the loop in which one may still be starting; then as Voila does."""
        self.ioloop.run_sync(self.kernel_manager.shutdown_all)
        super().stop()

    def _print_addresses(self, projector: str) -> None:
        """The address in words and, where the terminal can show one, as a code; and the page for the projector, opened."""
        import segno

        if can_show("█▀▄"):
            segno.make(self.sharing.address, error="m").terminal(compact=True, border=2)
        print_line(f"Visitors go to {self.sharing.address}")
        print_line(f"For the projector, on this machine only: {projector}")
        if not self.ip:
            print_line(
                "Anyone on this network who has the address can come in, and the connection is not encrypted."
            )
        else:
            print_line("Only this machine can reach it; --network lets others in.")
        print_line(f"What visitors keep: {self.sharing.visitors.folders}")
        if self.browser_opens:
            threading.Thread(target=webbrowser.open, args=(projector,), daemon=True).start()

    async def _print_memory_use(self) -> None:
        """Print how much memory a page takes, once one is warm."""
        kernels: VisitorKernels = self.kernel_manager
        kernels.prepare()
        if kernels.spare is None:
            return
        process: Any = kernels.get_kernel(await kernels.spare).provisioner
        one = psutil.Process(process.pid).memory_full_info().uss + OPENED_BYTES
        free = psutil.virtual_memory().available
        most = kernels.most_visitors
        print_line(
            f"A page takes {one / 1e6:.0f} MB of memory here: {most} visitors with one page each take "
            f"{most * one / 1e9:.1f} GB, with {PAGES_EACH} each, the most, {PAGES_EACH * most * one / 1e9:.1f} GB. "
            f"Free: {free / 1e9:.1f} GB."
        )
        if most * one > free:
            print_line(
                f"The free memory is too little: share with --visitors {max(1, int(free / one))}, or close other programs."
            )


STATIC = ("/voila/static/", "/voila/api/themes/", "/voila/labextensions/")
"""What pages are made of: files of the libraries, the same for everybody."""
STYLE = r"page/static/(?:voila-style\.js|[0-9a-f]+\.woff2)"
"""What a page asks for of the templates, its style and the font of its signs; the rest is nobody's business."""


LAST_PORT = 65_535


def _listen_on_free_port(server: HTTPServer, first: int, address: str) -> int:
    """The first free port from one on.

    Raises:
        InputError: none of ten is free.
    """
    last = min(first + 9, LAST_PORT)
    for port in range(first, last + 1):
        try:
            server.listen(port, address)
        except OSError as fault:
            if fault.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
        else:
            return port
    raise InputError(f"none of the ports {first} to {last} is free; name another with --port.")


def _own_address() -> str:
    """This machine's address in its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return socket.gethostname()
        return str(probe.getsockname()[0])


def share(
    folder: Path | None,
    *,
    network: bool = False,
    visitors: int | None = None,
    board: bool = False,
    port: int = PORT,
    browser: bool = True,
) -> int:
    """Serve the pages of a folder to visitors until a signal ends it.

    Args:
        folder: as `workbook.opening.open_workbook` takes it.
        network: to the machines of this network; else to this machine only.
        visitors: most at once; where not given as many as the memory holds, up to 30.
        board: count answers for the projector.
        port: where it listens, or one of the nine after it.
        browser: open the projector's page.

    Raises:
        InputError: the folder cannot be used, or no port is free.
    """
    shared = laid_out(folder)
    sharing = ClubShare(Visitors(shared), secrets.token_hex(16), Board() if board else None)
    room = (psutil.virtual_memory().available - KEPT_FREE_BYTES) // PAGE_BYTES
    VisitorKernels.most_visitors = visitors or max(1, min(USUAL_VISITORS, int(room)))
    SharedPages.sharing, SharedPages.browser_opens = sharing, browser
    settings = Config(server_config.c)
    settings.VoilaConfiguration.prelaunch_hook = shared_page
    settings.VoilaConfiguration.multi_kernel_manager_class = VisitorKernels
    settings.VoilaExecutor.cell_error_instruction = (
        "Open the page again; tell whoever shares it if that does not help."
    )
    settings.MappingKernelManager.cull_idle_timeout = IDLE_S
    settings.MappingKernelManager.cull_interval = 60
    settings.MappingKernelManager.cull_connected = True
    settings.KernelManager.autorestart = False  # what starts anew would not be confined
    settings.Voila = Config(
        root_dir=str(shared),
        ip="" if network else "127.0.0.1",
        port=port,
        open_browser=False,
        config_file_paths=[],
        cookie_secret=sharing.visitors.secret,
        token="",
        log_level="ERROR",
        identity_provider_class=VisitorIdentity,
        authorizer_class=OwnKernels,
        kernel_websocket_connection_class=PageConnection,
    )
    for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(threads, "1")
    serve(lambda: SharedPages.launch_instance([], config=settings))
    return 0
