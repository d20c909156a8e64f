"""The verdict line of the lead-acid build where its weakest block is asked about: a string is worth that block."""

from __future__ import annotations

from typing import Any

from ridesim.choose.verdict import LEVELS, Level
from ridesim.choose.wishes import share_in_words
from ridesim.day.day import clock
from ridesim.show.choose_pack.inputs import PackAnswer
from ridesim.words import percent

WORDS = {level: words for level, _, words in LEVELS}


def with_weak_block(line: dict[str, Any], answer: PackAnswer) -> tuple[dict[str, Any], str]:
    """The line with the weak block counted, and in a sentence what holds of sound blocks; as it is where none is asked about."""
    if answer.weakest >= 1.0 or not line["level"]:
        return line, ""
    level, why = _judged(answer)
    sound = f"With sound blocks: {line['words'][:1].lower()}{line['words'][1:]}, {line['why']}"
    if line["share"]:
        sound += f", {share_in_words(answer.comparison.verdicts[0].chance)} do it"
    counted = line | {"why": f"weakest block ({percent(answer.weakest)}) {why}", "share": ""}
    if level is not None and line["level"] != "no":
        counted |= {"level": level, "words": WORDS[level], "bar": [], "instead": "with the weak block"}
    return counted, f" {sound}."


def _judged(answer: PackAnswer) -> tuple[Level | None, str]:
    """What the weak block makes of the day: the level where that is worse than sound blocks', and why."""
    blocks, weakest = answer.blocks, answer.blocks.weakest
    if blocks.first_to_collapse is not None and blocks.first_to_collapse.collapse_s is not None:
        return "no", f"falls below its end voltage at {clock(blocks.first_to_collapse.collapse_s)}"
    if blocks.power_short_s is not None:
        return "no", f"makes the cut-off hold back from {clock(blocks.power_short_s)} on"
    if weakest.lowest_charge < answer.lead.build.pack.reserve:
        return "doubt", f"goes down to {percent(weakest.lowest_charge)}, below the reserve"
    return None, f"keeps {percent(weakest.lowest_charge)}"
