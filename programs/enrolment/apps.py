from django.apps import AppConfig


class EnrolmentConfig(AppConfig):
    name = "programs.enrolment"
    label = "enrolment"

    def ready(self) -> None:
        """Hear of people whose sex, birth date or site was corrected."""
        from patients.models.person import TOLD_OF_PEOPLE
        from programs.enrolment.models import ReferralTotals, SignatureTotals

        TOLD_OF_PEOPLE.append(ReferralTotals.objects.tell_person)
        TOLD_OF_PEOPLE.append(SignatureTotals.objects.tell_person)
