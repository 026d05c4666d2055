"""Changes of a job as an open transaction makes them, by files or by undoing, and what they take away."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sqlalchemy import Connection

from linemap.domain.design.number import number_form
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.kind.kind import Keeps
from linemap.domain.record.change import Done, JobChange, What, undone_by
from linemap.errors import Conflict, InputRefused, NotFound, Problem
from linemap.kinds.registry import DECLARED, HOLDS
from linemap.service.files.consequence import Key
from linemap.service.files.keep import ListChange, change_of
from linemap.service.files.load_report import LoadedFile
from linemap.service.job.naming_now import naming_in
from linemap.store.changes import add_change, list_changes, newest_state, set_aside, states_after
from linemap.store.events import chain_head, recorded_structures
from linemap.store.lists import load_list
from linemap.store.states import ListState, list_states
from linemap.store.structures import bring_back, load_structures

#: Names of what is taken away that are told one by one.
_NAMED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What a change did in an open transaction."""

    files: tuple[LoadedFile, ...] = ()
    done: Done
    #: What it took away, by the word that must be said for it -> names.
    taken: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    #: Records of lists kept by key that its files do not name, by their kind.
    not_named: Mapping[Kind, tuple[str, ...]] = field(default_factory=dict)
    #: The change it undid; None = it undid none.
    undid: JobChange | None = None


#: What is taken away, by its word -> how one and several of it are called, and what is the matter with it.
TAKEN: Mapping[str, tuple[str, str, str]] = {
    "holds": ("hold", "holds", "end"),
    "tickets": ("locate ticket", "locate tickets", "end"),
    "receipts": ("item of the yard's list", "items of the yard's list", "end"),
    "structures": ("structure with records", "structures with records", "no longer where recorded"),
    "types": ("type in use", "types in use", "no longer described"),
    "framing": ("framing of a type in use", "framings of types in use", "no longer given"),
    "centreline": ("centreline", "centrelines", "replaced by another course"),
}


def taken_away(connection: Connection, changes: Iterable[ListChange]) -> Mapping[str, tuple[str, ...]]:
    """Return what changes of lists take away that must be accepted by its own word, by that word.

    Holds, tickets and the yard's list hold people back; a structure with records, a type that structures are
    built by, and the course of a line are what other things stand on.
    """
    found: dict[str, dict[str, None]] = {}
    listed = list(changes)
    kinds = {each.kind for each in listed}
    named = recorded_structures(connection) if "structures" in kinds else ()
    recorded = {(line, number_form(number)) for line, number in named}
    used = set(load_structures(connection).type_code.tolist()) if kinds & {"types", "framing"} else set()
    for each in listed:
        if each.kind == "centreline":
            found.setdefault("centreline", {})[each.line] = None
        elif not each.removed:
            continue
        elif (
            each.kind in {"holds", "tickets", "receipts"}
            or (each.kind == "structures" and (each.line, number_form(each.name)) in recorded)
            or (each.kind in {"types", "framing"} and each.name in used)
        ):
            found.setdefault(each.kind, {})[each.name] = None
    gone = [(each.line, each.name) for each in listed if each.kind == "structures" and each.removed]
    for name in _held_nowhere(connection, gone):
        found.setdefault("holds", {})[name] = None
    return {word: tuple(names) for word, names in found.items()}


def _held_nowhere(connection: Connection, gone: Collection[Key]) -> Iterator[str]:
    """Give the holds whose structures are all gone: they are kept, and hold nothing back any more."""
    if not gone:
        return
    structures = load_structures(connection)
    standing = list(zip(structures.line.tolist(), structures.number.tolist(), strict=True))
    holds = [hold for hold in load_list(connection, HOLDS) if hold.released_on is None]
    for hold in holds:
        reach = hold.reach
        if any(reach.covers(*each) for each in gone) and not any(reach.covers(*each) for each in standing):
            yield f"{hold.id} (its structures are gone)"


def taken_words(word: str, names: Sequence[str]) -> str:
    """Say what is taken away: "10 holds end: HN-1, HN-2 ... and 2 more".

    >>> taken_words("holds", ["HN-1"])
    '1 hold ends: HN-1'
    """
    one, several, what = TAKEN[word]
    if what == "end":
        verb = "ends" if len(names) == 1 else "end"
    else:
        verb = f"{'is' if len(names) == 1 else 'are'} {what}"
    more = f" and {len(names) - _NAMED:,} more" if len(names) > _NAMED else ""
    return f"{len(names):,} {one if len(names) == 1 else several} {verb}: {', '.join(names[:_NAMED])}{more}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """Who accepts a change, why, and what it may take away by its word: "holds", "structures", ..."""

    who: str
    reason: str = ""
    removes: Collection[str] = ()


def require_words(taken: Mapping[str, Sequence[str]], removes: Collection[str]) -> None:
    """Refuse (`InputRefused`) what is taken away without its word among `removes`."""
    missing = [word for word in taken if word not in removes]
    if missing:
        raise InputRefused(
            Problem(
                file="",
                column="--removes",
                value=word,
                reason=taken_words(word, taken[word]),
                remedy=f"nothing is stored; say --removes {word} if that is meant",
            )
            for word in missing
        )


def keep_change(
    connection: Connection,
    what: What,
    applied: Applied,
    signed: Signed,
    *,
    now: dt.datetime,
    undoes: str = "",
) -> JobChange:
    """Keep who made a change, when, why and what it did, in the transaction it was made in."""
    away = (taken_words(word, names) for word, names in applied.taken.items())
    change = JobChange(
        id=str(uuid.uuid4()),
        what=what,
        undoes=undoes,
        who=signed.who,
        reason=signed.reason,
        at=now,
        done=replace(applied.done, removes=tuple(applied.taken), words=(*applied.done.words, *away)),
        event_hash=chain_head(connection),
    )
    add_change(connection, change)
    return change


def apply_undo(connection: Connection, change_id: str, *, now: dt.datetime) -> Applied:
    """Bring the lists before a change back as new states, and let rows that it only added count no more.

    `NotFound` and `Conflict` are those of `change_to_undo`.
    """
    change = change_to_undo(connection, change_id)
    states = {each.id: each for each in list_states(connection)}
    newest, naming = newest_state(connection), naming_in(connection)
    found: list[ListChange] = []
    for made, before in _net(change.done.states):
        state = states[made]
        back = bring_back(connection, state, states.get(before or 0), now=now)
        found += (change_of(state.kind, each, naming, line=state.line) for each in back)
    growing = [each.id for each in change.done.files if DECLARED[each.kind].keeps is Keeps.GROWS]
    aside, again = [*change.done.again, *growing], change.done.aside
    set_aside(connection, aside, aside=True)
    set_aside(connection, again, aside=False)
    done = Done(states=states_after(connection, newest), aside=aside, again=again, words=[undo_words(change)])
    return Applied(done=done, taken=taken_away(connection, found), undid=change)


def change_to_undo(connection: Connection, change_id: str) -> JobChange:
    """Return a change that can be undone now.

    Raises
    ------
    NotFound
        If there is no such change.
    Conflict
        If it is undone already, or a later change stands on it: that is undone first.
    """
    changes = [each.change for each in list_changes(connection)]
    change = next((each for each in changes if each.id == change_id), None)
    if change is None:
        raise NotFound("the job has no such change; the page of files lists them")
    reason = kept_by(change, changes, list_states(connection))
    if reason:
        raise Conflict(reason)
    return change


def kept_by(change: JobChange, changes: Sequence[JobChange], states: Sequence[ListState]) -> str:
    """Say why a change cannot be undone now; "" = it can."""
    by = undone_by(changes).get(change.id)
    if by is not None:
        other = next(each for each in changes if each.id == by)
        return f"it was undone on {other.at:%Y-%m-%d} by {other.who}"
    if not change.done.has_effect:
        return "it changed nothing"
    made = {state for state, _ in _net(change.done.states)}
    standing = {state.id for state in states if state.is_current}
    later = made - standing
    if later:
        lists = sorted({state.kind for state in states if state.id in later})
        return f"a later change gave the {', '.join(lists)} another state; undo that one first"
    return ""


def _net(states: Sequence[tuple[int, int | None]]) -> list[tuple[int, int | None]]:
    """Return (last state made, state before the change) of each list: two files may give one two states.

    >>> _net([(4, 1), (5, None), (6, 4)])
    [(5, None), (6, 1)]
    """
    before = dict(states)
    passed = {each for each in before.values() if each in before}
    net = []
    for made in before:
        first = before[made]
        while first in before:
            first = before[first]
        if made not in passed:
            net.append((made, first))
    return net


def undo_words(change: JobChange, verb: str = "undoes") -> str:
    """Say what an undo undoes: "undoes the load of holds.csv on 2026-05-15 by Ada"."""
    what = "the load of " + ", ".join(each.name for each in change.done.files)
    if change.what == "undo":
        what = "the undoing"
    return f"{verb} {what} on {change.at:%Y-%m-%d} by {change.who}"
