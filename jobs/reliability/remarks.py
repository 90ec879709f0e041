"""What a reader of a group's figures must be told: one sentence for each."""

import numpy as np

from jobs.reliability.shrinkage import NOT_TOLD_APART

FINDING = 8  # failures from which on a shape is shown as a finding
FEW = 5
SIZES = tuple(name + end for name in ("scale", "mean", "b10") for end in ("_low", "", "_high"))
NOT_APART = f"{NOT_TOLD_APART.capitalize()}: they differ no more than chance makes them."
BELOW_LIMITS = "The best estimate lies below its limits: it is a mean, and rates far above the likely ones weigh."
ASSUMED = "The best estimate rests on an assumed rate (common practice, no source)."
ON_BEST = (NOT_APART, BELOW_LIMITS, ASSUMED)
NO_LOWER = "The shape has no lower limit that can be told; nor have scale, mean and B10 limits."
NO_LOWER_LATE = "The shape has no lower limit, for all came under watch late; nor have scale, mean and B10 limits."
STATUS = {
    "no-failures": "Nothing failed: the MTBF limit is one-sided, a least value.",
    "one-failure": "One failure alone: no life can be fitted.",
    "all-ages-equal": "All failures have the same age: no life can be fitted.",
    "shape-at-edge": "The likelihood has no inner maximum: no life can be fitted.",
    "no-known-ages": "No failure has a known age: no life can be fitted.",
    "not-converged": "The fit did not settle: no life is given.",
}


def group_warnings(spells, aged, status, failures, exposure, best, fits, curves) -> list[tuple[str, ...]]:
    """Sentences for each group, most telling first. Arguments as life_report has them."""
    groups = len(spells.names)
    fitted = status == "fitted"
    known = np.bincount(aged.group, np.where(aged.failed, aged.weight, 0.0), groups)
    new = np.bincount(aged.group, np.where(aged.failed & (aged.exit <= 0), aged.weight, 0.0), groups)
    without_age = failures - known
    young = _watched_young(aged, fits, groups)
    late = np.bincount(aged.group, (aged.entry <= 0) & (aged.exit > 0) & (aged.weight > 0), groups) == 0
    left_out = np.zeros(groups) if curves is None else curves.left_out
    sentences: list[tuple[str, ...]] = []
    for i in range(groups):
        own = [STATUS[str(status[i])]] if not fitted[i] else []
        if exposure[i] <= 0:
            own.append("Nothing was watched.")
        if without_age[i] > 1e-9:
            have, they = ("has", "it counts") if without_age[i] == 1 else ("have", "they count")
            own.append(f"{without_age[i]:g} of {failures[i]:g} failures {have} no known age: {they} in MTBF only.")
        if new[i]:
            own.append(f"{_are(new[i], 'failure at age 0', 'failures at age 0')} left out of the fitted life.")
        if fitted[i]:
            own += _about_fit(fits, i, known[i], young[i], late[i])
        if not best.apart[i]:
            own.append(NOT_APART)
        if best.mtbf[i] < best.low[i]:
            own.append(BELOW_LIMITS)
        if best.assumed[i]:
            own.append(ASSUMED)
        if left_out[i]:
            earlier = _are(left_out[i], "earlier failure", "earlier failures")
            own.append(f"The curve starts where {FEW} are at risk; {earlier} left out.")
        sentences.append(tuple(own))
    return sentences


def _are(many, one, more):
    return f"1 {one} is" if many == 1 else f"{many:g} {more} are"


def _about_fit(fits, i, failures, young, late):
    told = []
    if failures < FINDING:
        told.append(f"Fewer than {FINDING} failures of known age: the shape is not yet a finding.")
    if np.isnan(fits.shape_low[i]):
        told.append(NO_LOWER_LATE if late else NO_LOWER)
    if any(getattr(fits, name)[i] in (0.0, np.inf) for name in SIZES):
        told.append("A life or its limit is too small or too large to be told.")
    if young < FEW:
        told.append(
            f"On average {young:.1f} were watched below the age by which a tenth fail: "
            "that part of the life leans on the later ages."
        )
    return told


def _watched_young(aged, fits, groups):
    """Mean number under watch below B10, per group; inf without a fit."""
    b10 = np.where(np.isnan(fits.b10), np.inf, fits.b10)
    upto = np.minimum(aged.exit, b10[aged.group])
    below = np.bincount(aged.group, aged.weight * np.maximum(upto - aged.entry, 0.0), groups)
    return np.where(np.isinf(b10) | (b10 <= 0), np.inf, below / np.where(b10 > 0, b10, 1.0))
