"""Database rules that Django does not ship."""

from django.core.exceptions import ValidationError
from django.db.backends.ddl_references import Statement, Table
from django.db.models import BaseConstraint

SQLITE = """CREATE TRIGGER %(name)s_{op} BEFORE {op} ON %(table)s
BEGIN SELECT RAISE(ABORT, '{message}'); END"""

POSTGRES = """CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = 'integrity_constraint_violation'; END $$;
CREATE TRIGGER %(name)s BEFORE UPDATE OR DELETE ON %(table)s
FOR EACH ROW EXECUTE FUNCTION {function}()"""


class AppendOnly(BaseConstraint):
    """Rows may be inserted, never updated or deleted, whoever asks: triggers in the database itself."""

    default_violation_error_message = "Rows of this table are never changed; write a correcting row."

    def __eq__(self, other):
        """Compare by content: makemigrations would find a change every time otherwise."""
        return isinstance(other, AppendOnly) and self.deconstruct() == other.deconstruct()

    __hash__ = None

    def constraint_sql(self, model, schema_editor):
        # Deferred, so that SQLite's copy-and-rename of a table keeps its triggers.
        schema_editor.deferred_sql += self.statements(model, schema_editor)

    def create_sql(self, model, schema_editor):
        first, *rest = self.statements(model, schema_editor)
        schema_editor.deferred_sql += rest
        return first

    def remove_sql(self, model, schema_editor):
        # SQLite never calls this: it rebuilds the table without the trigger.
        return self._statement("DROP TRIGGER %(name)s ON %(table)s", model, schema_editor)

    def validate(self, model, instance, exclude=None, using="default"):
        if not instance._state.adding:
            raise ValidationError(self.get_violation_error_message())

    def statements(self, model, schema_editor):
        """The CREATE TRIGGER statements for this database."""
        message = f"{self.name}: append-only table"
        if schema_editor.connection.vendor == "sqlite":
            templates = [SQLITE.format(op=op, message=message) for op in ("UPDATE", "DELETE")]
        else:
            templates = [POSTGRES.format(function=self.name, message=message)]
        return [self._statement(template, model, schema_editor) for template in templates]

    def _statement(self, template, model, schema_editor):
        table = Table(model._meta.db_table, schema_editor.quote_name)
        return Statement(template, name=self.name, table=table)
