"""What a job declares as pages show it, and what waits for a list or a declaration."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy import Connection

from linemap.answers.line import Waiting
from linemap.answers.office import Declarations, DeclaredSetting, SettingNoun
from linemap.domain.design.line import Declaration
from linemap.domain.kind.when import NOW, When
from linemap.domain.record.person import Person
from linemap.service.job.declared import AUTO
from linemap.service.job.job import known_now
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import NOUNS, Known, Setting
from linemap.store.database import Database
from linemap.store.job import load_job
from linemap.store.structures import count_structures


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
