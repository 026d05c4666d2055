"""Who may sign in, how they do, and how they are kept out again.

A phone is signed in once by a link: a code of 256 bit that works once and for two days, which the phone
exchanges for a token of 256 bit of its own. A desktop signs in with a password (argon2id) for twelve hours.
The job keeps SHA-256 of codes and tokens: whoever reads its file can sign in as nobody. A plain hash is
enough there, since nobody guesses 256 random bits; passwords are guessed, so they get argon2id.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
from collections.abc import Sequence

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from linemap.domain.record.person import Person, Role, same_words
from linemap.errors import InputRefused, LinemapError, NotFound
from linemap.store.attempts import begin_attempt, forget_attempts
from linemap.store.database import Database
from linemap.store.job import change_settings, load_job
from linemap.store.people import (
    PersonRecord,
    add_device,
    any_people,
    find_by_token,
    find_person,
    load_people,
    mark_seen,
    redeem_code,
    revoke_device,
    revoke_person,
    save_person,
)

#: How long a sign-in link may be used.
CODE_LIFE = dt.timedelta(days=2)
#: How long a password lets a browser in.
PASSWORD_LIFE = dt.timedelta(hours=12)
#: Characters of the shortest password: NIST SP 800-63B-4, 3.1.1.2, asks for 15 where it stands alone.
LEAST_PASSWORD = 15
#: Characters of the longest: argon2 takes any, a server should not.
_MOST_PASSWORD = 200
#: Where a server is reached that nobody said anything about.
_HERE = "http://127.0.0.1:8765"
#: A device's last sight is written at most this often; reading the map must not write all the time.
_SEEN_EVERY = dt.timedelta(minutes=5)
_NAME_MOST = 100
#: Hash of a text nobody types: compared when the name is unknown, so that the answer takes as long.
_NOBODY = "$argon2id$v=19$m=65536,t=3,p=4$WiNTUsj40O18D+AmMolpjw$4lEr62iSv5wT1OeTsra4A7Ddhq0AObBeJnTkpn4HszE"


class TooManyTries(LinemapError):  # noqa: N818 - named by what happened
    """There were too many tries to sign in; `wait_s` is the seconds until the next one is looked at."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"too many tries to sign in; wait {wait_s} seconds, or ask the manager for a link")
        self.wait_s = wait_s


def add_person(
    database: Database,
    *,
    name: str,
    role: Role,
    device: str = "",
    releases: Sequence[str] = (),
    crew: str = "",
    password: str = "",
    now: dt.datetime,
) -> str:
    """Add a person, or a device or password to one who is there.

    Return the one-time code of the new device; "" when there is a password and no device is named. A name
    that is blank, too long or holds control characters is refused, and so is a password too short or long.
    `crew` is the one they claim structures for.
    """
    _check_name(name)
    hashed = PasswordHasher().hash(_checked_password(password)) if password else None
    code = secrets.token_urlsafe(32) if device or not password else ""
    with database.writing() as connection:
        person_id = save_person(
            connection,
            name=name,
            role=role,
            releases=releases,
            crew=" ".join(crew.split()),
            password_hash=hashed,
            now=now,
        )
        if code:
            add_device(
                connection,
                person_id,
                label=device or "phone",
                code=(_sha256(code), now + CODE_LIFE),
                now=now,
            )
    return code


def list_people(database: Database) -> tuple[PersonRecord, ...]:
    """Return everybody with their devices, revoked ones included."""
    with database.reading() as connection:
        return load_people(connection)


def has_people(database: Database) -> bool:
    """Say whether the job asks who it is: somebody was added."""
    with database.reading() as connection:
        return any_people(connection)


def public_address(database: Database, *, address: str) -> str:
    """Return the address people reach the server at; one that is given is remembered."""
    with database.reading() as connection:
        known = str(load_job(connection).settings.get("address") or _HERE)
    if not address or address == known:
        return known
    with database.writing() as connection:
        change_settings(connection, {"address": address})
    return address


def sign_in_link(base: str, code: str) -> str:
    """Return the address that signs in a device by its code, which stays behind #; without, the page."""
    return f"{base}/sign-in#code={code}" if code else f"{base}/sign-in"


def revoke(database: Database, words: str, *, now: dt.datetime) -> str:
    """Keep a person out, or one device; return a sentence that says which.

    `words` are the name of a person, the label of a device, or its number as `list` shows it: `NotFound` when
    nobody and nothing has it, `InputRefused` when several devices do.
    """
    with database.writing() as connection:
        person = find_person(connection, words)
        if person is not None:
            revoke_person(connection, person.id, now=now)
            return f"{person.name} is kept out, on every device"
        found = [
            (owner, each)
            for owner in load_people(connection)
            for each in owner.devices
            if each.revoked_at is None and words.strip() in {each.label, str(each.id)}
        ]
        if not found:
            raise NotFound(f"the job has no person and no device {words}; linemap user JOB list shows them")
        if len(found) > 1:
            numbers = ", ".join(str(each.id) for _, each in found)
            raise InputRefused.at(
                "NAME", words, "names several devices", f"give the number of one: {numbers}"
            )
        ((owner, device),) = found
        revoke_device(connection, device.id, now=now)
        return f"device {device.id} {device.label} of {owner.name} is kept out"


def sign_in_by_code(database: Database, code: str, *, address: str, now: dt.datetime) -> str | None:
    """Exchange a one-time code for the token of its device; None when the code is no good.

    `TooManyTries` when there were too many from this address.
    """
    _count_try(database, person="", address=address, now=now)
    token = secrets.token_urlsafe(32)
    with database.writing() as connection:
        good = redeem_code(connection, code=_sha256(code), token=_sha256(token), now=now)
        if good:
            forget_attempts(connection, person="", address=address)
    return token if good else None


def sign_in_by_password(
    database: Database, *, name: str, password: str, address: str, now: dt.datetime
) -> str | None:
    """Exchange a name and password for a token that lets a browser in; None when they do not fit.

    `TooManyTries` when there were too many for this person or from this address, whatever the password.
    """
    _count_try(database, person=name, address=address, now=now)
    with database.reading() as connection:
        person = find_person(connection, name)
    known = person.password_hash if person is not None else None
    if not _fits(known or _NOBODY, password) or known is None or person is None:
        return None
    token = secrets.token_urlsafe(32)
    with database.writing() as connection:
        still = find_person(connection, name)
        if still is None or still.password_hash != known:
            return None
        add_device(
            connection, person.id, label="browser", token=(_sha256(token), now + PASSWORD_LIFE), now=now
        )
        forget_attempts(connection, person=name, address=address)
    return token


def identify(database: Database, token: str, *, now: dt.datetime) -> Person | None:
    """Return who holds a token, and keep that their device was seen; None = nobody."""
    with database.reading() as connection:
        found = find_by_token(connection, _sha256(token), now=now)
    if found is None:
        return None
    person, device = found
    if device.last_seen is None or now - device.last_seen >= _SEEN_EVERY:
        with database.writing() as connection:
            mark_seen(connection, device.id, now=now)
    return person


def sign_out(database: Database, token: str, *, now: dt.datetime) -> None:
    """Let the device of a token in no longer; a token nobody holds changes nothing."""
    with database.writing() as connection:
        found = find_by_token(connection, _sha256(token), now=now)
        if found is not None:
            revoke_device(connection, found[1].id, now=now)


def _count_try(database: Database, *, person: str, address: str, now: dt.datetime) -> None:
    with database.writing() as connection:
        wait_s = begin_attempt(connection, person=person, address=address, now=now)
    if wait_s:
        raise TooManyTries(wait_s)


def _fits(hashed: str, password: str) -> bool:
    try:
        return PasswordHasher().verify(hashed, password)
    except VerificationError:
        return False


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _check_name(name: str) -> None:
    if not same_words(name) or len(name) > _NAME_MOST or not name.isprintable():
        raise InputRefused.at(
            "NAME", name, "is no name of a person", f"give 1 to {_NAME_MOST} printable characters"
        )


def _checked_password(password: str) -> str:
    if not LEAST_PASSWORD <= len(password) <= _MOST_PASSWORD:
        raise InputRefused.at(
            "--password",
            "",
            f"the password has {len(password)} characters",
            f"give {LEAST_PASSWORD} to {_MOST_PASSWORD}; a few words in a row are good",
        )
    return password
