"""The marks of a structure in sentences a foreman reads beside the poles."""

from __future__ import annotations

from collections.abc import Mapping

from linemap.domain.design.lengths import unbroken, wood_text
from linemap.domain.finding.phrase import length_text, listed_poles
from linemap.domain.framing.brace import rate_words
from linemap.domain.framing.dig import EmbedRule, Frame, brand_words
from linemap.domain.framing.marks import PoleMarks, StructureMarks
from linemap.units import LengthUnit, convert_length

#: Differences of less than this are not told, in the line's ground unit.
_NOTHING = 0.005


def mark_sentences(frame: Frame, marks: StructureMarks, *, rule: EmbedRule | None) -> tuple[str, ...]:
    """Say how deep the holes go and why, where the arm comes and what the braces ask for.

    Of the embedment rule of the type what is published against it is said. () when there are no marks; what
    is not available is in `StructureMarks.unavailable`.
    """
    if not marks.poles:
        return ()
    said = [_depths(frame, marks), _brands(frame, marks), _arm(frame, marks)]
    said += _pole_notes(frame, marks, rule)
    said += _braces(frame, marks)
    return tuple(filter(None, said))


def brand_checks(frame: Frame, marks: StructureMarks, seen: Mapping[str, float]) -> tuple[str, ...]:
    """Say what brands seen above the ground mean for the depths, pole by pole.

    `seen` has the height of each brand above the ground by pole letter, negative below it.
    """
    nominal = {pole.letter: pole.nominal_ft for pole in frame.poles}
    said = []
    for pole in marks.poles:
        if pole.letter not in seen:
            continue
        length_ft, name = nominal[pole.letter], frame.called[pole.letter]
        if pole.brand is None or length_ft is None:
            said.append(f"brand of {name}: not available: no distance is published for its length")
            continue
        words = brand_words(
            name,
            expected=pole.brand,
            seen=seen[pole.letter],
            nominal_ft=length_ft,
            unit=frame.unit,
        )
        said.append(words)
    return tuple(said)


def _each(frame: Frame, texts: Mapping[str, str]) -> str:
    letters = (pole.letter for pole in frame.poles if pole.letter in texts)
    return ", ".join(f"{frame.called[letter]} {texts[letter]}" for letter in letters)


def _depths(frame: Frame, marks: StructureMarks) -> str:
    texts = {pole.letter: length_text(pole.depth, frame.unit.symbol) for pole in marks.poles}
    dug = [pole.letter for pole in marks.poles if pole.dug]
    if len(dug) == len(marks.poles):
        return f"as dug: {_each(frame, texts)}"
    words = f"dig {_each(frame, texts)} for a level arm"
    if dug:
        words += f" ({listed_poles(dug, frame.called)} as dug)"
    deeper = marks.plan is not None and any(
        pole.least_depth is not None and pole.depth - pole.least_depth > _NOTHING for pole in marks.poles
    )
    if marks.plan is not None and deeper:
        limiting = frame.called[marks.plan.limited_by]
        words += f"; {limiting} at its least depth has the lowest top and sets the level"
    return words


def _brands(frame: Frame, marks: StructureMarks) -> str:
    texts = {
        pole.letter: length_text(pole.brand, frame.unit.symbol) + (" below" if pole.brand < 0.0 else "")
        for pole in marks.poles
        if pole.brand is not None
    }
    missing = [pole.letter for pole in marks.poles if pole.brand is None]
    of_these = listed_poles(missing, frame.called)
    none = f"no brand distance is published for the length of {of_these}" if missing else ""
    known = f"brand above the ground at that depth: {_each(frame, texts)}" if texts else ""
    return "; ".join(filter(None, (known, none)))


def _arm(frame: Frame, marks: StructureMarks) -> str:
    if marks.arm is None:
        return ""
    unit = frame.unit
    level = f"arm bolts level at elevation {length_text(marks.arm.elevation, unit.symbol)}"
    if marks.arm.shortfall <= _NOTHING:
        return level
    short = length_text(marks.arm.shortfall, unit.symbol)
    return (
        f"{level}, {short} below the design: pole {frame.called[marks.arm.limited_by]} lets it go no higher"
    )


def _pole_notes(frame: Frame, marks: StructureMarks, rule: EmbedRule | None) -> list[str]:
    said = []
    for known, pole in zip(frame.poles, marks.poles, strict=True):
        said += [_measured(frame, pole, known.nominal_ft), _shallow(frame, pole)]
        if rule is not None and known.nominal_ft is not None:
            said.append(rule.note(known.nominal_ft, unit=frame.unit))
    return list(dict.fromkeys(said))


def _measured(frame: Frame, pole: PoleMarks, nominal_ft: float | None) -> str:
    if not pole.measured or nominal_ft is None:
        return ""
    unit, word = frame.unit, frame.called[pole.letter]
    over = pole.length - convert_length(nominal_ft, source=LengthUnit.FOOT, target=unit)
    if abs(over) <= _NOTHING:
        return f"{word} measured {length_text(pole.length, unit.symbol)}, as ordered"
    way = "longer" if over > 0.0 else "shorter"
    return (
        f"{word} measured {length_text(pole.length, unit.symbol)}, "
        f"{length_text(over, unit.symbol)} {way} than the {nominal_ft:g}: the depth follows the wood"
    )


def _shallow(frame: Frame, pole: PoleMarks) -> str:
    if pole.least_depth is None or pole.depth >= pole.least_depth - _NOTHING:
        return ""
    dug, asked = (length_text(depth, frame.unit.symbol) for depth in (pole.depth, pole.least_depth))
    word = frame.called[pole.letter]
    return f"{word} is dug {dug}, the drawing asks for {asked} at least; ask the engineer"


def _braces(frame: Frame, marks: StructureMarks) -> list[str]:
    if marks.brace is None or frame.spacing is None:
        return []
    brace = marks.brace
    texts = {letter: unbroken(wood_text(spread, frame.unit)) for letter, spread in brace.spreads.items()}
    spacing = length_text(frame.spacing, frame.unit.symbol)
    below = f"lower brace bolts {next(iter(texts.values()))} below the upper ones"
    if len(set(texts.values())) > 1:
        below = f"lower brace bolts below the upper ones, rakes differ: {_each(frame, texts)}"
    check = " (measure it before drilling)" if frame.spacing_source != "measured" else ""
    said = [
        f"{below}, for the {frame.spacing_source} spacing of {spacing}{check}",
        rate_words(brace.rate, frame.unit),
    ]
    return said + ([brace.set_words] if brace.set_words else [])
