"""The terminal command ``ridesim``: parse, call, print."""

from __future__ import annotations

import argparse
import json
import os
import shlex
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from ridesim import data
from ridesim.day import Day, load_day
from ridesim.forms import not_an_input, write_beside_then_replace
from ridesim.vehicle import Build, load_build
from ridesim.words import InputProblem

if TYPE_CHECKING:
    from ridesim.choose import Comparison

DONE, COULD_NOT, BAD_INPUT = 0, 1, 2
START_NOTEBOOK, MAIN_NOTEBOOK = "0_start.ipynb", "3_choose_drive.ipynb"
LAB_SETTINGS = Path(__file__).resolve().parent / "show" / "lab"
"""JupyterLab reads this beside the user's own settings: no question about news, no look for updates."""
SERVER_ENDS_S = 10.0
"""The server may take so long to end its kernels. [s]"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command.

    Returns
    -------
    int
        0 done, 1 could not, 2 bad input.
    """
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except InputProblem as problem:
        print(problem, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # Whoever read the output has seen enough; nothing more may be written at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as problem:
        print(f"Could not: {problem}", file=sys.stderr)
        return COULD_NOT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ridesim", description="Will the show vehicle do its day? Without a command: opens the notebooks.",
        epilog="Builds and days are paths to TOML files or bare shipped names. Shipped builds: "
        + ", ".join(data.names("builds")) + ". Shipped days: " + ", ".join(data.names("days")) + ".",
    )  # fmt: skip
    parser.set_defaults(run=_open, builds=[], day=None, no_browser=False)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    compare = commands.add_parser("compare", help="compare builds on a day")
    compare.add_argument("builds", nargs="+", metavar="BUILD")
    compare.add_argument("--day", required=True)
    compare.add_argument("--all", action="store_true", help="print every figure and every note")
    compare.add_argument(
        "--draws", type=int, metavar="N", help="vehicles and days to draw from what is unsure; 0: none"
    )
    compare.add_argument("--json", action="store_true", help="print plain data instead of a table")
    compare.add_argument("--sheet", metavar="FILE.html", help="write the build sheet, to print from a browser")
    compare.set_defaults(run=_compare)

    gearing = commands.add_parser("gearing", help="which sprockets do a day, at which voltage")
    gearing.add_argument("build", metavar="BUILD")
    gearing.add_argument("--day", required=True)
    gearing.add_argument(
        "--blocks", type=int, nargs="+", metavar="N", help="blocks in series to try; else the build's own"
    )
    gearing.add_argument("--gearbox", type=float, nargs="+", metavar="R", help="gearbox ratios to try; else its own")
    gearing.add_argument(
        "--first-stage",
        nargs="+",
        metavar="A:B",
        help="chains between motor and sprocket shaft to try, by their teeth; else none",
    )
    gearing.add_argument("--csv", metavar="FILE", help="write the whole map")
    gearing.set_defaults(run=_gearing)

    wiring = commands.add_parser("wiring", help="cable and fuse of every circuit, checked against a day")
    wiring.add_argument("build", metavar="BUILD")
    wiring.add_argument("--day", help="the day whose currents count; else the controller's limits alone")
    wiring.add_argument("--csv", metavar="FILE", help="write the circuits")
    wiring.set_defaults(run=_wiring)

    simulate = commands.add_parser("simulate", help="one build's day in detail")
    simulate.add_argument("build", metavar="BUILD")
    simulate.add_argument("--day", required=True)
    simulate.add_argument("--csv", metavar="FILE", help="write the kept steps")
    simulate.add_argument("--json", action="store_true", help="print plain data instead of text")
    simulate.set_defaults(run=_simulate)

    check = commands.add_parser("check", help="check files and list the defaults in play")
    check.add_argument("files", nargs="*", metavar="FILE")
    check.add_argument("--schema", action="store_true", help="print the JSON schemas of builds and days")
    check.set_defaults(run=_check)

    opens = commands.add_parser("open", help="open the comparison of builds in the notebook")
    opens.add_argument("builds", nargs="*", metavar="BUILD")
    opens.add_argument("--day")
    opens.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")
    opens.set_defaults(run=_open)
    return parser


@contextmanager
def _says_that_it_compiles() -> Iterator[None]:
    """Tell a user who waits for the first run why; quiet where the machine code is already there."""
    from ridesim.physics import compiled

    text = "Compiling the equations, once after installation or a new version: usually 20 to 60 seconds ..."
    timer = threading.Timer(1.5, print, [text], {"file": sys.stderr, "flush": True})
    timer.daemon = True
    begun: list[bool] = []

    def begin() -> None:
        if not begun:
            begun.append(True)
            timer.start()

    compiled.compiling = begin
    try:
        yield
    finally:
        compiled.compiling = lambda: None
        timer.cancel()


def _compare(options: argparse.Namespace) -> int:
    comparison = _compared(options.builds, options.day, options.draws)
    sheet = None
    if options.sheet is not None:
        from ridesim.show.sheet import build_sheet

        not_an_input(Path(options.sheet))
        sheet = build_sheet(comparison).save(options.sheet)
    if options.json:
        return _print_json(comparison)
    from ridesim.show.tables.text import comparison_parts

    for part in comparison_parts(comparison, options.all):
        print(part, flush=True)
    if sheet:
        print(f"\nBuild sheet written: {sheet}. Open it in a browser and print it.")
    print("\nThe same comparison in the notebook:")
    print(_pasteable([*_self(), "open", *options.builds, "--day", options.day]))
    return DONE


def _compared(builds: Sequence[str], day: str, draws: int | None = None) -> Comparison:
    """The day is read first: a message about it comes before the builds' own."""
    read = load_day(day)
    for reference, kind in ((day, "days"), *((build, "builds") for build in builds)):
        if said := data.meant(reference, kind):
            print(said, file=sys.stderr)
    with _says_that_it_compiles():
        from ridesim.choose import compare
        from ridesim.choose.how_sure import DRAWS

        return compare(builds, read, DRAWS if draws is None else draws)


def _gearing(options: argparse.Namespace) -> int:
    day, build = load_day(options.day), load_build(options.build)
    if options.csv is not None:
        not_an_input(Path(options.csv))
    with _says_that_it_compiles():
        from ridesim.choose.gearing import (
            BLOCKS,
            FIRST,
            GEARBOX,
            NO_FIRST,
            best_of,
            best_rows,
            gearing,
            made,
            over_rating,
        )
        from ridesim.show.tables.gearing_text import gearing_text

        first = [NO_FIRST, *options.first_stage] if options.first_stage else None
        asked = {BLOCKS: options.blocks, GEARBOX: options.gearbox, FIRST: first}
        found = gearing(build, day, {key: values for key, values in asked.items() if values}, progress=_progress)
        rows = best_rows(found, day)
        best = best_of(rows, build, day)
    over = {n: over_rating(made(build, n, build.drive.gearbox_ratio), day) for n in found[BLOCKS].unique().tolist()}
    print(gearing_text(found, rows, best, build, over))
    if options.csv is not None:
        write_beside_then_replace(Path(options.csv), found.to_csv(index=False))
    return DONE


def _wiring(options: argparse.Namespace) -> int:
    day, build = None if options.day is None else load_day(options.day), load_build(options.build)
    if options.csv is not None:
        not_an_input(Path(options.csv))
    with _says_that_it_compiles():
        from ridesim.choose.wiring import wiring
        from ridesim.show.tables.wiring_text import wiring_text

        found = wiring(build, day)
        print(wiring_text(found))
    if options.csv is not None:
        write_beside_then_replace(Path(options.csv), found.circuits.to_csv(index=False))
    return DONE


def _progress(done: int, every: int) -> None:
    """How far it is, for who waits at a terminal."""
    if sys.stderr.isatty():
        said = f"{done} of {every} pairs" if done < every else ""
        print(f"\r{said:40}\r", end="", file=sys.stderr, flush=True)


def _print_json(comparison: Comparison) -> int:
    print(json.dumps(comparison.as_json(), indent=2, ensure_ascii=False, allow_nan=False))
    return DONE


def _self() -> list[str]:
    """The command as the user called it."""
    called = sys.argv[0]
    if Path(called).name == "__main__.py":
        return [sys.executable, "-m", "ridesim"]
    by_path = os.path.dirname(called) and Path(called).stem == "ridesim" and shutil.which("ridesim") != called
    return [called if by_path else "ridesim"]


def _pasteable(words: Sequence[str]) -> str:
    """A command line for the shell of this system."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _simulate(options: argparse.Namespace) -> int:
    comparison = _compared([options.build], options.day)
    (candidate,) = comparison.candidates
    if options.csv:
        from ridesim.show.tables.outcome import frame_csv

        not_an_input(Path(options.csv))
        write_beside_then_replace(Path(options.csv), frame_csv(candidate.ride.frame, ["activity", "event"]))
    if options.json:
        return _print_json(comparison)
    from ridesim.show.tables.text import ride_text, verdict_lines

    print(*verdict_lines(comparison.verdicts[0]), "", ride_text(candidate.ride, candidate.findings), sep="\n")
    return DONE


def _check(options: argparse.Namespace) -> int:
    if options.schema:
        print(json.dumps({"build": Build.model_json_schema(), "day": Day.model_json_schema()}, indent=2))
        return DONE
    if not options.files:
        raise InputProblem("ridesim check", "", "no file", "one or more files, or --schema")
    from ridesim.show.tables.checked import check_text

    worst = DONE
    with _says_that_it_compiles():
        for reference in options.files:
            try:
                print(check_text(reference))
            except InputProblem as problem:
                print(problem, file=sys.stderr)
                worst = BAD_INPUT
    return worst


def _open(options: argparse.Namespace) -> int:
    """Open the notebooks in JupyterLab on 127.0.0.1, token on."""
    environment = dict(os.environ)
    if options.builds:
        for reference in options.builds:
            load_build(reference)
        environment["RIDESIM_BUILDS"] = json.dumps([_absolute(reference, "builds") for reference in options.builds])
    if options.day:
        load_day(options.day)
        environment["RIDESIM_DAY"] = _absolute(options.day, "days")
    settings = [str(LAB_SETTINGS), *filter(None, [environment.get("JUPYTER_CONFIG_PATH")])]
    environment["JUPYTER_CONFIG_PATH"] = os.pathsep.join(settings)
    folder = _notebook_folder()
    call = [
        sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder}", "--ServerApp.ip=127.0.0.1",
        f"--LabApp.default_url=/lab/tree/{MAIN_NOTEBOOK if options.builds or options.day else START_NOTEBOOK}",
    ]  # fmt: skip
    if options.no_browser:
        call.append("--no-browser")
    return _until_it_ends(call, environment)


def _until_it_ends(call: Sequence[str], environment: dict[str, str]) -> int:
    """Run the server; when this command is stopped, end it and with it the kernels.

    It has a process group of its own, so that Ctrl-C in the terminal reaches only this command.
    """
    server = subprocess.Popen(call, env=environment, start_new_session=True)
    try:
        return server.wait()
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)
        server.terminate()
        try:
            server.wait(SERVER_ENDS_S)
        except subprocess.TimeoutExpired:
            server.kill()


def _absolute(reference: str, kind: str) -> str:
    return str(data.find(reference, kind).resolve())


def _notebook_folder() -> Path:
    """The checkout's notebooks; from an installed wheel, a working copy in the user's folder that is never overwritten."""
    shipped = data.shipped("notebooks")
    if shipped.parent.name != "shipped":
        return shipped
    folder = Path.cwd() / "ridesim_notebooks"
    folder.mkdir(exist_ok=True)
    for source in sorted(shipped.glob("*.ipynb")):
        if not (folder / source.name).exists():
            shutil.copyfile(source, folder / source.name)
    return folder
