"""Who may load which list, and what of a proposal each reads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from linemap.answers.change import (
    Accepted,
    ChangeEntry,
    ChangeList,
    Choices,
    Consequence,
    Effect,
    NeededWord,
    Proposal,
    ReadFile,
)
from linemap.domain.record.person import Person, Role
from linemap.errors import NotAllowed
from linemap.kinds.registry import DECLARED
from linemap.service.files.permitted import (
    as_told,
    changes_as_told,
    check_may_accept,
    check_may_see,
    loadable,
)
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import open_job

SURVEYOR = Person(name="Ada Plumb", role=Role.SURVEYOR)
MANAGER = Person(name="Max Ledger", role=Role.MANAGER)


def read_file(kind: str, name: str = "list.csv") -> ReadFile:
    return ReadFile(
        name=name,
        size=1,
        kind=kind,
        may_be=(),
        does="",
        read_as="",
        evidence=(),
        columns=(),
        fields=(),
        unread=(),
        rows_in=1,
        rows_used=1,
        problems=(),
    )


def proposal(*kinds: str, who: str = SURVEYOR.name, words: str = "", **more: Any) -> Proposal:
    effect = Effect(words=words, line="", structure="", before=None, after=None)
    consequence = Consequence(code="hold", weight="harm", words=words, count=1, effects=[effect])
    return Proposal(
        **{
            "id": "p",
            "what": "load",
            "state": "ready",
            "step": "",
            "share": 1.0,
            "who": who,
            "made_at": "",
            "choices": Choices(),
            "files": [read_file(kind) for kind in kinds],
            "refused": (),
            "consequences": [consequence],
            "needs": [NeededWord(word="nest", count=1, words=words)],
            "not_named": (),
            "map": None,
            "button": words,
            "digest": "nest",
            "data_version": 1,
            "day": "2026-05-16",
            **more,
        }
    )


@pytest.fixture(scope="module")
def view(open_demo_job: Path) -> Iterator[JobView]:
    database = open_job(str(open_demo_job))
    yield build_view(database, today=dt.date(2026, 5, 16))
    database.close()


def test_each_trade_loads_its_own_lists() -> None:
    assert set(loadable(MANAGER)) == set(DECLARED)
    assert set(loadable(SURVEYOR)) == {
        "centreline", "equations", "structures", "poles", "guys", "shots", "facts", "context", "control",
    }  # fmt: skip
    assert set(loadable(Person(name="Ina", role=Role.INSPECTOR))) == {"punch", "facts"}
    assert [loadable(Person(name="x", role=role)) for role in (Role.CREW, Role.VIEWER)] == [(), ()]


def test_a_list_of_another_trade_is_a_managers_to_accept() -> None:
    check_may_accept(proposal("structures", "poles"), SURVEYOR, ["structures"])
    with pytest.raises(NotAllowed, match="a surveyor may not load holds, tickets; ask a manager"):
        check_may_accept(proposal("structures", "holds", "tickets"), SURVEYOR, [])
    with pytest.raises(NotAllowed, match="a surveyor may not take away holds"):
        check_may_accept(proposal("structures"), SURVEYOR, ["structures", "holds"])
    check_may_accept(proposal("holds"), MANAGER, ["holds"])


def test_somebody_elses_files_are_theirs_and_the_managers() -> None:
    check_may_see(proposal(who="ada  plumb"), SURVEYOR)
    check_may_see(proposal(who="Ina"), MANAGER)
    with pytest.raises(NotAllowed, match="brought by Ina"):
        check_may_see(proposal(who="Ina"), SURVEYOR)


def test_kept_reasons_are_told_to_the_owner_alone(view: JobView) -> None:
    hold = next(hold for hold in view.holds if "nest" in hold.reason)
    whole = proposal("structures", "structures", words=f"hold {hold.id}: {hold.reason} would end")
    assert as_told(whole, view, MANAGER) == whole
    told = as_told(whole, view, SURVEYOR)
    assert told.consequences[0].words == f"hold {hold.id}: [not shown] would end"
    assert told.consequences[0].effects[0].words == told.button == told.needs[0].words
    assert hold.reason not in str(asdict(told))
    assert (told.digest, told.needs[0].word, told.files[0].name) == ("nest", "nest", "list.csv")


def test_what_was_accepted_and_what_waits_is_told_alike(view: JobView) -> None:
    entry = ChangeEntry(
        id="c",
        what="load",
        who="Ina",
        at="",
        reason="the nest is gone",
        files=["list.csv"],
        words=["1 hold ends: cultural site"],
        undoes="",
        undone_by="",
        kept_by="",
    )
    changes = ChangeList(data_version=1, changes=[entry], waiting=[proposal(), proposal(who="Ina")])
    told = changes_as_told(changes, view, SURVEYOR)
    assert [each.who for each in told.waiting] == [SURVEYOR.name]
    assert (told.changes[0].reason, told.changes[0].words) == (
        "the [not shown] is gone",
        ["1 hold ends: [not shown] site"],
    )
    whole = changes_as_told(changes, view, MANAGER)
    assert whole.changes == changes.changes
    assert [(each.who, each.consequences) for each in whole.waiting] == [(SURVEYOR.name, ()), ("Ina", ())]
    accepted = Accepted(change="c", words=entry.words, data_version=1, proposal=None)
    assert as_told(accepted, view, SURVEYOR).words == told.changes[0].words
