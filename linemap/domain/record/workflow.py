"""The steps of building a structure and which must come before which: a setting of the job, not a fixed list.

Poles are commonly unloaded, framed on the ground and set; some jobs set the poles first and frame aloft.
The starting weights are common practice, no source; a job declares its own (`with_weights`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter
from types import MappingProxyType
from typing import Any, Literal

from linemap.domain.record.person import Role

#: Said of a weight that no document of the job gives.
NO_SOURCE = "common practice, no source; replace by the job's own"
#: A guy of the structure by its name in the schedule, or the span ahead of it.
PartPer = Literal["guy", "span"]
Per = Literal["structure", "pole"] | PartPer


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that is recorded as done, once per structure, or once for each of its poles or parts."""

    #: Stable key, used in events.
    code: str
    #: What people read, as a past participle: "framed".
    words: str
    #: What must be recorded before the step is done: the structure, each of its poles or guys, or its span.
    per: Per = "structure"
    #: Codes of the steps that come before it.
    requires: tuple[str, ...] = ()
    #: Share in the physical progress of a structure, any positive unit; 0 = not counted.
    weight: float = 0.0
    #: Document the weight comes from.
    weight_source: str = NO_SOURCE
    #: Roles whose record makes it done; () = any.
    roles: tuple[Role, ...] = ()
    #: Document the roles come from.
    roles_source: str = NO_SOURCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Workflow:
    """A graph of steps.

    Raises
    ------
    ValueError
        If a code is blank or used twice, a requirement or a chain step is unknown, the requirements run in
        a circle, a weight is negative or not finite, or the chain puts a step before what it requires.
    """

    #: The steps, in the order people like to see them.
    steps: tuple[Step, ...]
    #: Codes of the main chain, from the first step to the last; empty = every step in `order`.
    chain: tuple[str, ...] = ()
    _sorted: tuple[Step, ...] = field(init=False, repr=False, compare=False)
    _by_code: Mapping[str, Step] = field(init=False, repr=False, compare=False)
    _roles: Mapping[str, tuple[Role, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_code = _index(self.steps)
        ordered = _topological(self.steps)
        object.__setattr__(self, "_by_code", MappingProxyType(by_code))
        object.__setattr__(self, "_sorted", ordered)
        roles = {step.code: step.roles for step in self.steps if step.roles}
        object.__setattr__(self, "_roles", MappingProxyType(roles))
        if not self.chain:
            object.__setattr__(self, "chain", tuple(step.code for step in ordered))
        _check_chain(self.chain, by_code)

    def order(self) -> tuple[Step, ...]:
        """Return the steps so that each follows all it requires, otherwise in their given order.

        >>> [step.code for step in FRAMED_ALOFT.order()][:5]
        ['staked', 'spotted', 'dug', 'set', 'framed']
        """
        return self._sorted

    def step(self, code: str) -> Step | None:
        """Return the step with that code, or None when the workflow has none."""
        return self._by_code.get(code)

    def open_steps(self, done: Collection[str]) -> tuple[str, ...]:
        """Return the codes that are not done and whose requirements all are, in `order`.

        >>> FRAMED_ON_GROUND.open_steps({"staked"})
        ('spotted', 'dug')
        """
        return tuple(
            step.code
            for step in self._sorted
            if step.code not in done and all(code in done for code in step.requires)
        )

    def stage(self, done: Collection[str]) -> str:
        """Return the furthest step of the main chain that is done, or "" when none is.

        A gap behind it does not lower it: a structure recorded set is set, whatever else is unrecorded.

        >>> FRAMED_ON_GROUND.stage({"staked", "set", "grounded"})
        'set'
        """
        return next((code for code in reversed(self.chain) if code in done), "")

    def has(self, per: Per) -> bool:
        """Say whether any step is recorded for each of something."""
        return any(step.per == per for step in self.steps)

    @property
    def roles(self) -> Mapping[str, tuple[Role, ...]]:
        """Roles whose record makes a step done, of the steps that ask for some."""
        return self._roles

    def words(self, code: str) -> str:
        """Return what people read for a code; the code itself when the workflow has no such step."""
        step = self._by_code.get(code)
        return code if step is None else step.words

    def missing(self, done: Collection[str], code: str) -> tuple[str, ...]:
        """Return the codes directly required by the step `code` that are not done; () for unknown codes."""
        step = self._by_code.get(code)
        return () if step is None else tuple(need for need in step.requires if need not in done)

    def built_on(self, codes: Collection[str]) -> tuple[str, ...]:
        """Return the codes of the steps that require one of some, directly or through others, in order."""
        found: list[str] = []
        for step in self.order():
            if any(need in codes or need in found for need in step.requires):
                found.append(step.code)
        return tuple(found)


def with_weights(workflow: Workflow, declared: Mapping[str, Mapping[str, Any]]) -> Workflow:
    """Return a workflow with the weights a job declares, step -> "weight" and "source"; others stay.

    Steps it does not have are passed over: weights stay declared when the order of the work changes.

    >>> FRAMED_ON_GROUND.step("set").weight
    25.0
    >>> with_weights(FRAMED_ON_GROUND, {"set": {"weight": 30, "source": "bid"}}).step("set").weight
    30.0
    """
    if not declared:
        return workflow
    steps = tuple(
        replace(step, weight=float(own["weight"]), weight_source=str(own["source"]))
        if (own := declared.get(step.code))
        else step
        for step in workflow.steps
    )
    return replace(workflow, steps=steps)


def with_roles(workflow: Workflow, declared: Mapping[str, Mapping[str, Any]]) -> Workflow:
    """Return a workflow with the roles a job declares for its steps, step -> "roles" and "source".

    Other steps keep theirs; "roles" that is empty lets any role record the step.

    >>> FRAMED_ON_GROUND.step("inspected").roles
    (<Role.INSPECTOR: 'inspector'>, <Role.MANAGER: 'manager'>)
    >>> with_roles(FRAMED_ON_GROUND, {"inspected": {"roles": [], "source": "spec 4"}}).step("inspected").roles
    ()
    """
    if not declared:
        return workflow
    steps = tuple(
        replace(step, roles=tuple(map(Role, own["roles"])), roles_source=str(own["source"]))
        if (own := declared.get(step.code))
        else step
        for step in workflow.steps
    )
    return replace(workflow, steps=steps)


def weight_words(workflow: Workflow) -> str:
    """Say what each step weighs in the physical progress, and which document says so.

    >>> weight_words(with_weights(FRAMED_ON_GROUND, {"dug": {"weight": 20, "source": "bid 4"}}))[:62]
    'dug 20 (bid 4); staked 5, spotted 5, framed 20, set 25, guyed '
    """
    by_source: dict[str, list[str]] = {}
    for step in sorted(workflow.steps, key=lambda step: step.weight_source == NO_SOURCE):
        by_source.setdefault(step.weight_source, []).append(f"{step.words} {step.weight:g}")
    return "; ".join(f"{', '.join(weighed)} ({source})" for source, weighed in by_source.items())


def _index(steps: Sequence[Step]) -> dict[str, Step]:
    by_code: dict[str, Step] = {}
    for step in steps:
        if not step.code.strip():
            raise ValueError("a step has a blank code; give it one")
        if step.code in by_code:
            raise ValueError(f"two steps have the code {step.code!r}; rename one")
        if not 0.0 <= step.weight < float("inf"):
            raise ValueError(f"step {step.code!r} has the weight {step.weight}; give 0 or more")
        by_code[step.code] = step
    for step in steps:
        for code in step.requires:
            if code not in by_code:
                raise ValueError(
                    f"step {step.code!r} requires {code!r}, which is no step; add it or correct it"
                )
    return by_code


def _topological(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Order the steps so that each comes after those it requires; of those that may come, the first given."""
    sorter = TopologicalSorter({step.code: step.requires for step in steps})
    try:
        sorter.prepare()
    except CycleError as error:
        names = ", ".join(step.code for step in steps if step.code in error.args[1])
        raise ValueError(f"the requirements of {names} run in a circle; take one away") from None
    by_code = {step.code: step for step in steps}
    ordered, ready = [], [*sorter.get_ready()]
    while ready:
        code = min(ready, key=[*by_code].index)
        ready.remove(code)
        ordered.append(by_code[code])
        sorter.done(code)
        ready += sorter.get_ready()
    return tuple(ordered)


def _check_chain(chain: Sequence[str], by_code: Mapping[str, Step]) -> None:
    for position, code in enumerate(chain):
        if code not in by_code or code in chain[:position]:
            raise ValueError(f"the main chain names {code!r}, which is unknown or named twice; correct it")
        later = set(by_code[code].requires).intersection(chain[position:])
        if later:
            raise ValueError(
                f"the main chain puts {code!r} before {sorted(later)}, which it requires; reorder it"
            )


def _standard(
    *, order: Iterable[str], requires: Mapping[str, tuple[str, ...]], chain: tuple[str, ...]
) -> Workflow:
    return Workflow(
        steps=tuple(
            Step(
                code=code,
                words=code,
                per=_PER.get(code, "structure"),
                requires=requires[code],
                weight=_WEIGHT[code],
                roles=_ROLES.get(code, ()),
            )
            for code in order
        ),
        chain=chain,
    )


_PER: Mapping[str, Per] = MappingProxyType(
    {"spotted": "pole", "dug": "pole", "set": "pole", "surveyed": "pole"}
)
_WEIGHT: Mapping[str, float] = MappingProxyType(
    {
        "staked": 5.0, "spotted": 5.0, "dug": 15.0, "framed": 20.0, "set": 25.0, "guyed": 5.0,
        "grounded": 5.0, "blocks hung": 5.0, "surveyed": 5.0, "inspected": 10.0,
    }
)  # fmt: skip
#: Who looks at the work is not who did it, and positions are signed by the surveyor. Common practice.
_ROLES: Mapping[str, tuple[Role, ...]] = MappingProxyType(
    {"inspected": (Role.INSPECTOR, Role.MANAGER), "surveyed": (Role.SURVEYOR,)}
)
_BRANCHES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "staked": (), "spotted": ("staked",), "dug": ("staked",), "guyed": ("set",), "grounded": ("set",),
        "blocks hung": ("framed",), "surveyed": ("set",), "inspected": ("framed", "set"),
    }
)  # fmt: skip

#: Poles framed on the ground beside the holes, then set.
FRAMED_ON_GROUND = _standard(
    order=_WEIGHT,
    requires={**_BRANCHES, "framed": ("spotted",), "set": ("dug", "framed")},
    chain=("staked", "spotted", "dug", "framed", "set"),
)
#: Poles set first, arms and braces hung on them afterwards.
FRAMED_ALOFT = _standard(
    order=_WEIGHT,
    requires={**_BRANCHES, "set": ("spotted", "dug"), "framed": ("set",)},
    chain=("staked", "spotted", "dug", "set", "framed"),
)
#: The orders of the work a job may name, by the name.
WORKFLOWS: Mapping[str, Workflow] = MappingProxyType(
    {"framed on ground": FRAMED_ON_GROUND, "framed aloft": FRAMED_ALOFT}
)
