"""States of lists: what each took away, added and changed, and the rows of an earlier one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from sqlalchemy import Connection

from linemap.answers.lists import ListAnswer, StateOfList, StatesOfList
from linemap.domain.design.revision import compare
from linemap.domain.kind.compare import compare_records, does_of, in_words
from linemap.domain.kind.kind import Code
from linemap.domain.record.person import Audience
from linemap.errors import NotFound
from linemap.kinds.registry import DECLARED
from linemap.service.people.redact import redact_view
from linemap.service.view.lists import list_answer, records_of, with_records
from linemap.service.view.view import JobView
from linemap.store.files import rows_by_state
from linemap.store.lists import load_as_listed
from linemap.store.states import ListState, list_states
from linemap.store.structures import load_structures
from linemap.store.times import answering

#: What states changed, by their job, the life of it, and their identifiers: none of it ever changes.
_COUNTED: dict[tuple[str, str, int], Counter[str]] = {}
#: (record, "added", "removed" or how it changed, words) of each change.
_Changes = list[tuple[object, str, str]]
_See = Callable[[Any], Any]


def states_of_lists(view: JobView, connection: Connection, kind: Code | None = None) -> list[StatesOfList]:
    """Return the states of one list, or of all, with what each changed against the one before.

    Of a view of another time, those that had come by then and were true.
    """
    states = list_states(connection, kind)
    then = answering(connection, view.when)
    counts = rows_by_state(connection)
    answers: dict[Code, list[StateOfList]] = {}
    for state in states:
        if then is not None and state.id not in then.ever:
            continue
        changed = _counted(view, connection, states, state)
        answer = StateOfList(
            id=state.id,
            part=state.part or state.line,
            file=state.file_id,
            source_file=state.source_file,
            label=state.label,
            loaded_at=state.loaded_at.isoformat(timespec="seconds"),
            true_from=(state.true_from or state.loaded_at.date()).isoformat(),
            loaded_by=state.loaded_by,
            current=state.is_current if then is None else state.id in then.in_force,
            rows=counts.get(state.id, 0),
            removed=changed["removed"],
            added=changed["added"],
            changed=changed["changed"],
        )
        answers.setdefault(state.kind, []).append(answer)
    return [
        StatesOfList(kind=code, does=does_of(kind), states=answers[code])
        for code, kind in DECLARED.items()
        if code in answers
    ]


def state_answer(
    whole: JobView, connection: Connection, kind: Code, state: int, *, audience: Audience
) -> ListAnswer:
    """Return a list as one of its states had it, and what that changed, as a reader may see both.

    `whole` holds everything: what was restricted is taken out by what the job says of it now. `NotFound` =
    the list never had that state.
    """

    def see(records: Any) -> Any:
        own = DECLARED[kind]
        held = None if audience is Audience.OWNER else with_records(whole, own, records)
        return records if held is None else records_of(redact_view(held, audience), own)

    states = list_states(connection, kind)
    found = next((each for each in states if each.id == state), None)
    if found is None:
        raise NotFound(f"{kind} have no state {state}; their states are in the list as it stands")
    return list_answer(
        whole,
        DECLARED[kind],
        see(_records(connection, found)),
        [each for answer in states_of_lists(whole, connection, kind) for each in answer.states],
        [words for *_, words in _changes(whole, connection, states, found, see)],
    )


def _records(connection: Connection, state: ListState) -> Any:
    if state.kind == "structures":
        return load_structures(connection, state=state.id)
    return load_as_listed(connection, DECLARED[state.kind], state=state.id)


def _counted(
    view: JobView, connection: Connection, states: Sequence[ListState], state: ListState
) -> Counter[str]:
    """Count the records a state took away and added, and those of which it changed something."""
    key = (str(connection.engine.url), view.incarnation, state.id)
    if key not in _COUNTED:
        changes = _changes(view, connection, states, state, lambda records: records)
        came_or_went = [what for _, what, _ in changes if what in {"added", "removed"}]
        others = {record for record, what, _ in changes if what not in {"added", "removed"}}
        _COUNTED[key] = Counter([*came_or_went, *("changed" for _ in others)])
    return _COUNTED[key]


def _changes(
    view: JobView, connection: Connection, states: Sequence[ListState], state: ListState, see: _See
) -> _Changes:
    """Return what a state changed against the one before of its line or part; nothing for the first."""
    whose = (state.kind, state.line, state.part)
    earlier = [each for each in states if (each.kind, each.line, each.part) == whose and each.id < state.id]
    if not earlier:
        return []
    before, after = (see(_records(connection, each)) for each in (earlier[-1], state))
    if state.kind == "structures":
        factor = next((line.combined_factor for line in view.figures.lines if line.name == state.line), 1.0)
        moved = compare(before, after, unit=view.unit, combined_factor=factor)
        return [(each.number, each.change, f"{each.number} {each.words}") for each in moved]
    kind = DECLARED[state.kind]
    was, now = (in_words(kind, records, view.naming.called) for records in (before, after))
    found = compare_records(kind, was, now, unit=view.unit)
    return [(each.key, each.change, each.words) for each in found]
