"""Changes of the job that wait for a review: proposed, accepted or dropped; those accepted, to be undone.

A proposal is accepted only as it was shown. When the job was changed meanwhile it is made anew, and what
differs is shown before anything is stored.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import orjson

from linemap.answers.change import Accepted, Choices, Proposal
from linemap.errors import Conflict, InputRefused, LinemapError, NotFound, Problem
from linemap.service.files.edit import Signed, change_to_undo
from linemap.service.files.load_report import LoadRequest, said_by
from linemap.service.files.proposal_answer import answer_as_reviewed, answer_of
from linemap.service.files.review import ChangedMeanwhile, Edit, carry_out, read_edit, review
from linemap.service.view.view import JobView
from linemap.store import changes as kept
from linemap.store.database import Database

#: How often an accepted proposal is made anew while others change the job.
_TRIES = 3
#: How many proposals may wait, and how long.
_MOST_WAITING = 100
_FORGOTTEN = dt.timedelta(days=14)
_FAILED = "linemap failed on these files, and nothing of them is stored; the log of the server says why"


def begin(database: Database, *, who: str, now: dt.datetime, undoes: str = "") -> str:
    """Make a proposal that waits for its files, or one that undoes a change; return its identifier.

    What nobody accepted for two weeks is dropped; while many wait, there is no room for another (`Conflict`).
    """
    proposal_id = str(uuid.uuid4())
    with database.writing() as connection:
        waiting = kept.list_proposals(connection)
        for old in (each for each in waiting if each.made_at < now - _FORGOTTEN):
            kept.drop_proposal(connection, old.id)
        if sum(each.made_at >= now - _FORGOTTEN for each in waiting) >= _MOST_WAITING:
            raise Conflict(f"{_MOST_WAITING} loads wait for a review; accept or drop some of them first")
        kept.add_proposal(
            connection,
            kept.Waiting(
                id=proposal_id,
                what="undo" if undoes else "load",
                who=who,
                state="waiting",
                made_at=now,
                request={"undoes": undoes, "choices": asdict(Choices())},
                answer={},
            ),
        )
    return proposal_id


def begin_undo(database: Database, change_id: str, *, who: str, now: dt.datetime) -> str:
    """Make a proposal that undoes a change.

    `NotFound` = there is none; `Conflict` = it cannot be undone now.
    """
    with database.reading() as connection:
        change_to_undo(connection, change_id)
    return begin(database, who=who, now=now, undoes=change_id)


def add_proposal_file(database: Database, proposal_id: str, name: str, content: bytes) -> None:
    """Put a file into a proposal; one of the same name takes the place of the one before."""
    with database.writing() as connection:
        kept.find_proposal(connection, proposal_id)
        kept.add_proposal_file(connection, proposal_id, name, content)
        kept.change_proposal(connection, proposal_id, state="waiting", answer={})


def drop_proposal(database: Database, proposal_id: str) -> None:
    """Drop a proposal with its files; a reading of it that goes on ends by itself."""
    with database.writing() as connection:
        kept.drop_proposal(connection, proposal_id)


def load_proposal(database: Database, proposal_id: str) -> Proposal:
    """Return a proposal as it stands: read, being read, or waiting (`NotFound` = accepted or dropped)."""
    with database.reading() as connection:
        return answer_of(kept.find_proposal(connection, proposal_id))


def begin_reading(database: Database, proposal_id: str) -> None:
    """Let nothing be shown of what was read before: the files are read again, as soon as that is possible."""
    with database.writing() as connection:
        kept.find_proposal(connection, proposal_id)
        kept.change_proposal(connection, proposal_id, state="waiting", step="", share=0.0, answer={})


def read_proposal(
    database: Database,
    proposal_id: str,
    choices: Choices,
    *,
    now: dt.datetime,
    served: Callable[[], JobView] | None = None,
) -> Proposal:
    """Read the files of a proposal as `choices` say, or look at the undo; keep what was found and return it.

    `served` gives the job's view where one is kept (`review`).

    `NotFound` = it was dropped, perhaps while it was read.
    """

    def progress(step: str, share: float) -> None:
        with database.writing() as connection:
            if not kept.change_proposal(connection, proposal_id, step=step, share=share):
                raise NotFound("the proposal was dropped")

    def dropped() -> bool:
        with database.reading() as connection, suppress(NotFound):
            kept.find_proposal(connection, proposal_id)
            return False
        return True

    with database.writing() as connection:
        waiting = kept.find_proposal(connection, proposal_id)
        request = {**waiting.request, "choices": asdict(choices)}
        kept.change_proposal(connection, proposal_id, state="reading", request=request, answer={})
    waiting = replace(waiting, request=request)
    try:
        with _edit(database, waiting) as edit:
            reviewed = review(database, edit, now=now, served=served, progress=progress, cancelled=dropped)
            found = answer_as_reviewed(waiting, edit, reviewed)
    except NotFound:
        raise
    except LinemapError as error:
        found = replace(answer_of(waiting), state="refused", refused=str(error).splitlines())
    except Exception:
        # whoever waits for it is told; why it failed is for the log
        _keep(database, replace(answer_of(waiting), state="refused", refused=[_FAILED]))
        raise
    return _keep(database, found)


def accept(
    database: Database,
    proposal_id: str,
    signed: Signed,
    *,
    digest: str,
    now: dt.datetime,
    served: Callable[[], JobView] | None = None,
) -> Accepted:
    """Do what a proposal shows, if it is still what its reader saw; else show it as it is now.

    Raises
    ------
    NotFound
        If it was accepted or dropped.
    InputRefused
        If it is refused, something is taken away without its word among `removes`, or nobody is named.
    Conflict
        If it is still being read, or others keep changing the job.
    """
    with database.reading() as connection:
        waiting = kept.find_proposal(connection, proposal_id)
    shown = answer_of(waiting)
    _check_ready(shown, signed)
    with _edit(database, waiting) as edit:
        for _ in range(_TRIES):
            versions = database.versions()
            if (shown.digest, shown.data_version, shown.day) == (digest, versions[0], str(now.date())):
                # worked out from what is there now: the same would come of it again
                read, base_version = read_edit(database, edit, now=now), versions[1]
                seen = [need.word for need in shown.needs]
            else:
                reviewed = review(database, edit, now=now, served=served)
                shown = answer_as_reviewed(waiting, edit, reviewed)
                if shown.digest != digest:
                    return Accepted(
                        change="",
                        words=[],
                        data_version=shown.data_version,
                        proposal=_keep(database, shown),
                    )
                read, base_version, seen = reviewed.read, reviewed.base_version, [*reviewed.applied.taken]
            with suppress(ChangedMeanwhile):
                done = carry_out(
                    database,
                    edit,
                    read,
                    signed,
                    now=now,
                    base_version=base_version,
                    seen=seen,
                    proposal_id=proposal_id,
                )
                words, version = done.change.done.words, database.versions()[0]
                return Accepted(change=done.change.id, words=words, data_version=version, proposal=None)
    raise Conflict("others keep changing the job; try again in a moment")


def _check_ready(shown: Proposal, signed: Signed) -> None:
    if shown.state in {"waiting", "reading"}:
        raise Conflict("the files are still being read; wait until they are")
    if shown.state == "refused":
        raise InputRefused(
            Problem(
                file="",
                reason="the files are refused as they are",
                remedy="correct them, or choose otherwise",
            )
        )
    if not signed.who.strip():
        raise InputRefused.at("by", "", "nobody is named who accepts it", "write your name")


@contextmanager
def _edit(database: Database, waiting: kept.Waiting) -> Iterator[Edit]:
    """Give what a proposal is to do; its files lie in a folder that goes away after."""
    if waiting.what == "undo":
        yield Edit(undo=waiting.request["undoes"])
        return
    with database.reading() as connection:
        files = kept.proposal_files(connection, waiting.id)
    if not files:
        raise InputRefused(Problem(file="", reason="no file has come", remedy="choose files to load"))
    with TemporaryDirectory(prefix="linemap-") as folder:
        paths = []
        for name, content in files:
            path = Path(folder) / (Path(name).name or "file")
            path.write_bytes(content)
            paths.append(path)
        yield Edit(load=_request(tuple(paths), waiting))


def _request(paths: tuple[Path, ...], waiting: kept.Waiting) -> LoadRequest:
    return LoadRequest(paths=paths, loaded_by=waiting.who, **said_by(Choices(**waiting.request["choices"])))


def _keep(database: Database, found: Proposal) -> Proposal:
    answer = orjson.loads(orjson.dumps(found))
    with database.writing() as connection:
        kept.change_proposal(connection, found.id, state=found.state, step="", share=1.0, answer=answer)
        return answer_of(kept.find_proposal(connection, found.id))
