"""Run the command line with `python -m linemap`."""

from __future__ import annotations

from linemap.cli import main

if __name__ == "__main__":
    main()
