"""One order of locks for everything that writes a visit: the enrolment first, then the visit.

Two people at once then wait for each other in line, never in a ring.
"""

from programs.attendance.models import ClassMeeting, Visit
from programs.enrolment.models import Enrolment


def lock_visit(visit: Visit) -> Visit:
    """The stored visit, locked, with the record around it at hand. Call inside a transaction."""
    Enrolment.objects.select_for_update().get(pk=visit.enrolment_id)
    return (
        Visit.objects.select_for_update(of=("self",))
        .select_related("meeting__slot", "enrolment__patient__site", "enrolment__referral")
        .get(pk=visit.pk)
    )


def lock_enrolments(meeting: ClassMeeting) -> None:
    """Everybody who has a visit at a class, in order, before their visits are locked."""
    mine = Visit.objects.filter(meeting=meeting).values("enrolment")
    list(Enrolment.objects.select_for_update().filter(pk__in=mine).order_by("pk"))
