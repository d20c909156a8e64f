"""The terminal command ``ridesim``."""

from __future__ import annotations

import argparse
import json
import os
import shlex
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from ridesim import data
from ridesim.day import Day, is_trace, load_day, load_route, load_trace
from ridesim.forms import Part, read_table, read_text, write_beside_then_replace
from ridesim.vehicle import Build, load_build
from ridesim.vehicle.pack import RATED_C
from ridesim.words import Finding, InputProblem, Uncertain, nearest, split_unit

if TYPE_CHECKING:
    from ridesim.choose import Comparison

DONE, COULD_NOT, BAD_INPUT = 0, 1, 2
MAIN_NOTEBOOK = "3_choose_drive.ipynb"
_OPEN = 4.0
"""High over low end of a band above which a bench log's value is not printed."""


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
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return COULD_NOT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ridesim", description="Will the show vehicle do its day? Without a command: opens the notebooks.",
        epilog="Builds and days are paths to TOML files or bare shipped names. Shipped builds: "
        + ", ".join(data.names("builds")) + ". Shipped days: " + ", ".join(data.names("days")) + ".",
    )  # fmt: skip
    parser.set_defaults(run=_open, builds=[], day=None, no_browser=False)
    commands = parser.add_subparsers(title="commands", metavar="")

    compare = commands.add_parser("compare", help="compare builds on a day")
    compare.add_argument("builds", nargs="+", metavar="BUILD")
    compare.add_argument("--day", required=True)
    compare.add_argument("--json", action="store_true", help="print plain data instead of a table")
    compare.add_argument("--sheet", metavar="FILE.html", help="write the build sheet, to print from a browser")
    compare.set_defaults(run=_compare)

    simulate = commands.add_parser("simulate", help="one build's day in detail")
    simulate.add_argument("build", metavar="BUILD")
    simulate.add_argument("--day", required=True)
    simulate.add_argument("--csv", metavar="FILE", help="write the kept steps")
    simulate.add_argument("--json", action="store_true", help="print plain data instead of text")
    simulate.set_defaults(run=_simulate)

    check = commands.add_parser("check", help="check files and list the defaults in play")
    check.add_argument("files", nargs="*", metavar="FILE")
    check.add_argument("--schema", action="store_true", help="print the JSON schemas of build and day files")
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
    ride = Path(__file__).resolve().parent / "ride" / "__pycache__"
    if any(ride.glob("*.nbi")):
        yield
        return
    timer = threading.Timer(1.5, _tell_once)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


@cache
def _tell_once() -> None:
    print("Compiling the equations, once after installation: less than a minute ...", file=sys.stderr, flush=True)


def _compare(options: argparse.Namespace) -> int:
    day = load_day(options.day)
    builds = [_load_build(reference) for reference in options.builds]
    _distinct(builds, options.builds)
    with _says_that_it_compiles():
        from ridesim.choose import compare

        comparison = compare(builds, day)
        sheet = _write_sheet(comparison, options.sheet) if options.sheet is not None else None
    if options.json:
        print(json.dumps(comparison.as_json(), indent=2, ensure_ascii=False, allow_nan=False))
        return DONE
    from ridesim.show.tables.text import comparison_text

    print(comparison_text(comparison))
    if sheet:
        print(f"\nBuild sheet written: {sheet}. Open it in a browser and print it.")
    print("\nThe same comparison in the notebook:")
    print(_pasteable([*_self(), "open", *options.builds, "--day", options.day]))
    return DONE


def _write_sheet(comparison: Comparison, file: str) -> Path:
    from ridesim.show.sheet import build_sheet

    return build_sheet(comparison).save(file)


def _distinct(builds: Sequence[Build], references: Sequence[str]) -> None:
    seen: dict[str, str] = {}
    for build, reference in zip(builds, references, strict=True):
        if build.name in seen:
            raise InputProblem(
                str(reference),
                "name",
                f'"{build.name}", which {seen[build.name]} has too',
                "builds with names of their own",
            )
        seen[build.name] = str(reference)


def _load_build(reference: str) -> Build:
    """A build whose motor can do what its nameplate says; else a message that names the build's file."""
    build = load_build(reference)
    with _says_that_it_compiles():
        from ridesim.ride.machine import thermal_values

        try:
            thermal_values(build.motor)
        except InputProblem as problem:
            raise InputProblem(reference, problem.place, problem.found, problem.expected, problem.hint) from None
    return build


def _self() -> list[str]:
    """The command as the user called it."""
    called = sys.argv[0]
    if Path(called).name == "command.py":
        return [sys.executable, "-m", "ridesim.command"]
    by_path = os.path.dirname(called) and Path(called).stem == "ridesim" and shutil.which("ridesim") != called
    return [called if by_path else "ridesim"]


def _pasteable(words: Sequence[str]) -> str:
    """A command line for the shell of this system."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _simulate(options: argparse.Namespace) -> int:
    day, build = load_day(options.day), _load_build(options.build)
    with _says_that_it_compiles():
        from ridesim.choose import compare

        candidate = compare([build], day).candidates[0]
    if options.csv:
        write_beside_then_replace(Path(options.csv), candidate.ride.frame.to_csv(index=False))
    if options.json:
        from ridesim.choose.compare import Comparison

        print(json.dumps(Comparison(day, (candidate,)).as_json(), indent=2, ensure_ascii=False, allow_nan=False))
        return DONE
    from ridesim.show.tables.text import ride_text

    print(ride_text(candidate.ride, candidate.findings))
    return DONE


def _check(options: argparse.Namespace) -> int:
    if options.schema:
        print(json.dumps({"build": Build.model_json_schema(), "day": Day.model_json_schema()}, indent=2))
        return DONE
    if not options.files:
        raise InputProblem("ridesim check", "", "no file", "one or more files, or --schema")
    worst = DONE
    for reference in options.files:
        try:
            print(_checked(reference))
        except InputProblem as problem:
            print(problem, file=sys.stderr)
            worst = BAD_INPUT
    return worst


def _checked(reference: str) -> str:
    file = _found(reference)
    if file.suffix == ".csv":
        return _checked_csv(reference, file)
    table, _ = read_table(file)
    logged = _checked_log(reference, file, table)
    if logged:
        return logged
    part: Part = load_day(file) if _known_keys(Day, table) > _known_keys(Build, table) else _load_build(str(file))
    from ridesim.choose.in_play import all_in_play

    kind = "day" if isinstance(part, Day) else "build"
    lines = [f'{reference}: a good {kind}, "{getattr(part, "name", "")}". Defaults in play:']
    for each in all_in_play(part):
        if not each.given:
            lines.append(f"  {each.place} = {each.shown}" + (f"   ({each.source})" if each.source else ""))
    if len(lines) == 1:
        lines = [lines[0].replace(" Defaults in play:", " No defaults in play.")]
    warmth = part.pack.capacity_by_temperature if isinstance(part, Build) else None
    if warmth is not None and not min(warmth)[0] <= RATED_C <= max(warmth)[0]:
        lines.append("Assumed: no row of pack.capacity_by_temperature reaches 25 °C, which counts as 1.")
    return "\n".join(lines)


def _checked_log(reference: str, file: Path, table: Mapping[str, object]) -> str:
    """What there is to say of a bench log, checked as its identification checks it; nothing where the file is none."""
    from ridesim.bench.motor.identify import identify_motor
    from ridesim.bench.motor.log import RENAMED, MotorLog, load_motor_log
    from ridesim.bench.motor.next_reading import measure_next
    from ridesim.bench.warm_up import identify_warm_up
    from ridesim.bench.warm_up_log import WarmUpLog, load_warm_up

    other = max(_known_keys(Build, table), _known_keys(Day, table))
    motor_keys = _known_keys(MotorLog, table) + len(table.keys() & RENAMED.keys())
    if _known_keys(WarmUpLog, table) > max(other, motor_keys):
        warmed = identify_warm_up(load_warm_up(file), reference)
        return _log_text(reference, f'warm-up log, "{warmed.log.name}"', warmed.values, warmed.not_told, warmed.findings)
    if motor_keys > other:
        found = identify_motor(load_motor_log(file), reference)
        what = f'bench log of a {found.log.kind} motor, "{found.log.name}"'
        more = () if found.log.series_wound else (f"  Measure next: {measure_next(found)}",)
        return _log_text(reference, what, found.values, found.not_told, found.findings, *more)
    return ""


def _log_text(
    reference: str, what: str, values: Mapping[str, Uncertain], left_open: Sequence[str], findings: Sequence[Finding] = (), *more: str
) -> str:  # fmt: skip
    lines = [f"{reference}: a good {what}. It gives, with 90 % bands:"]
    lines += [f"  {_value_line(key, band)}" for key, band in values.items()]
    lines += [f"  Left open: {sentence}" for sentence in left_open]
    return "\n".join([*lines, *(f"  {finding.text}" for finding in findings), *more])


def _value_line(key: str, band: Uncertain) -> str:
    """A line for a build file; without a value to copy where the band is so wide that none can be believed."""
    if band.high <= _OPEN * band.low or band.low == band.high:
        return f"{key} = {band.value:.4g}   ({band.low:.4g} to {band.high:.4g})"
    if band.high == float("inf"):
        return f"{key}: {band.low:.4g} or more; the log does not tell"
    return f"{key}: between {band.low:.4g} and {band.high:.4g}; the log does not tell"


def _known_keys(kind: type[Part], table: Mapping[str, object]) -> int:
    """How many of a file's top keys a kind of file knows; a misspelt section must not make a day look like a build."""
    return len(table.keys() & kind.model_fields.keys())


def _found(reference: str) -> Path:
    kinds = ("builds", "days", "routes", "traces", "logs")
    for kind in kinds:
        with suppress(InputProblem):
            return data.find(reference, kind)
    logs = data.shipped("data") / "logs"
    if (logs / f"{reference}.toml").is_file():
        return logs / f"{reference}.toml"
    known = [name for kind in kinds for name in data.names(kind)] + [path.stem for path in logs.glob("*.toml")]
    near = nearest(Path(reference).stem, known)
    hint = f"Nearest shipped name: {near}." if near else ""
    raise InputProblem(
        reference, "", "no such file", "a path, or the name of a shipped build, day, route, trace or log", hint
    )


def _checked_csv(reference: str, file: Path) -> str:
    if _is_discharge(file):
        from ridesim.bench.discharge.log import load_discharge

        log = load_discharge(file)
        ends = f"{log.voltage_v[0]:.2f} to {log.voltage_v[-1]:.2f} V"
        said = "".join(f"\n  {remark}" for remark in log.remarks)
        return f"{reference}: a good discharge log, {len(log.time_s)} rows, {log.time_s[-1] - log.time_s[0]:g} s, {ends}.{said}"
    if is_trace(file):
        trace = load_trace(file)
        return f"{reference}: a good trace, {trace.duration_s:g} s, {trace.length_m / 1000.0:.3f} km."
    route = load_route(file)
    legs = f"{len(route.legs)} leg{'s' if len(route.legs) != 1 else ''}"
    return f"{reference}: a good route, {legs}, {route.length_m:g} m a lap."


def _is_discharge(file: Path) -> bool:
    """Whether a CSV's header speaks of volts and amps, whatever their units: a discharge, not a road."""
    lines = (line for line in read_text(file).splitlines() if line.strip() and not line.lstrip().startswith("#"))
    stems = {split_unit(cell.strip())[0] for cell in next(lines, "").split(",")}
    return bool({"voltage", "current"} & stems) and not {"speed", "length"} & stems


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
    folder = _notebook_folder()
    start = folder / MAIN_NOTEBOOK if options.builds or options.day else folder
    call = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder}", "--ServerApp.ip=127.0.0.1"]
    if options.no_browser:
        call.append("--no-browser")
    return subprocess.call([*call, str(start)], env=environment)


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


if __name__ == "__main__":
    sys.exit(main())
