"""What the records of the field say of surveyed structures, worked out where somebody asks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import Pole
from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids, first_copies
from linemap.domain.record.status import Key, StepState, StructureStatus, fold_structure
from linemap.domain.record.workflow import Workflow


class Records:
    """What the records say of the structures, besides the survey."""

    def __init__(
        self, figures: Figures, events: Iterable[Event], poles: Iterable[Pole], workflow: Workflow
    ) -> None:
        self._figures = figures
        self._every_event = events
        self._every_pole = poles
        self._workflow = workflow
        self._statuses: dict[Key, StructureStatus] = {}

    def status(self, key: Key) -> StructureStatus:
        """Return how far a structure is."""
        if key not in self._statuses:
            self._statuses[key] = fold_structure(
                self.events(key), self._workflow, key=key, letters=self._letters.get(key),
                corrected=self._corrected,
            )  # fmt: skip
        return self._statuses[key]

    def events(self, key: Key) -> Sequence[Event]:
        """Return what was recorded at a structure."""
        return self._events.get(key, ())

    def poles(self, key: Key) -> Sequence[Pole]:
        """Return what the pole schedule says of a structure."""
        return self._poles.get(key, ())

    def crew(self, key: Key, step: str) -> str:
        """Return the crew that did a step, "" when it is not recorded."""
        state = self._state(key, step)
        return "" if state is None else state.crew

    def day(self, key: Key, step: str) -> str:
        """Return the day a step was done as decisions on a cause name it, ISO 8601; "" = not recorded."""
        state = self._state(key, step)
        return "" if state is None else state.at.date().isoformat()

    def _state(self, key: Key, step: str) -> StepState | None:
        status = self.status(key)
        return status.done.get(step) or status.begun.get(step)

    @cached_property
    def _events(self) -> dict[Key, list[Event]]:
        gathered: dict[Key, list[Event]] = defaultdict(list)
        for event in self._every_event:
            gathered[event.key].append(event)
        return dict(gathered)

    @cached_property
    def _corrected(self) -> frozenset[str]:
        every = (event for group in self._events.values() for event in group if event.supersedes)
        return corrected_ids(first_copies(every))

    @cached_property
    def _poles(self) -> dict[Key, tuple[Pole, ...]]:
        by_letter: dict[Key, dict[str, Pole]] = defaultdict(dict)
        for pole in self._every_pole:
            by_letter[pole.line, pole.structure][pole.letter] = pole
        return {key: tuple(each.values()) for key, each in by_letter.items()}

    @cached_property
    def _letters(self) -> dict[Key, str]:
        return self._figures.letters_by_key()
