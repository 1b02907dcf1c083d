"""Which messages a page may send, and who gives way when places are short."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest
from jupyter_client.session import Session
from jupyter_server.services.kernels.connection.base import serialize_msg_to_ws_v1
from tornado.web import HTTPError

from workbook.pages.visitor_kernels import PAGES_EACH, PageConnection, VisitorKernels


class Judge(PageConnection):
    """The judgement of messages, without a line."""

    def __init__(self) -> None:
        self.session = Session(key=b"")


def message(kind: str, content: Any = None, channel: str = "shell") -> bytes:
    parts = [json.dumps(part).encode() for part in ({"msg_type": kind}, {}, {}, content or {})]
    return bytes(serialize_msg_to_ws_v1(parts, channel))


CONTROL, OTHER = {"target_name": "jupyter.widget.control"}, {"target_name": "jupyter.widget"}


@pytest.mark.parametrize(
    ("raw", "passes"),
    [
        (message("comm_msg"), True),
        (message("kernel_info_request"), True),
        (message("comm_info_request"), True),
        (message("comm_open", CONTROL), True),
        (message("comm_open", OTHER), False),
        (message("execute_request", {"code": "1"}), False),
        (message("complete_request"), False),
        (message("inspect_request"), False),
        (message("history_request"), False),
        (message("shutdown_request"), False),
        (message("input_reply"), False),
        (message("debug_request"), False),
        (message("comm_msg", channel="control"), False),
        (message("comm_msg", channel="stdin"), False),
        (message("comm_msg", channel="iopub"), False),
    ],
)
def test_a_page_moves_widgets_and_runs_no_code(raw: bytes, passes: bool) -> None:
    assert Judge()._may_pass(raw) is passes


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\xff" * 8,
        (2**62).to_bytes(8, "little"),
        (6).to_bytes(8, "little") + b"\xff" * 48,
        message("comm_msg")[:40],
        serialize_msg_to_ws_v1([b"no json", b"{}", b"{}", b"{}"], "shell"),
        serialize_msg_to_ws_v1([b"[]", b"{}", b"{}", b"{}"], "shell"),
        "text",
    ],
    ids=range(8),
)
def test_what_is_no_message_is_noticed_at_once(raw: Any) -> None:
    with pytest.raises((ValueError, KeyError, TypeError)):
        Judge()._may_pass(raw)


class Places(VisitorKernels):
    """Kernels that are only counted."""

    def __init__(self, owners: dict[str, str], left: set[str]) -> None:
        self.owners, self.gone, self.ended = owners, left, list[str]()
        self.most_visitors = 2

    def __contains__(self, kernel_id: object) -> bool:
        return True

    def _left(self, kernel_id: str) -> bool:
        return kernel_id in self.gone

    async def _end(self, kernel_id: str) -> None:
        self.ended.append(kernel_id)
        del self.owners[kernel_id]


def ended(owners: dict[str, str], left: set[str], who: str) -> list[str]:
    places = Places(dict(owners), left)
    asyncio.run(places._make_place(who))
    return places.ended


def test_a_further_page_ends_the_visitor_s_oldest_or_the_one_nobody_looks_at() -> None:
    assert PAGES_EACH == 2
    assert ended({"1": "a", "2": "a"}, set(), "a") == ["1"]
    assert ended({"1": "a", "2": "a"}, {"2"}, "a") == ["2"]
    assert ended({"1": "a", "2": "b"}, set(), "a") == []


def test_where_all_places_are_taken_one_that_was_left_gives_way() -> None:
    full = {"1": "a", "2": "b", "3": "b"}
    assert ended(full, {"2", "3"}, "c") == ["2", "3"]
    for left in (set(), {"2"}):
        with pytest.raises(HTTPError) as refused:
            ended(full, left, "c")
        assert refused.value.status_code == 503
    assert ended(full, set(), "a") == []
