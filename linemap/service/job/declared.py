"""What a person declares about how work is judged: tolerances, evidence of steps, the catenary constant.

Each is written with where it comes from after a colon: "anchor_lead=0.5 ft: specification 7.3".
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from linemap.domain.design.declaration import NO_CATENARY, Catenary
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.workflow import Workflow
from linemap.domain.survey.proof import NEEDS, EvidenceRule
from linemap.errors import InputRefused
from linemap.units import LengthUnit, convert_length

_NUMBER = re.compile(r"^([\d,]*\.?\d+)\s*(.*)$")
_NO_SOURCE = "given without a source"
#: What is written for a step that its record alone verifies.
_NOTHING = "nothing"
_UNITS = {"°": "deg", "degrees": "deg", '"': "in", "inches": "in", "in/10 ft": "in per 10 ft"}


def read_tolerance_options(
    texts: Sequence[str], saved: Mapping[str, Any], *, unit: LengthUnit
) -> dict[str, Any]:
    """Return the tolerances a job keeps with those given laid over them.

    Parameters
    ----------
    texts : sequence of str
        Like "anchor_lead=0.5 ft: specification 7.3"; without a unit it is the tolerance's own.
    saved : mapping
        As `Tolerances.from_mapping` takes it.
    unit : LengthUnit
        Ground unit of the line.

    Raises
    ------
    InputRefused
        If a text is no tolerance, or `Tolerances` refuses it.

    >>> read_tolerance_options(["plumb=0.75: spec 16.3"], {}, unit=LengthUnit.FOOT)
    {'plumb': {'value': 0.75, 'source': 'spec 16.3'}}
    """
    merged = dict(saved)
    for text in texts:
        name, value, source = _parts(text, "--tolerance", "anchor_lead=0.5 ft: specification 7.3")
        found = _NUMBER.match(value)
        if found is None:
            raise InputRefused.at("--tolerance", text, "gives no number", "write NAME=NUMBER UNIT: SOURCE")
        sign = _UNITS.get(found[2].strip(), found[2].strip())
        given: dict[str, Any] = {"value": float(found[1].replace(",", "")), "source": source}
        merged[name.replace(" ", "_")] = given | ({"unit": sign} if sign else {})
    Tolerances.from_mapping(merged, unit, file="--tolerance")
    return merged


def read_evidence(
    texts: Sequence[str], saved: Mapping[str, Any], *, workflow: Workflow
) -> dict[str, dict[str, Any]]:
    """Return the evidence rules a job keeps with those given laid over them.

    Parameters
    ----------
    texts : sequence of str
        Like "set=every pole, photo: specification 9.1"; "framed=nothing" = its record alone verifies it.
    saved : mapping
        Step -> "needs" and "source".
    workflow : Workflow
        Of the job; its steps may have rules.

    Raises
    ------
    InputRefused
        If a step is not one of the workflow's, or a need is none that linemap can find in the records.

    >>> from linemap.domain.record.workflow import FRAMED_ON_GROUND
    >>> read_evidence(["Set = photo, level: spec 9.1"], {}, workflow=FRAMED_ON_GROUND)
    {'set': {'needs': ['photo', 'level'], 'source': 'spec 9.1'}}
    """
    merged = {step: dict(rule) for step, rule in saved.items()}
    for text in texts:
        name, value, source = _parts(text, "--evidence", "set=every pole, photo: specification 9.1")
        if workflow.step(name) is None:
            steps = ", ".join(step.code for step in workflow.steps)
            raise InputRefused.at(
                "--evidence", name, "is no step of the job's workflow", f"use one of {steps}"
            )
        needs = [need for part in value.split(",") if (need := " ".join(part.casefold().split()))]
        needs = [] if needs == [_NOTHING] else needs
        for need in needs:
            if need not in NEEDS:
                known = ", ".join((*NEEDS, _NOTHING))
                raise InputRefused.at(
                    "--evidence", need, "is no evidence linemap can find", f"use some of {known}"
                )
        merged[name] = {"needs": needs, "source": source}
    return merged


def read_catenary(text: str, *, unit: LengthUnit) -> Catenary:
    """Read a catenary constant with its unit and source, into the ground unit of the line.

    Raises
    ------
    InputRefused
        If it is no length above 0.

    >>> read_catenary("4,500 ft: sag table 3", unit=LengthUnit.FOOT)
    Catenary(constant=4500.0, source='sag table 3')
    """
    value, source = _with_source(text)
    found = _NUMBER.match(value)
    remedy = "write it like 4500 ft: sag table 3, 60 F, no load"
    if found is None:
        raise InputRefused.at("--catenary-constant", text, "is no number", remedy)
    number = float(found[1].replace(",", ""))
    try:
        written = LengthUnit.from_text(found[2].strip()) if found[2].strip() else unit
        same = written.symbol == unit.symbol
        constant = number if same else convert_length(number, source=written, target=unit)
        return Catenary(constant=constant, source=source)
    except ValueError as error:
        raise InputRefused.at("--catenary-constant", text, str(error), remedy) from None


def rule_words(
    tolerances: Tolerances, evidence: Mapping[str, EvidenceRule], catenary: Catenary | None
) -> tuple[str, ...]:
    """Say how work is judged, one sentence for each tolerance and rule, with its source."""
    limits = [f"{each.name}: {each} ({each.source})" for each in tolerances.listed]
    proofs = [
        f'"{step}" counts as verified by {rule.words} ({rule.source})' for step, rule in evidence.items()
    ]
    wire = NO_CATENARY if catenary is None else catenary.words(tolerances.unit)
    return (*limits, *proofs, f"weight span: {wire}")


def _parts(text: str, option: str, example: str) -> tuple[str, str, str]:
    name, equals, rest = text.partition("=")
    if not (equals and name.strip() and rest.strip()):
        raise InputRefused.at(option, text, "names nothing and its value", f"write it like {example}")
    value, source = _with_source(rest)
    return " ".join(name.casefold().split()), value, source


def _with_source(text: str) -> tuple[str, str]:
    value, _, source = text.partition(":")
    return value.strip(), source.strip() or _NO_SOURCE
