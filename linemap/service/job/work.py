"""What a job declares of the work: its order, its steps of guys and spans, what steps weigh, its blocks."""

from __future__ import annotations

from linemap.domain.record.workflow import WORKFLOWS
from linemap.service.job import declared, declared_steps
from linemap.service.job.setting import Known, Setting, part_step_parts, role_parts, weight_parts


def _workflow(text: str, _known: Known) -> str:
    declared_steps.read_workflow(text)
    return " ".join(text.casefold().split())


def _blocks(text: str, _known: Known) -> str:
    declared.read_blocks_owned(text)
    return text.strip()


WORK = (
    Setting(
        "workflow",
        "order of the work",
        "work",
        means="poles framed on the ground and then set, or set first and framed aloft",
        example="framed aloft",
        read=_workflow,
        shows="next, cards, progress",
        choices=tuple(WORKFLOWS),
    ),
    Setting(
        "part_step",
        "steps of guys and spans",
        "work",
        means="a step of each guy of the schedule, or of the span ahead (wire), and what comes before it",
        example="strung=span after set, blocks hung: contract 3.4",
        read=lambda text, known: declared_steps.read_part_step(text, known.settings),
        parts=part_step_parts,
        shows="phone, cards, progress, next",
        when_made=False,
    ),
    Setting(
        "punch_roles",
        "who closes punch items",
        "work",
        means="roles whose closing of a punch item counts, with its evidence; anybody who records otherwise",
        example="inspector, manager: contract 9.3",
        read=lambda text, _known: declared_steps.read_punch_roles(text),
        write=lambda kept, _known: ", ".join(kept["roles"]) or "anybody",
        sourced=True,
        shows="phone, cards, exceptions by crew",
        when_made=False,
    ),
    Setting(
        "step_weight",
        "weights of steps",
        "work",
        means="share of a step in the physical progress of a structure, any unit; 0 is not counted",
        example="set=30: bid item 4",
        read=lambda text, known: declared_steps.read_step_weight(
            text, known.kept("step_weight") or {}, workflow=known.workflow
        ),
        parts=weight_parts,
        shows="progress",
        when_made=False,
    ),
    Setting(
        "step_roles",
        "roles that record steps",
        "work",
        means="whose record makes a step done: crew, surveyor, inspector, manager, or anybody",
        example="inspected=inspector, manager: contract 4.2",
        read=lambda text, known: declared_steps.read_step_roles(
            text, known.kept("step_roles") or {}, workflow=known.workflow
        ),
        parts=role_parts,
        shows="phone, next, progress",
        when_made=False,
    ),
    Setting(
        "blocks_owned",
        "stringing blocks owned",
        "work",
        means="stringing blocks the job owns, for how far those that do not hang yet last",
        example="280",
        read=_blocks,
        shows="progress",
    ),
)
