"""The options by which a command takes a part of the job, or the job at another time."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from linemap.cli.terminal import AsOfOption, KnownByOption, when_of

if TYPE_CHECKING:
    from linemap.domain.kind.when import When
    from linemap.service.sheets.sheets import Chosen


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a person chose; each field is an option."""

    structures: Annotated[list[str] | None, typer.Option(help="only these; may be given several times")] = (
        None
    )
    line: Annotated[str, typer.Option(help="on this line")] = ""
    first: Annotated[str, typer.Option("--from", help="from this structure on, in line order")] = ""
    last: Annotated[str, typer.Option("--to", help="up to this structure")] = ""
    mile: Annotated[int | None, typer.Option(help="of this mile, as numbers name it")] = None
    crew: Annotated[str, typer.Option(help="where this crew has recorded anything")] = ""
    as_of: AsOfOption = ""
    known_by: KnownByOption = ""

    @property
    def chosen(self) -> Chosen:
        """Which structures."""
        from linemap.service.sheets.sheets import Chosen

        return Chosen(
            structures=tuple(self.structures or ()),
            line=self.line,
            first=self.first,
            last=self.last,
            mile=self.mile,
            crew=self.crew,
        )

    @property
    def when(self) -> When:
        """At which time; `InputRefused` = one of the days is no date."""
        return when_of(self.as_of, self.known_by)


def choosing(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of `Choice` after its own; it takes them as `choice`."""
    hints = get_type_hints(Choice, include_extras=True)
    options = [
        inspect.Parameter(
            each.name, inspect.Parameter.KEYWORD_ONLY, default=each.default, annotation=hints[each.name]
        )
        for each in fields(Choice)
    ]

    def taken(given: dict[str, Any]) -> dict[str, Any]:
        said = {each.name: given.pop(each.name) for each in options}
        return {**given, "choice": Choice(**said)}

    return with_options(command, options, instead_of="choice", taken=taken)


def with_options(
    command: Callable[..., None],
    options: Sequence[inspect.Parameter],
    *,
    instead_of: str,
    taken: Callable[[dict[str, Any]], dict[str, Any]] = dict,
) -> Callable[..., None]:
    """Give a command options instead of its one parameter that takes them.

    `taken` makes what the command takes of all that is given.
    """

    def run(**given: Any) -> None:
        command(**taken(given))

    hints = get_type_hints(command, include_extras=True)
    own = [
        each.replace(annotation=hints[each.name])
        for each in inspect.signature(command).parameters.values()
        if each.name != instead_of
    ]
    vars(run)["__signature__"] = inspect.Signature([*own, *options])
    run.__doc__ = command.__doc__
    return run
