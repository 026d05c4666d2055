"""What the shots of a session may share: the laws that move a survey or the stakes, and how likely each is.

Lengths are feet where a name says so; an adjustment turns them into the unit of its lines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

LawName = Literal["shift", "scale", "rotation", "similarity", "foot small", "foot large", "ground", "twice"]
#: How much smaller a coordinate in US survey feet is than the same in international feet (85 FR 62698).
FOOT = 1.0 - 0.3048 / (1200.0 / 3937.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """One way in which all shots, or all stakes, may be off together."""

    name: LawName
    #: Numbers it leaves free: shift east, shift north, scale, clockwise rotation.
    free: tuple[bool, bool, bool, bool]
    #: Probability that a survey is moved by it, before anything was observed. Common practice, no source.
    prior: float
    #: What it is called beside the others, and what to look up before deciding.
    words: str
    asks_for: str


_POINT = "the combined factor and the base point of the survey"
LAWS: tuple[Law, ...] = (
    Law(
        name="shift",
        free=(True, True, False, False),
        prior=0.05,
        words="one constant shift",
        asks_for="check-in residuals on known points, the antenna height point, the base coordinates",
    ),
    Law(
        name="scale",
        free=(True, True, True, False),
        prior=0.01,
        words="another scale about a point",
        asks_for=_POINT,
    ),
    Law(
        name="rotation",
        free=(True, True, False, True),
        prior=0.01,
        words="a rotation",
        asks_for="the basis of bearing: true or grid north, and the backsight",
    ),
    Law(
        name="similarity",
        free=(True, True, True, True),
        prior=0.003,
        words="shift, scale and rotation together",
        asks_for="the localisation of the survey",
    ),
    *(
        Law(
            name=name,
            free=(False, False, False, False),
            prior=0.01,
            words="the other foot",
            asks_for="the unit setting of the controller, and the foot of the control sheet",
        )
        for name in ("foot small", "foot large")
    ),
    Law(
        name="ground",
        free=(True, True, False, False),
        prior=0.003,
        words="ground distances taken as grid",
        asks_for=_POINT,
    ),
    Law(
        name="twice",
        free=(True, True, False, False),
        prior=0.003,
        words="the combined factor applied twice",
        asks_for=_POINT,
    ),
)
FREE = np.array([law.free for law in LAWS])
PRIOR = np.array([law.prior for law in LAWS])
INDEX: Mapping[str, int] = MappingProxyType({law.name: index for index, law in enumerate(LAWS)})
#: Law whose free numbers check-ins must give by themselves where they prove this one: a foot is held
#: against the shift it makes.
ALONE = np.array([INDEX["shift"] if not any(law.free) else index for index, law in enumerate(LAWS)])
#: Probability that nothing is shared; and that the line is staked off by a law, that survey and stakes come
#: from one moved base, and that both are moved otherwise, each as a share of the survey's own.
NOTHING, STAKED, SAME_BASE, BOTH = 0.8, 0.6, 0.3, 0.05
#: An explanation stands with at least this probability.
STANDS = 0.05
#: A number is as likely in every decade between these, feet.
SMALL_FT, LARGE_FT = 0.05, 500.0
#: Sigmas found are so much too small, at most: weights and starts are chosen by the same vectors.
WIDER = 1.2
#: What staking as a whole scatters beside a correction, per axis, feet.
FLOOR_FT = 0.03
#: Share of frames, and of check-ins, that are bad.
BAD_FRAME, BAD_CHECK_IN = 0.15, 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One combination of laws: what moved the survey, and what the stakes."""

    #: None = nothing moved the survey, or the stakes.
    survey: Law | None = None
    staked: Law | None = None
    #: True where the stakes were set from the base that moved the survey: the frames look right.
    same_base: bool = False

    @property
    def words(self) -> str:
        """Say it in a few words.

        >>> Explanation(survey=LAWS[0]).words, Explanation().words
        ('survey moved (one constant shift)', 'nothing in common')
        """
        parts = [f"survey moved ({self.survey.words})"] if self.survey else []
        if self.same_base:
            parts.append("stakes set from the same moved base")
        elif self.staked:
            parts.append(f"line staked off ({self.staked.words})")
        return " and ".join(parts) or "nothing in common"


#: Every combination, in the order of the columns of `Adjustment.share`.
EXPLANATIONS: tuple[Explanation, ...] = (
    Explanation(),
    *(Explanation(staked=law) for law in LAWS),
    *(Explanation(survey=law) for law in LAWS),
    *(Explanation(survey=law, same_base=True) for law in LAWS),
    *(Explanation(survey=law, staked=other) for law in LAWS for other in LAWS),
)
#: Of each explanation the move it tells of the survey: 0 = none, 1 + law = by frames and check-ins together,
#: 1 + len(LAWS) + law = by check-ins alone.
MOVE = np.array(
    [0] * (1 + len(LAWS))
    + [1 + law for law in range(len(LAWS))]
    + [1 + len(LAWS) + law for law in range(len(LAWS))]
    + [1 + len(LAWS) + law for law in range(len(LAWS)) for _ in LAWS]
)
