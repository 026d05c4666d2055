"""How changes of a job are printed: files as they were read, what would follow, what was accepted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from linemap.cli.terminal import OUT, say, say_json
from linemap.errors import Severity

if TYPE_CHECKING:
    from linemap.answers.change import ChangeList
    from linemap.service.files.load_report import LoadedFile
    from linemap.service.files.review import Reviewed

_MOST_NOTES = 40
_MOST_EFFECTS = 12
_MARKS = {"harm": "!!", "look": " >", "note": "  "}


def print_reviewed(reviewed: Reviewed, shown: dict[str, Any]) -> None:
    """Print what an edit would do, the gravest first; `shown` is what is shown of it."""
    for loaded in reviewed.applied.files:
        print_file(replace(loaded, changes=()))
    for each in shown["not_named"]:
        ends = "they end" if each.ends else f"they stay; --removes {each.kind} ends them"
        say(f"{each.count} {each.kind} are not named: {', '.join(each.names)}; {ends}")
    for consequence in reviewed.consequences:
        say(f"{_MARKS[consequence.weight]} {consequence.words}")
        for effect in consequence.effects[:_MOST_EFFECTS]:
            place = f"{effect.structure}: " if effect.structure else ""
            say(f"{place}{effect.words}", indent=6)
        if consequence.count > _MOST_EFFECTS:
            say(f"and {consequence.count - _MOST_EFFECTS:,} more; --json lists them", indent=6)
    for need in reviewed.needs:
        say(f"!! {need.words}; it needs --removes {need.word}")


def print_changes(listed: ChangeList, *, as_json: bool) -> None:
    """Print the accepted changes, the latest first."""
    if as_json:
        say_json(listed)
        return
    for each in listed.changes:
        why = f" ({each.reason})" if each.reason else ""
        OUT.print(
            f"{each.id[:8]}  {each.at[:16].replace('T', ' ')}  {each.who}: {'; '.join(each.words)}{why}"
        )
        if each.kept_by:
            OUT.print(f"          cannot be undone now: {each.kept_by}")
    if not listed.changes:
        OUT.print("no change was accepted yet")


def print_file(loaded: LoadedFile) -> None:
    """Print how a file was read, what it changed, what was noted in it or left out; no refusal of it."""
    kind = loaded.kind or "not recognised"
    OUT.print(f"{loaded.name}: {kind}, {loaded.rows_used} of {loaded.rows_in} rows used")
    if loaded.understood:
        OUT.print(f"  read as: {loaded.understood}")
    for field, heading in loaded.mapping.items():
        OUT.print(f"  {field} from {heading}")
    for column in loaded.unread:
        OUT.print(f"  not read: {column}")
    for words in loaded.evidence:
        OUT.print(f"  {words}")
    for words in loaded.changes[:_MOST_NOTES]:
        OUT.print(f"  changed: {words}")
    if len(loaded.changes) > _MOST_NOTES:
        OUT.print(f"  changed: and {len(loaded.changes) - _MOST_NOTES:,} more; --json lists them all")
    notes = [problem for problem in loaded.problems if problem.severity is Severity.NOTED]
    unlisted = set(map(id, notes[_MOST_NOTES:]))
    for problem in loaded.problems:
        if id(problem) not in unlisted and problem.severity is not Severity.REFUSED:
            OUT.print(f"  {problem.severity}: {problem}")
    if unlisted:
        OUT.print(f"  noted: and {len(unlisted):,} more; --json lists them all")
