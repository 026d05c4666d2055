"""What structure cards say: place, sketch, poles, marks, holds, crossings, open steps of one structure."""

from __future__ import annotations

import numpy as np

from linemap.domain.record.status import NOTHING_RECORDED
from linemap.domain.survey.words import landmark_words, residual_words
from linemap.geometry.bearing import format_deflection, wrap180
from linemap.report.sheets.card import Card, CardPole
from linemap.service.view.columns import station_texts
from linemap.service.view.guys import guys_in_short
from linemap.service.view.lists import lists_in_words
from linemap.service.view.marks import marks_of
from linemap.service.view.view import JobView

__all__ = ["card_of", "plain_code"]


def plain_code(view: JobView, row: int) -> str:
    """Return the code that names a structure on paper: its number, after its line where there are several.

    Typed into the search of a page it finds the structure again.
    """
    line, number = view.key(row)
    return number if len(view.figures.lines) == 1 else f"{line} {number}"


def card_of(view: JobView, row: int) -> Card:
    """Return the card of one structure.

    Parameters
    ----------
    view : JobView
        As its reader may see it.
    row : int
    """
    figures = view.figures
    azimuth = float(figures.structure_azimuth_deg[row])
    poles, to_scale = _poles(view, row)
    return Card(
        number=view.key(row)[1],
        code=plain_code(view, row),
        facts=_facts(view, row),
        back=_end(view, row, -1),
        ahead=_end(view, row, 1),
        back_deg=float(wrap180(figures.azimuth_back_deg[row] + 180.0 - azimuth)),
        ahead_deg=float(wrap180(figures.azimuth_ahead_deg[row] - azimuth)),
        poles=poles,
        to_scale=to_scale,
        notes=_notes(view, row),
    )


def _end(view: JobView, row: int, step: int) -> str:
    """Return the neighbour, or the name of the line's end."""
    other = view.figures.neighbour(row, step)
    if other is not None:
        return str(view.figures.structures.number[other])
    line = view.figures.line_of(row)
    return str(line.ahead_end if step > 0 else line.back_end)


def _facts(view: JobView, row: int) -> tuple[str, ...]:
    figures = view.figures
    line = figures.line_of(row)
    region = f" (R{figures.station_region[row]})" if line.stationing.equations else ""
    code = str(figures.structures.type_code[row])
    known = view.types.get(code)
    turn = format_deflection(float(figures.deflection_deg[row])) if figures.at_pi[row] else ""
    spans = ", ".join(
        f"{way} {span:,.2f} {line.unit.symbol}"
        for way, span in (("back", figures.back_span[row]), ("ahead", figures.ahead_span[row]))
        if not np.isnan(span)
    )
    facts = (
        f"station {station_texts(figures)[row]}{region}",
        f"type {code}" + (f", {known.words}" if known is not None and known.words else "") if code else "",
        f"turn {turn}" if turn else "",
        f"span {spans}" if spans else "",
        f"{figures.latitude[row]:.6f}, {figures.longitude[row]:.6f} (latitude, longitude)",
    )
    return tuple(fact for fact in facts if fact)


def _poles(view: JobView, row: int) -> tuple[tuple[CardPole, ...], bool]:
    figures = view.figures
    letters = figures.letters_of(row)
    ahead, right = figures.in_frame(row, figures.poles[row, : len(letters)])
    known = bool(np.isfinite(ahead).all())
    if not known:
        side = 1.0 if figures.a_left[row] else -1.0
        right, ahead = side * np.linspace(-1.0, 1.0, len(letters)), np.zeros(len(letters))
    words = _pole_words(view, row)
    return tuple(
        CardPole(letter=letter, right=float(x), ahead=float(y), words=words.get(letter, ""))
        for letter, x, y in zip(letters, right, ahead, strict=True)
    ), known


def _pole_words(view: JobView, row: int) -> dict[str, str]:
    return {
        pole.letter: ", ".join(
            part
            for part in (
                "" if pole.length_ft is None else f"{pole.length_ft:g} ft",
                f"class {pole.pole_class}" if pole.pole_class else "",
                "ground wire" if pole.ground_wire else "",
            )
            if part
        )
        for pole in view.poles_by_structure.get(view.key(row), ())
    }


def _notes(view: JobView, row: int) -> tuple[tuple[str, tuple[str, ...]], ...]:
    key = view.key(row)
    status = view.statuses.get(key, NOTHING_RECORDED)
    open_steps = view.workflow.open_steps(status.done)
    held = view.holds_by_row.get(row, [])
    judged = "A and B reversed, " * bool(view.checks.reversed[row]) + str(view.checks.verdict[row])
    return (
        ("HOLDS", tuple(hold.sentence() for hold in held) or (f"none entered as of {view.as_of}",)),
        ("Which pole is A", (_landmark(view, row),)),
        ("Crossings in the spans", _crossings(view, row)),
        ("Steps", ("not recorded: " + ", ".join(view.workflow.words(step) for step in open_steps),)
         if open_steps else ()),
        ("Lists", lists_in_words(view, row, "paper")),
        ("Revisions", _revisions(view, key)),
        ("Guys", guys_in_short(view, row)),
        ("Depths and marks", _marks(view, row)),
        (f"Survey: {judged}", residual_words(view.figures, view.checks, row)),
        ("Findings", tuple(finding.words for finding in view.ledger.on("card", row))),
    )  # fmt: skip


def _revisions(view: JobView, key: tuple[str, str]) -> tuple[str, ...]:
    """Say in one sentence what revisions changed here; changed remarks are on the page of the structure."""
    told = [words for words in view.changes_by_structure.get(key, ()) if " remarks " not in words]
    return ("; ".join(told),) if told else ()


def _landmark(view: JobView, row: int) -> str:
    figures = view.figures
    number = figures.structures.number
    back, ahead = figures.neighbour(row, -1), figures.neighbour(row, 1)
    return landmark_words(
        figures.line_of(row),
        back="" if back is None else number[back],
        here=number[row],
        ahead="" if ahead is None else number[ahead],
        pole_count=int(figures.structures.pole_count[row]),
    )


def _crossings(view: JobView, row: int) -> tuple[str, ...]:
    line, number = view.key(row)
    return tuple(
        f"{crossing.place}: {crossing.what}"
        + (", treat as energized" if crossing.energized else "")
        + (f" ({crossing.rule})" if crossing.rule else "")
        for crossing in view.crossings
        if crossing.line in ("", line) and number in (crossing.back_structure, crossing.ahead_structure)
    )


def _marks(view: JobView, row: int) -> tuple[str, ...]:
    """Say depth and marks of each pole in one sentence each, then what belongs to them."""
    line, number = view.key(row)
    found = marks_of(view, line, number)
    return (
        *(
            f"{pole.letter}: dig {pole.depth_wood}; from the top "
            + ", ".join(f"{mark.name} {mark.drop_wood}" for mark in pole.marks)
            for pole in found.poles
        ),
        *found.sentences,
        *(f"not available: {why}" for why in found.unavailable),
        *((f"drawings {', '.join(found.drawings)}",) if found.drawings else ()),
    )
