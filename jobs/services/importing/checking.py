"""Everything that is wrong between rows and files; single cells were checked when they were read."""

from jobs.services.importing import catalogue_rules, stock_rules, work_rules
from jobs.services.importing.known import Known, rows_of
from jobs.services.importing.tables import TABLES

WORDS = {
    "component_types": "component type",
    "appliance_models": "appliance model",
    "sources": "place or supplier",
}
ANY_MODEL = "*"


def check(files, problems):
    """Add every fault between rows and files to `problems`. Reads the database, writes nothing."""
    known = Known(files)
    for name in files:
        _references(files, name, known, problems)
    for rules in (catalogue_rules, stock_rules, work_rules):
        for rule in rules.RULES:
            rule(files, known, problems)


def _references(files, name, known, problems):
    """A row that refers to what nobody has. A reference to a refused row is no second error."""
    columns = [column for column in TABLES[name].columns if column.refers and files[name].has(column.name)]
    for row in rows_of(files, name):
        for column in columns:
            for key in _keys(getattr(row, column.attribute)):
                if not known.has(column.refers, key) and not (key == ANY_MODEL and column.name == "fits"):
                    problems.error(name, row.row, column.name, key, _unknown(column.refers, known))


def _keys(value):
    if value is None or value == "":
        return ()
    if isinstance(value, tuple):
        return [one[0] if isinstance(one, tuple) else one for one in value]
    return (value,)


def _unknown(table, known):
    """Why this reference fails, in words."""
    thing = WORDS.get(table, table.removesuffix("s"))
    if table == "appliance_models" and not known.has_rows(table):
        return "No appliance in these files or in the database is of this model."
    return f"There is no such {thing} in these files or in the database."
