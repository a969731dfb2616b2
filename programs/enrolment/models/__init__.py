"""Tables of this room, one file a subject."""

from programs.enrolment.models.course import CourseTotals, Enrolment, Pause, PlannedSession
from programs.enrolment.models.course_counts import GainTotals, SignatureTotals
from programs.enrolment.models.day_totals import DayTotals
from programs.enrolment.models.payer import Payer, SiteRuleSet
from programs.enrolment.models.referral import Referral
from programs.enrolment.models.referral_list import ListLayout, ReferralList
from programs.enrolment.models.referral_totals import ReferralTotals
from programs.enrolment.models.referral_work import (
    ContactAttempt,
    EligibilityAnswer,
    ReferralDocument,
)
from programs.enrolment.models.risk import EntryScreen, RiskStratification, SupervisionPolicy
from programs.enrolment.models.timetable import ClassChange, ClassSlot, Closure

__all__ = [
    "ClassChange",
    "ClassSlot",
    "Closure",
    "ContactAttempt",
    "CourseTotals",
    "DayTotals",
    "EligibilityAnswer",
    "Enrolment",
    "EntryScreen",
    "GainTotals",
    "ListLayout",
    "Pause",
    "Payer",
    "PlannedSession",
    "Referral",
    "ReferralDocument",
    "ReferralList",
    "ReferralTotals",
    "RiskStratification",
    "SignatureTotals",
    "SiteRuleSet",
    "SupervisionPolicy",
]
