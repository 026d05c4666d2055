"""The tables of a job, the same on SQLite and PostgreSQL.

Numbers are double precision and come back bit for bit; nan is NULL. Lines, structures and steps are named
in words in shots, events and holds: a record of the field stays true when a list is loaded again. The
migrations beside this module make these tables; a test holds the two together.
"""

from __future__ import annotations

import datetime as dt

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

from linemap.store.columns import Moment

__all__ = [
    "answer",
    "briefing",
    "claim",
    "context_feature",
    "crossing",
    "decision",
    "device",
    "equation",
    "event",
    "fact",
    "file",
    "framing",
    "guy",
    "hold",
    "hold_release",
    "job",
    "line",
    "metadata",
    "person",
    "plan",
    "pole",
    "problem",
    "punch_entry",
    "receipt",
    "revision",
    "shot",
    "sign_in_attempt",
    "structure",
    "structure_change",
    "structure_type",
    "ticket",
    "vertex",
]

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _texts(*names: str) -> list[Column[str]]:
    return [_text(name) for name in names]


def _flag(name: str) -> Column[bool]:
    return Column(name, Boolean(create_constraint=False), nullable=False)


def _moment(name: str) -> Column[dt.datetime]:
    return Column(name, Moment, nullable=False)


def _number(name: str) -> Column[float]:
    return Column(name, Double, nullable=False)


def _whole(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


def _file() -> Column[int]:
    return Column("file_id", ForeignKey("file.id"))


def _revision() -> Column[int]:
    return Column("revision_id", ForeignKey("revision.id"), primary_key=True)


def _seq() -> Column[int]:
    return Column("seq", Integer, primary_key=True, autoincrement=False)


#: One row: the job itself. `data_version` grows by one with every transaction that changed something;
#: `base_version` is the data version of the last change to anything but the record of the field.
job = Table(
    "job",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1", name="one"), primary_key=True, autoincrement=False),
    _text("name"),
    _moment("created_at"),
    _whole("data_version"),
    _whole("base_version"),
    Column("settings", JSON, nullable=False),
)

line = Table(
    "line",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    *_texts("back_end", "ahead_end", "crs"),
    Column("combined_factor", Double),
    _number("start_station"),
    _text("pole_a"),
    Column("settings", JSON, nullable=False),
)

#: Every file ever loaded, byte for byte, with how its columns were understood.
file = Table(
    "file",
    metadata,
    Column("id", Integer, primary_key=True),
    _text("name"),
    Column("sha256", Text, nullable=False, index=True),
    _whole("size"),
    _text("kind"),
    Column("content", LargeBinary, nullable=False),
    _moment("loaded_at"),
    _text("loaded_by"),
    Column("mapping", JSON, nullable=False),
)

problem = Table(
    "problem",
    metadata,
    Column("file_id", ForeignKey("file.id"), primary_key=True),
    _seq(),
    Column("source_row", Integer),
    *_texts("heading", "value", "reason", "remedy", "severity"),
)

#: One state of one list of one line. Older ones are kept; one of each kind is current.
revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("line_id", ForeignKey("line.id"), nullable=False),
    _text("kind"),
    _file(),
    *_texts("source_file", "label"),
    _moment("loaded_at"),
    _flag("is_current"),
)
Index(
    "ix_revision_current",
    revision.c.line_id,
    revision.c.kind,
    unique=True,
    sqlite_where=revision.c.is_current,
    postgresql_where=revision.c.is_current,
)

vertex = Table(
    "vertex", metadata, _revision(), _seq(), _number("easting"), _number("northing"), _text("name")
)

equation = Table("equation", metadata, _revision(), _seq(), _number("back"), _number("ahead"))

structure = Table(
    "structure",
    metadata,
    _revision(),
    _seq(),
    _text("number"),
    _number("easting"),
    _number("northing"),
    Column("elevation", Double),
    Column("spacing", Double),
    _whole("pole_count"),
    _whole("rule"),
    Column("explicit_azimuth", Double),
    _flag("section_break"),
    *_texts("type_code", "given_station", "remarks"),
    _whole("source_row"),
)

#: What a revision changed against the one before it.
structure_change = Table(
    "structure_change", metadata, _revision(), _seq(), _text("number"), _text("change"), _text("words")
)

pole = Table(
    "pole",
    metadata,
    _revision(),
    _seq(),
    *_texts("structure", "letter"),
    Column("length_ft", Double),
    _text("pole_class"),
    Column("ground_elevation", Double),
    Column("ground_wire", Boolean(create_constraint=False)),
    _text("remarks"),
    _whole("source_row"),
)

shot = Table(
    "shot",
    metadata,
    Column("id", Integer, primary_key=True),
    _file(),
    _text("point"),
    _number("easting"),
    _number("northing"),
    Column("elevation", Double),
    *_texts("description", "structure", "pole", "item", "line"),
    Column("sigma", Double),
    *_texts("observed_on", "file"),
    _whole("row"),
    _text("note"),
)

#: Append-only: triggers refuse every change. `seq` is the order of receipt.
event = Table(
    "event",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    *_texts("id", "line", "structure", "pole", "step", "result"),
    _moment("happened_at"),
    _whole("happened_offset_s"),
    _moment("received_at"),
    *_texts("crew", "actor", "device", "note"),
    _file(),
    _text("file"),
    _whole("row"),
    *(Column(name, Double) for name in ("longitude", "latitude", "accuracy_m")),
    *_texts("revision_seen", "supersedes", "brand_seen"),
    *(Column(name, Double) for name in ("wind_speed_mph", "wind_gust_mph", "skew_s")),
    Column("photos", JSON, nullable=False),
    # SHA-256 of the link before and this event: `linemap.domain.record.chain`
    _text("chain_hash"),
    UniqueConstraint("id"),
    Index(None, "line", "structure"),
    sqlite_autoincrement=True,
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
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    *_texts("id", "line", "structure", "crew", "device"),
    *(_moment(name) for name in ("made_at", "expires_at", "received_at")),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)

#: Job briefings as recorded by the person in charge. Only added to, as `event`.
briefing = Table(
    "briefing",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    *_texts("id", "line", "structure", "person_in_charge"),
    _moment("at"),
    _moment("received_at"),
    Column("subjects", JSON, nullable=False),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)

#: Photos of events, in parts as they arrive: `received` of `total` bytes are there; "" = not complete.
photo = Table(
    "photo",
    metadata,
    Column("id", Text, primary_key=True),
    Column("event_id", Text, nullable=False, index=True),
    _whole("total"),
    _whole("received"),
    *_texts("media_type", "sha256"),
    _moment("begun_at"),
)

photo_part = Table(
    "photo_part",
    metadata,
    Column("photo_id", ForeignKey("photo.id"), primary_key=True),
    Column("start", Integer, primary_key=True, autoincrement=False),
    Column("content", LargeBinary, nullable=False),
)

hold = Table(
    "hold",
    metadata,
    _seq(),
    _file(),
    *_texts("id", "line"),
    Column("structures", JSON, nullable=False),
    *_texts("from_structure", "to_structure"),
    Column("activities", JSON, nullable=False),
    Column("from_date", Date),
    Column("to_date", Date),
    *_texts("condition", "reason"),
    _flag("restricted"),
    *_texts("set_by", "release_by"),
    Column("released_on", Date),
)

guy = Table(
    "guy",
    metadata,
    Column("id", Integer, primary_key=True),
    _file(),
    Column("line", Text, nullable=False, index=True),
    *_texts("structure", "name", "kind", "side", "pole"),
    *(Column(name, Double) for name in ("lead", "height", "ratio", "azimuth_deg")),
    _text("remarks"),
    _whole("source_row"),
)

crossing = Table(
    "crossing",
    metadata,
    _seq(),
    _file(),
    *_texts("line", "what", "owner", "station"),
    Column("true_distance", Double),
    *_texts("back_structure", "ahead_structure"),
    Column("voltage_kv", Double),
    _text("rule"),
    _flag("energized"),
    _whole("row"),
)

#: Locate tickets, as `hold` a list replaced whole.
ticket = Table(
    "ticket",
    metadata,
    _seq(),
    _file(),
    *_texts("number", "line"),
    Column("structures", JSON, nullable=False),
    *_texts("from_structure", "to_structure"),
    _flag("covers_anchors"),
    Column("valid_from", Date),
    Column("expires", Date),
    *_texts("life", "responses", "renewed_by"),
)

#: What the yard ordered and received.
receipt = Table(
    "receipt",
    metadata,
    _seq(),
    _file(),
    *_texts("item", "line", "structure"),
    Column("ordered", Integer),
    _whole("received"),
    _whole("damaged"),
    Column("received_on", Date),
    Column("due", Date),
    *_texts("brand", "yard_row", "released_by", "remarks"),
    _whole("row"),
)

#: Append-only, as `event`: what was written about items of the punch list.
punch_entry = Table(
    "punch_entry",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    _file(),
    *_texts("item", "line", "structure", "part", "action"),
    Column("day", Date, nullable=False),
    *_texts("text", "severity", "owner"),
    Column("due", Date),
    *_texts("who", "evidence"),
    sqlite_autoincrement=True,
)

#: Append-only, as `event`: what was seen or measured at structures.
fact = Table(
    "fact",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    _file(),
    *_texts("line", "structure", "what", "pole", "pointed_by"),
    Column("length_ft", Double),
    *_texts("pole_class", "face", "looking", "side"),
    *(
        Column(name, Double)
        for name in (
            "lower_height",
            "lower_along",
            "lower_across",
            "upper_height",
            "upper_along",
            "upper_across",
            "pole_height",
            "left_height",
            "right_height",
            "arm_length",
        )
    ),
    _text("who"),
    Column("day", Date, nullable=False),
    _text("note"),
    _whole("source_row"),
    sqlite_autoincrement=True,
)

context_feature = Table(
    "context_feature",
    metadata,
    Column("id", Integer, primary_key=True),
    _file(),
    Column("layer", Text, nullable=False, index=True),
    _text("name"),
    _flag("restricted"),
    # GeoJSON in WGS 84 longitude, latitude
    _text("geometry"),
    Column("properties", JSON, nullable=False),
)

structure_type = Table(
    "structure_type",
    metadata,
    _seq(),
    _file(),
    *_texts("code", "words"),
    _whole("pole_count"),
    Column("spacing", Double),
    _whole("rule"),
    _flag("section_break"),
    Column("blocks", Integer),
    _number("weight"),
    Column("guyed", Boolean(create_constraint=False)),
)

#: Frozen plans: one row a baseline, never changed; weeks and counts stand in order.
plan = Table(
    "plan",
    metadata,
    Column("seq", Integer, primary_key=True),
    _file(),
    *_texts("line", "step", "revision"),
    Column("frozen_on", Date),
    Column("weeks", JSON, nullable=False),
    Column("planned", JSON, nullable=False),
    UniqueConstraint("line", "step", "revision"),
)

#: The owner's framing table, a row a dimension of a type; `choice` holds what is no number.
framing = Table(
    "framing",
    metadata,
    _seq(),
    _file(),
    *_texts("code", "dimension"),
    Column("value", Double),
    *_texts("choice", "drawing"),
    _whole("source_row"),
)

#: Append-only, as `event`: what people decided about causes found in the survey.
decision = Table(
    "decision",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    *_texts("id", "cause", "subject", "line", "answer", "who"),
    _moment("at"),
    _whole("at_offset_s"),
    _text("note"),
    Column("correction", JSON, nullable=False),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)

#: Append-only, as `event`: what people said about the columns of files of one shape; the newest stands.
answer = Table(
    "answer",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    Column("shape", Text, nullable=False, index=True),
    Column("content", JSON, nullable=False),
    _text("who"),
    _moment("at"),
    _whole("at_offset_s"),
    sqlite_autoincrement=True,
)

#: Who may sign in. A person is never taken out: records name them. `folded` is the name as compared.
person = Table(
    "person",
    metadata,
    Column("id", Integer, primary_key=True),
    _text("name"),
    Column("folded", Text, nullable=False, unique=True),
    _text("role"),
    Column("releases", JSON, nullable=False),
    Column("password_hash", Text),
    _moment("added_at"),
    Column("revoked_at", Moment),
)

#: One phone, or one browser signed in with a password. Codes and tokens are kept only as SHA-256.
device = Table(
    "device",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person_id", ForeignKey("person.id"), nullable=False, index=True),
    *_texts("label", "kind"),
    Column("code_sha256", Text, unique=True),
    Column("code_expires_at", Moment),
    Column("token_sha256", Text, unique=True),
    Column("expires_at", Moment),
    _moment("made_at"),
    Column("signed_in_at", Moment),
    Column("last_seen", Moment),
    Column("revoked_at", Moment),
)

#: Sign-ins that failed or are under way, by person and by address; old ones are taken out.
sign_in_attempt = Table(
    "sign_in_attempt",
    metadata,
    Column("id", Integer, primary_key=True),
    *_texts("person", "address"),
    Column("at", Moment, nullable=False, index=True),
)

#: Append-only, as `event`: who released which hold, and the hold as it stood then.
hold_release = Table(
    "hold_release",
    metadata,
    Column("seq", Integer, CheckConstraint("seq > 0", name="seq"), primary_key=True, autoincrement=True),
    _text("hold_id"),
    Column("hold", JSON, nullable=False),
    *_texts("who", "role", "device", "evidence"),
    _moment("at"),
    _whole("at_offset_s"),
    _moment("recorded_at"),
    sqlite_autoincrement=True,
)
