"""How far off are estimates with a hundred failures and more, by what is assumed of the past and of silence?"""

import numpy as np

from jobs.reliability.life import fit_weibull
from jobs.simulation.firms import Town, draw_book
from jobs.simulation.lives import SCALES, SHAPES, appliances_for, batch_size, fit_perhaps, laws
from jobs.simulation.rows import Goal, averaged
from jobs.simulation.watched import watch

TABLE = "Mean error of estimates, at least 100 failures a group"
EXPECTED = 150


def measure_bias(rng, serviced, groups):
    """Rows of one share of customers on a yearly service: perhaps, first, unknown, and perhaps with the window."""
    town = Town(serviced=serviced)
    size = appliances_for(rng, town, laws(SHAPES.size), EXPECTED)
    batch = batch_size(size, groups)
    answers = {}
    done = 0
    while done < groups:
        law, many = laws(batch), np.tile(size, batch // SHAPES.size)
        book = draw_book(rng, town, law, np.repeat(np.arange(batch), many))
        for name, values in _answers(book, batch).items():
            answers.setdefault(name, []).append(values)
        done += batch
    return _rows(f"{serviced:.0%} on a service", {name: np.concatenate(all, axis=1) for name, all in answers.items()})


def _answers(book, groups):
    """Of each answer: shape, scale, exposure over time really in care, failures, (4, groups)."""
    weighed, cut = watch(book), watch(book, silence="window")
    care = np.bincount(book.group, book.care, groups)

    def told(fits, spells):
        failures, exposure, _ = spells.totals(groups)
        return np.stack([fits.shape, fits.scale, exposure / care, failures])

    return {
        "perhaps, silence model": told(fit_perhaps(weighed, groups, limits=False), weighed),
        "perhaps, window": told(fit_perhaps(cut, groups, limits=False), cut),
        "first, silence model": told(fit_weibull(*weighed.columns, groups=groups, limits=False), weighed),
        "unknown, silence model": told(fit_weibull(*weighed.of(weighed.known), groups=groups, limits=False), weighed),
    }


def _rows(cell, answers):
    rows = []
    for answer, (shape, scale, exposure, failures) in answers.items():
        many = failures >= 100
        kind = np.arange(shape.size) % SHAPES.size
        ours = answer == "perhaps, silence model"
        errors = {"shape": shape / SHAPES[kind] - 1, "scale": scale / SCALES[kind] - 1, "MTBF": exposure - 1}
        for name, error in errors.items():
            if name == "MTBF" and answer.startswith(("first", "unknown")):
                continue
            most = 0.03 if name == "MTBF" else 0.04
            goal = Goal(-most, most, f"within {most:.0%}") if ours else None
            each = (f"{one:g}: {np.nanmean(error[many & (kind == k)]):+.1%}" for k, one in enumerate(SHAPES))
            note = "by shape " + ", ".join(each)
            rows.append(averaged(TABLE, cell, f"{name}, {answer}", error[many], goal, note))
    return rows
