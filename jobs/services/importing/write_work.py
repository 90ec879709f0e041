"""Write jobs, visits, findings, what was needed, and charges."""

from inventory.models import ComponentType, Part, Place
from jobs.models import Appliance, Charge, Finding, Job, Needed, Symptom, Visit, VisitEngineer
from jobs.services.importing import booked
from jobs.services.importing.closed_words import same_word
from jobs.services.importing.keeping import chunks, keep, keep_links, numbers, present
from jobs.services.importing.known import rows_of
from jobs.services.importing.write_supply import engineers
from jobs.services.work import vat_on


def write_jobs(files, progress):
    read = files.get("jobs")
    if read is None:
        return
    appliances = dict(_pairs(Appliance.objects.values_list("number", "pk", "address_id")))
    symptoms = numbers(Symptom, "key")
    words = dict(Job.objects.exclude(words="").values_list("number", "words").iterator(10_000))
    wanted = ((row.job, _job(read, row, appliances, symptoms, words)) for row in progress(read.rows, "writing jobs"))
    address = {row.job: appliances[row.appliance][1] for row in read.rows}
    keep(Job, "number", wanted, new=lambda number: {"address_id": address[number]})
    jobs = numbers(Job, "number")
    if read.has("symptoms"):
        links = {jobs[row.job]: {symptoms[key] for key in _in_list(row.symptoms, symptoms)} for row in read.rows}
        keep_links(Job.symptoms.through, "job_id", "symptom_id", links)
    if read.has("return_of"):
        there = set(Job.objects.exclude(return_of=None).values_list("number", flat=True))
        rows = (row for row in read.rows if row.return_of or row.job in there)
        keep(Job, "number", ((row.job, {"return_of_id": jobs.get(row.return_of)}) for row in rows))


def _pairs(rows):
    return ((row[0], tuple(row[1:])) for row in rows.iterator(10_000))


def _in_list(said, symptoms):
    """The symptoms of our list among what a cell says."""
    return [same_word(one) for one in said if one and same_word(one) in symptoms]


def own_words(said, symptoms):
    """What a cell says in the customer's own words, as one text."""
    return ";".join(one for one in said if one and same_word(one) not in symptoms)


def split_words(text):
    """The pieces of a text of symptoms, as the file lists them."""
    return [one.strip() for one in text.split(";") if one.strip()]


def _job(read, row, appliances, symptoms, words):
    fields = {"appliance_id": appliances[row.appliance][0], "kind": row.kind, "reported_on": row.reported_on}
    fields |= present(read, row, fault_code="fault_code")
    if read.has("symptoms"):
        mine, stored = own_words(row.symptoms, symptoms), words.get(row.job, "")
        fields["words"] = stored if split_words(stored) == split_words(mine) else mine
    return fields


def write_visits(files, progress):
    """Visits; what was reported on one (outcome, who, minutes) is not taken away by an empty cell."""
    read = files.get("visits")
    if read is None:
        return
    jobs, places = numbers(Job, "number"), numbers(Place, "key")
    done = dict(Visit.objects.exclude(outcome="").values_list("number", "outcome").iterator(10_000))
    wanted = ((row.visit, _visit(read, row, jobs, places, done)) for row in progress(read.rows, "writing visits"))
    keep(Visit, "number", wanted)
    for chunk in chunks(read.rows):
        _write_engineers(read, chunk)


def _visit(read, row, jobs, places, done):
    fields = {"job_id": jobs[row.job], "place_id": places.get(row.place), "on": row.on}
    fields["outcome"] = row.outcome or done.get(row.visit, "")
    return fields | present(read, row, time="time")


def _write_engineers(read, rows):
    """Who went on these visits, in the order of the file, with minutes."""
    visits = dict(Visit.objects.filter(number__in=[row.visit for row in rows]).values_list("number", "pk"))
    there = {}
    for pk, visit, engineer, minutes in VisitEngineer.objects.filter(visit__in=visits.values()).values_list(
        "pk", "visit_id", "engineer_id", "minutes"
    ):
        there.setdefault(visit, []).append((pk, engineer, minutes))
    people, surplus, missing = engineers(), [], []
    for row in rows:
        mine = there.get(visits[row.visit], [])
        wanted = _who(read, row, people, {engineer: minutes for _, engineer, minutes in mine})
        if wanted and wanted != [one[1:] for one in mine]:
            surplus += [pk for pk, _, _ in mine]
            missing += [
                VisitEngineer(visit_id=visits[row.visit], engineer_id=engineer, minutes=minutes)
                for engineer, minutes in wanted
            ]
    if surplus:
        VisitEngineer.objects.filter(pk__in=surplus).delete()
    VisitEngineer.objects.bulk_create(missing, batch_size=500)


def _who(read, row, people, known):
    """[(engineer pk, minutes)]; minutes that the file does not say stay as they are known."""
    who = [people[name.casefold()].pk for name in row.engineer]
    minutes = row.minutes or [known.get(engineer) for engineer in who]
    return list(zip(who, minutes, strict=True))


def write_findings(files, known):
    rows = booked.new_findings(files, known)
    visits, appliances, components = _lookups(rows)
    for chunk in chunks(rows):
        Finding.objects.bulk_create(
            Finding(
                visit_id=visits[row.visit],
                appliance_id=appliances[known.appliance_of(row)],
                component_id=components.get(row.component),
                position=row.position,
                no_part_cause=row.no_part_cause,
                failure_mode=row.failure_mode,
            )
            for row in chunk
        )


def write_needed(files, known):
    rows = booked.new_needed(files, known)
    visits, appliances, components = _lookups(rows)
    parts = numbers(Part, "number") if rows else {}
    for chunk in chunks(rows):
        Needed.objects.bulk_create(
            Needed(
                visit_id=visits[row.visit],
                appliance_id=appliances[known.appliance_of(row)],
                component_id=components[row.component],
                part_id=parts.get(row.part),
                quantity=row.quantity,
            )
            for row in chunk
        )


def _lookups(rows):
    """Keys to pks of visits, appliances and components; nothing is read where there are no rows."""
    if not rows:
        return {}, {}, {}
    return numbers(Visit, "number"), numbers(Appliance, "number"), numbers(ComponentType, "key")


def write_charges(files):
    rows = booked.new_charges(files)
    jobs = numbers(Job, "number") if rows else {}
    for chunk in chunks(rows):
        Charge.objects.bulk_create(
            Charge(
                job_id=jobs[row.job],
                kind=row.kind,
                amount_ex_vat=row.amount_ex_vat,
                quantity=row.quantity,
                vat_rate=row.vat_rate,
                vat=vat_on(row.amount_ex_vat, row.vat_rate),
                description=row.description,
            )
            for row in chunk
        )


def write_other_appliances(files, known):
    """A job on which another appliance was worked on is about that one too."""
    rows = [*rows_of(files, "findings"), *rows_of(files, "fitted"), *rows_of(files, "needed")]
    pairs = {(known.visits[row.visit][0], row.appliance) for row in rows if row.appliance}
    pairs = {(job, appliance) for job, appliance in pairs if known.jobs[job][0] != appliance}
    if not pairs:
        return
    jobs, appliances = numbers(Job, "number"), numbers(Appliance, "number")
    through = Job.also.through
    links = sorted((jobs[job], appliances[appliance]) for job, appliance in pairs)
    there = set(through.objects.values_list("job_id", "appliance_id"))
    new = (through(job_id=job, appliance_id=appliance) for job, appliance in links if (job, appliance) not in there)
    through.objects.bulk_create(new, batch_size=500)
