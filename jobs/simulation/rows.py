"""Rows of the coverage table, each with its Monte Carlo standard error."""

from dataclasses import dataclass

import numpy as np

HEAD = ("| cell | what | value | ± | sample | goal | | note |", "|---|---|---|---|---|---|---|---|")


@dataclass(frozen=True)
class Goal:
    """What a value must lie between to be met; words as the table shows them."""

    low: float
    high: float
    words: str


@dataclass(frozen=True)
class Row:
    """One measured value. table: where it belongs; sample: groups (or years) behind it; note: what else matters.

    percent: shown as a percentage. error: Monte Carlo standard error, nan where there is none.
    """

    table: str
    cell: str
    what: str
    value: float
    error: float
    sample: int
    goal: Goal | None = None
    note: str = ""
    percent: bool = True

    @property
    def verdict(self):
        """`met`, `missed`, or `missed?` where the miss lies within two standard errors of the goal."""
        if self.goal is None or not np.isfinite(self.value):
            return ""
        short = max(self.goal.low - self.value, self.value - self.goal.high)
        return "met" if short <= 0 else "missed?" if short <= 2 * self.error else "missed"


def covered(table, cell, what, inside, goal=None, note="", family=None) -> Row:
    """Share of True in `inside`; family: groups that are not independent of each other share a number."""
    inside = np.asarray(inside, float)
    count = inside.size
    share = float(inside.mean()) if count else np.nan
    if family is None or not count:
        error = float(np.sqrt(max(share * (1 - share), 1 / (count + 1)) / count)) if count else np.nan
    else:
        _, family = np.unique(family, return_inverse=True)
        excess = np.bincount(family, inside - share)
        error = float(np.sqrt(np.sum(excess**2)) / count)
    return Row(table, cell, what, share, error, count, goal, note)


def averaged(table, cell, what, values, goal=None, note="", percent=True) -> Row:
    """Mean of values (n,) with its standard error."""
    values = np.asarray(values, float)
    values = values[np.isfinite(values)]
    error = float(values.std(ddof=1) / np.sqrt(values.size)) if values.size > 1 else np.nan
    mean = float(values.mean()) if values.size else np.nan
    return Row(table, cell, what, mean, error, values.size, goal, note, percent)


def as_markdown(rows) -> str:
    """One Markdown table per `table`, in the order of the rows."""
    parts = []
    for table in dict.fromkeys(row.table for row in rows):
        lines = [f"### {table}", "", *HEAD]
        lines += [_line(row) for row in rows if row.table == table]
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _line(row: Row):
    goal = row.goal.words if row.goal else ""
    shown = f"{_number(row.value, row.percent)} | {_number(row.error, row.percent)}"
    return f"| {row.cell} | {row.what} | {shown} | {row.sample} | {goal} | {row.verdict} | {row.note} |"


def _number(value, percent):
    if not np.isfinite(value):
        return "none"
    return f"{100 * value:.1f} %" if percent else f"{value:.2f}"
