"""What the README prints works."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from ridesim.command import main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def test_the_short_build_loads_and_compares(tmp_path, capsys):
    build = tmp_path / "my_float.toml"
    build.write_text(blocks("toml")[0], encoding="utf-8")
    assert main(["compare", str(build), "heron_48v", "--day", "harbour_festival"]) == 0
    printed = capsys.readouterr().out
    assert "my_float" in printed
    assert main(["check", str(build)]) == 0
    assert "vehicle.rolling_radius_m" in capsys.readouterr().out


def test_the_first_command_names_shipped_files(capsys):
    command = next(block for block in blocks("") if "compare heron_36v" in block)
    arguments = command.strip().split("ridesim ", 1)[1].split()
    assert main(arguments) == 0
    last = capsys.readouterr().out.strip().splitlines()[-1]
    assert last.endswith("open " + " ".join(arguments[1:]))


def test_set_up_needs_nothing_that_is_not_declared():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11"
    assert "ridesim" in project["scripts"]


def test_pictures_of_the_readme_exist():
    for picture in re.findall(r"!\[.*?\]\((.*?)\)", README):
        assert (ROOT / picture).is_file(), picture
