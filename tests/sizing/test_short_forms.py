"""What the workshop sums show of themselves in a console and in a notebook: a few lines, the answer among them."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.sizing.balance import balance, handling
from ridesim.sizing.chain_fit import chain_fit
from ridesim.sizing.chain_life import chain_duty
from ridesim.sizing.fastening import plate_hold
from ridesim.sizing.mounting import mounting
from ridesim.sizing.moving import push
from ridesim.sizing.tray import arrangements
from ridesim.sizing.weighing import weighed

HERON = ridesim.load_build("heron_36v")
ANSWERS = {
    "balance": (lambda: balance(HERON), "kg"),
    "handling": (lambda: handling(HERON), "°"),
    "chain fit": (lambda: chain_fit(HERON), "links"),
    "chain duty": (lambda: chain_duty(HERON), "W"),
    "plate": (lambda: plate_hold(HERON), "bolts"),
    "mounting": (lambda: mounting(HERON), "mm"),
    "push": (lambda: push(HERON, 8.33), "N"),
    "tray": (lambda: arrangements(HERON.pack.tray_mm, HERON.pack.block_size_mm, 3)[0], "mm"),
    "scales": (lambda: weighed(HERON, 62.0, 98.0), "kg"),
}


@pytest.mark.parametrize("name", ANSWERS)
def test_an_answer_shows_itself_in_few_lines(name):
    made, unit = ANSWERS[name]
    answer = made()
    assert unit in repr(answer)
    assert 1 < len(repr(answer).splitlines()) <= 20
    assert answer._repr_html_().count("<tr>") >= 1
