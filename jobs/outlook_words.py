"""What lies ahead in plain words: chances, what to renew ahead of failure, whether failures come faster than before."""

from firm.words import count, known, likely, money, number, per_cent, years
from inventory.models import Part
from jobs.failure_words import noun, plural

LITTLE = 0.02  # of the cost of running to failure: less is not worth saying
SMALL = 0.001  # a chance below that is told no closer
DRIFT = {
    "rising": ("care", "up", "Rising"),
    "falling": ("good", "down", "Falling"),
    "steady": ("note", "same", "No trend shown"),
    "few": ("note", "eye", "Too few to tell"),
}


def one_in(share):
    """«about 1 in 14», «hardly any: under 1 in 1,000», «more likely than not»."""
    if not known(share) or share <= 0:
        return "not known"
    if share >= 0.5:
        return "more likely than not"
    return "under 1 in 1,000" if share < SMALL else f"about 1 in {number(_round(1 / share), 0)}"


def one_in_between(low, high):
    """«1 in 60 to 1 in 30»: the range of a chance, the smaller first; "" where it is not known or all too small."""
    if not known(low) or not known(high) or high < SMALL:
        return ""
    return f"up to {_one_in(high)}" if low < SMALL else f"{_one_in(low)} to {_one_in(high)}"


def _one_in(share):
    return "more than 1 in 2" if share >= 0.5 else f"1 in {number(_round(1 / share), 0)}"


def _round(value):
    """Two figures are plenty: 1 in 14, 1 in 120."""
    return round(value, -1) if value >= 100 else value


def planned_renewal(component, group, plan, costs, currency, oldest):
    """(heading, sentences): whether renewing ahead of failure pays, and what that assumes. oldest: age seen so far."""
    many = plural(noun(component))
    if group.status != "fitted":
        return "Wait until they fail", [
            f"How {many} wear cannot be told yet, so there is no age at which renewing one ahead of failure would pay."
        ]
    if not known(group.shape_low) or group.shape_low <= 1:
        flat = known(group.shape) and group.shape <= 1
        why = (
            f"An old one is no likelier to fail than a new one (shape {number(group.shape, 2)})"
            if flat
            else f"It is not shown that they wear out ({_shape(group)}; it must be over 1)"
        )
        never = "so renewing one ahead of failure never pays" if flat else "so renewing one ahead of failure is a guess"
        return "Wait until they fail", [f"{why}, {never}."]
    if costs.planned is None:
        return "No price, no advice", [
            f"They wear out, but no part that may be advised has a price today, so nobody can say whether renewing "
            f"{many} ahead of failure pays. Load a price file, or enter a price."
        ]
    if plan is None or not plan.pays:
        return "Wait until they fail", [
            "They wear out, yet a failure costs too little more than renewing one in good time.",
            assumed(costs, currency),
        ]
    if plan.saving < LITTLE or plan.at_age > oldest:
        return "Wait until they fail", [
            f"They wear out, but by the curve renewing one ahead of failure pays only from about {years(plan.at_age)} "
            f"on and saves {_little(plan.saving)}.",
            assumed(costs, currency),
        ]
    return f"Renew at about {years(plan.at_age)}", [
        f"At a service, and only where the visit is made anyway: renewing one at about {years(plan.at_age)} costs "
        f"{per_cent(plan.saving)} less in the long run than waiting until it fails.",
        assumed(costs, currency),
    ]


def _little(share):
    return "less than 1%" if share < 0.01 else f"about {per_cent(share)}"


def what_to_do(alarms, advised_age, van):
    """One sentence for the head of the page. van: (name, expected in the next year) of the van with most, or None."""
    if alarms:
        return (
            f"{count(alarms, 'alarm').capitalize()} to look at first." if alarms > 1 else "An alarm to look at first."
        )
    if advised_age is not None:
        return f"At a service, renew those of about {years(advised_age)} and over."
    if van and van[1] >= 1:
        return f"Nothing to renew ahead of failure: have them on board, most on {van[0]} ({number(van[1])} in a year)."
    return ""


def _shape(group):
    span = f", {likely(group.shape_low, group.shape_high)}" if known(group.shape_low) or known(group.shape_high) else ""
    return f"shape {number(group.shape)}{span}"


def assumed(costs, currency):
    """What the two costs are made of."""
    part = f"{costs.part.number} at {money(costs.price, currency)}" if isinstance(costs.part, Part) else "the part"
    labour, call_out, second = (money(one, currency, 0) for one in (costs.labour, costs.call_out, costs.second_visit))
    return (
        f"Reckoned with {part} and {_hours(costs.hours)} at {labour}: {money(costs.planned, currency, 0)} in "
        f"good time. After a failure {money(costs.failure, currency, 0)}, with a call-out of {call_out} and a second "
        f"visit ({second}) in {per_cent(costs.again)} of them. What the customer goes through is not counted."
    )


def _hours(hours):
    return "an hour" if hours == 1 else f"{number(hours, None)} hours"


def trend_sentence(drift):
    """Whether failures come faster than age and season explain, with its p."""
    if drift is None:
        return "Without a drawn life nobody can say whether they fail more often than their age explains."
    if drift.word == "few":
        return (
            f"{count(drift.failures, 'failure').capitalize()} in ten years: too few to tell whether they rise or fall."
        )
    said = {
        "rising": "They come faster than age and season explain: look for a bad batch or a weak model.",
        "falling": "They come more slowly than age and season explain.",
        "steady": "No rise or fall beyond what age and season explain is shown.",
    }[drift.word]
    return f"{said} {last_year(drift)} (p {number(drift.p, 2)}, over {count(drift.failures, 'failure')} of ten years.)"


def last_year(drift):
    """The last year against the years before it."""
    told = f"In the last year {number(drift.recent, None)} failed where {number(drift.expected)} were to be expected"
    if not known(drift.ratio):
        return f"{told}."
    span = f", {likely(drift.low, drift.high)}" if known(drift.low) or known(drift.high) else ""
    return f"{told}; against the years before that is {number(drift.ratio)} times as many{span}."
