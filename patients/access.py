"""Finding is checking: a patient is only ever looked up on behalf of somebody."""

from django.shortcuts import get_object_or_404

from patients.models import Patient
from patients.viewer import Viewer


def get_patient_for(user: Viewer, pk: int) -> Patient:
    """The patient, or 404 when the user does not work at the patient's site."""
    return get_object_or_404(Patient.objects.visible_to(user).select_related("site"), pk=pk)
