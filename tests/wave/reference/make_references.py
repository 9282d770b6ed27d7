"""Writes shared/wave_scenes.csv.gz: the split-step field of every random scene.

Run it with the repository as the working directory and on the module path; it takes about half an
hour on one core. With two numbers it writes the scenes from the first up to the second only,
as text, to the standard output.
"""

from __future__ import annotations

import gzip
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from scenes import scene
from split_step import reference_field

TABLE = Path(__file__).parents[3] / "shared" / "wave_scenes.csv.gz"
SCENES = 500
HEADER = "index,field_real,field_imaginary,change_db,points"


def lines(indices: Iterable[int]) -> Iterator[str]:
    for index in indices:
        drawn = scene(index)
        found = reference_field(drawn.screens, drawn.wavelength_m)
        yield (
            f"{index},{found.field.real:.7g},{found.field.imag:.7g},"
            f"{found.change_db:.3f},{found.points}"
        )


if __name__ == "__main__":
    if len(sys.argv) == 3:
        for line in lines(range(int(sys.argv[1]), int(sys.argv[2]))):
            print(line, flush=True)
    else:
        text = "\n".join([HEADER, *lines(range(SCENES))]) + "\n"
        TABLE.write_bytes(gzip.compress(text.encode("utf-8"), mtime=0))
