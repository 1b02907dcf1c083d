"""A build sheet read back: its figures by their key, its text, its attributes."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "img", "br", "hr", "input", "base"}


@dataclass(frozen=True)
class Shown:
    """A figure on the sheet: the value behind it and the text that a reader sees."""

    key: str
    value: str
    text: str


@dataclass
class Page(HTMLParser):
    """One sheet, parsed."""

    html: str
    figures: list[Shown] = field(default_factory=list)
    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    text: str = ""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._open: list[tuple[str, str | None, str, str]] = []
        self._style = False
        self.feed(self.html)
        self.close()
        assert not self._open, f"left open: {self._open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.append((tag, given))
        if tag not in VOID:
            self._open.append((tag, given.get("data-key"), given.get("data-value", ""), ""))
        self._style = tag == "style"

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        opened, key, value, text = self._open.pop()
        assert opened == tag, f"</{tag}> closes <{opened}>"
        if key is not None:
            self.figures.append(Shown(key, value, " ".join(text.split())))
        if self._open:
            parent = self._open[-1]
            self._open[-1] = (*parent[:3], parent[3] + text)
        self._style = False
        if tag in ("td", "th", "p", "li", "h2"):
            self.text += " "

    def handle_data(self, data: str) -> None:
        if self._open:
            top = self._open[-1]
            self._open[-1] = (*top[:3], top[3] + data)
        if not self._style:
            self.text += data

    @property
    def words(self) -> str:
        """The text with single blanks."""
        return " ".join(self.text.split())
