"""The lives of components in plain words; the statistics stand in the method line and the help."""

from firm.tables import figure
from firm.words import UNKNOWN, count, known, likely, number, plural, span_of_years, years
from jobs.history import newest_record
from jobs.lives import STALE

FINDING, CHANCE, NOTHING = 8, 0.1, 0.05
FAR = 3  # times the oldest watched: a mean life beyond that is no news for the head of a page
STATUS = {
    "fitted": ("good", "tick", "Life drawn"),
    "no-failures": ("note", "eye", "No failures yet"),
    "one-failure": ("note", "eye", "One failure so far"),
    "all-ages-equal": ("note", "eye", "All failed at one age"),
    "shape-at-edge": ("care", "warn", "Ages too few to draw a life"),
    "no-known-ages": ("care", "warn", "Ages not known"),
    "not-converged": ("care", "warn", "No life could be drawn"),
}
WHY = {
    "no-failures": "Nothing failed, so there is only a least time between failures, and no life can be drawn.",
    "one-failure": "One failure says nothing yet about the age at which they go.",
    "all-ages-equal": "All failed at one and the same age, and no life can be drawn from that.",
    "shape-at-edge": "The ages at which they failed do not settle how they wear, so no life is drawn.",
    "no-known-ages": "The age of none that failed is known, so they count in the time between failures only.",
    "not-converged": "The reckoning did not settle, so no life is given.",
}
BEFORE_CARE = {
    "first": "We take the first part that we met in each appliance for the one that it was installed with.",
    "unknown": "Ages of parts that may have been changed before care are left out; their years still count.",
    "perhaps": "We take it that the part may have been changed before the appliance came into your care.",
}
BEFORE_CARE_SHORT = {
    "perhaps": "they may have been changed",
    "first": "they are the originals",
    "unknown": "their ages are left out",
}
SILENCE = {
    "model": "Customers who have fallen silent count with the chance that they are still with you.",
    "window": "Customers who have been silent for longer than the care window are taken to have left.",
}


def noun(component):
    """«circulating pump» in mid-sentence."""
    name = component.name
    return name if name[:2].isupper() else name[:1].lower() + name[1:]


def wears(group):
    """wear-out, early-life, random, or "" where the failures do not tell yet."""
    if group.status != "fitted" or group.failures < FINDING or group.lr_p is None:
        return ""
    if group.lr_p >= CHANCE:
        return "random"
    return "wear-out" if group.shape > 1 else "early-life"


def stale(as_of):
    """A sentence for a page where nothing was recorded in the 31 days before `as_of`, else ""."""
    newest = newest_record(as_of)
    if newest is None:
        return "Nothing is recorded yet."
    if as_of - newest <= STALE:
        return ""
    return (
        f"The newest record is of {newest:%-d %B %Y}, {count((as_of - newest).days, 'day')} ago. Since then everything "
        "counts as if nothing had failed: import or enter what is missing."
    )


def time_between(group):
    """The figure of the plain count, with what it rests on."""
    if not known(group.mtbf):
        least = f"over {years(group.mtbf_low)}" if known(group.mtbf_low) else UNKNOWN
        return figure("Time between failures", least, "a least time: nothing failed; not a promised life")
    span = likely(*span_of_years(group.mtbf_low, group.mtbf_high))
    return figure("Time between failures", years(group.mtbf), f"{span}; not a promised life")


def false_alarms(a_year):
    """How many to expect in a year, in words."""
    return "fewer than 0.1" if a_year < 0.05 else number(a_year)


def headline(component, life, coming=None):
    """What is due, how long one lasts, and how they go."""
    return " ".join(part for part in (due(coming), _how_long(component, life)) if part)


def due(coming):
    """What the jobs.due.Due says in a sentence; nothing where hardly any will fail."""
    if coming is None or coming.high == 0:
        return ""
    if coming.expected < 1:
        most = f"{coming.high} {'is' if coming.high == 1 else 'are'}"
        return f"At most {most} likely to fail in the next {coming.weeks} weeks."
    likely_many = f"likely between {coming.low} and {coming.high}"
    return f"About {number(coming.expected, 0)} will fail in the next {coming.weeks} weeks ({likely_many})."


def expected(failures):
    """Failures to expect: one place, none from a hundred on."""
    return number(failures, 0 if known(failures) and failures >= 100 else 1)


def due_figure(coming):
    """The figure of what is due, in a list of one or none."""
    if coming is None:
        return []
    unseen = f", {number(coming.of_unseen_age, 0)} of unknown age" if coming.of_unseen_age >= 0.5 else ""
    told = f"likely between {coming.low} and {coming.high}, of {number(coming.in_care, 0)} in care{unseen}"
    return [figure(f"Due in {coming.weeks} weeks", expected(coming.expected), told)]


def of_a_hundred(group):
    """How many of a hundred fail in a year, in words, from the time between failures."""
    if not known(group.mtbf):
        return f"at most about {number(100 / group.mtbf_low)}" if known(group.mtbf_low) else "nobody knows how many"
    return f"about {number(100 / group.mtbf, 0 if group.mtbf < 10 else 1)}"


def _how_long(component, life):
    group, one = life.group, noun(component)
    if group.status == "no-failures":
        least = f" The time between failures is likely over {years(group.mtbf_low)}." if known(group.mtbf_low) else ""
        return f"None has failed in {number(group.exposure, 0)} years of {plural(one)} in your care.{least}"
    counted = f"{_some(group.failures)} failed in {number(group.exposure, 0)} years of {plural(one)} in your care."
    if group.status != "fitted":
        return f"{counted} {WHY[group.status]}"
    if life.misfit:
        return f"{counted} One curve does not describe how they go: look at the failures at each age."
    return f"{_lasts(life, one, counted)} {_how_they_go(life, one)}"


def _lasts(life, one, counted):
    """How long one lasts; what was counted where too few failed, or none could be watched for nearly as long."""
    group = life.group
    if not known(group.mean) or group.failures < FINDING or group.mean > FAR * max(life.oldest, 1):
        return counted
    if group.mean > life.oldest:
        return f"{_a(one)} in your care lasts {_about(group.mean)} by the curve, longer than any was watched."
    return f"{_a(one)} in your care lasts {_about(group.mean)}."


def life_range(low, high):
    """The likely range of a life in years; one from nothing to no end is none."""
    low, high = span_of_years(low, high)
    if not known(high) and known(low) and low < NOTHING:
        return "range not known"
    return likely(low, high)


def doubt(life, age):
    """What is to be added to a fitted figure that is no finding, or that nobody has watched."""
    if life.group.failures < FINDING:
        return "; few failures, no finding yet"
    return "; longer than any was watched" if known(age) and age > life.oldest else ""


def _about(mean):
    told = years(mean)
    return told if told.startswith("over") else f"about {told}"


def _some(failures):
    return "One has" if failures == 1 else f"{number(failures, None)} have"


def _a(one):
    return f"{'An' if one[0].lower() in 'aeiou' or one[:3] in ('NTC', 'RCD') else 'A'} {one}"


def _many(rate):
    """Of a hundred."""
    return number(rate * 100) if rate >= 0.0005 else "hardly any"


def _how_they_go(life, one):
    rates = dict(life.hazard)
    early, late = rates.get(2.0), rates.get(10.0)
    kind = wears(life.group)
    if kind == "wear-out" and early and late:
        return (
            f"They wear out: of a hundred that are ten years old, {_many(late)} fail in a year; "
            f"of a hundred two years old, {_many(early)}."
        )
    if kind == "early-life" and early and late:
        return (
            f"They fail young or last: of a hundred two years old, {_many(early)} fail in a year; "
            f"at ten, {_many(late)}."
        )
    if kind == "random":
        return "They fail at any age: so far an old one is no likelier to fail than a new one."
    return f"With {count(life.group.failures, 'failure')} it cannot be said yet whether they wear out."


def what_it_says(component, life):
    """Sentences below the two pictures."""
    group, one = life.group, noun(component)
    if group.status != "fitted":
        return [
            WHY[group.status],
            f"The best estimate leans on the other components until {plural(one)} can speak for themselves.",
        ]
    shares = {age: share for age, share, _, _ in life.curve}
    told = []
    if known(group.b10):
        told.append(
            f"Of a hundred new ones, ten are gone by {years(group.b10)} ({life_range(group.b10_low, group.b10_high)})."
        )
    third = next((age for age, share in shares.items() if share <= 2 / 3), None)
    if third:
        told.append(f"Of three new ones fitted today, two still run in about {count(int(third), 'year')}.")
    said = {
        "wear-out": "The wear is real and not chance",
        "early-life": "The early failures are real and not chance",
        "random": "Age makes no difference that would show",
    }.get(wears(group))
    if said and not life.misfit:
        told.append(
            f"{said} (shape {number(group.shape)}, {likely(group.shape_low, group.shape_high)}; "
            "1 would mean that age makes no difference)."
        )
    if life.misfit:
        start, end, failed, expected = life.misfit
        told.append(
            f"The curve does not describe them well: from age {start:g} to {end:g}, "
            f"{number(failed, None)} failed where it "
            f"expects {number(expected)}. Look at the plain counts, and for a bad batch or a weak model."
        )
    return told


def named_priors(report, names):
    """(family in words, prior) of each prior of a report. names: of component types by key."""
    return [(names.get(prior.family, prior.family.capitalize()), prior) for prior in report.priors]
