"""What must hold: the motor's plate."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.sizing.fastening import HOLDS, plate_if_known
from ridesim.vehicle import Build
from ridesim.words import Finding


def plate_slips(build: Build) -> Iterator[Finding]:
    """A plate whose bolts do not grip it against the chain's pull; nothing where bolts or chain are not stated."""
    found = plate_if_known(build)
    if found is not None and found.chain_pull_n > 0.0 and found.holds < HOLDS:
        mend = "More or thicker bolts, of class 8.8, a stop behind the plate that takes the pull, or the sprocket nearer to the plate."
        yield Finding(
            "plate-slips", "warning", f"{found.sentence} {mend}", {"pull_n": found.chain_pull_n, "holds": found.holds}
        )
