"""Spells put into groups, and groups into families that lend each other strength."""

from dataclasses import dataclass, replace

import numpy as np

from jobs.reliability.history.spells import CLOSED_BY
from jobs.reliability.unseen import TakenOver, taken_over

Array = np.ndarray
KEYS = ("component", "model", "maker", "supplier", "fitted_year")
BY = ("component", *(f"component,{key}" for key in KEYS[1:]))
KNOWN, PERHAPS = 0, 1  # numbers of the clocks of a spell
OTHER_RENEWALS = [CLOSED_BY.index(word) for word in CLOSED_BY[: CLOSED_BY.index("left")]]


@dataclass(frozen=True)
class GroupedSpells:
    """Spells as arrays (m,) and the groups they belong to.

    names: of the groups (n,); group: numbers into them; entry, exit: ages; failed: bool; weight: how far a
    spell counts; aged: False where the age is not known. family: number of each group's family (n,), into
    families. assumed: failures per 100 units of exposure assumed of each group (n,), nan where nothing is.
    unit: number of the position whose earlier renewals nobody saw, equal and in a row within one, -1 for other
    spells; None where no position may have had any. lost_rate: renewals that were no failures, per unit of
    exposure (n,).
    """

    names: tuple[str, ...]
    group: Array
    entry: Array
    exit: Array
    failed: Array
    weight: Array
    aged: Array
    family: Array
    families: tuple[str, ...]
    assumed: Array
    unit: Array | None = None
    lost_rate: Array | None = None

    def of_known_age(self) -> "GroupedSpells":
        """Only the spells whose age is known."""
        if self.aged.all():
            return self
        return self._only(self.aged)

    def taken_over(self) -> TakenOver:
        """The positions whose earlier renewals nobody saw, pieces of no age left out."""
        over = np.zeros(self.aged.size, bool) if self.unit is None else self.unit >= 0
        columns = [getattr(self, name)[over] for name in ("entry", "exit", "failed", "weight", "group")]
        units = np.array([], int) if self.unit is None else self.unit[over]
        return taken_over(units, *columns)

    def with_an_age(self) -> "GroupedSpells":
        """The spells that bear on a life: of known age, and of positions taken over."""
        if self.unit is None:
            return self.of_known_age()
        return self._only(self.aged | (self.unit >= 0))

    def _only(self, chosen):
        columns = {name: getattr(self, name)[chosen] for name in ("group", "entry", "exit", "failed", "weight")}
        return replace(self, **columns, aged=self.aged[chosen], unit=None)


def one_family(names, group, entry, exit, failed, weight) -> GroupedSpells:
    """Spells whose ages are all known, all their groups one family."""
    return GroupedSpells(
        tuple(names),
        np.asarray(group),
        np.asarray(entry, float),
        np.asarray(exit, float),
        np.asarray(failed, bool),
        np.asarray(weight, float),
        np.ones(len(group), bool),
        np.zeros(len(names), int),
        ("all groups",),
        np.full(len(names), np.nan),
    )


def group_spells(spells, by, *, before_care, assumed=None) -> GroupedSpells:
    """Group the spells of a firm's records by one of BY.

    spells: as life history builds them. before_care: `first` takes the ages of positions that may have been
    renewed before care, `unknown` does not, `perhaps` keeps them as positions taken over. assumed: failures per 100
    years of each component of spells.names.components, nan where nothing is assumed. Groups are sorted by name;
    with `component` all components are one family, else the groups of one component are.
    """
    key = by.split(",")[-1]
    component, group = _numbers(spells, key)
    names = _names(spells, by, component, group)
    order = sorted(range(len(names)), key=lambda i: names[i])
    rank = np.empty(len(names), int)
    rank[order] = np.arange(len(names))
    component = component[order]
    kept, family = np.unique(component, return_inverse=True)
    words = np.asarray(spells.names.components, dtype=object)
    together = key == "component"
    assumed = np.full(words.size, np.nan) if assumed is None else np.asarray(assumed, float)
    of_spell = rank[group["of"]]
    return GroupedSpells(
        names=tuple(names[i] for i in order),
        group=of_spell,
        entry=spells.entry,
        exit=spells.exit,
        failed=spells.failed,
        weight=spells.weight,
        aged=spells.clock <= (PERHAPS if before_care == "first" else KNOWN),
        family=np.zeros(component.size, int) if together else family,
        families=("all components",) if together else tuple(str(word) for word in words[kept]),
        assumed=assumed[component],
        unit=_units(spells) if before_care == "perhaps" else None,
        lost_rate=_lost_rates(spells, of_spell, len(names)),
    )


def _units(spells):
    """A number for each position whose clock is *perhaps*, -1 for spells of other clocks and of age 0."""
    over = np.flatnonzero((spells.clock == PERHAPS) & (spells.exit > 0))
    new = np.zeros(over.size, bool)
    for name in ("component", "appliance", "position"):
        new |= np.diff(getattr(spells, name)[over], prepend=-2) != 0
    unit = np.full(len(spells), -1)
    unit[over] = np.cumsum(new)
    return unit


def _lost_rates(spells, group, groups):
    """Renewals that were no failures, per component-year of each group: unseen ones happened before care too."""
    renewed = np.isin(spells.closed_by, OTHER_RENEWALS) & ~spells.failed
    years = np.bincount(group, spells.weight * (spells.exit - spells.entry), groups)
    return np.bincount(group[renewed], minlength=groups) / np.where(years > 0, years, 1.0)


def _numbers(spells, key):
    """Component of each group; and of each group its first spell (`first`), of each spell its group (`of`)."""
    component = spells.component.astype(np.int64)
    other = np.zeros_like(component) if key == "component" else getattr(spells, key).astype(np.int64) + 1
    width = int(other.max(initial=0)) + 1
    found, first, of = np.unique(component * width + other, return_index=True, return_inverse=True)
    return found // width, {"first": first, "of": of}


def _names(spells, by, component, group):
    words = np.asarray(spells.names.components, dtype=object)[component]
    if by == "component":
        return [str(word) for word in words]
    key = by.split(",")[-1]
    other = _words(spells, key, getattr(spells, key)[group["first"]])
    return [f"{word} / {text}" for word, text in zip(words, other, strict=True)]


def _words(spells, key, index):
    if key == "fitted_year":
        return ["unknown" if year == 0 else str(year) for year in index]
    vocabulary = {"model": spells.names.models, "maker": spells.names.makers, "supplier": spells.names.suppliers}[key]
    return ["unknown" if number < 0 or not vocabulary[number] else str(vocabulary[number]) for number in index]
