"""The as-set package that a licensed surveyor may examine and sign: its rows, and what it says of itself.

Nothing here says that anything is right: the surveyor says so, under a seal and a name.
"""

from __future__ import annotations

from dataclasses import dataclass

from linemap.report.red_marks import MarkSheet

#: What stands on the package, above everything else.
STATEMENT = (
    "Working paper made by a program from the files named here. It asserts nothing by itself and permits no "
    "work: a licensed surveyor examines it, decides, and answers with seal and signature for what was found "
    "right."
)
#: What is signed, and what stands under each line.
SIGNATURE = (
    "I have examined the as-set survey described here, and decide on it as written in these pages and in my "
    "remarks."
)
SIGNED = ("licensed surveyor, name", "licence number, state or province", "signature", "date")
NOT_DECLARED = "not declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageSession:
    """One survey session: how it was measured, and what holds it."""

    words: str
    instrument: str
    crew: str
    method: str
    pole_shots: str
    #: "by control: ..." or "against its own base: ...".
    held: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageCheckIn:
    """One check-in: what is known of the point, and measured minus known. "" = not given."""

    session: str
    control: str
    datum: str
    known_north: str
    known_east: str
    known_elevation: str
    shot: str
    #: How it was found.
    how: str
    observed_north: str
    observed_east: str
    #: After accepted corrections.
    north: str
    east: str
    up: str
    sigma: str
    #: "fits" or "off".
    fits: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageAnchor:
    """One scheduled guy with the anchor surveyed for it. "" = not known."""

    line: str
    structure: str
    guy: str
    verdict: str
    #: As scheduled or as the ground asks, and as measured.
    wanted_lead: str
    lead: str
    #: How far clockwise of the required azimuth it lies.
    direction: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """One surveyed structure that is not among the passes, and why."""

    line: str
    structure: str
    verdict: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageFile:
    """One source file."""

    name: str
    kind: str
    size: str
    loaded: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """Everything in the package of one job at one data version."""

    #: Surveyed structures with their shots and decisions, as the red marks show them.
    sheet: MarkSheet
    #: Numbers, with their lines, of the structures that pass and are held by control.
    passes: frozenset[tuple[str, str]]
    sessions: tuple[PackageSession, ...]
    check_ins: tuple[PackageCheckIn, ...]
    anchors: tuple[PackageAnchor, ...]
    apart: tuple[Apart, ...]
    #: What was found of files, lines and structures in no list.
    beside: tuple[str, ...]
    #: Tolerances and rules, with their sources.
    rules: tuple[str, ...]
    files: tuple[PackageFile, ...]


def front_statements(package: Package) -> list[tuple[str, str]]:
    """Return what the package says of itself and of the job, as names and texts."""
    sheet = package.sheet
    return [
        ("job", sheet.job),
        ("made from", sheet.source),
        *(("line", words) for words in sheet.lines),
        ("data version, data date", f"{sheet.data_version}, {sheet.data_date}"),
        ("declared", sheet.declared),
        (
            "differences",
            f"corrected minus design in the structure's frame, ahead + and right +, lengths in {sheet.unit} "
            "on the ground; sigma is one standard deviation",
        ),
        *(
            ("datum of control points", words)
            for words in dict.fromkeys(each.datum for each in package.check_ins)
        ),
        ("verdicts", sheet.counts),
        (
            "in this package",
            f"{len(package.passes)} structures pass and are held by control; {len(package.apart)} surveyed "
            "structures are not among them",
        ),
        *(("correction in force", words) for words in sheet.corrections),
        *(("found beside", words) for words in package.beside),
        *(("judged by", words) for words in package.rules),
        ("caution", sheet.caution),
    ]
