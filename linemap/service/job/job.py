"""Make a job, declare what is to be known of it, and say what is declared and what waits for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from linemap.answers.line import Waiting
from linemap.answers.office import Declarations, DeclaredPart, DeclaredSetting, SettingNoun
from linemap.domain.design.line import Declaration, saved_catenary
from linemap.domain.kind.when import NOW, When
from linemap.domain.record.person import Person
from linemap.domain.survey.proof import evidence_rules
from linemap.errors import InputRefused, NotAllowed, Problem
from linemap.kinds.registry import TOLERANCES
from linemap.service.job.declared import AUTO, OF_LINES, rule_words
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import NOUNS, Known, Setting, part_of
from linemap.store.database import Database, open_job
from linemap.store.job import add_declaration, declared_when, load_job, rename_job
from linemap.store.lines import list_lines
from linemap.store.lists import keep_list, load_list
from linemap.store.states import Origin
from linemap.store.structures import count_structures
from linemap.store.times import answering

#: Texts a person declares, by the names of `SETTINGS`; several of what is declared part by part.
Texts = Mapping[str, str | Sequence[str]]


class DeclarationRefused(InputRefused):
    """Texts that cannot be declared; `places` are their settings ("tolerance.across" = a part of one)."""

    def __init__(self, refused: Sequence[tuple[str, Problem]]) -> None:
        super().__init__([problem for _, problem in refused])
        self.places = tuple(place for place, _ in refused)


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """What a job declares now: its coordinates, how work is judged, and all else."""

    coordinates: Declaration
    #: How work is judged, one sentence each, with its source.
    rules: tuple[str, ...]
    #: Setting -> what is declared of it, part by part where it has parts.
    entries: Mapping[str, Sequence[DeclaredPart]]

    @property
    def others(self) -> tuple[str, ...]:
        """What is declared beside coordinates and rules, one sentence each, with its source."""
        return tuple(
            f"{setting.label}: {', '.join(_words(entry) for entry in named)}"
            for name, setting in SETTINGS.items()
            if setting.noun not in ("coordinates", "judging")
            if (named := [entry for entry in self.entries[name] if entry.declared and entry.written])
        )


def _words(entry: DeclaredPart) -> str:
    said = f"{entry.label} {entry.written}" if entry.part else entry.written
    return f"{said} ({entry.source})" if entry.source else said


def create_job(target: str, texts: Texts, *, now: dt.datetime, who: str = "") -> None:
    """Make an empty job at a path or PostgreSQL URL, of which "crs" must be declared.

    Nothing is made when a text cannot be read (`InputRefused`) or something is there already (`Conflict`).
    """
    given = {name: text for name, text in texts.items() if text}
    if "crs" not in given:
        remedy = f"write it like {SETTINGS['crs'].example}"
        problem = Problem(file="", column="--crs", reason="is needed", remedy=remedy)
        raise DeclarationRefused([("crs", problem)])
    _taken(given, Known(settings={}))
    with open_job(target, create=True, name=str(given.get("name", "")), now=now) as database:
        declare(database, given, now=now, who=who)


def declare(
    database: Database,
    texts: Texts,
    *,
    now: dt.datetime,
    who: str = "",
    source: str = "",
    asking: Person | None = None,
    true_from: dt.date | None = None,
    when: When = NOW,
) -> Declared:
    """Declare something about a job after it was made; return what is declared now.

    What is not named stays, and the text "not declared" takes a declaration back. `source` is the document
    of what is declared now and names none itself, `true_from` the day from which it is true; None = now.
    `asking` may declare what the registry gives their role (`NotAllowed`). For another time, `when`, what was
    declared then is returned. Nothing is changed when any text cannot be read (`InputRefused`, with all).
    """
    if not when.is_now and texts:
        raise InputRefused.at("--as-of, --known-by", when.words, "is over", "declare it as of now")
    _require_role(texts, asking)
    with database.writing() as connection:
        if texts:
            stamp = {"who": who, "at": now.isoformat(timespec="seconds"), "source": source}
            _keep(connection, texts, stamp, now=now, true_from=true_from)
        return _declared_now(connection, when)


def known_now(connection: Connection, when: When = NOW) -> Known:
    """Return what is declared of a job, now or at another time, as readers of texts need it."""
    then = answering(connection, when)
    record = load_job(connection, None if then is None else declared_when(connection, then.asked)[0])
    return Known(
        settings={**record.settings, "name": record.name},
        tolerances=load_list(connection, TOLERANCES, then=then),
        lines=tuple(line.name for line in list_lines(connection)),
    )


def _declared_now(connection: Connection, when: When) -> Declared:
    known = known_now(connection, when)
    rules = rule_words(
        known.limits,
        evidence_rules(known.kept("evidence") or {}),
        saved_catenary(known.kept("catenary_constant")),
    )
    return Declared(
        coordinates=load_job(connection, known.settings).declaration(known.unit),
        rules=rules,
        entries={name: setting.entries(known) for name, setting in SETTINGS.items()},
    )


def _keep(
    connection: Connection,
    texts: Texts,
    stamp: Mapping[str, str],
    *,
    now: dt.datetime,
    true_from: dt.date | None,
) -> None:
    known = known_now(connection)
    changes = _taken(texts, known)
    if "tolerance" in changes:
        origin: Origin = {"label": "declared", "now": now, "true_from": true_from}
        keep_list(connection, TOLERANCES, changes.pop("tolerance"), unit=known.unit, **origin)
    if changes.get("name"):
        rename_job(connection, changes.pop("name"))
    lines = {name: read(changes[name] or "") for name, read in OF_LINES.items() if name in changes}
    stamps = {_stamped(name, text): stamp for name, text in _in_order(texts)}
    changes["stamps"] = {**(known.kept("stamps") or {}), **stamps}
    try:
        add_declaration(connection, changes, at=now, who=stamp["who"], true_from=true_from, lines=lines)
    except ValueError as error:
        column, value = SETTINGS["start_station"].option, str(changes.get("start_station", ""))
        problem = Problem(file="", column=column, value=value, reason=str(error))
        raise DeclarationRefused([("start_station", problem)]) from None


def _stamped(name: str, text: str) -> str:
    """Return what a declaration's stamp is kept under: the setting, or its part."""
    return f"{name}.{part_of(text)}" if SETTINGS[name].parts is not None else name


def _require_role(texts: Texts, asking: Person | None) -> None:
    if asking is None or asking.local:
        return
    for name in texts:
        setting = SETTINGS.get(name)
        if setting is not None and asking.role not in setting.roles:
            roles = " or ".join(sorted(setting.roles))
            raise NotAllowed(f"{setting.label} is declared by the {roles}; {asking.name} is {asking.role}")


def _taken(texts: Texts, known: Known) -> dict[str, Any]:
    """Return what is to be kept for each text; `DeclarationRefused` holds all that cannot be read."""
    remedy = f"use one of {', '.join(SETTINGS)}"
    refused = [
        (name, Problem(file="", column=name, reason="nothing a job declares", remedy=remedy))
        for name in texts.keys() - SETTINGS.keys()
    ]
    found: dict[str, Any] = {}
    for name, text in _in_order(texts):
        try:
            found[name] = SETTINGS[name].taken(text, known)
        except InputRefused as refusal:
            refused += [(_stamped(name, text), problem) for problem in refusal.problems]
        else:
            known = known.having(name, found[name])
    if refused:
        raise DeclarationRefused(refused)
    return found


def _in_order(texts: Texts) -> Iterator[tuple[str, str]]:
    for name in SETTINGS:
        given = texts.get(name, ())
        for text in (given,) if isinstance(given, str) else given:
            yield name, text


def waits_for(*, lines: int, structures: int, declaration: Declaration) -> tuple[Waiting, ...]:
    """Say what is not loaded or declared yet, and what waits for it; () = nothing does."""
    if not lines:
        words = "No line is loaded yet, so there is nothing to show: load a centreline and a structure list."
        return (Waiting(what=("lines",), words=words, page="/files", link="Load lists"),)
    found = []
    if not structures:
        words = "No structures are loaded yet, so only the centreline is shown: load the structure list."
        found.append(Waiting(what=("structures",), words=words, page="/files", link="Load lists"))
    missing, flat = declaration.missing, ", ".join(declaration.no_elevations)
    if missing:
        named = " and ".join(filter(None, (", ".join(missing[:-1]), missing[-1])))
        words = f"Verdicts wait for the {named}: declare it; everything else is shown."
        found.append(_to_declare(missing, words))
    if flat:
        words = (
            f"Verdicts wait for the combined factor: auto needs ground elevations, and no structure of line "
            f"{flat} has one. Declare the factor as a number, or load a list with elevations; everything "
            "else is shown."
        )
        found.append(_to_declare(("ground elevations",), words))
    return tuple(found)


def _to_declare(what: Sequence[str], words: str) -> Waiting:
    return Waiting(what=what, words=words, page="/settings#coordinates", link="Declare it")


def waiting_now(connection: Connection) -> tuple[Waiting, ...]:
    """Say what is not loaded or declared yet, without computing the job."""
    known, (structures, elevated) = known_now(connection), count_structures(connection)
    if not known.settings.get("crs"):
        words = "Nothing can be placed yet: declare the coordinate reference."
        return (_to_declare(("coordinate reference",), words),)
    declaration = load_job(connection).declaration(known.unit)
    if declaration.combined_factor.strip().casefold() == AUTO and not elevated:
        declaration = replace(declaration, no_elevations=known.lines)
    return waits_for(lines=len(known.lines), structures=structures, declaration=declaration)


def declarations(database: Database, asking: Person, when: When = NOW) -> Declarations:
    """Return everything a job declares, or declared at another time, as the page of settings shows it."""
    with database.reading() as connection:
        known, waits = known_now(connection, when), waiting_now(connection)
        version = load_job(connection).data_version
    return Declarations(
        data_version=version,
        when=when.words,
        local=asking.local,
        waits=waits,
        nouns=[SettingNoun(key=key, words=words) for key, words in NOUNS.items()],
        settings=[described(setting, known, asking) for setting in SETTINGS.values()],
    )


def described(setting: Setting, known: Known, asking: Person) -> DeclaredSetting:
    """Return a setting with what is declared of it, as a page shows it to somebody."""
    return DeclaredSetting(
        name=setting.name,
        label=setting.label,
        noun=setting.noun,
        means=setting.means,
        example=setting.example,
        unit=setting.unit,
        shows=setting.shows,
        choices=setting.choices,
        roles=sorted(setting.roles),
        may=asking.local or asking.role in setting.roles,
        locked=setting.locked(known),
        parts=setting.entries(known),
    )
