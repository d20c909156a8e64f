"""Findings as HTML: worst first, one that several candidates share said once."""

from __future__ import annotations

from html import escape

from ridesim.choose.findings import RANK
from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.pictures.style import MARK
from ridesim.words import Finding


def _shared(answer: Answer) -> list[tuple[Finding, list[int]]]:
    """Every finding and remark once, with the places of the candidates it is about; worst first."""
    found: dict[tuple[str, str], tuple[Finding, list[int]]] = {}
    for place, one in enumerate(answer.each):
        for finding in (*one.candidate.findings, *one.candidate.build.notes):
            found.setdefault((finding.code, finding.text), (finding, []))[1].append(place)
    return sorted(found.values(), key=lambda pair: (RANK[pair[0].severity], pair[1]))


def findings_html(answer: Answer) -> str:
    """What to watch, as a list."""
    names = [one.candidate.name for one in answer.each]
    lines = []
    for finding, places in _shared(answer):
        if len(places) == len(names) > 1:
            whose = "<strong>All:</strong> " if len(names) > 2 else "<strong>Both:</strong> "
        else:
            whose = (
                ", ".join(
                    f'<strong class="ridesim-colour-{place + 1}">{escape(names[place])}</strong>' for place in places
                )
                + ": "
            )
        lines.append(
            f'<li class="ridesim-{finding.severity}"><b>{MARK[finding.severity]}</b>{whose}{escape(finding.text)}</li>'
        )
    listed = f"<ul>{''.join(lines)}</ul>" if lines else "<p>Nothing to watch.</p>"
    return f'<div class="ridesim-findings"><h4>What to watch</h4>{listed}</div>'
