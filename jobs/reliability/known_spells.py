"""The likelihood of ordinary spells, whose ages are known, beside that of positions taken over in mid-life."""

import numpy as np

from jobs.reliability.ages import log_ages

Array = np.ndarray


class KnownSpells:
    """Log likelihood per group of late entries, failures and censored exits, ages divided by `largest` (groups,)."""

    def __init__(self, spells, largest: Array):
        """spells: entry, exit, failed, weight and group of each, (m,)."""
        self.spells, self.groups = spells, largest.size
        entry, exit, failed, weight, group = spells
        self.ages = log_ages(entry / largest[group], exit / largest[group], failed, weight, group)

    def of(self, number, largest) -> "KnownSpells":
        """Those of the groups that have a number >= 0, which is their new one."""
        if not self.ages.group.size:
            return KnownSpells(self.spells, largest)
        *columns, group = self.spells
        kept = number[group] >= 0
        return KnownSpells((*(column[kept] for column in columns), number[group[kept]]), largest)

    def totals(self):
        """Failures and exposure (in units of `largest`) of each group."""
        failures, exposure = np.zeros(self.groups), np.zeros(self.groups)
        failures[self.ages.group] = self.ages.failures
        exposure[self.ages.group] = self.ages.exposure * self.ages.largest
        return failures, exposure

    def slopes(self, shape, log_scale):
        """Log likelihood at shapes and log scales (groups,) and its slopes in log shape and log scale, (3, groups)."""
        total, ages = np.zeros((3, self.groups)), self.ages
        if not ages.group.size:
            return total
        b, own, r = shape[ages.group], ages.group, ages.failures
        scale = log_scale[own] - np.log(ages.largest)
        risen = np.repeat(b, ages.length) * (ages.log - np.repeat(scale, ages.length))
        passed = ages.sign * np.exp(risen)
        hazard = np.add.reduceat(passed, ages.start)
        total[0, own] = r * (np.log(b) - b * scale - np.log(ages.largest)) + (b - 1) * ages.failed_log_sum - hazard
        total[1, own] = r * (1 - b * scale) + b * ages.failed_log_sum - np.add.reduceat(passed * risen, ages.start)
        total[2, own] = b * (hazard - r)
        return total
