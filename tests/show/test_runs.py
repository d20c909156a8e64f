"""Pixels as runs: nothing is lost on the way to the page, and what stands still is sent once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.picture import Picture
from ridesim.show.panel.runs import WORD, changed, packed, words


def unpacked(data, below=None):
    """What the page does with runs, written anew."""
    colours, lengths = np.frombuffer(data, WORD).reshape(2, -1)
    pixels = np.repeat(colours, lengths)
    return pixels if below is None else np.where(pixels == 0, below, pixels)


@given(arrays.arrays(np.uint32, st.integers(1, 60), elements=st.sampled_from([0xFF000000, 0xFFFFFFFF, 0xFF0000FF])))
def test_runs_give_the_pixels_back(pixels):
    assert np.array_equal(unpacked(packed(pixels)), pixels)


@given(st.integers(1, 40), st.data())
def test_a_difference_over_its_layer_gives_the_picture(count, data):
    colours = arrays.arrays(np.uint32, count, elements=st.sampled_from([0xFF000000, 0xFFFFFFFF, 0xFF0000FF]))
    base, picture = data.draw(colours), data.draw(colours)
    assert np.array_equal(unpacked(packed(changed(picture, base)), base), picture)


def test_bytes_are_red_green_blue_alpha():
    pixels = np.array([[[1, 2, 3, 255], [1, 2, 3, 255]]], np.uint8)
    assert packed(words(pixels)) == bytes([1, 2, 3, 255]) + (2).to_bytes(4, "little")


class Dot(Drawing):
    """One dot on a plane whose limit is part of the answer."""

    def build(self, figure, colours, width, height):
        self.axes = figure.add_axes([0.1, 0.1, 0.8, 0.8])
        self.movers = self.axes.plot([], [], "o")
        self.axes.set_ylim(0.0, 1.0)

    def frame_key(self, answer):
        return answer[0]

    def set_frame(self, answer):
        self.axes.set_xlim(0.0, answer[0])

    def move(self, answer):
        self.movers[0].set_data([answer[1]], [0.5])
        return list(self.movers)

    def sentence(self, answer):
        return f"at {answer[1]}"

    alt = sentence


@pytest.mark.pictures
def test_what_stands_still_is_sent_once_and_the_page_can_always_put_the_picture_together():
    picture = Picture(Dot())
    sent = []
    picture.view.observe(lambda change: sent.append(change["name"]), names=["base", "over"])
    for answer in ((1.0, 0.2), (1.0, 0.4), (2.0, 0.5), (1.0, 0.3)):
        picture.show(answer)
        view = picture.view
        whole = (
            unpacked(view.over, unpacked(view.base)).astype(WORD).view(np.uint8).reshape(view.size[1], view.size[0], 4)
        )
        fresh = Picture(Dot())
        fresh.show(answer)
        assert picture.png() == fresh.png()
        assert np.array_equal(whole, picture._shown)
    assert (sent.count("base"), sent.count("over")) == (3, 4)
    assert len(picture.view.over) < 0.2 * len(picture.view.base), "one dot is little to send"
