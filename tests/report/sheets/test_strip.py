"""Plan and profile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pypdf import PdfReader

from linemap.report.paper import TitleBlock
from linemap.report.sheets.beside import StripLine
from linemap.report.sheets.strip import Stretch, StripPlace, StripPole, StripStructure, strip_pdf

Read = Callable[[bytes], PdfReader]
STRUCTURE = StripStructure(
    distance=1000.0,
    number="1/2",
    station="10+00.00",
    turn="",
    offset=0.0,
    left_to_right=("A", "B"),
    ground=4000.0,
    poles=(StripPole(name="A", ground=4000.0, top=4061.0),),
    held=False,
)
STRETCH = Stretch(
    line="North",
    start=0.0,
    end=5000.0,
    unit="ft",
    structures=(STRUCTURE, replace(STRUCTURE, distance=2000.0, number="1/3")),
    crossings=(StripPlace(distance=1500.0, words="12 kV line, treat as energized"),),
    breaks=(),
    ticks=(),
    parcels=(),
)


def heights(title_block: TitleBlock, read: Read, stretch: Stretch) -> dict[str, float]:
    found: dict[str, float] = {}

    def visit(text: str, _cm: object, tm: list[float], _font: object, _size: object) -> None:
        if text.strip() in ("A", "B"):
            found[text.strip()] = tm[5]

    read(strip_pdf(title_block, [stretch])).pages[0].extract_text(visitor_text=visit)
    return found


def test_left_of_the_line_is_up(title_block: TitleBlock, read: Read) -> None:
    """Ahead is right, so the pole on the left stands higher on the page."""
    at = heights(title_block, read, STRETCH)
    assert at["A"] > at["B"]
    turned = tuple(replace(each, left_to_right=("B", "A")) for each in STRETCH.structures)
    at = heights(title_block, read, replace(STRETCH, structures=turned))
    assert at["A"] < at["B"]


def test_unknown_heights_and_ground_are_said(title_block: TitleBlock, read: Read) -> None:
    no_poles = replace(STRETCH, structures=(replace(STRUCTURE, poles=()),))
    text = read(strip_pdf(title_block, [no_poles])).pages[0].extract_text()
    assert "pole height not available" in text
    nothing = replace(STRETCH, structures=(replace(STRUCTURE, poles=(), ground=None),))
    text = read(strip_pdf(title_block, [nothing])).pages[0].extract_text()
    assert "profile not available: no ground elevation is given" in text


def test_holds_and_crossings_are_named(title_block: TitleBlock, read: Read) -> None:
    held = replace(STRETCH, structures=(replace(STRUCTURE, held=True),))
    text = read(strip_pdf(title_block, [held])).pages[0].extract_text()
    assert "1/2 HELD" in text
    assert "12 kV line, treat as energized" in text


def test_what_runs_beside_the_line_is_drawn_and_named(title_block: TitleBlock, read: Read) -> None:
    road = StripLine(layer="road", name="State Route 9", points=((1200.0, -900.0), (1300.0, 900.0)))
    far = StripLine(layer="road", name="Far Road", points=((7000.0, -100.0), (7100.0, 100.0)))
    beside = replace(STRETCH, beside=(road, far), reach=400.0)
    text = read(strip_pdf(title_block, [beside])).pages[0].extract_text()
    assert "State Route 9" in text
    assert "Far Road" not in text
    assert (road.touches(0.0, 5000.0), far.touches(0.0, 5000.0)) == (True, False)


def test_one_thing_that_comes_by_twice_is_named_where_it_is(title_block: TitleBlock, read: Read) -> None:
    pieces = tuple(
        StripLine(layer="river", name="Tallow", points=((at, -100.0), (at + 10.0, 100.0)))
        for at in (500.0, 600.0, 4500.0)
    )
    text = (
        read(strip_pdf(title_block, [replace(STRETCH, beside=pieces, reach=400.0)])).pages[0].extract_text()
    )
    assert text.count("Tallow") == 2
