"""One thing a job declares: what it is called and means, how it is read and written, who may declare it.

`linemap.service.job.registry` has them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, fields, replace
from typing import Any, Literal

from linemap.answers.office import DeclaredPart
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.design.tolerance import ToleranceEntry, Tolerances
from linemap.domain.record.declared_work import workflow_of
from linemap.domain.record.person import Role
from linemap.domain.record.workflow import Step, Workflow
from linemap.domain.survey.proof import NO_SOURCE, evidence_rules
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

#: Nouns the settings are gathered by, in the order of the page.
Noun = Literal["job", "line", "coordinates", "days", "work", "survey", "judging", "emergency"]
NOUNS: Mapping[Noun, str] = {
    "job": "The job",
    "line": "The line",
    "coordinates": "Coordinates",
    "days": "Days",
    "work": "The work",
    "survey": "How it is surveyed",
    "judging": "How work is judged",
    "emergency": "Wind and emergencies",
}
#: Who declares what is of a noun, beside the manager.
_WITH_MANAGER: Mapping[Noun, Role] = dict.fromkeys(
    ("line", "coordinates", "survey", "judging"), Role.SURVEYOR
)
_TOLERANCES = frozenset(field.name for field in fields(Tolerances))
#: What takes a declaration back.
NOT_DECLARED = "not declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is declared by now, which readers of the next declaration may need."""

    settings: Mapping[str, Any]
    tolerances: tuple[ToleranceEntry, ...] = ()
    #: Names of the lines the job has.
    lines: tuple[str, ...] = ()

    @property
    def unit(self) -> LengthUnit:
        """Ground unit of the job's lines."""
        return Projection.from_text(str(self.settings["crs"])).unit

    @property
    def workflow(self) -> Workflow:
        """Order of the work, with its weights."""
        return workflow_of(self.settings)

    @property
    def limits(self) -> Tolerances:
        """The tolerances in force, with poles in the owner's words."""
        words = PoleWords.parse(str(self.settings.get("pole_words") or ""))
        return Tolerances.from_entries(self.tolerances, self.unit).in_words(words)

    def kept(self, name: str) -> Any:
        """Return a setting as it is kept; None = not declared."""
        return self.tolerances if name == "tolerance" else self.settings.get(name)

    def having(self, name: str, value: Any) -> Known:
        """Return this with one setting as it is to be kept."""
        if name == "tolerance":
            return replace(self, tolerances=tuple(value or ()))
        return replace(self, settings={**self.settings, name: value})


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing a job declares."""

    #: Name it is kept under; with dashes, the option of the command.
    name: str
    label: str
    noun: Noun
    _: KW_ONLY
    #: What it means and what needs it, in one sentence.
    means: str
    #: Text that can be written.
    example: str
    #: Reads a text into what is kept; raises `InputRefused` with how to write it.
    read: Callable[[str, Known], Any] = lambda text, _known: text.strip()
    #: Writes what is kept as a person would.
    write: Callable[[Any, Known], str] = lambda kept, _known: str(kept)
    #: Unit of the number it is, "" = none, or it is written with it.
    unit: str = ""
    #: Who declares it beside the manager; None = as is usual for its noun.
    with_manager: Role | None = None
    #: Where it is seen.
    shows: str = ""
    #: All that can be written, where that is little.
    choices: Sequence[str] = ()
    #: True when the source is written with it, after a colon.
    sourced: bool = False
    #: Each part with its value, of what is declared part by part as "NAME=VALUE: SOURCE".
    parts: Callable[[Known], Iterable[DeclaredPart]] | None = None
    #: True when it is declared only where there is one line.
    of_one: bool = False
    #: True when it stands once the first line is loaded.
    before_lists: bool = False
    #: True when `linemap new` takes it.
    when_made: bool = True

    def text_of(self, part: str, text: str, source: str) -> str:
        """Return what declares a value of a part, from a source, as one text."""
        written = f"{part}={text}" if self.parts is not None else text
        sourced = self.parts is not None or self.sourced
        return f"{written}: {source}" if sourced and source and text.strip() else written

    @property
    def roles(self) -> frozenset[Role]:
        """Who may declare it."""
        beside = self.with_manager or _WITH_MANAGER.get(self.noun)
        return frozenset(filter(None, (Role.MANAGER, beside)))

    @property
    def option(self) -> str:
        """The option of the command line: "--base-point"."""
        return "--" + self.name.replace("_", "-")

    def taken(self, text: str, known: Known) -> Any:
        """Return what is kept when a text is declared; None = it is taken back.

        `InputRefused` when the text cannot be read, or the declaration comes too late.
        """
        if locked := self.locked(known):
            raise InputRefused.at(self.option, text, locked, "make a new job where it is otherwise")
        if self.parts is not None and (without := self._part_taken_back(text, known)) is not None:
            return without
        if self.parts is None and " ".join(text.casefold().split()) in ("", NOT_DECLARED):
            if self.name in ("crs", "name"):
                raise InputRefused.at(self.option, text, "is needed", f"write it like {self.example}")
            return None
        return self.read(text, known)

    def locked(self, known: Known) -> str:
        """Say why it cannot be declared any more; "" = it can."""
        if self.before_lists and known.lines:
            return f"stands since lists of {known.lines[0]} were loaded"
        if self.of_one and len(known.lines) > 1:
            return f"is of one line, and the job has {len(known.lines)}"
        return ""

    def _part_taken_back(self, text: str, known: Known) -> Any:
        _, equals, value = text.partition("=")
        if not equals or value.strip().casefold() not in ("", NOT_DECLARED):
            return None
        kept, name = known.kept(self.name), part_of(text)
        if self.name == "tolerance":
            return tuple(each for each in kept if each.name != name)
        return {part: rule for part, rule in (kept or {}).items() if part != name}

    def entries(self, known: Known) -> tuple[DeclaredPart, ...]:
        """Return what is declared of it now and by whom, part by part where it has parts."""
        found = [self._whole(known)] if self.parts is None else self.parts(known)
        return tuple(self._stamped(entry, known) for entry in found)

    def _whole(self, known: Known) -> DeclaredPart:
        kept = known.kept(self.name)
        if kept is None or kept in ("", []):
            return _declared(self.label, "", declared=False)
        source = str(kept.get("source", "")) if isinstance(kept, Mapping) else ""
        return _declared(self.label, self.write(kept, known), source=source)

    def _stamped(self, entry: DeclaredPart, known: Known) -> DeclaredPart:
        key = f"{self.name}.{entry.part}" if entry.part else self.name
        stamp = (known.kept("stamps") or {}).get(key)
        if stamp is None or not entry.declared:
            return entry
        return replace(entry, who=stamp["who"], at=stamp["at"], source=entry.source or stamp["source"])


def part_of(text: str) -> str:
    """Return the part that "NAME=VALUE: SOURCE" is about, as it is kept.

    >>> part_of("Anchor lead = 0.5 ft: spec 7.3"), part_of("Blocks hung=0")
    ('anchor_lead', 'blocks hung')
    """
    words = " ".join(text.partition("=")[0].casefold().split())
    key = words.replace(" ", "_")
    return key if key in _TOLERANCES else words


def _declared(
    label: str, written: str, *, part: str = "", source: str = "", declared: bool = True
) -> DeclaredPart:
    """Return what is declared, before it is known who did."""
    return DeclaredPart(
        part=part, label=label, written=written, declared=declared, who="", at="", source=source
    )


def _number(value: float) -> str:
    return f"{value:.10g}"


def tolerance_parts(known: Known) -> Iterable[DeclaredPart]:
    """Give every tolerance, and how good a survey is taken to be."""
    named = {each.name: each for each in known.tolerances}
    found = known.limits
    for key, limit in found.by_key.items():
        written = f"{_number(limit.value)} {limit.unit}"
        yield _declared(
            part=key, label=limit.name, written=written, source=limit.source, declared=key in named
        )
    unit = known.unit.symbol
    for key, label, value in (
        ("shot_sigma", "standard deviation of one shot", f"{_number(found.shot_sigma)} {unit}"),
        ("common_sigma", "error all shots of a survey share", f"{_number(found.common_sigma)} {unit}"),
        ("control_sigma", "standard deviation of a control point", f"{_number(found.control_sigma)} {unit}"),
        ("confidence", "probability asked for before a verdict", _number(found.confidence)),
    ):
        source = named[key].source if key in named else NO_SOURCE
        yield _declared(label, value, part=key, source=source, declared=key in named)


def evidence_parts(known: Known) -> Iterable[DeclaredPart]:
    """Give what verifies the record of each step."""
    rules = evidence_rules(known.settings.get("evidence") or {})
    for step in known.workflow.steps:
        rule = rules.get(step.code)
        needs = ", ".join(rule.needs) if rule else ""
        yield _of_step(step, "evidence", needs or "nothing", rule.source if rule else "", known)


def part_step_parts(known: Known) -> Iterable[DeclaredPart]:
    """Give the steps of guys and spans, with what comes before each."""
    for code in known.settings.get("part_step") or {}:
        step = known.workflow.step(code)
        if step is not None:
            after = f" after {', '.join(step.requires)}" if step.requires else ""
            yield _of_step(step, "part_step", f"{step.per}{after}", step_source(known, code), known)


def step_source(known: Known, code: str) -> str:
    """Return the document that a step of guys or spans comes from."""
    return str(known.settings["part_step"][code].get("source", ""))


def weight_parts(known: Known) -> Iterable[DeclaredPart]:
    """Give the weight of each step in the physical progress."""
    for step in known.workflow.steps:
        yield _of_step(step, "step_weight", _number(step.weight), step.weight_source, known)


def role_parts(known: Known) -> Iterable[DeclaredPart]:
    """Give the roles whose record makes each step done."""
    for step in known.workflow.steps:
        written = ", ".join(map(str, step.roles)) or "anybody"
        yield _of_step(step, "step_roles", written, step.roles_source, known)


def _of_step(step: Step, setting: str, written: str, source: str, known: Known) -> DeclaredPart:
    declared = step.code in (known.settings.get(setting) or {})
    return _declared(step.words, written, part=step.code, source=source, declared=declared)
