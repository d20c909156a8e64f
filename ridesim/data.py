"""Finds the shipped data and notebooks, in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path

from ridesim.words import InputProblem, nearest, unseen

_PACKAGE = Path(__file__).resolve().parent
_SUFFIXES = {
    "builds": (".toml",), "days": (".toml",), "routes": (".csv",), "traces": (".csv",), "parts": (".csv",), "logs": (".csv", ".toml"),
}  # fmt: skip


def shipped(folder: str) -> Path:
    """Folder of shipped files: ``"data"`` or ``"notebooks"``.

    Returns
    -------
    Path
        Beside the package in a checkout, inside the package in an installed wheel.
    """
    inside = _PACKAGE / "shipped" / folder
    return inside if inside.is_dir() else _PACKAGE.parent / folder


def is_shipped(file: Path) -> bool:
    """Whether a file is one of the shipped ones."""
    return file.resolve().is_relative_to(shipped("data").resolve())


def names(kind: str) -> list[str]:
    """Names of the shipped files of a kind (``"builds"``, ``"days"``, ``"routes"``, ``"traces"``, ``"logs"``), sorted."""
    return sorted(path.stem for path in (shipped("data") / kind).iterdir() if path.suffix in _SUFFIXES[kind])


def find(reference: str | Path, kind: str, beside: Path | None = None) -> Path:
    """Find a file by path, by name beside another file, or by its bare shipped name; a file of one's own before a shipped one.

    Parameters
    ----------
    reference : str or Path
        A path, or a bare name such as ``"heron_36v"``.
    kind : str
        Which kind of shipped file a bare name stands for.
    beside : Path, optional
        A folder that is searched before the shipped files; the current one.

    Raises
    ------
    InputProblem
        Nothing is there; the message names the nearest shipped name.
    TypeError
        Neither a name nor a path.
    """
    if not isinstance(reference, str | Path):
        raise TypeError(f"expected the name or path of a file; found {type(reference).__name__}")
    path = Path(reference)
    suffixes = _SUFFIXES[kind]
    named = [path.name] if path.suffix in suffixes else [path.name + suffix for suffix in suffixes]
    folder = beside or Path()
    candidates = [path] if path.is_absolute() else [folder / path, *(folder / path.parent / name for name in named)]
    if len(path.parts) == 1:
        candidates += [shipped("data") / kind / name for name in named]
    for candidate in candidates:
        if candidate.is_file():
            if sign := unseen(candidate.name):
                raise InputProblem(
                    str(candidate), "", f"a file name with a sign that cannot be seen ({sign})", "another name"
                )
            return candidate
    known = names(kind)
    near = nearest(path.stem, known)
    hint = f"Nearest shipped name: {near}." if near else f"Shipped {kind}: {', '.join(known)}."
    wanted = f"a path, or the name of a shipped {kind[:-1]}"
    raise InputProblem(str(reference) or '""', "", "no such file", wanted, hint)


def meant(reference: str | Path, kind: str, beside: Path | None = None) -> str:
    """Which file was meant, where a bare name stands for one of the user's own and for a shipped one; empty otherwise."""
    file = find(reference, kind, beside)
    hidden = str(reference) in names(kind) and not is_shipped(file)
    return f"{reference} is {file.resolve()}, not the shipped one." if hidden else ""
