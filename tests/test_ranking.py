"""Ranking of causes: shares by hand, the limits, and nothing shown that the appliance cannot have."""

import doctest

import pytest

from jobs.diagnosis import ranking
from jobs.diagnosis.ranking import UsualCause, rank

COLD = [
    UsualCause("pump", True, 0.5, ("gas-combi",)),
    UsualCause("closed-valve", False, 0.25),
    UsualCause("oil-nozzle", True, 0.25, ("oil",)),
]
NOISY = [UsualCause("fan", True, 0.8), UsualCause("pump", True, 0.2)]


def test_the_example_in_the_docstring_holds():
    assert doctest.testmod(ranking).failed == 0


def test_shares_are_rescaled_over_the_causes_of_this_kind():
    ranked = rank([COLD], "gas-combi")
    assert [(c.key, pytest.approx(c.share)) for c in ranked] == [("pump", 2 / 3), ("closed-valve", 1 / 3)]


def test_two_symptoms_count_alike_and_their_shares_add_up_to_one():
    ranked = rank([COLD, NOISY], "gas-combi")
    shares = {c.key: c.share for c in ranked}
    assert shares["pump"] == pytest.approx((2 / 3 + 0.2) / 2)
    assert sum(shares.values()) == pytest.approx(1)
    assert ranked[0].key == "pump"


def test_a_component_that_the_appliance_lacks_is_never_named():
    assert [c.key for c in rank([NOISY], "gas-combi", components={"pump"})] == ["pump"]


def test_a_cause_that_needs_no_part_stays_whatever_the_appliance_holds():
    assert [c.key for c in rank([COLD], "gas-combi", components=set())] == ["closed-valve"]


def test_without_symptoms_nothing_is_claimed():
    assert rank([], "gas-combi") == []
    assert rank([[]], "gas-combi") == []
