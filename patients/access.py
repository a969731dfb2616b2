"""Finding is checking: a patient is only ever looked up on behalf of somebody."""

from typing import Any

from django.db.models import QuerySet
from django.http import Http404

from patients.models import Patient
from patients.prepared import rows_at
from patients.typed import LARGEST
from patients.viewer import Viewer


def _seen(at: Any, *, pk: int) -> QuerySet[Patient]:
    rows: QuerySet[Patient] = Patient.objects.visible_to(at).filter(pk=pk)
    return rows.order_by().select_related("site")


def get_patient_for(user: Viewer, pk: int) -> Patient:
    """The patient, or 404 when the user does not work at the patient's site."""
    for patient in rows_at(_seen, user.site_ids(), pk=pk) if pk <= LARGEST else []:
        found: Patient = patient
        return found
    raise Http404("No Patient matches the given query.")
