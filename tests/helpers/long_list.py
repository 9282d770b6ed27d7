"""A station list far longer than any regulator's for one place."""

from __future__ import annotations

from pathlib import Path


def write_long_list(path: Path, rows: int = 50_000) -> Path:
    """Write it as CSV; the last station is Q and the number of rows less one."""
    lines = "".join(
        f"Q{n},Hill {n},{30 + n % 1500 / 100:.4f},-{70 + n % 5000 / 100:.4f},"
        f"{2 + n % 35},{n % 900 + 0.5},{n % 2000},{n % 300},H\n"
        for n in range(rows)
    )
    path.write_text(f"id,name,lat,lon,rf,erp_kw,antenna_amsl_m,haat_m,pol\n{lines}", "utf-8")
    return path
