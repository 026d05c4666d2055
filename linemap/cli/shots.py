"""`linemap shots`: the bench for shots on a terminal: what is open, what a shot is of, what is set aside."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any

import typer

from linemap.cli.terminal import JobArgument, JsonOption, now, say, say_json, viewed
from linemap.errors import InputRefused

if TYPE_CHECKING:
    from linemap.answers.shots import OpenShot, ShotsChanged
    from linemap.domain.survey.open_shots import Deed
    from linemap.service.view.view import JobView
    from linemap.store.database import Database

_ROWS = re.compile(r"\d{1,7}(-\d{1,7})?(,\d{1,7}(-\d{1,7})?)*")


class Verb(StrEnum):
    """What a person may do with shots."""

    ASSIGN = "assign"
    SET_ASIDE = "set-aside"
    TAKE_BACK = "take-back"


_DEEDS: Mapping[Verb, Deed] = MappingProxyType(
    {Verb.ASSIGN: "assign", Verb.SET_ASIDE: "set aside", Verb.TAKE_BACK: "take back"}
)


def shots_command(
    job: JobArgument,
    verb: Annotated[Verb | None, typer.Argument(metavar="[DEED]", help="none = list the shots")] = None,
    chosen: Annotated[
        list[str] | None, typer.Argument(metavar="[FILE:ROWS]...", help='like "may.csv:7,9-12"')
    ] = None,
    point: Annotated[
        str, typer.Option(help="point of the shot, where files of one name have several in that row")
    ] = "",
    structure: Annotated[str, typer.Option(help="structure they are of, in any spelling")] = "",
    pole: Annotated[str, typer.Option(help="pole they are of, in the owner's words")] = "",
    line: Annotated[str, typer.Option(help="line of the structure, where there are several")] = "",
    item: Annotated[
        str, typer.Option(help="pole, top, tip, face, centre, anchor, hub, ground, check or crossing")
    ] = "pole",
    nearest: Annotated[
        bool, typer.Option("--nearest", help="each to the nearest pole of the design")
    ] = False,
    pattern: Annotated[
        str,
        typer.Option(
            help="instead of FILE:ROWS: all that nothing else reads and that are described so, later ones "
            'too, like "BRK <structure> N<pole> = top"; without a DEED it lists what it would read'
        ),
    ] = "",
    only: Annotated[
        str, typer.Option(metavar="FILE", help="the pattern is for shots of this file alone")
    ] = "",
    by: Annotated[str, typer.Option(help="who decides")] = "",
    note: Annotated[str, typer.Option(help="why; needed to set shots aside")] = "",
    everything: Annotated[
        bool, typer.Option("--all", help="list those decided, and those that are of no pole, too")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """List shots that nothing uses as they were read, or assign, set-aside, take-back some.

    Example: linemap shots linemap-demo/demo.linemap set-aside shots_2026-04-16.csv:8
    --by "P. Chief" --note "rod on the wrong pole"
    """
    from linemap.service.survey.open_shots import open_shots_answer

    of = {"point": point, "structure": structure, "pole": pole, "line": line, "item": item}
    said = {"who": by, "note": note, "pattern": pattern, "file": only}
    with viewed(job, "checking") as (database, view):
        if verb is not None:
            done = _decided(database, view, _DEEDS[verb], chosen or [], of, said, nearest=nearest)
    if verb is not None:
        _print_change(done, as_json=as_json)
        return
    if pattern:
        _print_alike(view, pattern, only, as_json=as_json)
        return
    found = open_shots_answer(view)
    shots = [each for each in found.shots if everything or each.state in {"unread", "unused", "conflicting"}]
    if as_json:
        say_json(shots)
        return
    for shot in shots:
        _print_shot(shot)
    say(f"{len(shots)} of {found.count} shots. A licensed surveyor decides.")


def _decided(
    database: Database,
    before: JobView,
    what: Deed,
    chosen: Sequence[str],
    of: Mapping[str, str],
    said: Mapping[str, str],
    *,
    nearest: bool,
) -> ShotsChanged:
    from linemap.service.survey.bench import AskedOfShots, decide_shots, shots_changed
    from linemap.service.survey.chosen_shot import ChosenShot
    from linemap.service.survey.open_shots import open_shots_answer
    from linemap.service.view.build import build_view

    places = [(file, row) for text in chosen for file, row in _rows(text)]
    shown = {
        (each.file, each.row): each
        for each in open_shots_answer(before).shots
        if of["point"] in {"", each.point}
    }
    shots: list[ChosenShot] = []
    decisions: list[str] = []
    for file, row in places:
        shot = shown.get((file, row))
        if what == "take back":
            decisions.append(_decision_of(shot, file, row))
        elif what == "assign":
            named = _nearest(shot, file, row) if nearest else _named(before, of)
            shots.append(ChosenShot(file=file, row=row, point=of["point"], **named))
        else:
            shots.append(ChosenShot(file=file, row=row, point=of["point"]))
    asked = AskedOfShots(
        id=str(uuid.uuid4()), what=what, shots=tuple(shots), decisions=tuple(decisions), **said
    )
    made, _ = decide_shots(database, before, asked, at=now())
    return shots_changed(before, build_view(database, today=now()), made)


def _rows(text: str) -> list[tuple[str, int]]:
    """Read files and rows as written on the command line.

    >>> _rows("may.csv:7,9-10")
    [('may.csv', 7), ('may.csv', 9), ('may.csv', 10)]
    """
    file, _, rows = text.rpartition(":")
    if not file or not _ROWS.fullmatch(rows):
        raise InputRefused.at(
            "FILE:ROWS", text, "names no rows of a file", "write file and rows like may.csv:7,9-12"
        )
    found = []
    for part in rows.split(","):
        first, _, last = part.partition("-")
        found += [(file, row) for row in range(int(first), int(last or first) + 1)]
    return found


def _decision_of(shot: OpenShot | None, file: str, row: int) -> str:
    if shot is None or shot.decision is None:
        raise InputRefused.at(
            "FILE:ROWS", f"{file}:{row}", "has no decision that stands", "see linemap shots JOB --all"
        )
    return shot.decision.id


def _nearest(shot: OpenShot | None, file: str, row: int) -> dict[str, Any]:
    if shot is None or not shot.near:
        raise InputRefused.at(
            "FILE:ROWS", f"{file}:{row}", "is used as it was read", "name structure and pole to change that"
        )
    near = shot.near[0]
    return {"line": near.line, "structure": near.structure, "pole": near.pole}


def _named(view: JobView, of: Mapping[str, str]) -> dict[str, Any]:
    """Return what options name, the pole by its letter."""
    found = {name: value for name, value in of.items() if name != "point"}
    if found["pole"] and found["structure"]:
        letters = view.naming.letters(found["pole"], found["structure"], found["line"])
        found["pole"] = letters if len(letters) == 1 else found["pole"]
    return found


def _print_shot(shot: OpenShot) -> None:
    from linemap.domain.survey.open_shots import STATE_WORDS

    named = f"{STATE_WORDS[shot.state]} {shot.structure} {shot.called}".rstrip()
    say(f"{shot.file}:{shot.row}  {shot.point}  {shot.description!r}  {named}")
    near = "; ".join(f"{each.structure} {each.called} {each.words}" for each in shot.near)
    decided = shot.decision.words if shot.decision is not None else ""
    without = [f"without it, {words}" for words in shot.without]
    for words in filter(None, (shot.words, *without, decided, near and f"nearest: {near}")):
        say(words, indent=9)


def _print_alike(view: JobView, pattern: str, only: str, *, as_json: bool) -> None:
    from linemap.service.survey.alike import alike_answer, read_pattern

    found = alike_answer(view, read_pattern(pattern), file=only)
    if as_json:
        say_json(found)
        return
    for each in found.shots:
        named = f"{each.structure} {each.called}".strip()
        say(f"{each.file}:{each.row}  {each.point}  {each.description!r}  {named}  {each.words}".rstrip())
    say(f"{found.pattern}: {found.words}")


def _print_change(done: ShotsChanged, *, as_json: bool) -> None:
    if as_json:
        say_json(done)
        return
    for words in done.words:
        say(words)
    for each in done.changed:
        say(f"{each.structure}: {each.before} -> {each.after}", indent=5)
    if not done.changed:
        say("no verdict changed", indent=5)
