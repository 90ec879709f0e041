"""One component type under every assumption, side by side."""

from firm.tables import Column, Table
from firm.words import LONG, between, known, number, span_of_years
from jobs import failure_words

FIGURES = [
    ("mtbf", "Plain count"),
    ("shrunk", "Best estimate"),
    ("mean", "Mean life"),
    ("b10", "One in ten gone by"),
    ("shape", "Shape"),
]


def answers_table(request, component, answers):
    """The figures of jobs.lives.sensitivity for one component type, unrounded in the file."""
    rows = [_row(answer, answer.groups.get(component.key)) for answer in answers]
    columns = [
        Column("words", "Assumed", order=""),
        Column("failures", "Failures", numeric=True, show=_whole, order=""),
    ]
    columns.append(Column("exposure", "Years in care", numeric=True, show=lambda v: number(v, 0), order=""))
    columns += [_years(key, label) for key, label in FIGURES]
    ends = [
        Column(f"{key}_{end}", f"{label}, likely {word}")
        for key, label in FIGURES
        for end, word in (("low", "from"), ("high", "to"))
    ]
    named = [("before_care", "Before care"), ("silence", "Silence"), ("care_window_months", "Care window, months")]
    named += [("lost_factor", "Unseen renewals, times"), ("status", "Life")]
    return Table(
        request,
        [row for row in rows if row],
        columns,
        name=f"assumptions-{component.key}",
        caption="The answers under each assumption",
        css="mid",
        more=[*ends, *(Column(key, label) for key, label in named)],
        empty="None is in your care.",
    )


def _row(answer, group):
    if group is None:
        return None
    row = {name: getattr(answer, name) for name in ("words", "before_care", "silence")}
    row |= {name: getattr(answer, name) for name in ("care_window_months", "lost_factor")}
    row |= {"failures": group.failures, "exposure": group.exposure, "status": failure_words.STATUS[group.status][2]}
    for key, _ in FIGURES:
        row |= {name: getattr(group, name) for name in (key, f"{key}_low", f"{key}_high")}
    return row


def _whole(value):
    return number(value, None)


def _years(key, label):
    def span(row):
        if row[key] is None and row[f"{key}_low"] is None:
            return ""
        return between(*span_of_years(row[f"{key}_low"], row[f"{key}_high"]))

    return Column(key, label, numeric=True, show=_told, sub=span, order="")


def _told(value):
    if known(value) and value > LONG:
        return f"over {number(LONG, 0)}"
    return number(value, 1 if value is None or value < 100 else 0)
