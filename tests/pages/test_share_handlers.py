"""Who may come in, and whose kernel is whose: the answers that every address of the shared pages asks for."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from jupyter_server.auth import User

from workbook.pages.share_handlers import ClubShare, OwnKernels
from workbook.pages.visitors import Visitors


@pytest.fixture
def share(tmp_path: Path) -> ClubShare:
    return ClubShare(Visitors(tmp_path), "key", None)


def asked_from(address: str) -> Any:
    return SimpleNamespace(request=SimpleNamespace(remote_ip=address))


def test_the_clubs_word_opens_and_another_does_not(share: ClubShare) -> None:
    assert share.knows(asked_from("192.0.2.7"), share.visitors.club) is True
    assert share.knows(asked_from("192.0.2.7"), "heron") is False


def test_guessing_is_stopped_for_one_address_and_the_word_still_opens(share: ClubShare) -> None:
    tries = [share.knows(asked_from("192.0.2.7"), f"guess {n}") for n in range(11)]
    assert tries == [False] * 10 + [None]  # ten a minute
    assert share.knows(asked_from("192.0.2.8"), "guess") is False
    assert share.knows(asked_from("192.0.2.7"), share.visitors.club) is True


def test_many_addresses_together_are_stopped_too(share: ClubShare) -> None:
    tries = [share.knows(asked_from(f"192.0.2.{n}"), "guess") for n in range(61)]
    assert tries == [False] * 60 + [None]  # sixty a minute, of all


@pytest.mark.parametrize(("kernel", "may"), [("mine", True), ("theirs", False), ("ended", False)])
def test_a_visitor_uses_the_kernels_of_their_own_pages(kernel: str, may: bool) -> None:
    kernels = SimpleNamespace(owners={"mine": "reed", "theirs": "otter"})
    handler: Any = SimpleNamespace(
        settings={"kernel_manager": kernels}, path_kwargs={"kernel_id": kernel}, path_args=[]
    )
    assert OwnKernels().is_authorized(handler, User(username="reed"), "execute", "kernels") is may
