"""The trade tables of this repository, as the generator needs them."""

import functools
import json
from pathlib import Path

TRADE = Path(__file__).resolve().parents[2] / "fixtures" / "trade"


def _rows(name):
    return json.loads((TRADE / name).read_text(encoding="utf-8"))


@functools.cache
def components():
    """Trade component types by key, in the order of the table."""
    return {row["key"]: row for row in _rows("components.json")}


@functools.cache
def causes():
    """Every (symptom, cause, share, kinds); a cause is (component, None) or (None, no-part key)."""
    return [
        (symptom["key"], (cause["component"], cause["no_part"]), cause["share"], frozenset(cause["kinds"]))
        for symptom in _rows("symptoms.json")
        for cause in symptom["causes"]
    ]


@functools.cache
def symptoms_of(kind, component, no_part=None):
    """Symptoms that this cause shows on this kind of appliance, each with its weight."""
    sought = (component, no_part)
    return [(key, share) for key, cause, share, kinds in causes() if cause == sought and kind in kinds]


@functools.cache
def components_behind(kind, symptom):
    """Component types that this symptom may point at on this kind of appliance."""
    return [cause[0] for key, cause, _, kinds in causes() if key == symptom and cause[0] and kind in kinds]


@functools.cache
def no_part_causes(kind):
    """Causes without a part on this kind of appliance, each with the sum of its shares."""
    weights = {}
    for _, (_, no_part), share, kinds in causes():
        if no_part and kind in kinds:
            weights[no_part] = weights.get(no_part, 0.0) + share
    return sorted(weights.items())
