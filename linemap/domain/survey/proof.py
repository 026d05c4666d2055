"""What counts as done: a step is claimed by whoever records it, and verified by the evidence with it.

Which evidence a step needs is a rule of the owner ("set" = every pole, depth, level, a photo). The rules
here are common practice, no source; replace them by the job's own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

from linemap.domain.record.event import Event
from linemap.domain.record.replay import known_events, replay
from linemap.domain.record.workflow import Workflow

__all__ = ["NEEDS", "NO_SOURCE", "RULES", "EvidenceRule", "Need", "Proof", "evidence_rules", "proof_of"]

Need = Literal["every pole", "photo", "depth", "level", "ohms", "brand", "position", "someone else"]

_NUMBER = r"\d+(?:\.\d+)?"
_DEPTH = re.compile(
    rf"\bdepths?\b\D{{0,8}}{_NUMBER}|{_NUMBER}\s*(?:ft|m|')?\s*(?:deep|depth)\b", re.IGNORECASE
)
_LEVEL = re.compile(r"\blevel", re.IGNORECASE)
_NOT_LEVEL = re.compile(r"\b(?:not|no|isn't|out of)\s+(?:\w+\s+)?level", re.IGNORECASE)
_OHMS = re.compile(rf"{_NUMBER}\s*(?:ohms?\b|Ω|\u2126)", re.IGNORECASE)


#: Said of a rule that no document of the job gives.
NO_SOURCE = "common practice, no source; replace by the job's specification"


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceRule:
    """What one step needs beside its record before it counts as verified, and where that is written."""

    #: () = the record alone verifies it.
    needs: tuple[Need, ...]
    #: Specification or "common practice, no source"; shown beside every use.
    source: str = NO_SOURCE

    @property
    def words(self) -> str:
        """What it takes, in words.

        >>> EvidenceRule(needs=("every pole", "photo")).words, EvidenceRule(needs=()).words
        ('every pole, photo', 'its record alone')
        """
        return ", ".join(self.needs) or "its record alone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How well one step of one structure is proved."""

    #: "verified" = recorded, with all evidence its rule needs; "claimed" = recorded without.
    verdict: Literal["verified", "claimed", "not recorded"]
    #: What the rule needs and the records do not hold, in the order of the rule.
    missing: tuple[Need, ...] = ()

    @property
    def words(self) -> str:
        """Say it for people.

        >>> Proof(verdict="claimed", missing=("photo", "depth")).words
        'claimed, not verified: no photo, no depth on record'
        """
        if self.verdict != "claimed":
            return self.verdict
        return f"claimed, not verified: {', '.join(f'no {need}' for need in self.missing)} on record"


#: How each kind of evidence is found in the records that stand; the readings are read from their notes.
NEEDS: Mapping[Need, Callable[[Sequence[Event], Sequence[Event]], bool]] = MappingProxyType(
    {
        "every pole": lambda _standing, _later: True,  # judged by the replay of the poles
        "photo": lambda standing, _later: any(event.photos for event in standing),
        "depth": lambda standing, _later: any(_DEPTH.search(event.note) for event in standing),
        "level": lambda standing, _later: any(
            _LEVEL.search(event.note) and not _NOT_LEVEL.search(event.note) for event in standing
        ),
        "ohms": lambda standing, _later: any(_OHMS.search(event.note) for event in standing),
        "brand": lambda standing, _later: any(event.brand_seen.strip() for event in standing),
        "position": lambda standing, _later: any(event.longitude is not None for event in standing),
        "someone else": lambda standing, later: any(
            inspection.who not in {event.who for event in standing} for inspection in later
        ),
    }
)
#: Step -> what it needs. A step without a rule is verified by its record alone.
RULES: Mapping[str, tuple[Need, ...]] = MappingProxyType(
    {
        "spotted": ("every pole", "brand"),
        "framed": ("photo",),
        "set": ("every pole", "depth", "level", "photo"),
        "grounded": ("ohms",),
    }
)


def evidence_rules(declared: Mapping[str, Mapping[str, Any]]) -> dict[str, EvidenceRule]:
    """Return the rule of each step that has one: the starting rules, and over them what a job declares.

    Parameters
    ----------
    declared : mapping
        Step -> "needs", a list of `NEEDS`, and "source".

    Raises
    ------
    ValueError
        If a rule names evidence that is not one of `NEEDS`.

    >>> evidence_rules({"set": {"needs": ["photo"], "source": "spec 9.1"}})["set"].words
    'photo'
    """
    rules = {step: EvidenceRule(needs=needs) for step, needs in RULES.items()}
    for step, rule in declared.items():
        for need in rule["needs"]:
            if need not in NEEDS:
                raise ValueError(f"{need!r} is no evidence; use one of {', '.join(NEEDS)}")
        rules[step] = EvidenceRule(needs=tuple(rule["needs"]), source=str(rule["source"]))
    return rules


def proof_of(
    events: Iterable[Event],
    workflow: Workflow,
    *,
    step: str,
    letters: str,
    rules: Mapping[str, tuple[Need, ...]] = RULES,
) -> Proof:
    """Judge the evidence of one step of one structure.

    Parameters
    ----------
    events : iterable of Event
        All events of the structure.
    workflow : Workflow
    step : str
        Code of the step.
    letters : str
        Poles of the structure, "AB" or "ABC".
    rules : mapping
        Evidence each step needs.

    Returns
    -------
    Proof
        "claimed" with "every pole" missing when some poles are recorded and some are not; rejected,
        withdrawn and corrected records prove nothing.

    Raises
    ------
    ValueError
        If a rule names evidence that is not one of `NEEDS`.
    """
    needs = rules.get(step, ())
    unknown = [need for need in needs if need not in NEEDS]
    if unknown:
        raise ValueError(f"{unknown[0]!r} is no evidence; use one of {', '.join(NEEDS)}")
    known = known_events(events, as_of=None, known_by=None)
    per_pole = (found := workflow.step(step)) is not None and found.per == "pole"
    mine = [event for event in known if event.step == step]
    parts = replay(mine, letters=letters if per_pole else "")
    standing = list({event.id: event for part in parts.values() for event in part.standing}.values())
    if not standing:
        return Proof(verdict="not recorded")
    whole = all(part.standing for part in parts.values())
    inspections = [event for event in known if event.step == "inspected" and event.result == "done"]
    missing: list[Need] = [] if whole else ["every pole"]
    missing += [need for need in needs if not NEEDS[need](standing, inspections)]
    return Proof(verdict="claimed" if missing else "verified", missing=tuple(missing))
