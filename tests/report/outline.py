"""What a page is made of: ids, links, what it loads, names of figures and fields, open tags."""

from __future__ import annotations

from html.parser import HTMLParser

from plotly.offline import get_plotlyjs

LIBRARY = get_plotlyjs()
LIMIT = 10_000_000  # bytes of a page
VOID = {"meta", "br", "hr", "img", "input", "link"}


class Outline(HTMLParser):
    """Tags of a page: ids, links, what is loaded, and whether every tag is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.loaded: list[str] = []
        self.open: list[str] = []
        self.sections: list[str] = []
        self.unnamed: list[dict[str, str]] = []
        self.fields: list[str | None] = []
        self.labels: list[str] = []
        self.captions = self.columns = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.ids += [given["id"]] if "id" in given else []
        self.links += [given["href"]] if tag == "a" else []
        self.loaded += [given[key] for key in ("src", "data") if key in given]
        self.loaded += [given["href"]] if tag == "link" else []
        self.sections += [given["id"]] if tag == "section" else []
        self.labels += [given["for"]] if tag == "label" else []
        self.captions += tag == "figcaption"
        self.columns += tag == "th" and "aria-sort" in given
        if tag in {"input", "select"} and "aria-label" not in given:
            self.fields.append(given.get("id"))
        if given.get("role") == "img" and not (
            given.get("aria-label") or "aria-labelledby" in given
        ):
            self.unnamed.append(given)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def own(page: str) -> str:
    """Page without the library of its figures."""
    return page.replace(LIBRARY, "")


def outline_of(page: str) -> Outline:
    """Outline of a page, every tag of which is closed."""
    outline = Outline()
    outline.feed(own(page))
    assert outline.open == []
    return outline
