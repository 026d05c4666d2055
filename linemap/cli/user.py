"""`linemap user`: who may sign in, on which phones, and who no longer."""

from __future__ import annotations

import datetime as dt
import io
import sys
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlsplit

import typer

from linemap.cli.terminal import OUT, JobArgument, JsonOption, now, opened, say, say_json
from linemap.domain.record.person import Role
from linemap.errors import InputRefused

if TYPE_CHECKING:
    from linemap.store.database import Database
    from linemap.store.people import DeviceRecord, PersonRecord

_ADDRESS = "address the phones reach the server at, like https://192.168.8.2:8765; remembered in the job"
_CREW = "crew they claim structures for, as it records; by default any"
_RELEASES = "office held when holds are released, as the hold's 'release by' says; may be repeated"


class _What(StrEnum):
    ADD = "add"
    LIST = "list"
    REVOKE = "revoke"


def user_command(
    job: JobArgument,
    what: Annotated[_What, typer.Argument(metavar="add|list|revoke", help="what to do")],
    name: Annotated[str, typer.Argument(help="person; for revoke a person, a device or its number")] = "",
    role: Annotated[Role | None, typer.Option(help="what the person does on the job")] = None,
    device: Annotated[str, typer.Option(help="label of the phone, like 'truck phone'")] = "",
    releases: Annotated[list[str] | None, typer.Option(help=_RELEASES)] = None,
    crew: Annotated[str, typer.Option(help=_CREW)] = "",
    password: Annotated[bool, typer.Option("--password", help="ask for a password, for a desktop")] = False,
    address: Annotated[str, typer.Option(help=_ADDRESS)] = "",
    qr: Annotated[Path | None, typer.Option(help="write the square code as .svg or .png too")] = None,
    as_json: JsonOption = False,
) -> None:
    """Let people sign in and keep them out again. A link signs in one phone, once, within two days.

    Example: linemap user linemap-demo/demo.linemap add "Ada Marrow" --role crew --device "truck phone"
    """
    from linemap.service.people.people import add_person, public_address, revoke

    _check_picture(qr)
    with opened(job) as database:
        if what is _What.LIST:
            _list(database, as_json=as_json)
        elif not name:
            raise InputRefused.at("NAME", "", f"{what} needs a name", "name the person")
        elif what is _What.REVOKE:
            said = revoke(database, name, now=now())
            if as_json:
                say_json({"revoked": said})
            else:
                OUT.print(said)
        else:
            secret = _ask_password() if password else ""
            base = public_address(database, address=_checked_address(address))
            code = add_person(
                database,
                name=name,
                role=_given_role(role),
                device=device,
                releases=releases or (),
                crew=crew,
                password=secret,
                now=now(),
            )
            _show_link(code, base, qr, name=name, as_json=as_json)


def _given_role(role: Role | None) -> Role:
    if role is None:
        raise InputRefused.at("--role", "", "the role is missing", f"give one of {', '.join(Role)}")
    return role


def _ask_password() -> str:
    """Ask twice on a terminal; take one line where there is none."""
    if sys.stdin.isatty():
        answer: str = typer.prompt("password", hide_input=True, confirmation_prompt=True, err=True)
        return answer
    return sys.stdin.readline().rstrip("\r\n")


def _show_link(code: str, base: str, qr: Path | None, *, name: str, as_json: bool) -> None:
    import segno

    from linemap.service.people.people import sign_in_link

    link = sign_in_link(base, code)
    square = segno.make_qr(link, error="m")
    if code and qr is not None:
        square.save(str(qr), scale=8, border=4)
    if as_json:
        say_json({"name": name, "link": link, "once": bool(code)})
        return
    if not code:
        OUT.print(f"{name} signs in at {base}/sign-in with the password")
        return
    OUT.print(f"{name} opens this link on the phone, once, within two days:")
    OUT.print(link)
    drawn = io.StringIO()
    square.terminal(out=drawn, compact=True)
    OUT.print(drawn.getvalue(), end="")
    if qr is not None:
        OUT.print(f"wrote {qr}")


def _check_picture(qr: Path | None) -> None:
    if qr is not None and qr.suffix.lower() not in {".svg", ".png"}:
        raise InputRefused.at(
            "--qr", str(qr), "the suffix says no picture linemap writes", "use .svg or .png"
        )
    if qr is not None and not qr.absolute().parent.is_dir():
        raise InputRefused.at("--qr", str(qr), "its folder does not exist", "name a folder that is there")


def _checked_address(address: str) -> str:
    parts = urlsplit(address)
    if address and (parts.scheme not in {"http", "https"} or not parts.hostname or parts.path.strip("/")):
        raise InputRefused.at(
            "--address", address, "is no address of a server", "write it like https://192.168.8.2:8765"
        )
    return address.rstrip("/")


def _list(database: Database, *, as_json: bool) -> None:
    from linemap.service.people.people import list_people

    people = list_people(database)
    if as_json:
        say_json([_as_dict(person) for person in people])
        return
    if not people:
        OUT.print("nobody yet: the job is open to this machine only")
    for person in people:
        offices = f", releases for {', '.join(person.releases)}" if person.releases else ""
        crew = f", of crew {person.crew}" if person.crew else ""
        secret = ", password" if person.password_hash else ""
        state = f", revoked {_day(person.revoked_at)}" if person.revoked_at else ""
        say(f"{person.name}: {person.role}{crew}{offices}{secret}{state}")
        for device in person.devices:
            say(_device_words(device), indent=4)


def _device_words(device: DeviceRecord) -> str:
    if device.revoked_at is not None:
        state = f"revoked {_day(device.revoked_at)}"
    elif device.signed_in_at is None:
        state = "link not used yet"
    else:
        state = f"last seen {_day(device.last_seen)}"
    return f"{device.id}  {device.label}, made {_day(device.made_at)}, {state}"


def _as_dict(person: PersonRecord) -> dict[str, object]:
    kept = {name: value for name, value in asdict(person).items() if name not in ("id", "password_hash")}
    return {**kept, "password": person.password_hash is not None}


def _day(moment: dt.datetime | None) -> str:
    return "never" if moment is None else moment.astimezone().strftime("%Y-%m-%d %H:%M")
