"""Tables and findings as HTML: what every panel shares. Texts are ready HTML: what comes from outside is escaped by the caller."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import replace
from html import escape

from ridesim.choose.findings import RANK
from ridesim.show.style import MARK
from ridesim.show.units import METRIC, System, with_minus
from ridesim.words import Finding


def html_table(caption: str, heads: Iterable[str], rows: Iterable[tuple[str, Iterable[str]]], note: str = "") -> str:
    """A table.

    Parameters
    ----------
    caption : str
        For screen readers alone.
    heads : iterable of str
        Of the columns; plain text, or ready ``<th>`` elements.
    rows : iterable of (str, iterable of str)
        Each row's head, as those of the columns, and its cells.
    note : str
        In small type below.
    """
    lines = "".join(
        f"<tr>{_head(head, 'row')}{''.join(f'<td>{with_minus(cell)}</td>' for cell in row)}</tr>" for head, row in rows
    )
    return (
        f'<table class="ridesim-table"><caption class="ridesim-unseen">{caption}</caption>'
        f"<thead><tr>{''.join(_head(head, 'col') for head in heads)}</tr></thead><tbody>{lines}</tbody></table>"
        + (f"<p><small>{note}</small></p>" if note else "")
    )


def svg_address(svg: str) -> str:
    """An SVG picture as the address of an image, so that a page holds the picture itself."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"


def svg_image(svg: str, alt: str, style: str = "width: 100%") -> str:
    """An SVG picture as an image within the page, with its text alternative."""
    return f'<img style="{style}" alt="{escape(alt)}" src="{svg_address(svg)}">'


def _head(text: str, scope: str) -> str:
    return text if text.startswith("<th") else f'<th scope="{scope}">{text}</th>'


def coloured_heads(names: Iterable[str]) -> list[str]:
    """A column's head a name, each in its candidate's colour."""
    return [
        f'<th scope="col" class="ridesim-colour-{place}">{escape(name)}</th>'
        for place, name in enumerate(names, start=1)
    ]


def better(text: str) -> str:
    """A cell that is the better one: a tick, bold type and a word for screen readers, never colour alone."""
    return f'<b><span aria-hidden="true">✓ </span><span class="ridesim-unseen">better: </span>{text}</b>'


ALIKE = 20
"""Findings of one kind that begin with so many equal signs are said of one candidate for all."""
AIR = "air_m3_h"
LIKEWISE = "(figures of the first named)"


def alike(findings: Iterable[tuple[int, Finding]]) -> list[tuple[Finding, list[int]]]:
    """Findings with the places of all candidates that have them, worst first: the first one's numbers stand for all.

    Of what charging asks of the place, the pack that asks for most comes first: what is enough for it is enough for the others.
    """
    shared: dict[tuple[str, str], list[tuple[int, Finding]]] = {}
    for place, finding in findings:
        shared.setdefault((finding.code, finding.text[:ALIKE]), []).append((place, finding))
    found = []
    for several in shared.values():
        several.sort(key=lambda pair: -pair[1].numbers.get(AIR, 0.0))
        first = several[0][1]
        if any(other.text != first.text for _, other in several):
            first = replace(first, text=f"{first.text} {LIKEWISE}")
        found.append((first, [place for place, _ in several]))
    return sorted(found, key=lambda pair: (RANK[pair[0].severity], pair[1]))


def findings_html(
    names: Sequence[str],
    findings: Iterable[tuple[int, Finding]],
    heading: str = "What to watch",
    note: str = "",
    colours: bool = True,
    system: System = METRIC,
) -> str:
    """What to watch, as a list, worst first; what several share, or have with other numbers, is said once.

    Parameters
    ----------
    names : sequence of str
        Of the candidates; none where there is one, which the page names already.
    findings : iterable of (int, Finding)
        Place of the candidate, and what there is to say of it.
    heading : str
        Above the list.
    note : str
        In small type below.
    colours : bool
        Whether names stand in their candidates' colours.
    system : System
        Units of the sentences.
    """
    lines = []
    for finding, places in alike(findings):
        if not names:
            whose = ""
        elif len(places) == len(names) > 1 and not finding.text.endswith(LIKEWISE):
            whose = f"<strong>{'All' if len(names) > 2 else 'Both'}:</strong> "
        else:
            style = ' class="ridesim-colour-{}"' if colours else ""
            whose = ", ".join(f"<strong{style.format(i + 1)}>{escape(names[i])}</strong>" for i in places) + ": "
        said = system.said(finding.text, finding.numbers.values())
        mark = f"<b>{MARK[finding.severity]}</b>"
        lines.append(f'<li class="ridesim-{finding.severity}">{mark}{whose}{escape(said)}</li>')
    listed = f"<ul>{''.join(lines)}</ul>" if lines else "<p>Nothing to watch.</p>"
    small = f"<p><small>{note}</small></p>" if note else ""
    return f'<div class="ridesim-findings"><h4>{heading}</h4>{listed}{small}</div>'
