"""Write the files of the invented demo line into a folder: `python demo/generator OUT_FOLDER`."""

from __future__ import annotations

import sys
from pathlib import Path

from conditions import write_conditions
from context import write_context
from control import write_control
from crew_lists import write_crew_lists
from design_files import write_design_files
from facts import write_facts
from framing import write_framing
from guys import write_guys
from job_file import write_job_file
from messy import write_messy
from planned import write_planned
from records import write_records
from route import Route
from shots import write_shot_files
from state import done

__all__ = ["main", "write_all"]


def write_all(folder: Path) -> None:
    """Write every file; the folder is made when it is missing, files in it are overwritten."""
    folder.mkdir(parents=True, exist_ok=True)
    route = Route.demo()
    structures = write_design_files(folder, route)
    surveyed = done(structures, "surveyed")
    write_shot_files(folder, route, surveyed)
    write_control(folder, route)
    write_records(folder, structures)
    write_conditions(folder, structures)
    write_context(folder, route)
    write_framing(folder)
    write_guys(folder, structures)
    write_crew_lists(folder, structures)
    write_facts(folder)
    write_planned(folder)
    write_job_file(folder)
    write_messy(folder / "messy", route, structures, surveyed)


def main(arguments: list[str]) -> int:
    """Run with one argument, the folder; return the exit code."""
    if len(arguments) != 1:
        print("usage: python demo/generator OUT_FOLDER", file=sys.stderr)
        return 2
    folder = Path(arguments[0])
    write_all(folder)
    count = sum(path.is_file() for path in folder.rglob("*"))
    print(f"wrote {count} files of the invented line to {folder}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
