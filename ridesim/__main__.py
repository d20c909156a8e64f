"""Starts the command, so early that Ctrl-C and a request to end are answered in one line from the first moment."""

from __future__ import annotations

import signal
import sys
from types import FrameType


def main() -> int:
    """Run the command; see :func:`ridesim.command.main`. Stopped, it ends with the status that shells give: 130 or 143."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stop)
    from ridesim.command import main as command

    return command()


def _stop(number: int, frame: FrameType | None) -> None:
    print("Stopped.", file=sys.stderr)
    raise SystemExit(128 + number)


if __name__ == "__main__":
    sys.exit(main())
