"""Charts are well-formed SVG that needs no exception from the policy, escapes what it is given and hides no gap."""

import datetime
import math
import re
from decimal import Decimal
from xml.etree import ElementTree

import pytest

from firm import charts
from firm.charts.canvas import nice_ticks

HOSTILE = '<b onload=alert(1)>pump & "seal"</b>'
CURVE = [(age / 2, math.exp(-((age / 20) ** 2)), 0.1, 1.0) for age in range(41)]
BANDS = [(0, 2, 0.01, 0.0005, 0.05, 1, 100.0), (2, 4, 0.0, 0.0, 0.03, 0, 80.0), (4, 6, 0.2, 0.03, 0.9, 2, 10.0)]
MONTHS = [(datetime.date(2024 + i // 12, i % 12 + 1, 1), i % 5) for i in range(24)]
MONEY = [(month, Decimal(value * 100 - 150)) for month, value in MONTHS[:12]]
DRAWN = {
    "life": lambda words: charts.still_working(
        "life", words, CURVE, [(3, 0.9, 0.8, 0.95)], [(5.0, 0.9, words)], level=0.9
    ),
    "life without a fit": lambda words: charts.still_working("life", words, [], [(3, 0.5, None, None)], [], level=0.9),
    "life without limits": lambda words: charts.still_working(
        "life", words, [(a, s, math.nan, math.nan) for a, s, *_ in CURVE], [], [], level=0.9
    ),
    "added up": lambda words: charts.added_up(
        "added", words, [(3, 8.0, 0.1, 0.02, 0.5), (9, 5.0, 0.3, 0.1, 0.9)], [(0, 0.0), (9, 0.4)], 12, level=0.9
    ),
    "added up from one failure": lambda words: charts.added_up(
        "added", words, [(3, 8.0, 0.1, 0.02, 0.5)], [], 3, level=0.9
    ),
    "hazard": lambda words: charts.failures_by_age("hazard", words, BANDS, [(1.0, 0.01), (5.0, 0.1)], level=0.9),
    "share": lambda words: charts.running_share(
        "share", words, words, [(words, 3), ("fan", 1), ("none", 0)], "failure"
    ),
    "share of nothing": lambda words: charts.running_share("share", words, words, [], "failure"),
    "months": lambda words: charts.months("months", words, words, MONTHS, "failure"),
    "no months": lambda words: charts.months("months", words, words, [], "failure"),
    "money": lambda words: charts.money_by_month("money", words, words, MONEY, "GBP", head=["Month"], table=[]),
    "frontier": lambda words: charts.frontier(
        "front", words, words, [(0, 0.5), (1000, 0.9)], "GBP", here=(700, 0.75), best=(650, 0.86), budget=900
    ),
}  # fmt: skip


def tree(svg):
    return ElementTree.fromstring(f"<page>{svg}</page>")


@pytest.mark.parametrize("name", DRAWN)
def test_a_chart_is_well_formed_escaped_and_free_of_styles_and_missing_numbers(name):
    chart = DRAWN[name](HOSTILE)
    svg = tree(chart.svg).find("svg")
    assert svg.get("role") == "img"
    assert "".join(svg.find("title").itertext())
    assert "".join(svg.find("desc").itertext())
    for element in svg.iter():
        assert element.tag in {"svg", "title", "desc", "line", "path", "circle", "rect", "text"}
        assert not {key for key in element.attrib if key == "style" or key.startswith("on")}
    assert not re.search(r"\b(nan|None|inf)\b", re.sub(r"<(title|desc|text).*?</\1>", "", str(chart.svg), flags=re.S))


def test_the_table_behind_a_chart_holds_what_it_draws():
    chart = DRAWN["share"]("pump")
    assert chart.rows == [["pump", "3", "75%"], ["fan", "1", "100%"]]
    assert DRAWN["hazard"]("pump").rows[0] == ["0 to 2", "1", "100.0", "1.0", "0.1 to 5.0"]
    assert ["20", "2%", "10% to 100%"] in DRAWN["life"]("pump").rows


def test_a_loss_hangs_below_nil_and_looks_another_way():
    bars = [mark.get("class") for mark in tree(DRAWN["money"]("x").svg).iter("rect")]
    assert bars.count("bar below") == sum(value < 0 for _, value in MONEY)


@pytest.mark.parametrize(("low", "high"), [(0, 1), (0, 0.07), (-350, 1200), (3, 150), (0, 0), (0, 1e6)])
def test_ticks_are_round_rise_and_hold_what_is_drawn(low, high):
    ticks = nice_ticks(low, high)
    assert ticks == sorted(set(ticks))
    assert ticks[0] <= low
    assert ticks[-1] >= high
    assert len(ticks) <= 8


def test_whiskers_stand_on_one_log_axis():
    axis = charts.Whiskers([(10, 5, 20, 11, 6, 18), (100, 50, 200, 90, 60, 150)], reference=20)
    steps = [axis.x(value) for value in (10, 20, 40)]
    assert steps[1] - steps[0] == pytest.approx(steps[2] - steps[1], abs=0.2)


def test_what_has_no_upper_end_leaves_the_frame_by_an_arrow_and_has_no_dot():
    axis = charts.Whiskers([(None, 11.3, None, 18.4, 11.4, 35.2), (10, 5, 20, 11, 6, 18)])
    picture = tree(axis.row(None, 11.3, None, 18.4, 11.4, 35.2))
    assert not [mark for mark in picture.iter("circle") if mark.get("class") == "dot raw"]
    assert [mark for mark in picture.iter("path") if mark.get("class") == "whisk raw"]
    assert [mark for mark in picture.iter("path") if mark.get("class") == "dot"]


def test_whiskers_of_nothing_at_all_still_draw_an_axis():
    axis = charts.Whiskers([])
    tree(axis.axis())
    tree(axis.row(None, None, None, None, None, None))
