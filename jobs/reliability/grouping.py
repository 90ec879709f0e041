"""Spells put into groups, and groups into families that lend each other strength."""

from dataclasses import dataclass, replace

import numpy as np

Array = np.ndarray
KEYS = ("component", "model", "maker", "supplier", "fitted_year")
BY = ("component", *(f"component,{key}" for key in KEYS[1:]))
KNOWN, PERHAPS = 0, 1  # numbers of the clocks of a spell


@dataclass(frozen=True)
class GroupedSpells:
    """Spells as arrays (m,) and the groups they belong to.

    names: of the groups (n,); group: numbers into them; entry, exit: ages; failed: bool; weight: how far a
    spell counts; aged: False where the age is not known. family: number of each group's family (n,), into
    families. assumed: failures per 100 units of exposure assumed of each group (n,), nan where nothing is.
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

    def of_known_age(self) -> "GroupedSpells":
        """Only the spells whose age is known."""
        if self.aged.all():
            return self
        columns = {name: getattr(self, name)[self.aged] for name in ("group", "entry", "exit", "failed", "weight")}
        return replace(self, **columns, aged=self.aged[self.aged])


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
    renewed before care, `unknown` does not. assumed: failures per 100 years of each component of
    spells.names.components, nan where nothing is assumed. Groups are sorted by name; with `component` all
    components are one family, else the groups of one component are.
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
    return GroupedSpells(
        names=tuple(names[i] for i in order),
        group=rank[group["of"]],
        entry=spells.entry,
        exit=spells.exit,
        failed=spells.failed,
        weight=spells.weight,
        aged=spells.clock <= (PERHAPS if before_care == "first" else KNOWN),
        family=np.zeros(component.size, int) if together else family,
        families=("all components",) if together else tuple(str(word) for word in words[kept]),
        assumed=assumed[component],
    )


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
