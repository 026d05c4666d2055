"""Run the command line with `python -m linemap`."""

from __future__ import annotations

from linemap.cli.main import main

if __name__ == "__main__":
    main()
