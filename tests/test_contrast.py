"""Every pair of colours that meets on a page, light and dark, against WCAG 2.2: 4.5 for text, 3 for what is drawn."""

import gzip
import re
from pathlib import Path

import pytest

SHEET = Path(__file__).parents[1] / "firm/static/firm/app.css"
PAPERS = ("paper", "leaf", "well")
WASHES = ("good-wash", "care-wash", "bad-wash", "note-wash", "teal-wash")
MEANINGS = ("good", "care", "bad", "note")


def _schemes():
    blocks = re.findall(r":root \{(.*?)\n\s+\}", SHEET.read_text(), re.S)[:2]
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})\b", block)) for block in blocks]


LIGHT, DARK = _schemes()


def _luminance(colour):
    """Relative luminance of #rrggbb. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_is_twenty_one_to_one():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the known grey that just fails


@pytest.mark.parametrize("tokens", [LIGHT, DARK], ids=["light", "dark"])
def test_words_stand_out_from_what_they_are_printed_on(tokens):
    pairs = [(word, paper) for word in ("ink", "ink-2", "teal", *MEANINGS) for paper in PAPERS]
    pairs += [(ink, wash) for ink in ("ink", "ink-2") for wash in WASHES]
    pairs += [(meaning, f"{meaning}-wash") for meaning in MEANINGS]
    pairs += [("teal-on", "teal"), ("teal", "teal-wash")]
    low = {pair: round(contrast(tokens[pair[0]], tokens[pair[1]]), 2) for pair in pairs}
    assert {pair: ratio for pair, ratio in low.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("tokens", [LIGHT, DARK], ids=["light", "dark"])
def test_fields_the_ring_and_the_lines_of_charts_can_be_seen(tokens):
    drawn = ("rule-ink", "focus", "c-main", "c-raw", "c-mark")
    pairs = {(line, paper): contrast(tokens[line], tokens[paper]) for line in drawn for paper in ("paper", "leaf")}
    assert {pair: round(ratio, 2) for pair, ratio in pairs.items() if ratio < 3} == {}


def test_the_stylesheet_stays_small():
    assert len(SHEET.read_text().splitlines()) <= 500
    assert len(gzip.compress(SHEET.read_bytes(), 9)) <= 9_000


def test_dark_and_print_name_every_colour_that_light_names():
    names = set(LIGHT) - {"c-band"}
    assert names <= set(DARK) | {"c-band"}
