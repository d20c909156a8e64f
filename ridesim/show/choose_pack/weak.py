"""The verdict line of the lead-acid build where its weakest block is asked about: a string is worth that block."""

from __future__ import annotations

from typing import Any

from ridesim.choose.verdict import LEVELS, Level
from ridesim.choose.wishes import share_in_words
from ridesim.day.day import clock
from ridesim.show.choose_pack.inputs import PackAnswer

WORDS = {level: words for level, _, words in LEVELS}


def with_weak_block(line: dict[str, Any], answer: PackAnswer) -> dict[str, Any]:
    """The line with the weak block counted, and what it says of sound blocks told as such; as it is where none is asked about."""
    if answer.weakest >= 1.0:
        return line
    level, why = _judged(answer)
    sound = f"with sound blocks {line['words'][:1].lower()}{line['words'][1:]}, {line['why']}"
    if line["share"]:
        sound += f", {share_in_words(answer.comparison.verdicts[0].chance)} do it"
    kept = {"name": f"{line['name']}, weakest block {answer.weakest:.0%}", "why": f"{why}; {sound}", "share": ""}
    if level is None or line["level"] == "no":
        return line | kept
    return line | kept | {"level": level, "words": WORDS[level], "bar": [], "instead": "the weak block decides"}


def _judged(answer: PackAnswer) -> tuple[Level | None, str]:
    """What the weak block makes of the day: the level where that is worse than sound blocks', and why."""
    blocks, weakest = answer.blocks, answer.blocks.weakest
    if blocks.first_to_collapse is not None and blocks.first_to_collapse.collapse_s is not None:
        return "no", f"its weakest block is run down at {clock(blocks.first_to_collapse.collapse_s)}"
    if blocks.power_short_s is not None:
        return "no", f"the cut-off holds it back from {clock(blocks.power_short_s)} on"
    if weakest.lowest_charge < answer.lead.build.pack.reserve:
        return "doubt", f"its weakest block goes down to {weakest.lowest_charge:.0%}, below the reserve"
    return None, f"its weakest block keeps {weakest.lowest_charge:.0%}"
