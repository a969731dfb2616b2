"""Steps of our own for migrations: a whole room at once, an index beside the work.

Django makes the models of the state anew after each table it creates: for our 120 tables and their
versions that alone took half a minute. Here the state takes in the whole room first, then the
tables are created from it.
"""

from collections.abc import Sequence
from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import AddIndex, CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateRoom(Operation):
    """The operations that lead from nothing to a room's tables, applied as one.

    Fields, indexes and constraints that follow a ``CreateModel`` are part of the table by then, so
    that only the tables are created. Nothing of the room may exist before.
    """

    reduces_to_sql = True
    reversible = True

    def __init__(self, operations: Sequence[Any]) -> None:
        self.operations = operations

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        state.__dict__.pop("apps", None)  # made anew once, when somebody asks
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for operation in self._tables():
            operation.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        for operation in reversed(self._tables()):
            operation.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        return f"Create {len(self._tables())} tables"

    def _tables(self) -> list[CreateModel]:
        return [one for one in self.operations if isinstance(one, CreateModel)]


class AddIndexBesideWork(AddIndex):
    """An index on a table that may be large: PostgreSQL builds it while people go on writing.

    The migration needs ``atomic = False`` and holds nothing else that a half-way end would hurt.
    """

    atomic = False

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        if schema_editor.connection.vendor != "postgresql":
            super().database_forwards(app_label, schema_editor, from_state, to_state)
            return
        model = to_state.apps.get_model(app_label, self.model_name)
        if self.allow_migrate_model(schema_editor.connection.alias, model):
            # What an interrupted attempt left behind is there but not valid.
            schema_editor.execute(f"DROP INDEX CONCURRENTLY IF EXISTS {self.index.name}")
            schema_editor.add_index(model, self.index, concurrently=True)  # type: ignore[call-arg]
