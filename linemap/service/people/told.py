"""One record as a crew or the public may read it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from linemap.domain.crew.hold import KEPT_REASONS, Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.design.context import ContextFeature
from linemap.domain.design.crossing import Crossing
from linemap.domain.kind.kind import free_of, secret_of
from linemap.kinds.crew import HOLDS
from linemap.kinds.design import CROSSINGS
from linemap.service.people.restricted import (
    RestrictedWords,
    hold_kind,
    is_secret_feature,
    is_secret_property,
)

__all__ = ["public_hold", "told_context", "told_crossings", "told_hold", "told_release", "whole_hold"]

#: A parcel's number. Any other name of a parcel may be its owner's.
_TRACT = re.compile(r"[A-Za-z]{0,4}[- ]?\d{1,5}[A-Za-z]?")


def whole_hold(hold: Hold) -> Hold:
    """Return a hold with its reason, for the owner."""
    return replace(hold, restricted=False)


def told_hold(hold: Hold, words: RestrictedWords) -> Hold:
    """Return a hold for a crew: of a reason that is kept, only the kind."""
    kind = hold_kind(hold)
    texts: dict[str, Any] = {name: words.out_of(getattr(hold, name)) for name in free_of(HOLDS)}
    return replace(hold, **{**texts, "reason": kind or texts["reason"], "restricted": False})


def public_hold(hold: Hold) -> Hold:
    """Keep the kind of a hold, as `hold_kind` gives it; a reason in free words goes."""
    kind = hold.reason if hold.reason in KEPT_REASONS else ""
    nothing: dict[str, Any] = dict.fromkeys(secret_of(HOLDS), "")
    return replace(hold, **{**nothing, "reason": kind})


def told_release(release: HoldRelease, words: RestrictedWords) -> HoldRelease:
    """Return a release for a crew."""
    return replace(release, hold=told_hold(release.hold, words), evidence=words.out_of(release.evidence))


def told_crossings(crossings: Iterable[Crossing], words: RestrictedWords) -> tuple[Crossing, ...]:
    """Return crossings without owners; a thing that is crossed keeps its name."""
    free = free_of(CROSSINGS)

    def told(crossing: Crossing) -> Crossing:
        texts: dict[str, Any] = {name: words.out_of_name(getattr(crossing, name)) for name in free}
        return replace(crossing, **{**texts, "owner": ""})

    return tuple(map(told, crossings))


def told_context(features: Iterable[ContextFeature], words: RestrictedWords) -> tuple[ContextFeature, ...]:
    """Return the features a crew may see; a parcel keeps its name only when that is a number."""
    return tuple(_feature(each, words) for each in features if not is_secret_feature(each))


def _feature(feature: ContextFeature, words: RestrictedWords) -> ContextFeature:
    owned = feature.layer == "parcel" and not _TRACT.fullmatch(feature.name.strip())
    return replace(
        feature,
        name="" if owned else words.out_of_name(feature.name),
        properties={
            name: words.out_of(value)
            for name, value in feature.properties.items()
            if not is_secret_property(name)
        },
    )
