"""What crews call the steps of the work, as met in daily reports and lists."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

_ALIASES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "staked": ("stake", "staking", "stakes"),
        "spotted": ("spot", "spotting", "poles spotted", "hauled", "delivered"),
        "dug": ("dig", "digging", "holes", "holes dug", "augered"),
        "framed": ("frame", "framing", "built", "made up", "makeup"),
        "set": ("setting", "stood", "hung", "poles set", "erected"),
        "guyed": (
            "guy",
            "guying",
            "guys",
            "anchor",
            "anchors",
            "anchored",
            "anchors and guys",
            "guys and anchors",
        ),
        "grounded": ("ground", "grounding", "grounds"),
        "blocks hung": ("blocks", "block", "hung blocks", "hanging blocks", "stringing blocks"),
        "surveyed": ("survey", "surveying", "as set surveyed", "shot"),
        "inspected": ("inspect", "inspection", "inspecting"),
    }
)
_WIRE_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "strung": ("string", "stringing", "wire pulled", "pulled", "pulling"),
        "sagged": ("sag", "sagging", "sagged in"),
        "clipped": ("clip", "clipping", "clipped in", "clip in", "clipping in"),
        "dead-ended": ("dead end", "deadended", "dead ended", "dead ending"),
    }
)
_ALL_WIRE = frozenset({"wire", "wire work", "wires"})
_GUY_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "anchored": ("anchor", "anchors", "anchor set", "anchors set", "anchoring"),
        "tensioned": ("tension", "tensioning", "pulled up", "guy tensioned"),
    }
)


@lru_cache(maxsize=1024)
def match_step(text: str) -> str | None:
    """Return the code of the standard step that a crew's word means, or None when it means none.

    Case, punctuation and repeated blanks do not matter. The words are those met in daily reports.

    >>> match_step("Made-up"), match_step("stood"), match_step("BLOCKS HUNG"), match_step("lunch")
    ('framed', 'set', 'blocks hung', None)
    """
    word = " ".join(re.findall(r"[a-z]+", text.casefold().replace("&", " and ")))
    return next((code for code, aliases in _ALIASES.items() if word == code or word in aliases), None)


def match_part_step(text: str, steps: Mapping[str, str]) -> str | None:
    """Return the code of the declared step of guys or spans that a crew's word means; None = none does.

    `steps` is code -> what it is of. A step is meant by its code, and by the words that crews have for it.

    >>> match_part_step("Clipping-in", {"clipped": "span"}), match_part_step("clipped", {})
    ('clipped', None)
    """
    word = _squeezed(text)
    for code in steps:
        others = (*_WIRE_WORDS.get(code, ()), *_GUY_WORDS.get(code, ()))
        if word in {_squeezed(code), *map(_squeezed, others)}:
            return code
    return None


def same_wire_work(held: str, asked: str) -> bool:
    """Say whether two words mean the same work on the wire of a span; "wire" is all of it.

    >>> same_wire_work("stringing", "strung"), same_wire_work("wire", "clipped"), same_wire_work("sag", "set")
    (True, True, False)
    """
    one, other = _wire_step(held), _wire_step(asked)
    return other != "" and (one == other or _squeezed(held) in _ALL_WIRE)


def _wire_step(text: str) -> str:
    word = _squeezed(text)
    known = (code for code, words in _WIRE_WORDS.items() if word in {_squeezed(code), *words})
    return next(known, "")


def _squeezed(text: str) -> str:
    return " ".join(re.findall(r"[a-z]+", text.casefold()))
