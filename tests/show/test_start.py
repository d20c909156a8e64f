"""The start page: the newest build of the folder, and what is known of it."""

from __future__ import annotations

import os

from ridesim.choose.compare import compare
from ridesim.data import shipped
from ridesim.show.start import DAY, start
from ridesim.sizing.chain_fit import chain_fit


def test_without_a_build_of_ones_own_it_shows_an_invented_one(tmp_path):
    page = start(tmp_path)
    assert "invented" in page.said
    (verdict,) = compare("heron_36v", DAY).verdicts
    assert verdict.sentence in page.stages[2].known
    assert "not tested on the bench yet" in page.stages[1].known
    assert "everything that weighs has its place" in page.stages[0].known
    assert page.stages[5].known.startswith("It can be wired so")
    html = page._repr_html_()
    assert page.stages[4].known == chain_fit("heron_36v").verdict
    for stage in page.stages[:6]:
        assert f'href="{stage.notebook}.ipynb"' in html


def test_the_newest_build_counts_and_a_broken_one_is_said(tmp_path):
    text = (shipped("data") / "builds" / "puppet_cart.toml").read_text(encoding="utf-8")
    old, new = tmp_path / "old.toml", tmp_path / "new.toml"
    old.write_text(text, encoding="utf-8")
    new.write_text(text.replace('name = "Puppet cart, 24 V"', 'name = "<b>Mine</b>"'), encoding="utf-8")
    os.utime(old, (1.0, 1.0))
    page = start(tmp_path)
    assert page.build.name == "<b>Mine</b>"
    assert "new.toml" in page.said
    assert "<b>Mine" not in page._repr_html_()
    assert page.stages[4].known == "not judged yet: drive.centre_distance_mm is nothing"
    new.write_text("[vehicle]\nrolling_radius_m = -1\n", encoding="utf-8")
    assert "rolling_radius_m" in start(tmp_path).said
