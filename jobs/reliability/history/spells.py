"""Spells: what the builder of life history gives, one entry per watched stretch of one component position."""

import csv
from dataclasses import dataclass

import numpy as np

from jobs.reliability.history.records import Names
from jobs.reliability.silence import Silence

DAYS_PER_YEAR = 365.25
SHOWN = 3  # appliances that one warning names
CLOCKS = ("known", "perhaps", "unknown")
OPENED_BY = ("care", "installed", "renewal", "repair")
CLOSED_BY = (
    "failed", "planned", "recall", "upgrade", "had-to-come-off", "covered", "left", "lost", "silent", "as-of",
)  # fmt: skip
COLUMNS = (
    "component", "appliance", "position", "model", "entry", "exit", "failed", "clock", "opened_by", "closed_by",
    "weight",
)  # fmt: skip


@dataclass(frozen=True)
class Spells:
    """Arrays of equal length, sorted by component, appliance, position, entry.

    component, appliance, model, maker, supplier, post_area: indices into `names` (−1: unknown).
    clock, opened_by, closed_by: indices into CLOCKS, OPENED_BY, CLOSED_BY. entry, exit: ages in years.
    fitted_year: year in which the part was fitted, or the appliance installed; 0: unknown.
    opened_day, closed_day: days since 1970-01-01. failed: bool. weight: how far the spell counts.
    supplier: of the part that stands in the position since a renewal that the firm made.
    added: the (appliance, component) pairs that the model lacks and the records name.
    silence: the rates by which silent tails are weighed, None where the window serves for all.
    """

    names: Names
    component: np.ndarray
    appliance: np.ndarray
    position: np.ndarray
    model: np.ndarray
    maker: np.ndarray
    supplier: np.ndarray
    post_area: np.ndarray
    fitted_year: np.ndarray
    entry: np.ndarray
    exit: np.ndarray
    failed: np.ndarray
    clock: np.ndarray
    opened_by: np.ndarray
    closed_by: np.ndarray
    weight: np.ndarray
    opened_day: np.ndarray
    closed_day: np.ndarray
    added: np.ndarray
    silence: Silence | None = None

    def __len__(self):
        return len(self.entry)

    @property
    def warnings(self):
        """One sentence per component that was added to appliances whose model lacks it."""
        sentences = []
        for component in dict.fromkeys(self.added[:, 1].tolist()):
            there = [self.names.appliances[at] for at in self.added[self.added[:, 1] == component, 0]]
            more = f" and {len(there) - SHOWN} more" if len(there) > SHOWN else ""
            named = ", ".join(there[:SHOWN]) + more
            sentences.append(f"{self.names.components[component]}: added to {named}, whose model lacks it.")
        return sentences

    def words(self, field):
        """The text of a field that holds indices, as an array; «unknown» where the index is −1 or the year 0."""
        words, index = self._vocabulary(field), getattr(self, field)
        if words is None:
            return np.where(index == 0, "unknown", index.astype(str)) if field == "fitted_year" else index
        return np.append(np.asarray(words, dtype=object), "unknown")[index]

    def _vocabulary(self, field):
        names = self.names
        return {
            "component": names.components,
            "appliance": names.appliances,
            "model": names.models,
            "maker": names.makers,
            "supplier": names.suppliers,
            "post_area": names.post_areas,
            "clock": CLOCKS,
            "opened_by": OPENED_BY,
            "closed_by": CLOSED_BY,
        }.get(field)

    def rows(self):
        """Rows of the file of spells: columns, order and precision of contracts.md section 2."""
        columns = [self.words(name) for name in COLUMNS]
        for name, column in zip(COLUMNS, columns, strict=True):
            if name == "failed":
                columns[COLUMNS.index(name)] = column.astype(int)
        shown = [column.tolist() for column in columns]
        for name in ("entry", "exit", "weight"):
            shown[COLUMNS.index(name)] = _in_full(getattr(self, name))
        at = COLUMNS.index("weight")
        shown[at] = ["1" if weight == "1.000000" else weight for weight in shown[at]]
        return zip(*shown, strict=True)

    def write_csv(self, file):
        """Write header and rows to an open text file."""
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(self.rows())


def _in_full(values):
    """Numbers (m,) as texts that are read back as the same numbers, with six decimals at least."""
    found, place = np.unique(values, return_inverse=True)
    texts = [np.format_float_positional(value, min_digits=6) for value in found.tolist()]
    return np.array(texts, dtype=object)[place].tolist()
