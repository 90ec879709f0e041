"""Lives of a kind without the parts of one supplier: a bad batch shall not lend its own early failures to its judge."""

import numpy as np

from jobs.reliability.life import fit_weibull
from jobs.reliability.stretches import Lives, Pieces, Stretches

Array = np.ndarray
FEW, MORE = 3, 1.5  # early failures, and times what is expected, from which on a supplier's parts are left out
ENOUGH = 5  # failures of the others that a life of theirs takes


def suspects(pieces: Pieces, early: Stretches, count, hazard, kinds) -> Array:
    """(kind, supplier) whose early failures stand out against their kind's, (2, c).

    count, hazard: failures of each early stretch, and those expected of it.
    """
    own = np.flatnonzero(pieces.supplier[early.piece] >= 0)
    kind, supplier = pieces.kind[early.piece], pieces.supplier[early.piece]
    usual = (np.bincount(kind, count, kinds) + 1) / (np.bincount(kind, hazard, kinds) + 1)
    width = int(supplier.max(initial=0)) + 1
    pairs, of = np.unique(kind[own].astype(np.int64) * width + supplier[own], return_inverse=True)
    failures, expected = np.bincount(of, count[own], pairs.size), np.bincount(of, hazard[own], pairs.size)
    chosen = pairs[(failures >= FEW) & (failures > MORE * expected * usual[pairs // width])]
    return np.stack(np.divmod(chosen, width))


def with_lives_left_out(pieces: Pieces, stretches: Stretches, lives: Lives, pairs) -> Lives:
    """The lives, and after them those of each kind in `pairs` without the supplier's parts, as kinds of their own.

    Stretches of unseen age count at each age by its chance. Where too few others failed the kind's own life stays.
    """
    kind = pieces.kind[stretches.piece]
    order = np.argsort(kind, kind="stable")
    bounds = np.searchsorted(kind[order], np.arange(lives.shape.size + 1))
    rows = [order[bounds[one] : bounds[one + 1]] for one in pairs[0]]
    rows = [
        own[(pieces.supplier[stretches.piece[own]] != supplier) & (stretches.exit[own] > 0)]
        for own, supplier in zip(rows, pairs[1], strict=True)
    ]
    group = np.repeat(np.arange(len(rows)), [own.size for own in rows])
    kept = stretches.of(np.concatenate([*rows, np.zeros(0, int)]).astype(int))
    fits = fit_weibull(kept.entry, kept.exit, kept.failed, kept.weight, group, groups=len(rows), limits=False)
    enough = np.bincount(group, kept.weight * kept.failed, len(rows)) >= ENOUGH
    fitted = enough & (fits.status == "fitted")
    return Lives(
        np.append(lives.shape, np.where(fitted, fits.shape, lives.shape[pairs[0]])),
        np.append(lives.scale, np.where(fitted, fits.scale, lives.scale[pairs[0]])),
        np.concatenate([lives.season, lives.season[pairs[0]]]),
    )
