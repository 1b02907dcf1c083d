"""Records in TOML written anew, with every comment of the document that they came from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, AoT, Comment, Null, Trivia, Whitespace

from workbook.files.records import parsed_by


def parse_document(text: str, where: str) -> tomlkit.TOMLDocument:
    """The contents of a TOML text with its comments; see `workbook.files.records.parse_toml`."""
    return parsed_by(tomlkit.parse, text, where, TOMLKitError)


def record_text(data: dict[str, Any], document: tomlkit.TOMLDocument | None = None) -> str:
    """A record as TOML; with every comment of the document that it came from, those of removed sections too.

    Example:
        >>> print(record_text({"name": "mine"}, tomlkit.parse('name = "yours"  # whose?')))
        name = "mine"  # whose?
    """
    kept = tomlkit.document()
    if document is not None:
        kept = tomlkit.parse(tomlkit.dumps(document))
        _prune(kept, data)
        kept = tomlkit.parse(tomlkit.dumps(kept))
    _merge(kept, data)
    return tomlkit.dumps(kept)


def _prune(old: Any, new: dict[str, Any]) -> None:
    """Take out of a parsed section what is not in the new one; its comments stay in its place."""
    body = (old.value if isinstance(old, AbstractTable) else old).body
    for key in [k for k in old if k not in new or _all_gone(old[k], new[k])]:
        places = [place for place, (k, _) in enumerate(body) if k is not None and k.key == key]
        comments = [line for place in places for line in _comments(body[place][1])]
        del old[key]
        if comments:
            body[places[0]] = (None, _remark(comments))
    for key, value in new.items():
        if isinstance(value, dict) and isinstance(old.get(key), AbstractTable):
            _prune(old[key], value)
        elif isinstance(old.get(key), AoT) and isinstance(value, list):
            _prune_list(old[key], value)


def _all_gone(old: Any, new: Any) -> bool:
    """Whether nothing is left of a list of sections."""
    if not isinstance(old, AoT) or not isinstance(new, list):
        return False
    return all(section is None for section, _ in _pairs(old, new))


def _prune_list(sections: AoT, new: list[dict[str, Any]]) -> None:
    """Take out of a list of sections those that are not in the new one; comments go to the one before."""
    pairs = _pairs(sections, new)
    kept = [section for section, _ in pairs if section is not None]
    for number in reversed(range(len(sections))):
        if not any(sections[number] is section for section in kept):
            comments = _comments(sections[number])
            if comments:
                sections[number - 1 if number else 1].value.body.append((None, _remark(comments)))
            del sections[number]
    for section, value in pairs:
        if section is not None:
            _prune(section, value)


def _pairs(sections: Iterable[Any], new: list[dict[str, Any]]) -> list[tuple[Any, dict[str, Any]]]:
    """New sections of a list, each with the old one that it came from: of the same `key`, else in the same place."""
    old = list(sections)
    if all("key" in section for section in (*old, *new)):
        known = {str(section["key"]): section for section in old}
        return [(known.get(value["key"]), value) for value in new]
    return list(zip([*old, *([None] * len(new))], new, strict=False))


def _comments(item: Any) -> list[str]:
    """The comments of a part of a document, in order, blank lines between them kept."""
    if isinstance(item, Whitespace | Null):
        return [""] * item.as_string().count("\n") if isinstance(item, Whitespace) else []
    comments = [item.trivia.comment] if item.trivia.comment else []
    inner = []
    if isinstance(item, AbstractTable):
        inner = [part for _, part in item.value.body]
    elif isinstance(item, AoT):
        inner = list(item.body)
    comments += [line for part in inner for line in _comments(part)]
    return comments if any(comments) else []


def _remark(lines: list[str]) -> Comment:
    return Comment(Trivia(comment="\n".join(lines).strip("\n"), trail="\n"))


def _merge(old: Any, new: dict[str, Any]) -> None:
    """Put new values into a parsed section in place, so that comments beside the others stay."""
    for key, value in new.items():
        if isinstance(value, dict):
            if not isinstance(old.get(key), dict):
                old[key] = tomlkit.table()
            _merge(old[key], value)
        elif isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
            _merge_list(old, key, value)
        elif key not in old or old[key] != value:
            old[key] = _in_lines(value) if isinstance(value, str) and "\n" in value else value


def _in_lines(text: str) -> Any:
    """A text of several lines, to be read as such in the file; its first begins below the three quotes."""
    written = tomlkit.string("." + text, multiline=True).as_string()
    return tomlkit.parse(f'lines = """\n{written.removeprefix(chr(34) * 3 + ".")}')["lines"]


def _merge_list(old: Any, key: str, new: list[dict[str, Any]]) -> None:
    """A list of sections ([[mission]]): each merged into the one that it came from, in the new order."""
    existing = old.get(key)
    pairs = _pairs(existing if isinstance(existing, AoT) else [], new)
    if isinstance(existing, AoT) and [section for section, _ in pairs[: len(existing)]] == list(
        existing
    ):
        sections = existing
        for section, value in pairs[: len(existing)]:
            _merge(section, value)
        pairs = pairs[len(existing) :]
    else:
        sections = old[key] = tomlkit.aot()
    for section, value in pairs:
        made = tomlkit.table() if section is None else section
        _merge(made, value)
        sections.append(made)
