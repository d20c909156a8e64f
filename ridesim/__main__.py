"""Starts the command, so early that Ctrl-C and a request to end are answered in one line from the first moment."""

from __future__ import annotations

import codecs
import io
import os
import signal
import sys
from types import FrameType

PLAIN = {
    "−": "-",
    "–": "-",
    "“": '"',
    "”": '"',
    "·": ".",
    "×": "x",
    "²": "2",
    "³": "3",
    "°": "deg ",
    "Ω": " ohm",
    "→": "->",
    "…": "...",
}
"""What is written where a terminal does not know a sign; for all others a question mark."""


def main() -> int:
    """Run the command; see :func:`ridesim.command.main`. Stopped, it ends with the status that shells give: 130 or 143."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stop_at_once)
    codecs.register_error("plain", _plain)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plain")
    from ridesim.command import main as command

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stop)
    return command()


def _plain(problem: UnicodeError) -> tuple[str, int]:
    assert isinstance(problem, UnicodeEncodeError)
    return "".join(PLAIN.get(sign, "?") for sign in problem.object[problem.start : problem.end]), problem.end


def _stop_at_once(number: int, frame: FrameType | None) -> None:
    """While modules load nothing needs ending, and an exception raised inside an import may come out as another one."""
    os.write(2, b"Stopped.\n")
    os._exit(128 + number)


def _stop(number: int, frame: FrameType | None) -> None:
    print("Stopped.", file=sys.stderr)
    raise SystemExit(128 + number)


if __name__ == "__main__":
    sys.exit(main())
