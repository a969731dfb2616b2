"""Who looked at what, and which forms were already taken in."""

from django.conf import settings
from django.db import models

from patients.models.person import Patient


class AuditEvent(models.Model):
    """What a version of a row cannot say: looks, exports, refusals, signatures, sign-ins."""

    class Kind(models.TextChoices):
        LOOK = "look", "looked at"
        EXPORT = "export", "exported"
        REFUSAL = "refusal", "was refused"
        SIGNATURE = "signature", "signed"
        SIGN_IN = "sign_in", "signed in"
        SIGN_OUT = "sign_out", "signed out"
        IMPORT = "import", "imported"
        PASSWORD = "password", "changed a password"

    at = models.DateTimeField(auto_now_add=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, null=True, related_name="+")
    what = models.CharField(max_length=200)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(name="auditevent_newest_idx", fields=["-at", "-id"]),
            models.Index(name="auditevent_person_idx", fields=["patient", "-at", "-id"]),
            models.Index(name="auditevent_user_idx", fields=["user", "-at", "-id"]),
        ]

    def __str__(self) -> str:
        return f"{self.user} {self.get_kind_display()} {self.what}"


class Submission(models.Model):
    """A form already taken in; its key makes a repeated submission harmless."""

    key = models.UUIDField(primary_key=True)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    made = models.BigIntegerField(null=True)  # key of the row it made, where pages need the way

    def __str__(self) -> str:
        return str(self.key)
