"""Shots whose descriptions are in doubt: read anew by the list as it is now, and told if they stay unread."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache, partial

from linemap.domain.design.naming import Naming
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.description import parse_description, pole_words
from linemap.domain.survey.description_words import names_a_part
from linemap.domain.survey.shot import ParsedDescription, Shot
from linemap.domain.survey.shot_match import point_names

#: So many descriptions of a file that are not read are named; the rest are counted.
_MOST_NAMED = 5


def read_now(shots: Iterable[Shot], naming: Naming) -> tuple[Shot, ...]:
    """Read anew what the list has come to put in doubt; all other shots say what they said when loaded.

    In doubt are shots of no item, of a structure that is not listed, of a pole whose letter against the
    number is a listed number too, and of a pole whose description names a part of it. What descriptions do
    not say, columns of the file may have said: that stays.
    """
    if not naming.listed:
        return tuple(shots)
    twins, has = _twins(naming), naming.listed.has
    parse = cache(partial(parse_description, naming=naming))
    return tuple(
        _now(shot, parse, naming, twin=(shot.structure, shot.pole) in twins)
        if shot.item == "other"
        or (shot.structure and not has(shot.structure))
        or (shot.structure, shot.pole) in twins
        or (shot.item == "pole" and names_a_part(shot.description))
        else shot
        for shot in shots
    )


def _twins(naming: Naming) -> set[tuple[str, str]]:
    """Return the (number, letter of a pole) that a listed number is written like: 45 and A beside 45A."""
    found = set()
    for runs in naming.listed.by_runs:
        for short in naming.listed.by_runs.get(runs[:-1], ()):
            pole = pole_words(naming, short).get(runs[-1])
            if pole:
                found.add((short, pole))
    return found


def _now(shot: Shot, parse: Callable[..., ParsedDescription], naming: Naming, *, twin: bool) -> Shot:
    """Return a shot in doubt as its description says now; as it was where that says nothing of it."""
    said = parse(shot.description)
    if not shot.structure:
        return _as(shot, said) if said.structure or said.item != "other" else shot
    if not naming.listed.has(shot.structure):
        return _as(shot, said) if naming.listed.has(said.structure) or said.readings else shot
    if said.readings and (twin or shot.item == "pole"):
        return _as(shot, said)
    if not said.structure:
        beside = parse(shot.description, structure=shot.structure)
        return shot if beside.item == "other" else replace(shot, item=beside.item)
    return _as(shot, said) if (said.structure, said.pole) == (shot.structure, shot.pole) else shot


def _as(shot: Shot, said: ParsedDescription) -> Shot:
    return replace(shot, structure=said.structure, pole=said.pole, item=said.item)


def unread_findings(shots: Iterable[Shot], naming: Naming, only_line: str = "") -> Iterator[Finding]:
    """Find the shots that are not used because their descriptions are not read.

    "description reads two ways" for each description with what it may mean; "description not read" once for
    all others of a file, and for shots that name a structure and nothing else, at that structure.
    """
    alike: dict[tuple[str, str, str, str], list[Shot]] = defaultdict(list)
    for shot in shots:
        if shot.item == "other":
            line = shot.line or (only_line if shot.structure else "")
            alike[shot.file, line, shot.structure, " ".join(shot.description.upper().split())].append(shot)
    unread: dict[str, list[list[Shot]]] = defaultdict(list)
    for (file, line, structure, text), group in alike.items():
        readings = () if structure else parse_description(text, naming).readings
        if not readings and not structure:
            unread[file].append(group)
            continue
        yield Finding(
            line=line,
            structure=structure,
            code="description reads two ways" if readings else "description not read",
            part=f"{file}, {text}",
            values={
                "description": group[0].description,
                "number": structure,
                "points": point_names(group),
                "readings": readings,
            },
        )
    for file, groups in unread.items():
        yield _of_file(file, groups)


def _of_file(file: str, found: list[list[Shot]]) -> Finding:
    """Return what a file has that is not read, the commonest descriptions first."""
    found = sorted(found, key=len, reverse=True)
    listed = [f'"{alike[0].description}"' for alike in found[:_MOST_NAMED]]
    return Finding(
        line="",
        structure="",
        code="description not read",
        part=file,
        values={
            "file": file,
            "shots": sum(map(len, found)),
            "number": "",
            "descriptions": tuple(listed),
            "more": max(len(found) - _MOST_NAMED, 0),
        },
    )
