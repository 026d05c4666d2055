"""Second evidence at a structure: are the labels the other way round, or does the frame stand turned.

Coordinates show that A and B are exchanged, never which of two things happened: the labels of the shots (or
the tags) are exchanged and the frame stands right, or the frame stands turned half a turn. Brands, the ground
wire, the arm's face and a photo with a known direction tell the two apart, because they belong to the wood
and not to the label. Facts are recorded as seen; this module only weighs them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from linemap.domain.design.structure import Pole
from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.survey.fact import Face, PoleLetter, RecordedFact

#: Brands give the length in steps of 5 ft; a length nearer than this to the schedule's is the same.
_SAME_LENGTH_FT = 1.0


class Conclusion(StrEnum):
    """What the evidence comes to."""

    LABELS = "labels reversed"
    """The frame stands as designed; the labels are exchanged."""
    FRAME = "frame turned"
    """The poles stand in each other's places."""
    OPEN = "still open"
    """The facts say nothing, or contradict each other."""
    AS_DESIGNED = "as designed"
    """Nothing is exchanged: neither the coordinates nor the facts say so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """The conclusion with the facts that led to it."""

    conclusion: Conclusion
    #: One sentence.
    words: str
    #: What each fact says, in the order recorded.
    reasons: tuple[str, ...]
    #: What to look at next while it is open; "" otherwise.
    asks_for: str


def decide(
    facts: Sequence[RecordedFact],
    *,
    coordinates_reversed: bool,
    schedule: Iterable[Pole] = (),
    last: PoleLetter = "B",
    a_left: bool = True,
    arm_face: Face | None = None,
    called: Called = BY_LETTER,
) -> Decided:
    """Weigh the second evidence of one structure.

    Parameters
    ----------
    facts : sequence of RecordedFact
        Of `SECOND_EVIDENCE`, as recorded; those of the middle pole say nothing.
    coordinates_reversed : bool
        True when the survey found A and the last pole exchanged.
    schedule : iterable of Pole
        The structure's poles as scheduled: lengths and classes, and which carries the ground wire.
    last : "B" or "C"
        The other outer pole.
    a_left : bool
        True where pole A belongs left, looking ahead.
    arm_face : "ahead" or "back", optional
        Face the drawing puts the arm on; not given, or with arms on both faces, the face says nothing.
    called : mapping
        What the owner calls the poles.

    Returns
    -------
    Decided
        A fact speaks for the frame as designed, for a turned frame, or says nothing. When all that speak
        agree: as designed with exchanged coordinates means exchanged labels. When they contradict each
        other, or none speaks, it stays open.

    >>> from datetime import date
    >>> seen = RecordedFact(structure="6/4", what="brand", pole="A", pointed_by="place", length_ft=70,
    ...                     who="Otter", on=date(2026, 5, 13))
    >>> poles = [Pole(line="", structure="6/4", letter=a, length_ft=f) for a, f in (("A", 75), ("B", 70))]
    >>> decide([seen], coordinates_reversed=True, schedule=poles).conclusion.value
    'frame turned'
    """
    design = _Design(
        poles={pole.letter: pole for pole in schedule if pole.letter in {"A", last}},
        last=last,
        a_left=a_left,
        arm_face=arm_face,
        swapped=coordinates_reversed,
        called=called,
    )
    said = [design.says(fact) for fact in facts]
    votes = {turned for turned, _ in said if turned is not None}
    reasons = tuple(words for _, words in said)
    if len(votes) != 1:
        contradiction = "the facts contradict each other" if votes else _nothing_words(facts)
        open_ = coordinates_reversed or bool(votes)
        return Decided(
            conclusion=Conclusion.OPEN if open_ else Conclusion.AS_DESIGNED,
            words=contradiction if open_ else "the coordinates show nothing exchanged, and no fact does",
            reasons=reasons,
            asks_for=design.asks_for(facts) if open_ else "",
        )
    conclusion = _CONCLUSIONS[votes.pop(), coordinates_reversed]
    words = _WORDS[conclusion].format(first=called["A"], last=called[last])
    if conclusion is Conclusion.FRAME and not coordinates_reversed:
        words += "; the labels follow the places, so the coordinates cannot show it"
    return Decided(conclusion=conclusion, words=words, reasons=reasons, asks_for="")


#: (frame turned, coordinates exchanged) -> conclusion.
_CONCLUSIONS: Mapping[tuple[bool, bool], Conclusion] = {
    (False, True): Conclusion.LABELS,
    (True, True): Conclusion.FRAME,
    (True, False): Conclusion.FRAME,
    (False, False): Conclusion.AS_DESIGNED,
}
_WORDS: Mapping[Conclusion, str] = {
    Conclusion.LABELS: "the frame stands as designed: exchange the labels {first} and {last}",
    Conclusion.FRAME: "the frame stands turned: pole {first} is in the place of {last}",
    Conclusion.AS_DESIGNED: "the frame and its labels stand as designed",
}


def _nothing_words(facts: Sequence[RecordedFact]) -> str:
    return "the facts do not tell labels from frame" if facts else "no second evidence is recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Design:
    """What the drawings say, and whether labels and places are exchanged in the coordinates."""

    poles: Mapping[str, Pole]
    last: str
    a_left: bool
    arm_face: Face | None
    swapped: bool
    called: Called

    def says(self, fact: RecordedFact) -> tuple[bool | None, str]:
        """Return whether a fact shows the frame turned (None = says nothing), and that in words."""
        if fact.what == "brand":
            return self._brand(fact)
        if fact.what == "ground wire":
            return self._ground_wire(fact)
        return self._arm_face(fact) if fact.what == "arm face" else self._tag(fact)

    def place(self, fact: RecordedFact) -> str:
        """Return the place (as a design letter) of a pole; a label stands at the other one when exchanged."""
        return fact.pole if fact.pointed_by == "place" or not self.swapped else self.other(fact.pole)

    def other(self, letter: str) -> str:
        return {"A": self.last, self.last: "A"}.get(letter, letter)

    def _brand(self, fact: RecordedFact) -> tuple[bool | None, str]:
        place = self.place(fact)
        seen = _size(fact.length_ft, fact.pole_class)
        head = f"brand {seen} in the place of {self.called[place]}"
        here, there = self.poles.get(place), self.poles.get(self.other(place))
        if here is None or there is None or here is there:
            return None, f"{head}: the schedule does not give both outer poles"
        fits_here, fits_there = _fits(fact, here), _fits(fact, there)
        if fits_here and fits_there:
            return None, f"{head}: fits both poles"
        if not fits_here and not fits_there:
            own, other = (f"{_scheduled(pole)} of {self.called[pole.letter]}" for pole in (here, there))
            return None, f"{head}: neither {own} nor {other}; wrong pole?"
        owner = here if fits_here else there
        return fits_there, f"{head}: it is the {_scheduled(owner)} of pole {self.called[owner.letter]}"

    def _ground_wire(self, fact: RecordedFact) -> tuple[bool | None, str]:
        place = self.place(fact)
        wired = [letter for letter, pole in self.poles.items() if pole.ground_wire]
        head = f"ground wire in the place of {self.called[place]}"
        if len(wired) != 1 or place not in {"A", self.last}:
            return None, f"{head}: the schedule does not name one outer pole for it"
        return place != wired[0], f"{head}: it belongs on pole {self.called[wired[0]]}"

    def _arm_face(self, fact: RecordedFact) -> tuple[bool | None, str]:
        if self.arm_face is None:
            return None, f"arm on the {fact.face} face: the face of the drawing is not known"
        return (
            fact.face != self.arm_face,
            f"arm on the {fact.face} face: it belongs on the {self.arm_face} face",
        )

    def _tag(self, fact: RecordedFact) -> tuple[bool | None, str]:
        """Judge a tag: where it belongs it shows the frame right; elsewhere tag or frame may be wrong."""
        left = (fact.side == "left") == (fact.looking == "ahead")
        head = f"tag {self.called[fact.pole]} on the {fact.side}, looking {fact.looking}"
        if fact.pole not in {"A", self.last}:
            return None, f"{head}: the middle pole says nothing"
        if left == (self.a_left == (fact.pole == "A")):
            return False, f"{head}: it is where pole {self.called[fact.pole]} belongs"
        place = self.called[self.other(fact.pole)]
        return None, f"{head}: the place of {place}; the tag or the frame may be wrong"

    def asks_for(self, facts: Sequence[RecordedFact]) -> str:
        """Say what would decide, the surest first, leaving out what is recorded."""
        first, last = self.poles.get("A"), self.poles.get(self.last)
        seen = {fact.what for fact in facts}
        wanted: list[tuple[str, str]] = []
        if first is not None and last is not None and _scheduled(first) != _scheduled(last):
            own, other = (f"at {self.called[pole.letter]}" for pole in (first, last))
            sizes = f"{_scheduled(first)} belongs {own}, {_scheduled(last)} {other}"
            wanted.append(("brand", f"brands of both poles: {sizes}"))
        wired = [letter for letter, pole in self.poles.items() if pole.ground_wire]
        if len(wired) == 1:
            wanted.append(
                ("ground wire", f"the pole with the ground wire: it belongs on {self.called[wired[0]]}")
            )
        if self.arm_face is not None:
            wanted.append(("arm face", f"the face the arm is on: it belongs on the {self.arm_face} face"))
        wanted.append(("tag", f"a photo looking ahead, with the tag of {self.called['A']} in it"))
        fresh = [words for kind, words in wanted if kind not in seen]
        return (
            "; or ".join(fresh) if fresh else "look again at what is recorded, together with a second person"
        )


def _fits(fact: RecordedFact, pole: Pole) -> bool:
    """Say whether nothing read from the brand speaks against the pole."""
    length = fact.length_ft is not None and pole.length_ft is not None
    both_classes = bool(fact.pole_class and pole.pole_class)
    if length and abs((fact.length_ft or 0.0) - (pole.length_ft or 0.0)) >= _SAME_LENGTH_FT:
        return False
    return not both_classes or fact.pole_class.upper() == pole.pole_class.upper()


def _size(length_ft: float | None, pole_class: str) -> str:
    parts = ["" if length_ft is None else f"{length_ft:g}", pole_class]
    return "-".join(part for part in parts if part) or "not readable"


def _scheduled(pole: Pole) -> str:
    return _size(pole.length_ft, pole.pole_class)
