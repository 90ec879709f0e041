"""What must hold between appliances, jobs, visits and what was done on them."""

from jobs.models import Job
from jobs.services.importing import booked, care_rules
from jobs.services.importing.catalogue_rules import circles
from jobs.services.importing.coverage import covered_components, held_components
from jobs.services.importing.known import rows_of
from jobs.services.importing.write_work import own_words
from jobs.services.trade import trade_rows

LONGEST_WORDS = 400


def a_return_is_of_an_earlier_job(files, known, problems):
    in_circle = circles({job: row[3] for job, row in known.jobs.items()})
    for row in rows_of(files, "jobs"):
        first = known.jobs.get(row.return_of)
        if row.return_of == row.job:
            reason = "A job cannot be a return to itself."
        elif row.job in in_circle:
            reason = "These returns run in a circle."
        elif first is not None and first[2] > row.reported_on:
            reason = f"That job was reported later, on {first[2]}."
        else:
            continue
        problems.error("jobs", row.row, "return_of", row.return_of, reason)


def a_breakdown_is_not_visited_before_it_was_reported(files, known, problems):
    """Services and planned work may be entered afterwards; a breakdown is dated by its report."""
    for row in rows_of(files, "visits"):
        job = known.jobs.get(row.job)
        if job is not None and job[1] == Job.Kind.BREAKDOWN and row.on < job[2]:
            reason = f"Before breakdown {row.job} was reported on {job[2]}."
            problems.error("visits", row.row, "on", row.on, reason)


def minutes_go_with_engineers(files, known, problems):
    for row in rows_of(files, "visits"):
        if row.minutes and len(row.minutes) != len(row.engineer):
            shown = ";".join(map(str, row.minutes))
            reason = "One number of minutes for each engineer, in their order."
            problems.error("visits", row.row, "minutes", shown, reason)


def symptoms_fit_into_the_book(files, known, problems):
    symptoms = {row["key"] for row in trade_rows("symptoms")}
    for row in rows_of(files, "jobs"):
        words = own_words(row.symptoms, symptoms)
        if len(words) > LONGEST_WORDS:
            problems.error("jobs", row.row, "symptoms", words, f"Longer than {LONGEST_WORDS} characters.")


def a_finding_says_something(files, known, problems):
    for row in rows_of(files, "findings"):
        if not row.component and not row.no_part_cause:
            problems.error("findings", row.row, "component", "", "Name a component or a no_part_cause.")


def what_was_fitted_is_told_where_it_surprises(files, known, problems):
    """A part that does not cover its component, or a component that the model lacks: taken as written, with a word."""
    covers, holds = covered_components(files), held_components(files, known)
    told = set()
    for row in rows_of(files, "fitted"):
        if row.component not in covers.get(row.part, {row.component}) and (row.part, row.component) not in told:
            told.add((row.part, row.component))
            reason = f"Part {row.part} does not list this component; the component counts as written."
            problems.warn("fitted", row.row, "component", row.component, reason)
        model, held = holds.get(known.appliance_of(row), (None, None))
        if held is not None and row.component not in held and (model, row.component) not in told:
            told.add((model, row.component))
            reason = f"Model {model} does not list this component; it is added to the appliance."
            problems.warn("fitted", row.row, "component", row.component, reason)


def what_is_booked_stays(files, known, problems):
    booked.new_fitted(files, known, problems)


RULES = [
    *care_rules.RULES,
    a_return_is_of_an_earlier_job,
    a_breakdown_is_not_visited_before_it_was_reported,
    minutes_go_with_engineers,
    symptoms_fit_into_the_book,
    a_finding_says_something,
    what_was_fitted_is_told_where_it_surprises,
    what_is_booked_stays,
]
