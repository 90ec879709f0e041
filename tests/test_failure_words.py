"""Failures in plain words: numbers agree with their nouns, and each status reads as a sentence."""

import pytest

from firm.words import plural
from jobs.due import Due
from jobs.failure_words import due


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("pump", "pumps"),
        ("expansion vessel (heating)", "expansion vessels (heating)"),
        ("hydraulic seals", "hydraulic seals"),
        ("battery", "batteries"),
        ("display", "displays"),
        ("air pressure switch", "air pressure switches"),
        ("oil burner control box", "oil burner control boxes"),
        ("float valve of feed cistern", "float valves of feed cistern"),
        ("immersion thermostat with cut-out", "immersion thermostats with cut-out"),
    ],
)
def test_plurals(one, many):
    assert plural(one) == many


def test_what_is_due_is_said_with_its_range():
    assert due(Due(9.6, 5, 15, 1011, 0)) == "About 10 will fail in the next 26 weeks (likely between 5 and 15)."
    assert due(Due(0.3, 0, 1, 75, 0)) == "At most 1 is likely to fail in the next 26 weeks."
    assert due(Due(0.01, 0, 0, 5, 0)) == ""
    assert due(None) == ""
