"""Numbers among which a column is looked for: one that no column holds is simply not there.

Django says so of single numbers; of a list SQLite would be asked, and breaks.
"""

from typing import Any

from django.db.models import IntegerField
from django.db.models.lookups import In

from patients.typed import LARGEST


@IntegerField.register_lookup
class InWhatFits(In):
    def process_rhs(self, compiler: Any, connection: Any) -> Any:
        if self.rhs_is_direct_value():
            fits = range(-LARGEST - 1, LARGEST + 1)
            self.rhs = [n for n in self.rhs if not isinstance(n, int) or n in fits]
        return super().process_rhs(compiler, connection)
