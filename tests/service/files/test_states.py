"""States of lists: what each changed, and an earlier one as a reader may see it."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from linemap.domain.record.person import Audience
from linemap.errors import NotFound
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.files.states import state_answer, states_of_lists
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)
LATER = NOW + dt.timedelta(days=20)
HOLDS = "Hold,Activities,Structures,Until,Reason\nHZ-1,dig,9/2,,wet\nHZ-2,dig,9/3,,wet\n"


@pytest.fixture
def own_demo(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    """The demo job, to load more into."""
    with open_job(shutil.copy(demo_job, tmp_path)) as database:
        yield database


def load(database: Database, folder: Path, name: str, text: str) -> None:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    load_files(database, LoadRequest(paths=(path,), loaded_by="Otter"), now=LATER, removes=["holds"])


def view_of(database: Database) -> JobView:
    return build_view(database, today=NOW.date())


def test_a_state_says_what_it_took_away_added_and_changed(own_demo: Database, tmp_path: Path) -> None:
    load(own_demo, tmp_path, "holds_a.csv", HOLDS)
    newer = HOLDS.replace("HZ-1,dig,9/2,,wet", "HZ-1,dig,9/2,,dry").replace("HZ-2", "HZ-3")
    load(own_demo, tmp_path, "holds_b.csv", newer)
    view, owner = view_of(own_demo), Audience.OWNER
    with own_demo.reading() as connection:
        (answer,) = states_of_lists(view, connection, "holds")
        first, second, third = answer.states
        told = state_answer(view, connection, "holds", third.id, audience=owner)
        as_it_was = state_answer(view, connection, "holds", first.id, audience=owner)
        with pytest.raises(NotFound, match="no state"):
            state_answer(view, connection, "tickets", third.id, audience=owner)
    assert (first.removed, first.added, first.changed) == (0, 0, 0)
    assert answer.does.startswith("adds and updates holds by their number; those it does not name stay")
    assert (second.removed, second.added, second.changed, second.rows) == (0, 2, 0, first.rows + 2)
    assert (third.removed, third.added, third.changed, third.rows) == (0, 1, 1, first.rows + 3)
    assert (third.source_file, third.loaded_by, third.current) == ("holds_b.csv", "Otter", True)
    assert told.changes == ["hold HZ-1 reason wet -> dry", "hold HZ-3 added"]
    assert len(as_it_was.rows) == first.rows > 2


def test_structures_count_once_each(own_demo: Database) -> None:
    view = view_of(own_demo)
    with own_demo.reading() as connection:
        (answer,) = states_of_lists(view, connection, "structures")
        first, second = answer.states
        before, after = (
            state_answer(view, connection, "structures", each.id, audience=Audience.OWNER)
            for each in (first, second)
        )
    assert (second.removed, second.added, second.changed) == (0, 0, 1)
    assert len(before.rows) == first.rows == 121
    assert (len(before.changes), len({words.split()[0] for words in after.changes})) == (0, 1)


def test_what_is_restricted_stays_so_in_an_earlier_state(own_demo: Database, tmp_path: Path) -> None:
    secret = next(hold for hold in view_of(own_demo).holds if hold.restricted and hold.reason)
    load(own_demo, tmp_path, "holds.csv", HOLDS)
    view = view_of(own_demo)
    with own_demo.reading() as connection:
        ((first, second),) = (each.states for each in states_of_lists(view, connection, "holds"))
        whole, crew = (
            state_answer(view, connection, "holds", first.id, audience=each)
            for each in (Audience.OWNER, Audience.CREW)
        )
        told = state_answer(view, connection, "holds", second.id, audience=Audience.CREW)
    assert any(secret.reason in row for row in whole.rows)
    assert not any(secret.reason in row for row in crew.rows)
    assert len(crew.rows) == len(whole.rows)
    assert not any(secret.reason in words for words in told.changes)
