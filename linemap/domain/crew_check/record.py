"""A crew check on record, by tape or by rover: read, judged anew by the job's own rule, and as a finding.

It is a crew's own check of its work and never a survey: what it says counts until the surveyor's shots judge.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

import numpy as np

from linemap.domain.crew_check.answer import moves
from linemap.domain.crew_check.frame import CheckVerdict, FrameDesign, Gate
from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.crew_check.rover_record import RoverRecord
from linemap.domain.crew_check.tape_record import TapeRecord
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event

Method = Literal["tape", "rover"]
_RECORDS: Mapping[Method, type[TapeRecord] | type[RoverRecord]] = MappingProxyType(
    {"tape": TapeRecord, "rover": RoverRecord}
)
_SEVERITY: Mapping[CheckVerdict, Severity] = MappingProxyType(
    {
        CheckVerdict.PASS: Severity.NOTE,
        CheckVerdict.FAIL: Severity.WRONG,
        CheckVerdict.CANNOT_TELL: Severity.UNSURE,
        CheckVerdict.CONTRADICT: Severity.UNSURE,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewCheck:
    """What a phone recorded of one check."""

    method: Method
    #: What the phone found, without a signal; the job judges by itself.
    said: CheckVerdict
    record: TapeRecord | RoverRecord

    @classmethod
    def read(cls, content: str) -> CrewCheck:
        """Read the content of an event.

        Raises
        ------
        ValueError
            If it is no check by tape or by rover, or its method cannot read it.
        """
        try:
            given = json.loads(content or "{}")
        except ValueError:
            raise ValueError("the content of a crew check is no JSON") from None
        method = given.get("method")
        if str(method) not in _RECORDS:
            raise ValueError(f"a crew check by {method!r} is not known; it is by {' or by '.join(_RECORDS)}")
        try:
            said = CheckVerdict(given.get("verdict"))
        except ValueError:
            known = ", ".join(CheckVerdict)
            raise ValueError(
                f"the verdict {given.get('verdict')!r} of a crew check is none of {known}"
            ) from None
        return cls(method=method, said=said, record=_RECORDS[method].read(given))


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedCheck:
    """What the job makes of one check."""

    method: Method
    said: CheckVerdict
    verdict: CheckVerdict
    #: Value and standard uncertainty by `FrameDesign.names`; none where the poles do not follow.
    quantities: Mapping[str, tuple[float, float]]
    #: Pole centres from left to right: right and ahead of the design centre, ground units.
    poles: tuple[tuple[float, float], ...]
    #: Names of the quantities that are outside, or on which it cannot tell.
    open: tuple[str, ...] = ()
    #: Letter, ahead and right: what would put a failed frame right.
    moves: tuple[tuple[str, float, float], ...] = ()
    #: What keeps it from a verdict; "" = nothing, or the numbers.
    why: str = ""


@lru_cache(maxsize=16_384)
def judge_check(content: str, design: FrameDesign | None) -> JudgedCheck:
    """Judge the content of an event against the frame as the lists have it; None = they do not say.

    The content can be read (`CrewCheck.read`); what was checked against other poles cannot be told.
    """
    check = CrewCheck.read(content)
    try:
        if design is None:
            raise ValueError("how the frame belongs is not known from the lists")
        if isinstance(check.record, TapeRecord):
            return _judge_tape(check, check.record, design)
        result = check.record.judge(design)
    except ValueError as error:
        return _judged(check, CheckVerdict.CANNOT_TELL, why=str(error))
    gates = design.gates(result.sigmas) if result.sigmas else ()
    return _judged(
        check,
        result.verdict,
        design,
        result.values,
        gates,
        np.array(result.poles),
        why=result.why or _odd(result.odd, check.record),
    )


def _odd(odd: int | None, record: RoverRecord) -> str:
    if odd is None:
        return ""
    fix = record.fixes[odd]
    return f"what disagrees most is {f'pole {fix.at}, face {fix.face}' if fix.face else f'stake {fix.at}'}"


def _judge_tape(check: CrewCheck, record: TapeRecord, design: FrameDesign) -> JudgedCheck:
    answer, tape_set = record.judge(design)
    values = tuple(value for value, _ in answer.quantities.values())
    why = "to be taped again before a pole is moved" if answer.is_to_repeat else ""
    return _judged(check, answer.verdict, design, values, tape_set.gates, answer.poles, why=why)


def _judged(
    check: CrewCheck,
    verdict: CheckVerdict,
    design: FrameDesign | None = None,
    values: tuple[float, ...] = (),
    gates: tuple[Gate, ...] = (),
    poles: np.ndarray[tuple[int, ...], np.dtype[np.float64]] | None = None,
    *,
    why: str,
) -> JudgedCheck:
    """Put together what both methods find."""
    known = bool(values) and all(map(np.isfinite, values))
    pairs = list(zip(values, gates, strict=True)) if known else []
    if verdict is CheckVerdict.FAIL:
        unsettled = [gate.name for value, gate in pairs if abs(value) > gate.fail_from]
    else:
        unsettled = [gate.name for value, gate in pairs if not abs(value) <= gate.pass_to]
    to_move: tuple[tuple[str, float, float], ...] = ()
    if verdict is CheckVerdict.FAIL and design is not None and poles is not None:
        ways = moves(design, poles, gates, TapeErrors.of(design.unit))
        to_move = tuple((way.letter, way.ahead, way.right) for way in ways)
    return JudgedCheck(
        method=check.method,
        said=check.said,
        verdict=verdict,
        quantities={gate.name: (float(value), gate.sigma) for value, gate in pairs},
        poles=tuple((float(right), float(ahead)) for right, ahead in poles)
        if known and poles is not None
        else (),
        open=tuple(unsettled),
        moves=to_move,
        why=why,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingCheck:
    """A crew check that nobody withdrew or corrected, as the job judges it."""

    #: Identifier of its event, which says who recorded it.
    event: str
    at: datetime
    judged: JudgedCheck
    #: True when the structure list moved the structure since by more than a frame may be off.
    moved: bool = False

    @property
    def proves(self) -> bool:
        """True when it passed, for the place where the structure still belongs."""
        return self.judged.verdict is CheckVerdict.PASS and not self.moved


def check_finding(
    check: StandingCheck, event: Event, design: FrameDesign | None, *, part: str = ""
) -> Finding:
    """Return what a check says as a finding "crew check" at the structure of its event."""
    judged = check.judged
    return Finding(
        line=event.line,
        structure=event.structure,
        code="crew check",
        part=part,
        weight=_SEVERITY[judged.verdict],
        since=check.at.date(),
        values={
            "method": judged.method,
            "verdict": judged.verdict.value,
            "said": judged.said.value,
            "on": check.at.date(),
            "who": event.who,
            "unit": "ft" if design is None else design.unit,
            "spacing": None if design is None else design.spacing,
            "quantities": tuple((name, *pair) for name, pair in judged.quantities.items()),
            "open": judged.open,
            "moves": judged.moves,
            "why": judged.why,
            "moved": check.moved,
        },
    )
