"""Who may sign in, and from where."""

from __future__ import annotations

from sqlalchemy import JSON, Column, ForeignKey, Integer, Table, Text

from linemap.store.columns import Moment
from linemap.store.schema.columns import metadata, moments, text, texts

__all__ = ["device", "person", "sign_in_attempt"]

#: Who may sign in. A person is never taken out: records name them. `folded` is the name as compared.
person = Table(
    "person",
    metadata,
    Column("id", Integer, primary_key=True),
    text("name"),
    Column("folded", Text, nullable=False, unique=True),
    text("role"),
    Column("releases", JSON, nullable=False),
    Column("password_hash", Text),
    *moments("added_at"),
    Column("revoked_at", Moment),
)

#: One phone, or one browser signed in with a password. Codes and tokens are kept only as SHA-256.
device = Table(
    "device",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person_id", ForeignKey("person.id"), nullable=False, index=True),
    *texts("label", "kind"),
    Column("code_sha256", Text, unique=True),
    Column("code_expires_at", Moment),
    Column("token_sha256", Text, unique=True),
    Column("expires_at", Moment),
    *moments("made_at"),
    Column("signed_in_at", Moment),
    Column("last_seen", Moment),
    Column("revoked_at", Moment),
)

#: Sign-ins that failed or are under way, by person and by address; old ones are taken out.
sign_in_attempt = Table(
    "sign_in_attempt",
    metadata,
    Column("id", Integer, primary_key=True),
    *texts("person", "address"),
    Column("at", Moment, nullable=False, index=True),
)
