"""What counts as done: a step is claimed by whoever records it, and verified by the evidence with it.

Which evidence a step needs is a rule of the owner ("set" = every pole, depth, level, a photo). The rules
here are common practice, no source; replace them by the job's own. Evidence is a reading, a photo, a position
or another person: a note proves nothing, whatever stands in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any, Literal

from linemap.domain.finding.phrase import BY_LETTER, Called, listed_poles
from linemap.domain.record.event import Event
from linemap.domain.record.reading import Reading
from linemap.domain.record.reading_type import READINGS
from linemap.domain.record.replay import (
    corrected_ids,
    first_copies,
    parts_of,
    standing_events,
    without_corrected,
)
from linemap.domain.record.signing import of_right_role
from linemap.domain.record.workflow import Workflow

#: One of `NEEDS`.
Need = str

_NUMBER = r"\d+(?:\.\d+)?"
#: Reading -> what a note says that seems to be it: looked for only to tell people that it proves nothing.
_IN_NOTES: Mapping[Need, re.Pattern[str]] = MappingProxyType(
    {
        "depth": re.compile(
            rf"\bdepths?\b\D{{0,8}}{_NUMBER}|{_NUMBER}\s*(?:ft|m|')?\s*(?:deep|depth)\b", re.IGNORECASE
        ),
        "level": re.compile(
            r"^(?!.*\b(?:not|no|isn't|out of)\s+(?:\w+\s+)?level).*\blevel", re.IGNORECASE | re.DOTALL
        ),
        "ohms": re.compile(rf"{_NUMBER}\s*(?:ohms?\b|Ω|\u2126)", re.IGNORECASE),
    }
)

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
    #: What the rule needs and the records do not hold, in the order of the rule; "depth at B" where the other
    #: poles have theirs.
    missing: tuple[str, ...] = ()
    #: Readings among the missing that a note speaks of.
    noted: tuple[Need, ...] = ()

    @property
    def only_noted(self) -> bool:
        """True when it lacks nothing but what a note speaks of, so that version 0.1.0 called it verified."""
        return bool(self.noted) and set(self.missing) == set(self.noted)

    @property
    def words(self) -> str:
        """Say it for people.

        >>> Proof(verdict="claimed", missing=("photo", "depth")).words
        'claimed, not verified: no photo, no depth on record'
        >>> Proof(verdict="claimed", missing=("ohms",), noted=("ohms",)).words
        'claimed, not verified: no ohms on record; a note speaks of ohms, and a note proves nothing'
        """
        if self.verdict != "claimed":
            return self.verdict
        noted = f"; a note speaks of {' and '.join(self.noted)}, and a note proves nothing" * bool(self.noted)
        return f"claimed, not verified: {', '.join(f'no {need}' for need in self.missing)} on record{noted}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Records:
    """The records of a step that stand, the earliest first, and what was inspected."""

    standing: Sequence[Event]
    inspections: Sequence[Event]
    #: Poles of the structure, and what they are called.
    letters: str
    called: Called
    #: True when every part of the step is recorded.
    whole: bool
    #: True when a crew check passed after the step was last rejected.
    checked: bool

    def without(self, name: str) -> str:
        """Return the poles for which a reading is missing; of one of the structure, all or none.

        A later no takes an earlier yes back.
        """
        had: set[str] = set()
        for event in self.standing:
            for reading in event.all_readings:
                if reading.name == name:
                    poles = self._poles(event, reading)
                    had = had.union(poles) if _proves(reading) else had.difference(poles)
        return "".join(letter for letter in self.letters if letter not in had)

    def _poles(self, event: Event, reading: Reading) -> str:
        per_pole = READINGS[reading.name].of == "pole"
        return (reading.pole or event.pole or self.letters) if per_pole else self.letters


def _proves(reading: Reading) -> bool:
    """Say whether it was measured, or the answer is yes."""
    return reading.value is not False and reading.value != ""


def _of_reading(name: Need) -> Callable[[_Records], str]:
    def lacking(records: _Records) -> str:
        poles = records.without(name)
        if not poles or poles == records.letters:
            return name if poles else ""
        return f"{name} at {listed_poles(poles, records.called, between=' and ')}"

    return lacking


def _of_records(name: Need, holds: Callable[[_Records], bool]) -> Callable[[_Records], str]:
    return lambda records: "" if holds(records) else name


def _someone_else(records: _Records) -> bool:
    crews = {event.who for event in records.standing}
    return any(inspection.who not in crews for inspection in records.inspections)


#: What a rule may ask for -> what of it the records that stand lack; "" = nothing.
NEEDS: Mapping[Need, Callable[[_Records], str]] = MappingProxyType(
    {
        "every pole": _of_records("every pole", lambda records: records.whole),
        "every guy": _of_records("every guy", lambda records: records.whole),
        "photo": _of_records("photo", lambda records: any(event.photos for event in records.standing)),
        **{name: _of_reading(name) for name in READINGS},
        "position": _of_records("position", lambda records: any(e.position for e in records.standing)),
        "someone else": _of_records("someone else", _someone_else),
        "frame check": _of_records("frame check", lambda records: records.checked),
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
    guys: tuple[str, ...] = (),
    called: Called = BY_LETTER,
    rules: Mapping[str, tuple[Need, ...]] = RULES,
    corrected: Collection[str] = frozenset(),
    checks: Iterable[datetime] = (),
) -> Proof:
    """Judge the evidence of one step of one structure.

    `events` are all of the structure. `corrected` names those that events of other structures correct; what
    its own correct need not be named. `checks` are the moments of its crew checks that stand and passed.

    Returns
    -------
    Proof
        "claimed" with "every pole" missing when some poles are recorded and some are not; rejected,
        withdrawn and corrected records prove nothing.
    """
    needs = rules.get(step, ())
    known = first_copies(events)
    known = of_right_role(without_corrected(known, corrected_ids(known).union(corrected)), workflow.roles)
    per = "structure" if (found := workflow.step(step)) is None else found.per
    mine = [event for event in known if event.step == step]
    parts = parts_of(mine, per, letters=letters, guys=guys)
    records = _Records(
        standing=standing_events(parts),
        inspections=[event for event in known if event.step == "inspected" and event.result == "done"],
        letters=letters,
        called=called,
        whole=all(part.standing for part in parts.values()),
        checked=any(all(at > each.moment for each in mine if each.result == "rejected") for at in checks),
    )
    if not records.standing:
        return Proof(verdict="not recorded")
    whole = "every guy" if per == "guy" else "every pole"
    asked = dict.fromkeys((*(() if records.whole else (whole,)), *needs))
    lacking = {need: words for need in asked if (words := NEEDS[need](records))}
    noted = [
        need
        for need in lacking
        if need in _IN_NOTES and any(_IN_NOTES[need].search(event.note) for event in records.standing)
    ]
    return Proof(
        verdict="claimed" if lacking else "verified", missing=tuple(lacking.values()), noted=tuple(noted)
    )
