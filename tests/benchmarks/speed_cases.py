"""All rows of the table of speed; run by itself it tells the greatest memory of one of them."""

from __future__ import annotations

import sys
from pathlib import Path

from speed_commands import COMMANDS
from speed_inside import INSIDE
from speed_work import own_peak_mb

CASES = (*COMMANDS, *INSIDE)

if __name__ == "__main__":
    chosen = next(case for case in CASES if case.what == sys.argv[1])
    chosen.ready(Path(sys.argv[2])).run()
    print(own_peak_mb())
