"""What few may read: words found again wherever people wrote them, records without them, photos."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import numpy as np

from linemap.domain.crew.briefing import apart
from linemap.domain.crew.emergency import is_hospital
from linemap.domain.crew.hold import KEPT_REASONS, Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.kind.kind import free_of, secret_of
from linemap.domain.record.event import Event
from linemap.domain.record.person import Audience, Person
from linemap.domain.record.signing import author_of
from linemap.errors import NotFound
from linemap.kinds.registry import CROSSINGS, HOLDS
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.events import find_events
from linemap.store.photos import PhotoRow

#: Stands where a restricted word stood in a text.
REMOVED = "[not shown]"
#: Kinds of holds whose reason is kept from crews, told in its place.
ENVIRONMENTAL, LANDOWNER, RESTRICTED = tuple(KEPT_REASONS)
#: Kinds of places that are kept from most people, in the words of permits. Common practice, no source.
_PLACES = re.compile(
    r"\b(nest(s|ing)?|eagles?|raptors?|roost(s|ing)?|leks?|cultural|arch(a)?eolog\w*|burials?|graves?|"
    r"artifacts?|sacred|endangered|species)\b",
    re.IGNORECASE,
)
_ENVIRONMENT = re.compile(r"\b(wetlands?|habitat|environment(al)?|biologists?|season(al)?)\b", re.IGNORECASE)
#: Who speaks for owners of land.
_LANDOWNER = re.compile(r"\b(right[- ]of[- ]way|row agent|land ?owners?|lessees?|tenants?)\b", re.IGNORECASE)
#: Columns and properties whose value belongs to owners, or opens something.
_SECRET_NAME = re.compile(
    r"(?:^|[^a-z])(owner|lessee|tenant|contact|phone|e-?mail|code|combination|padlock|lock|key)",
    re.IGNORECASE,
)
_SECRET_LAYER = re.compile(r"nest|raptor|cultural|arch(a)?eolog|species|burial", re.IGNORECASE)
#: People by what they know of such places, and people and offices whom a hold may ask for. Common practice.
_EXPERT = re.compile(r"\barch(a)?eologists?\b", re.IGNORECASE)
_PERSON = (
    r"monitors?|biologists?|specialists?|observers?|inspectors?|engineers?|foremen|foreman|crews?|persons?|"
    r"leads?|agents?|officers?|offices?|managers?|coordinators?|representatives?|surveyors?"
)
#: What opens a gate, written into a text: the word, then digits.
_CODE = re.compile(
    r"\b(codes?|combinations?|combo|keypad|padlock|pin)\b([^.;\n\d]{0,20})(\d[\d \-]*)", re.IGNORECASE
)
#: Names inside a reason: two or more words that begin with a capital letter.
_NAMES = re.compile(r"[A-Z][a-z']+(?: [A-Z][a-z']+)+")
#: Shorter words are no names; taking them out would empty every sentence.
_SHORTEST = 3


class RestrictedWords:
    """The words that stand in restricted fields of one job, to be taken out of any text."""

    def __init__(self, words: Iterable[str]) -> None:
        #: The words, longest first, so that a name goes before a part of it.
        self.words = tuple(
            sorted(
                {each for each in map(str.strip, words) if len(each) >= _SHORTEST},
                key=lambda each: (-len(each), each),
            )
        )
        pattern = "|".join(re.escape(each) for each in self.words)
        self._pattern = re.compile(rf"(?<!\w)(?:{pattern})(?!\w)", re.IGNORECASE) if pattern else None

    def out_of_name(self, text: str) -> str:
        """Return a name without restricted words and gate codes; Eagle Road stays Eagle Road."""
        kept = _CODE.sub(lambda found: f"{found[1]}{found[2]}{REMOVED}", text)
        return self._pattern.sub(REMOVED, kept) if self._pattern is not None else kept

    def out_of(self, text: str) -> str:
        """Return a text without restricted words, gate codes and kinds of kept places.

        >>> RestrictedWords(["Ada Marrow"]).out_of("nest: ask ada marrow for the code 44 17")
        '[not shown]: ask [not shown] for the code [not shown]'
        """
        return _PLACES.sub(REMOVED, self.out_of_name(text))


def restricted_words(
    features: Iterable[ContextFeature], crossings: Iterable[Crossing], holds: Iterable[Hold]
) -> RestrictedWords:
    """Gather what must not be read: owners, names and codes of features, names in reasons that are kept."""
    words = [crossing.owner for crossing in crossings]
    for feature in features:
        words += [feature.name] if is_secret_feature(feature) else []
        if not is_hospital(feature):
            words += [value for name, value in feature.properties.items() if is_secret_property(name)]
    for hold in holds:
        if hold_kind(hold):
            words += _NAMES.findall(hold.reason)
    return RestrictedWords(words)


def is_secret_feature(feature: ContextFeature) -> bool:
    """Say whether a feature is kept from crews: its file says so, or its layer is of that kind."""
    return feature.restricted or _SECRET_LAYER.search(feature.layer) is not None


def is_secret_property(name: str) -> bool:
    """Say whether a column holds owners, ways to reach them, or what opens a gate.

    >>> [is_secret_property(name) for name in ("Owner", "gate_code", "surface", "blocks")]
    [True, True, False, False]
    """
    return _SECRET_NAME.search(name) is not None


def hold_kind(hold: Hold) -> str:
    """Return the kind of a hold whose reason is kept from crews, "" when its reason may be read.

    Nests and cultural sites have one kind, so that the kind does not tell which it is.

    >>> hold_kind(Hold(id="HN-1", reason="nest within 660 ft", restricted=True))
    'hold: environmental'
    >>> hold_kind(Hold(id="HL-1", reason="lambing", set_by="right-of-way agent"))
    'hold: landowner'
    """
    said = f"{hold.reason} {hold.condition} {hold.set_by}"
    if _PLACES.search(said):
        return ENVIRONMENTAL
    if _LANDOWNER.search(f"{hold.reason} {hold.set_by}"):
        return LANDOWNER
    if not hold.restricted:
        return ""
    return ENVIRONMENTAL if _ENVIRONMENT.search(said) else RESTRICTED


#: A parcel's number. Any other name of a parcel may be its owner's.
_TRACT = re.compile(r"[A-Za-z]{0,4}[- ]?\d{1,5}[A-Za-z]?")


#: A hold whose place is not told: which structures it reaches stays.
_NOWHERE: Mapping[str, Any] = MappingProxyType({"easting": None, "northing": None, "radius_text": ""})


def whole_hold(hold: Hold) -> Hold:
    """Return a hold with its reason, for the owner."""
    return replace(hold, restricted=False)


#: A mark that stands only before a person: "[not shown] monitor".
_BEFORE_PERSON = re.compile(
    rf"(?:{re.escape(REMOVED)}[\s-]+)+(?=(?:[a-z-]+\s+){{0,2}}(?:{_PERSON})\b)", re.IGNORECASE
)


def asked_for(text: str, words: RestrictedWords) -> str:
    """Return a condition or office for a crew: whom it asks for stays, what they are expert of goes.

    >>> asked_for("raptor biologist and archaeologist on site", RestrictedWords([]))
    'biologist and specialist on site'
    >>> asked_for("eagle nest empty", RestrictedWords([]))
    '[not shown] [not shown] empty'
    """
    return _BEFORE_PERSON.sub("", words.out_of(_EXPERT.sub("specialist", text)))


def _condition(hold: Hold, office: str, words: RestrictedWords) -> str:
    """Return what a hold asks for; where that cannot be read any more, by whose word it goes."""
    told = asked_for(hold.condition, words)
    return f"{told}, by the word of {office or 'whoever set it'}" if REMOVED in told else told


def redacted_hold(hold: Hold, words: RestrictedWords) -> Hold:
    """Return a hold for a crew: of a reason that is kept, only the kind; what is asked for, and of whom."""
    kind = hold_kind(hold)
    texts: dict[str, Any] = {name: words.out_of(getattr(hold, name)) for name in free_of(HOLDS)}
    texts |= {name: asked_for(getattr(hold, name), words) for name in ("set_by", "release_by")}
    texts["condition"] = _condition(hold, texts["release_by"] or texts["set_by"], words)
    nowhere = _NOWHERE if kind else {}
    return replace(hold, **{**texts, **nowhere, "reason": kind or texts["reason"], "restricted": False})


def public_hold(hold: Hold) -> Hold:
    """Keep the kind of a hold, as `hold_kind` gives it; a reason in free words goes."""
    kind = hold.reason if hold.reason in KEPT_REASONS else ""
    nothing: dict[str, Any] = dict.fromkeys(secret_of(HOLDS), "")
    return replace(hold, **{**nothing, **_NOWHERE, "reason": kind})


def redacted_release(release: HoldRelease, words: RestrictedWords) -> HoldRelease:
    """Return a release for a crew."""
    return replace(release, hold=redacted_hold(release.hold, words), evidence=words.out_of(release.evidence))


def redacted_crossings(crossings: Iterable[Crossing], words: RestrictedWords) -> tuple[Crossing, ...]:
    """Return crossings without owners; a thing that is crossed keeps its name."""
    free = free_of(CROSSINGS)

    def redacted(crossing: Crossing) -> Crossing:
        texts: dict[str, Any] = {name: words.out_of_name(getattr(crossing, name)) for name in free}
        return replace(crossing, **{**texts, "owner": ""})

    return tuple(map(redacted, crossings))


def redacted_context(
    features: Iterable[ContextFeature], words: RestrictedWords
) -> tuple[ContextFeature, ...]:
    """Return the features a crew may see; a parcel keeps its name only when that is a number."""
    return tuple(_feature(each, words) for each in features if not is_secret_feature(each))


def _feature(feature: ContextFeature, words: RestrictedWords) -> ContextFeature:
    # the telephone of a hospital is for whoever calls it
    owned = feature.layer == "parcel" and not _TRACT.fullmatch(feature.name.strip())
    return replace(
        feature,
        name="" if owned else words.out_of_name(feature.name),
        properties={
            name: words.out_of(value)
            for name, value in feature.properties.items()
            if not is_secret_property(name) or is_hospital(feature)
        },
    )


#: Photos nearer to a restricted place show it, ground metres: a quarter of a mile, the outer radius that
#: buffers of nests have. Common practice, no source.
NEAR_M = 402.336


def event_of_photo(database: Database, photo: PhotoRow) -> Event:
    """Return the record a photo belongs to, or say that the job has none (`NotFound`)."""
    with database.reading() as connection:
        found = find_events(connection, [photo.event_id]).get(photo.event_id)
    if found is None:
        raise NotFound(f"the job has no record {photo.event_id} for photo {photo.id}")
    return found


def may_see_photo(view: JobView, event: Event, person: Person) -> bool:
    """Say whether a person may look at the photos of a record; `view` is the whole job.

    The machine of a job without people has taken every photo itself.
    """
    if person.local or person.audience is Audience.OWNER or author_of(event) == person.name:
        return True
    return person.audience is Audience.CREW and not shows_restricted_place(view, event)


def shows_restricted_place(view: JobView, event: Event) -> bool:
    """Say whether a record was made at a restricted place, by its structure or by the fix of its device."""
    number = view.naming.listed.shown(event.structure, event.line)
    if any(hold.restricted and hold.reach.covers(event.line, number) for hold in view.holds):
        return True
    secret = [feature for feature in view.context if is_secret_feature(feature)]
    places = list(_places(view, event, number))
    return any(apart(feature.geometry, place)[0] <= NEAR_M for feature in secret for place in places)


def _places(view: JobView, event: Event, number: str) -> list[tuple[float, float]]:
    row = view.row_of.get((event.line, number))
    found = []
    if row is not None:
        found.append((float(view.figures.longitude[row]), float(view.figures.latitude[row])))
    if event.longitude is not None and event.latitude is not None:
        found.append((event.longitude, event.latitude))
    return [place for place in found if np.isfinite(place).all()]
