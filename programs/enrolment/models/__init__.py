"""Tables of this room, one file a subject."""

from programs.enrolment.models.course import Enrolment, Pause, PlannedSession
from programs.enrolment.models.referral import ContactAttempt, EligibilityAnswer, Referral
from programs.enrolment.models.referral_list import ReferralList
from programs.enrolment.models.timetable import ClassSlot, Closure

__all__ = [
    "ClassSlot",
    "Closure",
    "ContactAttempt",
    "EligibilityAnswer",
    "Enrolment",
    "Pause",
    "PlannedSession",
    "Referral",
    "ReferralList",
]
