"""What a booked visit probably needs: checks that need no part first, then parts, and where the nearest one is."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Prefetch, Q

from inventory.models import ModelComponent, Part, Place, Stock
from jobs.diagnosis import ranking
from jobs.models import Cause, NoPartCause, Symptom

LEAST_SHARE = 0.05
MOST_PARTS = 4


@dataclass(frozen=True)
class LikelyPart:
    """A part to have along. `spots` are (place, free quantity) where some is free, this van's first."""

    part: Part
    component: object
    in_ten: int
    spots: list
    on_board: Decimal
    alternatives: int = 0

    @property
    def words(self):
        return f"likely {self.in_ten} in 10" if self.in_ten else "less likely"

    @property
    def chip(self):
        """(kind, sign, word): on board, else the nearest place that has one free."""
        if self.on_board:
            return ("good", "tick", "On board")
        if self.spots:
            place, quantity = self.spots[0]
            verb = "Fetch" if place.kind == Place.Kind.STORE else "Nearest"
            return ("care", "warn", f"{verb}: {place}, {quantity:g}")
        return ("bad", "cross", "None in the firm")

    @property
    def state(self):
        """The same as the state of a job's parts, where only the likeliest part is meant."""
        kind, sign, _ = self.chip
        if self.on_board:
            return (kind, sign, "Likely part on board")
        if not self.spots:
            return (kind, sign, "Likely part: none in the firm")
        place, quantity = self.spots[0]
        return (kind, sign, f"Likely part: {place} has {quantity:g}")


@dataclass(frozen=True)
class Prospect:
    """What is probable at one job."""

    symptoms: list = field(default_factory=list)
    stops: list = field(default_factory=list)
    checks: list = field(default_factory=list)
    parts: list = field(default_factory=list)
    causes: list = field(default_factory=list)
    method: str = ranking.METHOD


def heard(job, by_key):
    """The symptoms of a job: those chosen from the list, else those whose keys stand in the customer's words."""
    chosen = list(job.symptoms.all())
    return [by_key.get(s.key, s) for s in chosen] or [by_key[w] for w in _keys(job.words) if w in by_key]


def _keys(words):
    return [word.strip().lower() for word in words.replace(",", ";").split(";")]


def spoken(job):
    """What the customer said, for reading: keys of the symptom list become the usual words for them."""
    usual = {s.key: str(s) for s in job.symptoms.all()}
    if not job.words:
        return _capital("; ".join(usual.values()))
    said = zip(job.words.split(";"), _keys(job.words), strict=False)
    return _capital("; ".join(usual.get(key) or word.strip() for word, key in said))


def _capital(text):
    return text[:1].upper() + text[1:]


def prospects(jobs, van_of_job=None):
    """A Prospect for each job, by primary key, in a fixed number of queries.

    jobs: rows with appliance.model selected. van_of_job: job primary key -> the van that goes there.
    """
    jobs = [job for job in jobs if job.kind == job.Kind.BREAKDOWN]
    symptoms = _symptoms(jobs)
    heard_by_job = {job.pk: heard(job, symptoms) for job in jobs}
    held = _components_of({job.appliance.model_id for job in jobs if heard_by_job[job.pk]})
    ranked = {job.pk: _rank(job, heard_by_job[job.pk], held) for job in jobs}
    parts = _parts({cause.key for causes in ranked.values() for cause in causes if cause.needs_part})
    free = free_spots({part.pk for rows in parts.values() for part in rows})
    vans = van_of_job or {}
    return {
        job.pk: Prospect(
            symptoms=heard_by_job[job.pk],
            stops=[symptom.stop for symptom in heard_by_job[job.pk] if symptom.stop],
            checks=_checks(ranked[job.pk]),
            parts=_likely_parts(job, ranked[job.pk], parts, free, vans.get(job.pk)),
            causes=ranked[job.pk],
        )
        for job in jobs
    }


def _symptoms(jobs):
    wanted = Q(pk__in={s.pk for job in jobs for s in job.symptoms.all()})
    wanted |= Q(key__in={key for job in jobs for key in _keys(job.words)})
    causes = Prefetch("causes", Cause.objects.select_related("component"))
    return {s.key: s for s in Symptom.objects.filter(wanted).prefetch_related(causes)} if jobs else {}


def _components_of(models):
    held = defaultdict(dict)
    for row in ModelComponent.objects.filter(model__in=models).select_related("component"):
        held[row.model_id][row.component.key] = row.component
    return held


def _rank(job, symptoms, held):
    usual = [
        [
            ranking.UsualCause(
                c.component.key if c.component else c.no_part,
                bool(c.component),
                float(c.share),
                tuple(c.kinds),
                c.quick_test,
            )
            for c in symptom.causes.all()
        ]
        for symptom in symptoms
    ]
    return ranking.rank(usual, job.appliance.model.kind, held.get(job.appliance.model_id))


def _checks(ranked):
    """Causes that need no part, as checks to do first."""
    labels = dict(NoPartCause.choices)
    return [
        {"words": labels.get(cause.key, cause.key), "test": cause.test, "in_ten": cause.in_ten}
        for cause in ranked
        if not cause.needs_part and cause.share >= LEAST_SHARE
    ][:3]


def _parts(keys):
    """Living parts by the key of each component that they cover."""
    rows = Part.objects.living().filter(covers__key__in=keys).distinct().prefetch_related("covers", "fits")
    by_component = defaultdict(list)
    for part in rows if keys else []:
        for component in part.covers.all():
            by_component[component.key].append(part)
    return by_component


def free_spots(parts):
    """Free stock by part: [(place, quantity)], in places that we hold."""
    rows = Stock.objects.filter(part__in=parts, condition="new").there().free().select_related("place")
    spots = defaultdict(list)
    for row in rows if parts else []:
        if row.free > 0:
            spots[row.part_id].append((row.place, row.free))
    return spots


def _likely_parts(job, ranked, parts, free, van):
    likely = []
    for cause in ranked:
        if not cause.needs_part or cause.share < LEAST_SHARE or len(likely) == MOST_PARTS:
            continue
        fitting = [part for part in parts.get(cause.key, []) if _fits(part, job.appliance.model_id, cause.key)]
        if fitting:
            likely.append(_best(cause, fitting, free, van))
    return likely


def _fits(part, model, key):
    component = next(c for c in part.covers.all() if c.key == key)
    allowed = part.advisable_where_approved_new or not component.approved_new_only
    return allowed and (part.fits_any or any(m.pk == model for m in part.fits.all()))


def _best(cause, fitting, free, van):
    """The part to have along for one cause: one that is on board, else one in the store, else the plainest."""

    def farness(part):
        places = [place for place, _ in free.get(part.pk, [])]
        here = any(van and place.pk == van.pk for place in places)
        in_store = any(place.kind == Place.Kind.STORE for place in places)
        return (not here, not in_store, len(part.covers.all()), part.number)

    part = min(fitting, key=farness)
    spots = sorted(
        free.get(part.pk, []), key=lambda s: (not (van and s[0].pk == van.pk), s[0].kind != Place.Kind.STORE)
    )
    on_board = sum((quantity for place, quantity in spots if van and place.pk == van.pk), Decimal(0))
    component = next(c for c in part.covers.all() if c.key == cause.key)
    return LikelyPart(part, component, cause.in_ten, spots, on_board, len(fitting) - 1)
