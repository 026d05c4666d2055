"""Who stands behind a record: who did it, who was signed in there, on which device, and who sent it.

None of the four is ever rewritten. Each sign-in hands its device a mark that only it and the job know, and a
record carries the mark of the sign-in it was made under: whoever sends it later, the mark proves whose it
was, as long as that sign-in still let in when it was made. A name without it is only said.

Work that happened is taken from anybody; a step that names roles is done once somebody of one of them
records it. What takes back somebody else's record is for its author, inspectors and managers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from linemap.domain.design.number import number_form
from linemap.domain.record.event import Event, SignedHow
from linemap.domain.record.person import Person, Role, same_words

#: A record made right after a sign-in may be dated before it by the way of the message. Our own limit.
_ON_THE_WAY = timedelta(minutes=1)
#: Roles that may take back records of others.
_CORRECTORS = frozenset({Role.INSPECTOR.value, Role.MANAGER.value})


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """One sign-in of one person, as the job knows it."""

    name: str
    role: Role
    #: What the person calls the device.
    device: str
    since: datetime
    #: When it ended, or will; None = until it is revoked.
    until: datetime | None

    def lets_in(self, at: datetime) -> bool:
        """Say whether it had not ended at a moment."""
        return self.until is None or at <= self.until


class Said(NamedTuple):
    """What the body of a record says of the people behind it; "" = nothing."""

    actor: str
    device: str
    signed_by: str
    #: False when it says that it was made under another sign-in than its sender's, or under none.
    by_its_sender: bool = True


class Signing(NamedTuple):
    """The people behind a record, by the fields of an event."""

    actor: str
    device: str
    signed_by: str = ""
    signed_how: SignedHow = ""
    role: str = ""
    sent_by: str = ""


def signing_of(said: Said, made_under: SignIn | None, sender: Person | None, *, at: datetime) -> Signing:
    """Settle who stands behind a record.

    Its role is that of who is proven, or of its sender where it names nobody else; else the least there is:
    an inspector who brings a stranger's record lends it nothing.

    Parameters
    ----------
    said : Said
        What its body says.
    made_under : SignIn or None
        The sign-in whose mark it carries; None = it carries none that the job knows.
    sender : Person or None
        Who brings it; None, or whoever sits at the machine of a job without people, is nobody by name.
    at : datetime
        When it happened, the clock of the device put right.
    """
    if sender is None or sender.local:
        return Signing(said.actor, said.device, said.signed_by, "said" if said.signed_by else "")
    signed, how = _signed(said, made_under, sender, at)
    device = sender.device if same_words(signed) == same_words(sender.name) else ""
    role = sender.role if said.by_its_sender and not signed else Role.CREW
    if how == "proven":
        role, device = (sender.role, device) if made_under is None else (made_under.role, made_under.device)
    actor = said.actor or signed or (sender.name if said.by_its_sender else "")
    return Signing(actor, device or said.device, signed, how, role.value, sender.name)


def _signed(said: Said, made_under: SignIn | None, sender: Person, at: datetime) -> tuple[str, SignedHow]:
    if made_under is not None and same_words(said.signed_by) in {"", same_words(made_under.name)}:
        return made_under.name, "proven" if made_under.lets_in(at) else "said"
    own = said.by_its_sender and same_words(said.signed_by) in {"", same_words(sender.name)}
    if own and made_under is None and sender.since is not None and sender.since - _ON_THE_WAY <= at:
        return sender.name, "proven"
    return said.signed_by, "said" if said.signed_by else ""


def author_of(event: Event) -> str:
    """Return whose record it is: who was signed in there, else who sent it, else who did it."""
    return event.signed_by or event.sent_by or event.actor


def answers_for(event: Event) -> str:
    """Return who a record is sent for, as far as that is proven."""
    return event.signed_by if event.signed_how == "proven" else event.sent_by


def why_not_taken_back(event: Event, others: Iterable[Event]) -> str:
    """Say why an event may not take back or correct others; "" = nothing forbids it.

    Their author may, an inspector and a manager. Records of a time or job without people are anybody's.
    """
    mine = answers_for(event)
    if not mine or event.role in _CORRECTORS:
        return ""
    strangers = {
        author_of(each): None for each in others if same_words(author_of(each)) not in {"", same_words(mine)}
    }
    if not strangers:
        return ""
    return (
        f"recorded by {', '.join(strangers)}: its author, an inspector or a manager takes it back or "
        f"corrects it, not {mine}; say it to them, or record what you found"
    )


def may_add_photo(event: Event, photo_id: str, person: Person | None) -> bool:
    """Say whether a person may bring a photo of a record.

    One that the record itself names comes from wherever the record did, whoever is signed in there now; any
    other is for its author, inspectors and managers.
    """
    if person is None or person.local or photo_id in event.photos or person.role.value in _CORRECTORS:
        return True
    return same_words(author_of(event)) in {"", same_words(person.name)}


def taken_back_by(event: Event, kept: Mapping[str, Event], before: Iterable[Event]) -> list[Event]:
    """Return what an event takes back or corrects: the record it names, else what stands of its step."""
    if event.supersedes:
        return [kept[event.supersedes]] if event.supersedes in kept else []
    if event.result != "withdrawn":
        return []
    return [
        each
        for each in before
        if (each.line, each.step, each.result) == (event.line, event.step, "done")
        and number_form(each.structure) == number_form(event.structure)
        and event.crew in {"", each.crew}
        and (event.pole in {"", each.pole} or not each.pole)
    ]


def of_right_role(events: Collection[Event], roles: Mapping[str, Collection[str]]) -> list[Event]:
    """Return the events that count by who recorded them; `roles` is step -> the roles that may record it.

    Only "done" asks for a role, and only where it is known: files and older records have none.
    """
    return [each for each in events if not lacks_role(each, roles.get(each.step, ()))]


def lacks_role(event: Event, roles: Collection[str]) -> bool:
    """Say whether a step was recorded as done by somebody whose role may not."""
    return bool(roles and event.role and event.result == "done" and event.role not in roles)


def who_words(event: Event) -> str:
    """Say who stands behind a record where the four facts differ; "" = they do not.

    >>> from dataclasses import replace
    >>> from datetime import UTC
    >>> at = datetime(2026, 5, 15, 7, 30, tzinfo=UTC)
    >>> dug = Event(id="1", line="N", structure="9/2", step="dug", device="p7", happened_at=at,
    ...             received_at=at)
    >>> who_words(replace(dug, actor="Bo", signed_by="Ada", signed_how="said", sent_by="Cy"))
    'done by Bo, signed in was Ada (said by the phone), on p7, sent by Cy'
    >>> who_words(replace(dug, actor="Ada", signed_by="Ada", signed_how="proven", sent_by="Ada"))
    ''
    """
    named = {same_words(name) for name in (event.actor, event.signed_by, event.sent_by) if name}
    if len(named) < 2 and event.signed_how != "said":
        return ""
    how = " (said by the phone)" if event.signed_how == "said" else ""
    said = (
        f"done by {event.actor}" if event.actor else "",
        f"signed in was {event.signed_by}{how}" if event.signed_by else "who was signed in is not known",
        f"on {event.device}" if event.device else "",
        f"sent by {event.sent_by}" if event.sent_by else "",
    )
    return ", ".join(filter(None, said))
