"""`linemap marks`: what is marked on each pole of one structure."""

from __future__ import annotations

from typing import Annotated

import typer

from linemap.answers.structure import PanelMarkedPole, PanelMarks
from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, now, opened, say, say_json
from linemap.errors import InputRefused, Problem

_Found = list[str] | None


def marks_command(
    job: JobArgument,
    structure: Annotated[str, typer.Argument(metavar="STRUCTURE", help="number, like 6/4")],
    line: Annotated[str, typer.Option(help="name of its line, when the job has several")] = "",
    measured: Annotated[_Found, typer.Option(metavar="A=75.4", help="length measured on a pole")] = None,
    depth: Annotated[_Found, typer.Option(metavar="A=10.2", help="depth as dug, along the pole")] = None,
    brand: Annotated[_Found, typer.Option(metavar="A=4.2", help="height of a brand above the ground")] = None,
    spacing: Annotated[float | None, typer.Option(help="distance between the poles as measured")] = None,
    arm_elevation: Annotated[float | None, typer.Option(help="design elevation of the arm bolts")] = None,
    as_json: JsonOption = False,
) -> None:
    """List depth, drops from the top and heights from the butt of each pole, from the framing table.

    Example: linemap marks linemap-demo/demo.linemap 6/4 --measured A=75.4 --spacing 12.4
    """
    from linemap.service.view.build import build_view
    from linemap.service.view.marks import AsFound, marks_of

    found = AsFound(
        lengths=_by_pole(measured, "--measured"),
        depths=_by_pole(depth, "--depth"),
        brands=_by_pole(brand, "--brand"),
        spacing=spacing,
        arm_elevation=arm_elevation,
    )
    with busy("computing"), opened(job) as database:
        view = build_view(database, today=now().date())
        marks = marks_of(view, line, structure, found=found)
    if as_json:
        say_json(marks)
        return
    _print(marks)


def _print(marks: PanelMarks) -> None:
    say(f"{marks.line} {marks.number}, type {marks.type or 'not given'}")
    say(f"spacing {marks.spacing_text}; drawings {', '.join(marks.drawings) or 'none named'}")
    for pole in marks.poles:
        _print_pole(pole)
    OUT.print("")
    for words in marks.sentences:
        say(words)
    for words in marks.unavailable:
        say(f"not available: {words}")
    if marks.bundle:
        say(f"bundle: {', '.join(marks.bundle)}")
    for words in marks.material:
        say(words)
    say(marks.caution)


def _print_pole(pole: PanelMarkedPole) -> None:
    """Print the marks of a pole in columns that are never broken: half a length reads as another one."""
    title = f"Pole {pole.letter}: {pole.length_text}, {pole.depth_text} deep"
    OUT.print("")
    OUT.print(title, markup=False, highlight=False)
    rows: list[tuple[str, ...]] = [("", "from the top", "", "from the butt", "", "drawing")]
    cells = ("name", "drop_wood", "drop_text", "butt_wood", "butt_text", "drawing")
    rows += [tuple(str(getattr(mark, cell)) for cell in cells) for mark in pole.marks]
    for name, drop, drop_decimal, butt, butt_decimal, drawing in rows:
        text = f"  {name:<17}{drop:>13}{drop_decimal:>10}{butt:>15}{butt_decimal:>10}  {drawing}"
        OUT.print(text.rstrip(), markup=False, highlight=False, no_wrap=True, soft_wrap=True)


def _by_pole(given: _Found, option: str) -> dict[str, float]:
    """Read options like A=75.4 as pole letter -> length."""
    found: dict[str, float] = {}
    for text in given or ():
        letter, _, value = text.partition("=")
        try:
            found[letter.strip().upper()] = float(value)
        except ValueError:
            problem = Problem(
                file="",
                column=option,
                value=text,
                reason="is no pole with a length",
                remedy="write it like A=75.4, in the job's unit",
            )
            raise InputRefused(problem) from None
    return found
