"""What a visitor of shared pages can reach: the door, pages, what they are made of, their own kernels; nothing else."""

from __future__ import annotations

import asyncio
import hmac
import json
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader
from jupyter_client.jsonutil import json_default
from jupyter_server.auth import Authorizer, IdentityProvider, User
from jupyter_server.auth.decorator import authorized
from jupyter_server.base.handlers import APIHandler, JupyterHandler
from tornado.httputil import HTTPServerRequest
from tornado.web import HTTPError, RequestHandler, authenticated
from voila.shutdown_kernel_handler import VoilaShutdownKernelHandler
from voila.tornado.handler import TornadoVoilaHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from workbook.data.notebooks import START_PAGE
from workbook.errors import InputError
from workbook.pages.board import Board
from workbook.pages.page import page_of
from workbook.pages.visitor_kernels import FULL_TEXT, VISITING, VisitorKernels
from workbook.pages.visitors import Turnstile, Visitor, Visitors

TEMPLATES = Path(__file__).with_name("templates")
CLUB, VISITOR = "club", "visitor"
"""Cookies: of who came by the club's address, and of who has a word."""

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' blob: data:; object-src 'none'; "
        "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}
"""A page fetches from, and sends to, nobody but this server."""

ERROR_TEXTS = {
    403: "You may not open this.",
    404: "There is no such page here.",
    405: "This cannot be done here.",
    429: "Too many tries. Wait a minute, then try again.",
    503: f"{FULL_TEXT} This page tries again by itself as soon as somebody leaves.",
}
TRY_AGAIN_S = 10


@cache
def _templates() -> Environment:
    folders = [TEMPLATES / "share", TEMPLATES / "voila" / "templates" / "page"]
    return Environment(loader=FileSystemLoader(folders), autoescape=True)


class ClubShare:
    """What all that a visitor reaches has in common.

    Args:
        visitors: who has a folder here.
        key: opens the projector's pages, on this machine only.
        board: counts answers; None where there is none.
    """

    def __init__(self, visitors: Visitors, key: str, board: Board | None) -> None:
        self.visitors, self.key, self.board = visitors, key, board
        self.address = ""
        self.tries, self.tries_of_all = Turnstile(10), Turnstile(60)
        self.arrivals, self.openings = Turnstile(120), Turnstile(20)
        self._furnished: set[str] = set()

    async def furnish(self, visitor: Visitor) -> None:
        """Bring a visitor's folder up to the shared one, once while the server runs."""
        if visitor.id not in self._furnished:
            await asyncio.get_running_loop().run_in_executor(None, self.visitors.furnish, visitor)
            self._furnished.add(visitor.id)

    def knows(self, handler: RequestHandler, word: str) -> bool | None:
        """Whether a word is the club's; None where too many were tried."""
        right = hmac.compare_digest(word.encode(), self.visitors.club.encode())
        if not right and not self.may_try(handler.request):
            return None
        return right

    def may_try(self, request: HTTPServerRequest) -> bool:
        """Whether the sender of a request may try a word once more."""
        return self.tries.passes(request.remote_ip or "") and self.tries_of_all.passes("")


def sharing_of(handler: RequestHandler) -> ClubShare:
    """The settings that a handler works with."""
    found: ClubShare = handler.settings["sharing"]
    return found


class VisitorIdentity(IdentityProvider):
    """The sender of a request: the visitor whose signed cookie came along; a token or a password opens nothing."""

    def get_user(self, handler: RequestHandler) -> User | None:
        """The visitor, by the name of their folder."""
        club, visitor = handler.get_signed_cookie(CLUB), handler.get_signed_cookie(VISITOR)
        sharing = sharing_of(handler)
        if club is None or visitor is None or club.decode() != sharing.visitors.club:
            return None
        found = sharing.visitors.of(visitor.decode())
        return None if found is None else User(username=found.id)

    def get_handlers(self) -> list[tuple[str, object]]:
        """No page to log in."""
        return []


class OwnKernels(Authorizer):
    """A visitor may use the kernels of their own pages."""

    def is_authorized(
        self, handler: JupyterHandler, user: User, action: str, resource: str
    ) -> bool:
        """Whether the kernel in the address is theirs."""
        kernels: VisitorKernels = handler.settings["kernel_manager"]
        owner = kernels.owners.get(handler.path_kwargs.get("kernel_id") or handler.path_args[0])
        return owner is not None and owner == user.username


class _Plain(RequestHandler):
    """Pages in plain words, errors too."""

    def set_default_headers(self) -> None:
        for name, value in HEADERS.items():
            self.set_header(name, value)
        self.set_header("Content-Type", "text/html; charset=UTF-8")
        self.set_header("Cache-Control", "no-store")

    def show(self, template: str, **what: Any) -> None:
        self.finish(_templates().get_template(template).render(**what))

    def write_error(self, status_code: int, **_: Any) -> None:
        if status_code == 503:
            self.set_header("Retry-After", str(TRY_AGAIN_S))
        message = ERROR_TEXTS.get(status_code, "Something went wrong here; go back and try again.")
        self.show("sorry.html.j2", message=message, again=TRY_AGAIN_S if status_code == 503 else 0)


class Nothing(_Plain):
    """Every address that is none."""

    def prepare(self) -> None:
        """Say so."""
        raise HTTPError(404)


class Door(_Plain):
    """Where one comes in: by the club's address, with a word or without one yet."""

    def _inside(self) -> bool:
        club = self.get_signed_cookie(CLUB)
        return club is not None and club.decode() == sharing_of(self).visitors.club

    def _show_door(self, message: str = "", visitor: Visitor | None = None) -> None:
        self.show(
            "door.html.j2",
            message=message,
            visitor=visitor,
            start=START_PAGE,
            inside=self._inside(),
        )

    def _remember(self, name: str, value: str) -> None:
        self.set_signed_cookie(name, value, expires_days=30, httponly=True, samesite="Lax")

    def get(self) -> None:
        """The door; with the club's word in the address it opens."""
        sharing, word = sharing_of(self), self.get_query_argument("club", "")
        if word:
            known = sharing.knows(self, word)
            if known is None:
                raise HTTPError(429)
            if known:
                self._remember(CLUB, word)
                self.redirect("/")
                return
        cookie = self.get_signed_cookie(VISITOR)
        visitor = sharing.visitors.of(cookie.decode()) if cookie and self._inside() else None
        self._show_door(visitor=visitor)

    def post(self) -> None:
        """One who is new, or comes back."""
        sharing = sharing_of(self)
        origin = self.request.headers.get("Origin", "")
        if not self._inside() or (origin and origin.partition("://")[2] != self.request.host):
            raise HTTPError(403)
        typed = self.get_body_argument("word", None)
        if typed is None:
            if not sharing.arrivals.passes(""):
                raise HTTPError(429)
            try:
                found: Visitor | None = sharing.visitors.welcome()
            except InputError as fault:
                self._show_door(fault.lines[0])
                return
        else:
            if not sharing.may_try(self.request):
                raise HTTPError(429)
            found = sharing.visitors.back(typed)
        if found is None:
            self._show_door(
                "That word is not known here. Check its spelling: two words and four digits."
            )
            return
        self._remember(VISITOR, found.id)
        self.redirect("/")


class Page(_Plain, TornadoVoilaHandler):  # type: ignore[misc]  # Voila has no types
    """A notebook as a page, in a kernel of its own."""

    def get_login_url(self) -> str:
        """Who has no word is led to the door."""
        return "/"

    @authenticated
    async def get(self, path: str) -> None:
        """Open it, where there is one and a place for it."""
        sharing = sharing_of(self)
        visitor = sharing.visitors.of(self.current_user.username)
        if visitor is None or not (Path(self.contents_manager.root_dir) / path).is_file():
            raise HTTPError(404)
        if not sharing.openings.passes(visitor.id):
            raise HTTPError(429)
        await sharing.furnish(visitor)
        VISITING.set(visitor)
        shown: Any = super().get(path)
        await shown


def shared_page(handler: Any, notebook: Any, cwd: str) -> Any:
    """What a visitor sees of a notebook: its page, with their word on it.

    Args:
        handler: of the page that is opened.
        notebook: as nbformat reads it; it is changed.
        cwd: as Voila gives it; not used.
    """
    handler.xsrf_token  # noqa: B018  asking sets the cookie with which the page may end its kernel
    page = page_of(notebook, handler.request.path.rpartition("/")[2], code=False)
    page.metadata["word"] = VISITING.get().word
    return page


class PageSocket(VoilaKernelWebsocketHandler):  # type: ignore[misc]  # Voila has no types
    """The line between a page and its kernel."""

    def select_subprotocol(self, subprotocols: list[str]) -> str | None:
        """The one way of writing messages that is looked through."""
        if "v1.kernel.websocket.jupyter.org" not in subprotocols:
            raise HTTPError(400)
        return "v1.kernel.websocket.jupyter.org"

    def get_compression_options(self) -> dict[str, Any] | None:
        """None: what unpacks to much more than was sent is not taken."""
        return None


class PageKernel(APIHandler):
    """What a page asks of its own kernel before it speaks to it; it cannot end or restart one here."""

    SUPPORTED_METHODS = ("GET",)
    auth_resource = "kernels"

    @authenticated
    @authorized
    def get(self, kernel_id: str) -> None:
        """Its name and state."""
        kernels: Any = self.kernel_manager
        self.finish(json.dumps(kernels.kernel_model(kernel_id), default=json_default))


class PageEnd(VoilaShutdownKernelHandler):  # type: ignore[misc]  # Voila has no types
    """A page that is closed ends its own kernel."""

    auth_resource = "kernels"

    @authenticated
    @authorized
    async def post(self, kernel_id: str) -> None:
        """End it, where it is theirs."""
        await super().post(kernel_id)


class _OnThisMachine(_Plain):
    """For who sits at the server: reached from this machine only, with the key."""

    def prepare(self) -> None:
        key = self.get_query_argument("key", "")
        here = self.request.remote_ip in ("127.0.0.1", "::1")
        if not here or not hmac.compare_digest(key.encode(), sharing_of(self).key.encode()):
            raise HTTPError(404)


class Projector(_OnThisMachine):
    """The address as a code, for everybody to see; and who is here."""

    def get(self) -> None:
        """The page for the projector."""
        import segno

        sharing = sharing_of(self)
        code = segno.make(sharing.address, error="m").svg_inline(scale=1, border=2, omitsize=True)
        key = sharing.key if sharing.board is not None else ""
        self.show(
            "projector.html.j2", address=sharing.address, code=code, key=sharing.key, board=key
        )


class ProjectorState(_OnThisMachine):
    """How many are here, and what they answered, for the projector's pages; and where kernels send answers to."""

    def get(self) -> None:
        """Counts, as JSON."""
        sharing, kernels = sharing_of(self), self.settings["kernel_manager"]
        rows = [] if sharing.board is None else sharing.board.rows()
        state = {"here": len(kernels.visitors()), "most": kernels.most_visitors, "rows": rows}
        self.set_header("Content-Type", "application/json")
        self.finish(json.dumps(state))

    def post(self) -> None:
        """Count an answer."""
        board = sharing_of(self).board
        try:
            if board is None:
                raise ValueError("no board was asked for.")
            board.add(json.loads(self.request.body))
        except ValueError:
            raise HTTPError(403) from None


class BoardPage(_OnThisMachine):
    """The board for the projector."""

    def get(self) -> None:
        """The page that asks for the counts again and again."""
        if sharing_of(self).board is None:
            raise HTTPError(404)
        self.show("board.html.j2", key=sharing_of(self).key)
