"""The tables of a job, the same on SQLite and PostgreSQL: read as `schema.event`, `schema.line`.

Numbers are double precision and come back bit for bit; nan is NULL. Lines, structures and steps are named
in words in shots, events and holds: a record of the field stays true when a list is loaded again. A new job
is made from these tables; an older one is brought to them by the migrations beside this package, and a test
holds the two together.
"""

from __future__ import annotations

from linemap.store.schema.columns import metadata
from linemap.store.schema.design import line, structure, structure_change, table_of
from linemap.store.schema.job import (
    answer,
    counted,
    declaration,
    device,
    file,
    job,
    job_change,
    person,
    problem,
    proposal,
    proposal_file,
    revision,
    sign_in_attempt,
)
from linemap.store.schema.record import (
    backup,
    briefing,
    claim,
    decision,
    event,
    hold_release,
    photo,
    photo_part,
    seal,
    shot,
    witness,
)

__all__ = [
    "answer",
    "backup",
    "briefing",
    "claim",
    "counted",
    "decision",
    "declaration",
    "device",
    "event",
    "file",
    "hold_release",
    "job",
    "job_change",
    "line",
    "metadata",
    "person",
    "photo",
    "photo_part",
    "problem",
    "proposal",
    "proposal_file",
    "revision",
    "seal",
    "shot",
    "sign_in_attempt",
    "structure",
    "structure_change",
    "table_of",
    "witness",
]
