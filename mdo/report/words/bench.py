"""Words of a bench: what pages and tables say of wings and an aircraft, said of one assembly.

Physics and words of a study on a bench are those of an aircraft with one assembly in place of two.
Where a text leaves the tool its phrases are put in those of the bench; the user's own words stay.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

from mdo.data_files import csv_beside

# Longest first: a phrase is looked for before its parts. A space stands for any white space.
_PHRASES = {line["of_wings"]: line["on_a_bench"] for line in csv_beside(__file__)}


def _anywhere(phrase: str) -> str:
    """Pattern of a phrase: whole words, any white space between them."""
    pattern = r"\s+".join(map(re.escape, phrase.split()))
    first, last = (r"\b(?<!-)" if phrase[0].isalpha() else "", r"\b(?!-)")
    return first + pattern + (last if phrase[-1].isalpha() else "")


# with the gap to the next column of a table in a terminal
_PLACES = re.compile(rf"(?:{'|'.join(map(_anywhere, _PHRASES))})(?P<gap> {{2,}})?")
# What of a page is no text of the tool: libraries, style, the study file; tags but their texts.
_NOT_TEXT = re.compile(
    r"(?s)<style.*?</style>|<pre.*?</pre>|<script(?:(?!Plotly\.newPlot).)*?</script>"
    r'|<(?!script)(?:[^<>"]|"[^"]*")*>'
)
_TEXTS_OF_TAGS = re.compile(r'(?<= )((?:aria-label|alt|title)=")([^"]*)')


def bench_words(study: Mapping[str, Any], said: Any) -> Any:
    """Text, or plain data with texts, in the words of a bench where the study is one.

    Parameters
    ----------
    study : content of its file; the user's own words (titles, names) are left as they are
    said : text, table, or lists and dictionaries of such
    """
    return _worded(said, _own_words(study)) if "bench" in study else said


def bench_page(study: Mapping[str, Any], page: str) -> str:
    """Page in the words of a bench where the study is one; its code and tags stay as they are."""
    if "bench" not in study:
        return page
    own, parts, end = _own_words(study), [], 0
    for code in _NOT_TEXT.finditer(page):
        tag = _TEXTS_OF_TAGS.sub(lambda text: text[1] + _text(text[2], own), code[0])
        parts += [_text(page[end : code.start()], own), tag]
        end = code.end()
    return "".join([*parts, _text(page[end:], own)])


def _own_words(study: Mapping[str, Any]) -> re.Pattern[str]:
    """What the user wrote and the tool repeats."""
    head, cases = study["study"], study.get("case", ())
    said = [head.get("name"), head.get("title"), head.get("description"), study["bench"]["name"]]
    said += [text for case in cases for text in (case.get("id"), case.get("title"))]
    words = sorted({text for text in said if text}, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)")


def _worded(said: Any, own: re.Pattern[str]) -> Any:
    if isinstance(said, str):
        return _text(said, own)
    if isinstance(said, pd.DataFrame):
        texts = [name for name in said if not pd.api.types.is_numeric_dtype(said[name])]
        return said.assign(**{name: said[name].map(lambda cell: _worded(cell, own))
                              for name in texts})  # fmt: skip
    if isinstance(said, Mapping):
        return {key: _worded(value, own) for key, value in said.items()}
    if isinstance(said, list | tuple) and type(said) in {list, tuple}:
        return type(said)(_worded(value, own) for value in said)
    return said


def _text(text: str, own: re.Pattern[str]) -> str:
    """Text with the phrases of a bench between the user's own words."""
    parts, end = [], 0
    for kept in own.finditer(text):
        parts += [_PLACES.sub(_phrase, text[end : kept.start()]), kept[0]]
        end = kept.end()
    return "".join([*parts, _PLACES.sub(_phrase, text[end:])])


def _phrase(place: re.Match[str]) -> str:
    said = _PHRASES[" ".join(place[0].split())]
    return said if place["gap"] is None else said.ljust(max(len(place[0]), len(said) + 2))
