"""A page to print: HTML in one file, nothing loaded from elsewhere."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim.forms import write_beside_then_replace
from ridesim.words import InputProblem

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER = Path(__file__).parent


def css_text(text: str) -> str:
    """A text as it may stand between quotes in a style sheet, whatever is in it."""
    return "".join(c if c.isalnum() or c in " ,." else f"\\{ord(c):x} " for c in text)


class Sheet:
    """A page to print; shows itself in a notebook.

    Attributes
    ----------
    html : str
        A section without page around it.
    """

    def __init__(self, html: str, title: str) -> None:
        self.html, self._title = html, title

    def _repr_html_(self) -> str:
        return self.html

    @property
    def page(self) -> str:
        """The section as a page of its own."""
        return filled("page.html", title=self._title, body=self.html)

    def save(self, path: str | Path) -> Path:
        """Write the page, for printing; a page of that name is replaced.

        Raises
        ------
        InputProblem
            A name that does not end in .html, or a folder that cannot be written.
        """
        path = Path(path)
        if path.suffix.lower() not in (".html", ".htm"):
            raise InputProblem(str(path), "", f"“{path.name}”", "a name ending in .html")
        write_beside_then_replace(path, self.page)
        return path


def filled(template: str, **values: Any) -> str:
    """A template of this folder with values put in, escaped."""
    return _templates().get_template(template).render(values)


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters["css_text"] = css_text
    return templates
