"""What the builder of life history reads: a firm's records as plain arrays.

Days are whole days since 1970-01-01 (int), NO_DAY where there is none. Every other column that names something
holds its index, NONE where it names nothing. Indices of components and appliances follow the sorted order of
their keys, so that sorting by index sorts by key.
"""

from dataclasses import dataclass

import numpy as np

NONE = -1
NO_DAY = -1_000_000
PRECISIONS = ("unknown", "day", "month", "year")
UNKNOWN, DAY, MONTH, YEAR = range(4)
KINDS = ("breakdown", "service", "planned", "installation", "other")
BREAKDOWN = 0
WHYS = ("failed", "planned", "recall", "upgrade", "had-to-come-off")
WHY_FAILED = 0


@dataclass(frozen=True)
class Names:
    """The keys behind the indices, as arrays or lists of text."""

    components: np.ndarray
    appliances: np.ndarray
    models: np.ndarray
    makers: np.ndarray
    suppliers: np.ndarray
    post_areas: np.ndarray


@dataclass(frozen=True)
class Catalogue:
    """What each model holds and each part covers.

    maker: of each model. held_*: one entry per (model, component) with its count. covers_*: one entry per pair.
    """

    maker: np.ndarray
    held_model: np.ndarray
    held_component: np.ndarray
    held_count: np.ndarray
    covers_part: np.ndarray
    covers_component: np.ndarray


@dataclass(frozen=True)
class Appliances:
    """installed: a day within the period that `precision` (index into PRECISIONS) gives."""

    model: np.ndarray
    post_area: np.ndarray
    installed: np.ndarray
    precision: np.ndarray
    in_care_from: np.ndarray
    in_care_until: np.ndarray
    on_service: np.ndarray


@dataclass(frozen=True)
class Earlier:
    """What is known from before care. renewed: as `installed`; NO_DAY says that it is the original."""

    appliance: np.ndarray
    component: np.ndarray
    position: np.ndarray
    renewed: np.ndarray
    precision: np.ndarray


@dataclass(frozen=True)
class Jobs:
    """kind: index into KINDS. return_of: a job, or NONE. of_*: one entry per (job, appliance) that it is about."""

    kind: np.ndarray
    reported: np.ndarray
    return_of: np.ndarray
    of_job: np.ndarray
    of_appliance: np.ndarray


@dataclass(frozen=True)
class Visits:
    """Visits of one day stand in the order in which they were made."""

    job: np.ndarray
    day: np.ndarray


@dataclass(frozen=True)
class Findings:
    """component: NONE where nothing failed. position: 0 where none is named. no_part: a cause that needed no part."""

    visit: np.ndarray
    appliance: np.ndarray
    component: np.ndarray
    position: np.ndarray
    no_part: np.ndarray


@dataclass(frozen=True)
class Fitted:
    """Rows of one visit stand in the order of entry. pieces: whole, at least 1. why: index into WHYS.

    taken_out: the day on which it came out again because it was not the fault, else NO_DAY. supplier: of the part.
    """

    visit: np.ndarray
    appliance: np.ndarray
    part: np.ndarray
    component: np.ndarray
    position: np.ndarray
    pieces: np.ndarray
    why: np.ndarray
    taken_out: np.ndarray
    supplier: np.ndarray


@dataclass(frozen=True)
class Records:
    names: Names
    catalogue: Catalogue
    appliances: Appliances
    earlier: Earlier
    jobs: Jobs
    visits: Visits
    findings: Findings
    fitted: Fitted
