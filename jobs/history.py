"""Life history of the firm's own records: its spells, and what is in care on a day."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import Max

from firm.models import Setting
from jobs.models import Job, Visit
from jobs.records import EPOCH, FirmRecords, last_vans, read_records
from jobs.reliability import history
from jobs.reliability.history import InCare, Names, Spells

BEFORE_CARE = ("perhaps", "first", "unknown")
SILENCE = ("model", "window")


@dataclass(frozen=True)
class InCareWithVans(InCare):
    """Positions in care. van: index into `vans` (keys of places) of the appliance's last visit by a van, else −1."""

    names: Names
    van: np.ndarray
    vans: tuple[str, ...]


def spells(
    *,
    as_of: date,
    care_window_months: float | None = None,
    silence: str = "window",
    components: Iterable[str] | None = None,
    records: FirmRecords | None = None,
) -> Spells:
    """All spells of the firm known on `as_of`; the care window is the firm's setting unless given.

    silence: one of SILENCE. components: keys to keep. records: as read by `read_records`, for callers that need more
    than one analysis. ValueError for a word not to be had.
    """
    records = records or read_records()
    return history.build_spells(records, **_when(records, as_of, care_window_months, silence, components))


def in_care(
    as_of: date,
    *,
    care_window_months: float | None = None,
    silence: str = "window",
    components: Iterable[str] | None = None,
    records: FirmRecords | None = None,
) -> InCareWithVans:
    """The component positions in care on `as_of`, their ages, post areas, and the van that came last."""
    records = records or read_records()
    here = history.positions_in_care(records, **_when(records, as_of, care_window_months, silence, components))
    van, vans = last_vans(records, as_of)
    return InCareWithVans(**vars(here), names=records.names, van=van[here.appliance], vans=vans)


def newest_record(as_of: date | None = None) -> date | None:
    """Day of the newest report or visit made, up to `as_of`; None where there is none."""
    upto = as_of or date.max
    reported = Job.objects.filter(reported_on__lte=upto).aggregate(newest=Max("reported_on"))["newest"]
    visited = Visit.objects.exclude(outcome="").filter(on__lte=upto).aggregate(newest=Max("on"))["newest"]
    return max(filter(None, (reported, visited)), default=None)


def _when(records, as_of, care_window_months, silence, components):
    if silence not in SILENCE:
        raise ValueError(f"silence {silence}: not to be had; ask for {' or '.join(SILENCE)}")
    if care_window_months is None:
        care_window_months = Setting.current().care_window_months
    keys = {key: at for at, key in enumerate(records.names.components)}
    return {
        "as_of": (as_of - EPOCH).days,
        "care_window_months": float(care_window_months),
        "silence": silence,
        "components": None if components is None else [keys[key] for key in components if key in keys],
    }
