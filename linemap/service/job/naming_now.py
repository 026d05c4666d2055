"""How the job of an open transaction names its structures and poles, and a look at another way."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection

from linemap.answers.office import NamingAnswer, NumberPreview
from linemap.domain.design.naming import Naming, naming_fields
from linemap.domain.design.number import number_key
from linemap.kinds.registry import KINDS
from linemap.service.job.naming import declared_naming
from linemap.store.events import since
from linemap.store.job import load_job
from linemap.store.lists import listed_numbers, load_list
from linemap.store.survey import load_shots


def naming_in(connection: Connection) -> Naming:
    """Return how the job of an open transaction names its structures now."""
    return declared_naming(load_job(connection).settings, listed_numbers(connection))


def preview_naming(connection: Connection, *, numbering: str = "", pole_words: str = "") -> NamingAnswer:
    """Show how the job's own numbers and poles would be read and printed; "" = as declared now.

    Raises
    ------
    InputRefused
        If the numbering or the words cannot be read.
    """
    said = {"numbering": numbering, "pole_words": pole_words}
    settings = {**load_job(connection).settings, **{name: text for name, text in said.items() if text}}
    naming = declared_naming(settings, listed_numbers(connection))
    numbers, unclear = [*_numbers_read(naming)], [*dict.fromkeys(_unclear(connection, naming))]
    return NamingAnswer(count=len(numbers), numbers=numbers, unclear=unclear)


def _numbers_read(naming: Naming) -> Iterator[NumberPreview]:
    for line, listed in naming.listed.numbers.items():
        place = {number: at for at, number in enumerate(sorted(listed, key=number_key), start=1)}
        for number, count in listed.items():
            parts = naming.numbering.parts(number) or {}
            yield NumberPreview(
                line=line,
                number=number,
                read=", ".join(f"{name} {part}" for name, part in parts.items()),
                place=place[number],
                poles=tuple(map(naming.poles.called(count).__getitem__, "ABC"[:count])),
            )


def _unclear(connection: Connection, naming: Naming) -> Iterator[str]:
    """Say which kept cells name several structures, or none of the list."""
    for line, numbers in naming.listed.alike():
        yield f"structures, line {line}: {' and '.join(numbers)} differ in nothing but their writing"
    kept = [(kind.noun, record) for kind in KINDS.values() for record in load_list(connection, kind)]
    kept += [("record", each.event) for each in since(connection, 0)]
    kept += [("shot", each) for each in load_shots(connection)]
    for noun, record in kept:
        for text in _named(record):
            meant = naming.listed.meant(text, getattr(record, "line", ""))
            if len(meant) > 1:
                yield f"{noun}: {text} may be {' or '.join(meant)}"
            elif not meant:
                yield f"{noun}: {text} is in no structure list"


def _named(record: Any) -> Iterator[str]:
    kind: Any = type(record)
    for name in naming_fields(kind):
        value = getattr(record, name)
        yield from filter(None, (value,) if isinstance(value, str) else value)
