"""Findings as answers carry them: the code first, the sentence last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class FindingEntry:
    """One finding with the sentence made of it. Values are numbers, texts, lists; None = not known."""

    #: Name that stays as long as code, place and part do.
    id: str
    code: str
    #: Pole, guy, step or file row within the structure; "" = all of it.
    part: str
    #: "note", "cannot tell", "wrong" or "stops work".
    severity: str
    #: Who is asked to look at it.
    asks: str
    #: What closes it, and who.
    closes: str
    #: Day it is so since, ISO 8601; None = not known.
    since: str | None
    values: Mapping[str, Any]
    words: str
    #: Codes of the steps it stops, and the sentence that says so with what to do first; most stop none.
    stops: Sequence[str]
    in_the_way: str
