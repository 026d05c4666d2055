"""Every colour, once: by day and by night, for style sheets, canvas, icon, workbook and paper.

Style sheets get them as custom properties (``--ink``); the canvas reads those. Stages and verdicts differ by
shape too, so no colour says anything alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


class Colour(NamedTuple):
    """One colour as ``#rrggbb``."""

    day: str
    night: str


#: Map, lists and pages of the office.
OFFICE: Mapping[str, Colour] = MappingProxyType(
    {
        "ground": Colour("#f3f1ea", "#11181e"),
        "paper": Colour("#fbfaf6", "#161f26"),
        "raised": Colour("#ffffff", "#1d2831"),
        "ink": Colour("#14202b", "#eef0ea"),
        "muted": Colour("#4f5b65", "#a9b3ba"),
        "rule": Colour("#cfccbf", "#36434d"),
        "accent": Colour("#a63d00", "#ffab5e"),
        "wash": Colour("#f6e7da", "#3a2b1c"),
        "bar": Colour("#1d2b36", "#0b1116"),
        "bar-ink": Colour("#f6f4ec", "#f6f4ec"),
        "bar-muted": Colour("#b9c3ca", "#a9b3ba"),
        "bar-rule": Colour("#52626e", "#52626e"),
        # what is printed is printed by day
        "sheet": Colour("#ffffff", "#ffffff"),
        "sheet-ink": Colour("#14202b", "#14202b"),
        "stage-none": Colour("#767e86", "#8b949b"),
        "stage-staked": Colour("#7d6a1f", "#bfa94f"),
        "stage-spotted": Colour("#3d7a2e", "#82c46d"),
        "stage-dug": Colour("#0f6e78", "#55c8cb"),
        "stage-framed": Colour("#1a56a0", "#86b9ff"),
        "stage-set": Colour("#2c2a78", "#cdcfff"),
        "stage-inspected": Colour("#0b0e14", "#ffffff"),
        "verdict-pass": Colour("#3f4b55", "#c3ccd2"),
        "verdict-fail": Colour("#b81f14", "#ff8a75"),
        "verdict-cannot-tell": Colour("#8a4a00", "#ffc06b"),
        "verdict-not-surveyed": Colour("#767e86", "#8b949b"),
        "hold": Colour("#a33a00", "#ff9d57"),
        # of the map alone
        "corridor": Colour("#dcd8ca", "#2a353d"),
        "span": Colour("#3c4852", "#b4bec5"),
        "halo": Colour("#fbfaf6", "#11181e"),
        "chosen": Colour("#c8500a", "#ffab5e"),
        # of a change under review
        "change-added": Colour("#1f6b3a", "#86d39f"),
        "change-removed": Colour("#b81f14", "#ff8a75"),
        "change-moved": Colour("#8a4a00", "#ffc06b"),
        # files beside each other, before they are a job
        "file-1": Colour("#1a56a0", "#86b9ff"),
        "file-2": Colour("#8a4a00", "#ffc06b"),
        "file-3": Colour("#6a2c8f", "#d7a9f5"),
        "file-4": Colour("#1f6b3a", "#86d39f"),
        "file-5": Colour("#b81f14", "#ff8a75"),
        "file-6": Colour("#0f6e78", "#55c8cb"),
        "context-road": Colour("#a89f8c", "#6a6656"),
        "context-river": Colour("#7fa6bd", "#3d6a86"),
        "context-other-line": Colour("#8d7aa3", "#7d6a96"),
        "context-access": Colour("#a08a55", "#86713f"),
        "context-gate": Colour("#6d5c2c", "#c2ad73"),
        "context-parcel": Colour("#b9b3a2", "#47504f"),
        "context-crossing": Colour("#5f6b74", "#9aa5ad"),
        "context-hospital": Colour("#b81f14", "#ff8a75"),
        "context-hold-buffer": Colour("#a33a00", "#ff9d57"),
    }
)

#: The phone: more contrast, for noon and for the dark.
FIELD: Mapping[str, Colour] = MappingProxyType(
    {
        "paper": Colour("#ffffff", "#0b0f12"),
        "ink": Colour("#000000", "#ffffff"),
        "muted": Colour("#33383d", "#c9d0d6"),
        "rule": Colour("#6b7177", "#7f8991"),
        "wash": Colour("#eceae2", "#1c242a"),
        "bar": Colour("#10181f", "#000000"),
        "bar-ink": Colour("#ffffff", "#ffffff"),
        "bar-raised": Colour("#33414d", "#33414d"),
        "mark": Colour("#ffd23f", "#ffd23f"),
        "mark-ink": Colour("#000000", "#000000"),
        "alarm": Colour("#a80012", "#ff9a8c"),
        "alarm-ink": Colour("#ffffff", "#1b0000"),
        "hold": Colour("#7a0010", "#ffb3a6"),
        "hold-paper": Colour("#fff1ee", "#2c0f0b"),
        "condition": Colour("#5a3d00", "#ffd877"),
        "condition-paper": Colour("#fff7dd", "#2a2108"),
        "go": Colour("#003e7e", "#9fd0ff"),
    }
)

SIGN_IN: Mapping[str, Colour] = MappingProxyType(
    {
        "paper": Colour("#ffffff", "#16191c"),
        "ink": Colour("#14171a", "#f2f3f4"),
        "rule": Colour("#5a6168", "#9aa3ab"),
        "main": Colour("#14467c", "#8fc1f5"),
        "main-ink": Colour("#ffffff", "#0c1a28"),
        "warn": Colour("#8a1c00", "#ffb4a0"),
    }
)


def colour_sheet(name: str) -> str:
    """Return colours as custom properties of a style sheet.

    Parameters
    ----------
    name : {"day", "night", "field", "sign_in"}
        The office by day, or by night; the others have both, and the device chooses.
    """
    if name == "day":
        return _rule("light", {key: colour.day for key, colour in OFFICE.items()})
    if name == "night":
        return _rule("dark", {key: colour.night for key, colour in OFFICE.items()})
    colours = {"field": FIELD, "sign_in": SIGN_IN}[name]
    day = _rule("light dark", {key: colour.day for key, colour in colours.items()})
    night = _rule("light dark", {key: colour.night for key, colour in colours.items()})
    return f"{day}\n@media (prefers-color-scheme: dark) {{\n{night}}}\n"


def _rule(scheme: str, colours: Mapping[str, str]) -> str:
    lines = "".join(f"  --{name}: {colour};\n" for name, colour in colours.items())
    return f":root {{\n  color-scheme: {scheme};\n{lines}}}\n"
