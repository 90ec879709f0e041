"""What a fault probably is, from what the customer says: the usual causes of each symptom, scaled to the appliance.

The shares are those of the trade's symptom table: common practice, no source. They do not learn from the firm's
own findings yet, nor from the appliance's age; whoever shows them says so.
"""

from dataclasses import dataclass

METHOD = "Usual causes of these symptoms on this kind of appliance: common practice, no source."


@dataclass(frozen=True)
class UsualCause:
    """One row of the symptom table. `key` is a component's key or a cause that needs no part."""

    key: str
    needs_part: bool
    share: float
    kinds: tuple = ()
    test: str = ""


@dataclass(frozen=True)
class Likely:
    """A cause with its share of the visits of such a job, 0 to 1, and the quick test that tells it."""

    key: str
    needs_part: bool
    share: float
    test: str = ""

    @property
    def in_ten(self):
        """Visits in ten, rounded; 0 stands for less than one in twenty."""
        return round(self.share * 10)


def rank(symptoms, kind, components=None):
    """Rank the causes of a job. Return a list of Likely, the likeliest first; the shares add up to one.

    symptoms: for each symptom heard, a list of UsualCause. kind: that of the appliance; a cause without serves all.
    components: keys of the component types that the appliance holds; a cause whose component it lacks is left out.
    None means unknown, and leaves nothing out.
    Shares of one symptom are rescaled to one over the causes that are left. Several symptoms count alike: the result
    is the mean of their shares (a linear opinion pool: Stone 1961, Annals of Mathematical Statistics 32, 1339-1342).
    The reference is from memory.
    Without symptoms or causes: an empty list.

    >>> leak = [UsualCause("valve", True, 0.3), UsualCause("low-pressure", False, 0.1)]
    >>> leak.append(UsualCause("coil", True, 0.6, ("oil",)))
    >>> [(cause.key, round(cause.share, 2)) for cause in rank([leak], "gas-combi")]
    [('valve', 0.75), ('low-pressure', 0.25)]
    """
    pooled, first = {}, {}
    heard = [left for causes in symptoms if (left := _possible(causes, kind, components))]
    for causes in heard:
        total = sum(cause.share for cause in causes)
        for cause in causes:
            pooled[cause.key] = pooled.get(cause.key, 0.0) + cause.share / total / len(heard)
            first.setdefault(cause.key, cause)
    ranked = sorted(pooled, key=lambda key: (-pooled[key], key))
    return [Likely(key, first[key].needs_part, pooled[key], first[key].test) for key in ranked]


def _possible(causes, kind, components):
    return [
        cause
        for cause in causes
        if cause.share > 0
        and (not cause.kinds or kind in cause.kinds)
        and (components is None or not cause.needs_part or cause.key in components)
    ]
