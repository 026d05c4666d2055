"""What was measured, recorded and decided: shots, events, claims, releases of holds, plans."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    BigInteger,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    Table,
    Text,
    UniqueConstraint,
)

from linemap.store.schema.columns import (
    let_only_grow,
    metadata,
    moments,
    number,
    of_file,
    optional_numbers,
    receipt_order,
    text,
    texts,
    whole,
    with_offset,
)

#: Columns of events that records before them leave at their default.
_SINCE_0051 = (
    ("what", "step"),
    *((name, "") for name in ("part", "content", "signed_by", "signed_how", "role", "sent_by")),
)

#: Append-only: triggers refuse every change. `seq` is the order of receipt.
event = Table(
    "event",
    metadata,
    receipt_order(),
    *texts("id", "line", "structure", "pole", "step", "result"),
    *with_offset("happened_at"),
    *moments("received_at"),
    *texts("crew", "actor", "device", "note"),
    of_file(),
    text("file"),
    whole("row"),
    *optional_numbers("longitude", "latitude", "accuracy_m"),
    *texts("revision_seen", "supersedes", "brand_seen"),
    *optional_numbers("wind_speed_mph", "wind_gust_mph", "skew_s"),
    Column("photos", JSON, nullable=False),
    Column("readings", JSON, nullable=False, server_default="[]"),
    *(Column(name, Text, nullable=False, server_default=usual) for name, usual in _SINCE_0051),
    # SHA-256 of the link before and this event: `linemap.domain.record.chain`
    text("chain_hash"),
    UniqueConstraint("id"),
    Index(None, "line", "structure"),
    sqlite_autoincrement=True,
)
let_only_grow(
    event,
    "events are only ever added; record a correction as a new event",
    key=("id", "seq"),
    function="refuse_change",
)
Index(
    "ix_event_supersedes",
    event.c.supersedes,
    sqlite_where=event.c.supersedes != "",
    postgresql_where=event.c.supersedes != "",
)

#: What crews say they will work on next. Only added to, as `event`.
claim = Table(
    "claim",
    metadata,
    receipt_order(),
    *texts("id", "line", "structure", "crew", "device"),
    *moments("made_at", "expires_at", "received_at"),
    Column("who", Text, nullable=False, server_default=""),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)
let_only_grow(claim, "claims are only ever added; make a new claim", key=("id", "seq"))

#: Job briefings as recorded by the person in charge. Only added to, as `event`.
briefing = Table(
    "briefing",
    metadata,
    receipt_order(),
    *texts("id", "line", "structure", "person_in_charge"),
    *moments("at", "received_at"),
    Column("subjects", JSON, nullable=False),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)
let_only_grow(briefing, "briefings are only ever added; record another briefing", key=("id", "seq"))

#: Photos of events, in parts as they arrive: `received` of `total` bytes are there; "" = not complete.
photo = Table(
    "photo",
    metadata,
    Column("id", Text, primary_key=True),
    Column("event_id", Text, nullable=False, index=True),
    whole("total"),
    whole("received"),
    *texts("media_type", "sha256"),
    *moments("begun_at"),
)

photo_part = Table(
    "photo_part",
    metadata,
    Column("photo_id", ForeignKey("photo.id"), primary_key=True),
    Column("start", Integer, primary_key=True, autoincrement=False),
    Column("content", LargeBinary, nullable=False),
)


#: Append-only, as `event`: who released which hold, and the hold as it stood then.
hold_release = Table(
    "hold_release",
    metadata,
    receipt_order(),
    text("hold_id"),
    Column("hold", JSON, nullable=False),
    *texts("who", "role", "device", "evidence"),
    *with_offset("at"),
    *moments("recorded_at"),
    sqlite_autoincrement=True,
)
let_only_grow(hold_release, "releases of holds are only ever added; a hold that must stand again is set anew")


shot = Table(
    "shot",
    metadata,
    Column("id", Integer, primary_key=True),
    of_file(),
    text("point"),
    number("easting"),
    number("northing"),
    Column("elevation", Double),
    *texts("description", "structure", "pole", "item", "line"),
    Column("sigma", Double),
    *texts("observed_on", "file"),
    whole("row"),
    text("note"),
)

#: Append-only, as `event`: what people decided about causes found in the survey.
decision = Table(
    "decision",
    metadata,
    receipt_order(),
    *texts("id", "cause", "subject", "line", "answer", "who"),
    *with_offset("at"),
    text("note"),
    Column("correction", JSON, nullable=False),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)
let_only_grow(
    decision,
    "decisions are only ever added; take a new decision that withdraws the old one",
    key=("id", "seq"),
)

#: Append-only, as `event`: copies of the job that were made to be kept. Of which life of the job it is, up to
#: which event and its link, the data version it holds, and the file by its name, size and SHA-256.
backup = Table(
    "backup",
    metadata,
    receipt_order(),
    *with_offset("at"),
    *texts("incarnation", "event_hash"),
    *(whole(name) for name in ("event_seq", "version")),
    *texts("name", "sha256"),
    Column("size", BigInteger, nullable=False),
    sqlite_autoincrement=True,
)
let_only_grow(backup, "backups are only ever added; make another one")

#: The newest links of the job that a phone says it saw (`newest`, as `service.record.log` writes them); what
#: does not stand in the job any more is kept for good beside what the phone saw later.
witness = Table(
    "witness",
    metadata,
    Column("device", Text, primary_key=True),
    Column("newest", Text, primary_key=True),
    text("person"),
    *moments("seen_at", "reported_at"),
)

#: Append-only, as `event`: the hashes of rows of tables that decide something, `linemap.store.seals`. Of rows
#: that are only ever added those up to `upto`, of rows that may change the one with that `key`. `rows` has of
#: each row the first digits of its hash and what it is called; `event_hash` and `change_hash` are the newest
#: links of these records then.
seal = Table(
    "seal",
    metadata,
    receipt_order(),
    *moments("at"),
    *texts("of", "key"),
    whole("upto"),
    Column("rows", JSON, nullable=False),
    *texts("hash", "why", "event_hash", "change_hash", "chain_hash"),
    Index(None, "of", "key"),
    sqlite_autoincrement=True,
)
let_only_grow(seal, "seals are only ever added")
