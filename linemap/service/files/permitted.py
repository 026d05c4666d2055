"""Who may load what, and what of a proposal is for whom to read.

A manager loads everything and sees every proposal. Others load the lists that are their work (the field
`loaders` of each kind) and see their own proposals, as they may see the job.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from linemap.answers.change import ChangeList, Proposal
from linemap.domain.kind.kind import Code
from linemap.domain.record.person import Audience, Person, Role, same_words
from linemap.errors import NotAllowed, NotFound
from linemap.kinds.registry import DECLARED
from linemap.service.people.restricted import RestrictedWords, hold_kind, restricted_words
from linemap.service.view.view import JobView

T = TypeVar("T")
#: Fields that programs go by; a word taken out of them would break what they stand for.
_EXACT = frozenset({"id", "digest", "code", "word", "kind", "ends", "undoes", "undone_by"})


def loadable(person: Person) -> tuple[Code, ...]:
    """Return the kinds of lists a person may load, in the order of their storing.

    >>> loadable(Person(name="Ada", role=Role.INSPECTOR))
    ('punch', 'facts')
    """
    everything = person.role is Role.MANAGER
    return tuple(code for code, kind in DECLARED.items() if everything or person.role in kind.loaders)


def check_may_see(proposal: Proposal, person: Person) -> None:
    """Refuse whoever is neither a manager nor the one who made it (`NotAllowed`)."""
    if not _sees(proposal, person):
        raise NotAllowed(f"these files were brought by {proposal.who}; a manager sees them too")


def check_may_accept(proposal: Proposal, person: Person, removes: Collection[str]) -> None:
    """Refuse a load that is not the work of a person, naming what is not (`NotAllowed`).

    A list of another trade is not theirs to bring, nor to empty by bringing one of theirs.
    """
    check_may_see(proposal, person)
    if person.role is Role.MANAGER:
        return
    own = loadable(person)
    others = [file.kind for file in proposal.files if file.kind not in own]
    emptied = [word for word in removes if word in DECLARED and word not in own]
    for words, kinds in (("load", others), ("take away", emptied)):
        if kinds:
            named = ", ".join(dict.fromkeys(kinds))
            raise NotAllowed(f"a {person.role} may not {words} {named}; ask a manager to accept this")


def check_may_undo(changes: ChangeList, change_id: str, person: Person) -> None:
    """Refuse whoever is neither a manager nor the one who accepted a change (`NotAllowed`)."""
    made = next((each for each in changes.changes if each.id == change_id), None)
    if made is None:
        raise NotFound(f"the job has no change {change_id}")
    if person.role is not Role.MANAGER and same_words(made.who) != same_words(person.name):
        raise NotAllowed(f"{made.who} accepted this change; they or a manager undo it")


def as_told(answer: T, view: JobView, person: Person) -> T:
    """Return a proposal, or what became of one, as a person may read it; `view` is the whole job.

    Reasons of holds that are kept, owners, codes and the names of kept places go out of every text. Names of
    files, by which they are asked for, stay.
    """
    if person.audience is Audience.OWNER:
        return answer
    kept = [hold for hold in view.holds if hold_kind(hold)]
    texts = [text for hold in kept for text in (hold.reason, hold.condition)]
    known = restricted_words(view.context, view.crossings, view.holds)
    return _without(answer, RestrictedWords([*known.words, *texts]))  # type: ignore[no-any-return]


def changes_as_told(changes: ChangeList, view: JobView, person: Person) -> ChangeList:
    """Return the accepted changes and what waits for this person, as they may read both.

    What would follow from a proposal, and its map, are told with the proposal alone.
    """
    mine = [replace(each, consequences=(), map=None) for each in changes.waiting if _sees(each, person)]
    return as_told(replace(changes, waiting=mine), view, person)


def _sees(proposal: Proposal, person: Person) -> bool:
    return person.role is Role.MANAGER or same_words(proposal.who) == same_words(person.name)


def _without(value: Any, words: RestrictedWords) -> Any:
    if isinstance(value, str):
        return words.out_of(value)
    if isinstance(value, list | tuple):
        return type(value)(_without(each, words) for each in value)
    if not is_dataclass(value) or isinstance(value, type):
        return value
    return replace(value, **{name: _without(getattr(value, name), words) for name in _texts_of(value)})


def _texts_of(value: Any) -> Iterable[str]:
    """Return the fields of an answer in which words of people may stand."""
    exact = {*_EXACT, "name", "size"} if hasattr(value, "rows_in") else _EXACT
    return (each.name for each in fields(value) if each.name not in exact)
