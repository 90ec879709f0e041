"""The words of one line say the numbers that decided it."""

from dataclasses import replace

import pytest

from inventory.stocking.explain import Numbers, Window, reason

WINTER = Window("this winter (26 weeks)", 26)
ONE = Numbers(  # the winter of case P18: 3.1 expected, 2.92 and 0.17 second visits saved at 90 each
    part="A",
    level=1,
    now=1,
    wanted=3.1,
    low=1,
    high=6,
    in_area=140,
    saves=2.922,
    saves_money=263.0,
    next_saves=0.171,
    next_money=15.4,
    next_cost=48.0,
    next_with="",
    holding=24.0,
    barred="",
    fixed=None,
)


def test_a_carried_part_says_how_many_are_needed_what_one_saves_and_why_not_a_second():
    assert reason(ONE, WINTER) == (
        "Carry 1: about 3.1 of these are needed in this winter (26 weeks) on about 140 in this area (range 1–6); "
        "one on board saves about 2.9 second visits, £263. A second would save 0.2 (£15) for £48: not worth it, "
        "holding it costs £24 over that time."
    )


@pytest.mark.parametrize(("change", "words"), [
    ({"now": 0}, "Carry 1, 1 more than now: "),
    ({"level": 2, "now": 3}, "Carry 2, 1 fewer than now: "),
    ({"level": 0, "now": 2}, "Take off all 2: "),
    ({"level": 0, "now": 1}, "Take it off: "),
    ({"level": 0, "now": 0}, "Do not carry: "),
    ({"wanted": 0.0}, "no job in this area needs it"),
    ({"only": False}, "of these could be used"),
    ({"next_saves": 0.0}, "A second would save nothing."),
    ({"next_saves": 1e-5}, "A second would save next to nothing."),
    ({"holding": 1.0, "barred": "litres"}, "the room (litres) does more elsewhere"),
    ({"holding": 1.0, "barred": "most"}, "by the rule of the most per part"),
    ({"next_with": "2 C"}, "A second, with 2 C, would save"),
    ({"fixed": (1, 1)}, "Fixed at 1."),
    ({"fixed": (1, 2)}, "Fixed between 1 and 2."),
])  # fmt: skip
def test_every_case_has_its_words(change, words):
    assert words in reason(replace(ONE, **change), WINTER)


def test_nothing_is_said_of_one_more_where_no_more_can_be_carried():
    assert reason(replace(ONE, next_saves=None), WINTER).endswith("£263.")
