"""`manage.py plan [FILE.json]`: what each van should carry, why, and the frontier of cash against first visits."""

import json
from dataclasses import asdict, replace
from datetime import date
from importlib.resources import files
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from jsonschema import Draft202012Validator

from inventory.stocking.problem import ProblemError, from_plain
from inventory.stocking.van_load import plan
from jobs.services.proposing import problem_from_records


class Command(BaseCommand):
    help = "Plans van loads, from FILE.json (inventory/stocking/plan_schema.json) or from the firm's records."

    def add_arguments(self, parser):
        parser.add_argument("file", nargs="?", metavar="FILE.json")
        parser.add_argument("--as-of", metavar="DATE", help="nothing later is known; today by default")
        parser.add_argument("--van", help="answer for this van only; the frontier stays that of all vans")
        parser.add_argument("--budget", metavar="PER_VAN", help="cash for each van, in place of its own")
        parser.add_argument("--horizon", metavar="DAYS", help="days ahead whose demand counts; 90")
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *, file, as_of, van, budget, horizon, as_json, **options):
        as_of = _read("--as-of", as_of, date.fromisoformat, "a day as YYYY-MM-DD")
        budget = _read("--budget", budget, _amount, "a number from 0 up")
        horizon = _read("--horizon", horizon, _days, "a whole number of days from 1 to 3660")
        problem, words = _from_file(file, as_of, horizon) if file else problem_from_records(as_of, horizon)
        if van is not None and van not in {v.van for v in problem.vans}:
            raise CommandError(f"--van: no van '{van}'; there are {', '.join(v.van for v in problem.vans) or 'none'}")
        if budget is not None:
            problem = replace(problem, vans=tuple(replace(v, budget=budget) for v in problem.vans))
        found = plan(problem, **words)
        if van is not None:
            found = replace(found, vans=tuple(v for v in found.vans if v.van == van))
        self.stdout.write(_json(found) if as_json else _text(found, words.get("currency", "£")))


def _read(flag, text, read, wanted):
    try:
        return None if text is None else read(str(text))
    except ValueError as error:
        raise CommandError(f"{flag} {text}: must be {wanted}") from error


def _amount(text):
    if not 0 <= float(text) <= 1e12:
        raise ValueError(text)
    return float(text)


def _days(text):
    if not 1 <= int(text) <= 3660:
        raise ValueError(text)
    return int(text)


def _from_file(name, as_of, horizon):
    try:
        data = read_plan(Path(name).read_bytes())
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{name}: {error}") from error
    except ProblemError as error:
        raise CommandError("\n".join(f"{name}: {line}" for line in error.problems)) from error
    unused = [flag for flag, value in (("--as-of", as_of), ("--horizon", horizon)) if value is not None]
    warnings = tuple(f"{flag} has no effect on a plan file" for flag in unused)
    return replace(data, warnings=data.warnings + warnings), {}


def read_plan(content: bytes):
    """The Problem of a plan file, or ProblemError with a line `path: reason` for each thing that does not fit."""
    try:
        data = json.loads(content, parse_constant=_no_constant, parse_float=_finite, object_pairs_hook=_no_repeats)
    except (ValueError, RecursionError) as error:
        raise ProblemError([f"$: not JSON: {error}"]) from error
    schema = json.loads(files("inventory.stocking").joinpath("plan_schema.json").read_text())
    found = sorted(Draft202012Validator(schema).iter_errors(data), key=lambda e: (e.json_path, e.message))
    if found:
        raise ProblemError(f"{error.json_path}: {error.message}" for error in found)
    return from_plain(data)


def _no_constant(word):
    raise ValueError(f"{word} is no number")


def _finite(digits):
    if abs(float(digits)) == float("inf"):
        raise ValueError(f"{digits} is beyond all bounds")
    return float(digits)


def _no_repeats(pairs):
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"the key '{next(k for k in keys if keys.count(k) > 1)}' stands twice in one object")
    return found


def _json(found):
    return json.dumps(asdict(found), allow_nan=False, ensure_ascii=False, indent=1)


def _text(found, currency):
    said = []
    for van in found.vans:
        said.append(
            f"{van.van}: {_share(van.first_visit_fix_rate)} of first visits, {currency}{van.spend:,.2f} in parts, "
            f"{van.litres:,.1f} litres, {van.kilograms:,.1f} kg, worth {currency}{van.worth_per_year:,.0f} a year; "
            f"limit that binds: {van.binding}"
        )
        said += [f"  {line.part}: {line.reason}" for line in van.lines]
    said += ["", "Cash in all vans against first-visit fix rate:"]
    said += [f"  {currency}{point.spend:,.2f}  {_share(point.first_visit_fix_rate)}" for point in found.frontier]
    said += [f"Warning: {warning}" for warning in found.warnings]
    return "\n".join([*said, f"Method: {found.method}"])


def _share(rate):
    return "not known (no demand)" if rate is None else f"{rate:.1%}"
