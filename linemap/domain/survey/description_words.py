"""The words of shot descriptions, by what each does there, and the text of one taken apart into them.

The words are those crews write on controllers; they are common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Mapping
from typing import Literal

from linemap.domain.design.number import Run, runs_of
from linemap.domain.survey.shot import ShotItem

#: What a word does. "structure" and "leg" stand before a number, "leg" beside the letter of a pole too;
#: "measure" owns the number behind it, "unit" the one before; "counted" and "distance" may have one of their
#: own behind; "side" is a direction, "along" one along the line; "control" is a point of no structure,
#: "check" a repeated shot; "plain" says nothing of what was shot, "foreign" is no part of a structure.
Role = Literal[
    "structure",
    "leg",
    "item",
    "counted",
    "distance",
    "measure",
    "unit",
    "along",
    "side",
    "control",
    "check",
    "plain",
    "foreign",
]
_ROLES: Mapping[Role, str] = {
    "structure": """
        STR STRUC STRUCT STRUCTURE STRC STRT S ST TWR TOWER NO NUM NUMBER NRO NUMERO EST ESTR
        ESTRUCTURA TORRE PYL PYLONE TR #
    """,
    "leg": "POLE LEG P PL POL PP PPOLE UP UPOL UPOLE POTEAU POSTE PALO PATA",
    "distance": "OS OFF OFFS OFFSET OSH",
    "counted": "ANC ANCH ANCHOR ANCHORS GUY DG DOWNGUY RP SHOT RESHOT",
    "measure": """
        PT PNT POINT EL ELEV ELEVATION HT HGT HEIGHT HI HR ROD RH STA STATION CLASS CLS ID SN TAG
        FILE DAY
    """,
    "unit": """
        FT FEET FOOT ' " IN INCH M DEG
    """,
    "along": "BK BACK AH AHD AHEAD FWD ATRAS ADELANTE",
    "side": """
        BK BACK AH AHD AHEAD FWD ATRAS ADELANTE L R LT RT LEFT RIGHT N S E W NORTH SOUTH EAST WEST
        NE NW SE SW FRONT REAR BIS BISECT BISECTOR AZ
    """,
    "control": "CP BM TBM CONTROL CTRL MON MONUMENT REBAR RBR IRON BRASS CAP BENCHMARK PK MAG NGS",
    "check": "CHK CHKD CHECK CHECKED CK",
    "plain": """
        RESHOT RESHOOT RE RS AGAIN REPEAT REDO ASBUILT ASB SET NEW EX EXIST EXISTING FINAL FIN OK
        BASE BUTT BOT BOTTOM BTM PIED PIE FOOT OF AT THE GRD LINE SURF LEVEL TANGENT TAN MILE MI KM
        DEADEND FND FOUND SHOT DE DU DEL LA LE WOOD STEEL RTK GPS REV LOC LOCATION AS END PI DOWN
        NOTE SEE DWN NAT NATURAL FIR CEDAR PINE LARCH
    """,
    "foreign": """
        TREE FENCE FNC ROAD RD EDGE EP EOP WIRE COND CONDUCTOR SAG OHGW OPGW INS INSULATOR CULVERT
        GATE BANK TOE DITCH BLDG BUILDING HOUSE SIGN VALVE HYD LIGHT TEL XFMR TRANSFORMER MIDSPAN
        SPAN BTW BETWEEN NEAR NR BY NEXT ROW PROP CREEK STREAM WALL RIDGE SWALE CORNER NOT OR TO
        THRU REMOVED OLD
    """,
}
_ITEMS: Mapping[ShotItem, str] = {
    "hub": "HUB HUBS LATH STK STAKE STAKES TACK PIN OS OFF OFFS OFFSET OSH RP REF PIQUET ESTACA",
    "anchor": "ANC ANCH ANCHOR ANCHORS GUY DG DOWNGUY DEADMAN SCREW LOG ANCLA RETENIDA HAUBAN",
    "crossing": "XING CROSSING CRUCE",
    "top": "TOP TOPS SOMMET TETE",
    "tip": "TIP ARM XARM",
    "face": "FACE FC",
    "centre": "CL CTR CENTER CENTRE CENTERLINE CNTR CEN CENTRO",
    "ground": "GL GND GRND GROUND GROUNDLINE NG GS EG GRADE SOL SUELO",
}
#: Word -> the item it names.
ITEMS: Mapping[str, ShotItem] = {word: item for item, listed in _ITEMS.items() for word in listed.split()}


_PARTS = "|".join(word for item in ("top", "tip", "face") for word in _ITEMS[item].split())
_NAMES_A_PART = re.compile(rf"(?<![A-Z])(?:{_PARTS})(?![A-Z])", re.IGNORECASE)


def names_a_part(text: str) -> bool:
    """Say whether a description has a word for a part of a pole, its top, an arm or its face.

    >>> names_a_part("12/3 A top"), names_a_part("12/3 A STOPPED")
    (True, False)
    """
    return _NAMES_A_PART.search(text) is not None


def item_named(text: str) -> ShotItem:
    """Return the item that a cell names, "other" where it names none.

    >>> item_named("Pole"), item_named("offset hub"), item_named("guy anchor"), item_named("?")
    ('pole', 'hub', 'anchor', 'other')
    """
    words = text.upper().split()
    named = {ITEMS[word] for word in words if word in ITEMS}
    if "hub" in named or len(named) == 1:
        return "hub" if "hub" in named else named.pop()
    if any("control" in ROLES.get(word, NO_ROLE) for word in words):
        return "check"
    return "pole" if any("leg" in ROLES.get(word, NO_ROLE) for word in words) else "other"


def _by_word() -> Mapping[str, frozenset[Role]]:
    roles: dict[str, set[Role]] = defaultdict(set)
    for role, listed in _ROLES.items():
        for word in listed.split():
            roles[word].add(role)
    for word in ITEMS:
        roles[word].add("item")
    return {word: frozenset(found) for word, found in roles.items()}


#: Word -> all that it may do.
ROLES = _by_word()
NO_ROLE: frozenset[Role] = frozenset()
#: What words may do that stand between a number and its pole.
JOINING: frozenset[Role] = frozenset({"structure", "leg", "item", "plain", "check"})
#: Numbers by which crews tell poles whatever the owner calls them.
PLACES: Mapping[str, str] = {"1": "A", "2": "B", "3": "C"}

_PHRASES = re.compile(
    r"""(?<![\w/.\-])(?:20\d\d(?P<ymd>[-/.])\d{1,2}(?P=ymd)\d{1,2}
        | \d{1,2}(?P<mdy>[-/.])\d{1,2}(?P=mdy)(?:20)?[2-3]\d)(?![\w/.\-]*\d)
    | (?<![A-Z0-9])(?:
        (?:\d\d+[-/]H[1-6] | H[1-6][-/]\d\d+ | D(?:OUG(?:LAS)?)?\.?[\s-]FIR) (?![A-Z0-9])
        | (?P<RESHOT>RE[-\s]SHOT) | (?P<ASBUILT>AS[-\s](?:SET|BUILT))
        | (?P<CL>C/L(?![A-Z])) | (?P<OS>O/S(?![A-Z]))
        | (?P<TOP>POLE[-\s_]TIP(?![A-Z]) | TIP\sOF\sPOLE)
        | (?P<TIP>X?ARM[\s_]END(?![A-Z])) | (?P<XARM>(?:CROSS|X)[-\s]?ARMS?(?![A-Z]))
        | (?P<DEADEND>DEAD[-\s]END)
        | (?P<ANC>ANC(?:HOR)?\sROD(?![A-Z]))
        | (?P<HUB>HUB\s?&\s?TACK|H&T(?![A-Z]))
        | (?P<BANK>TOP\sOF\s(?:BANK|SLOPE)|TOB(?![A-Z])|(?:GROUND|GND)\sROD)
        | (?P<RP>REF\.?\s(?:PT|POINT)) | (?P<WITH>W/)
        | (?P<HT>[HRZ]\s?=(?=\s?\d)) | (?P<SHOT>\d\sOF\s\d(?![\w/.\-]))
        | (?P<PROP>(?:R\.?O\.?W\.?|R/W|RIGHT\sOF\sWAY|PROP(?:ERTY)?(?:\sLINE)?)
            \s(?:COR(?:NER)?\s)?(?:MON(?:UMENT)?|PIN|IRON|REBAR|CAP)(?![A-Z]))
        | (?:MILE|MI|KM|SHEET|SHT)\s?(?P<mile>\d+),?\s(?:STR|STRUCTURE|NO)[.\s\#]*(?P<seq>\d+)
        | (?:STR|STRUCTURE)[.\s\#]*(?P<seq2>\d+),?\s(?:MILE|MI|KM|SHEET|SHT)\s?(?P<mile2>\d+)
        | (?P<one>[A-Z])\.(?P<two>[A-Z])\.(?=[\s\d]|$))""",
    re.VERBOSE,
)


_NUMERO = re.compile("N\\.?[\N{DEGREE SIGN}\N{MASCULINE ORDINAL INDICATOR}]")


def runs_in(text: str) -> list[Run]:
    """Return the letters and digits of a description, without its comment, dates and frame names.

    >>> [run.text for run in runs_in("STR 12-3 POLEA O/S 25' BK ; 4/4 C")]
    ['STR', '12', '3', 'POLE', 'A', 'OS', '25', "'", 'BK']
    """
    plain = text.split(";", 1)[0].upper()
    if not plain.isascii():
        plain = _NUMERO.sub("NO ", plain).replace("\N{DEGREE SIGN}", " DEG ")
        apart = unicodedata.normalize("NFD", plain)
        plain = "".join(sign for sign in apart if not unicodedata.combining(sign))
    runs: list[Run] = []
    for run in runs_of(_PHRASES.sub(_written, plain)):
        word = run.text
        if len(word) > 1 and word not in ROLES and "leg" in ROLES.get(word[:-1], NO_ROLE):
            runs += [Run(word[:-1], run.gap), Run(word[-1], "")]
        else:
            runs.append(run)
    return runs


def _written(found: re.Match[str]) -> str:
    if found["seq"] or found["seq2"]:
        return f"{found['mile'] or found['mile2']}/{found['seq'] or found['seq2']}"
    if found["one"]:
        return found["one"] + found["two"]
    return next((f"{word} " for word, part in found.groupdict().items() if part and word.isupper()), " ")
