"""Tables of this room, one file a subject."""

from programs.attendance.models.care import Carbohydrate, HomeReport, Teaching
from programs.attendance.models.event import EventEntry, SafetyEvent
from programs.attendance.models.finding import Finding, Interruption
from programs.attendance.models.limits import PersonLimit, SiteLimit
from programs.attendance.models.meeting import ClassMeeting
from programs.attendance.models.not_taken import NotTaken
from programs.attendance.models.readings import Bout, Reading
from programs.attendance.models.rhythm import RhythmFinding
from programs.attendance.models.visit import Visit

__all__ = [
    "Bout",
    "Carbohydrate",
    "ClassMeeting",
    "EventEntry",
    "Finding",
    "HomeReport",
    "Interruption",
    "NotTaken",
    "PersonLimit",
    "Reading",
    "RhythmFinding",
    "SafetyEvent",
    "SiteLimit",
    "Teaching",
    "Visit",
]
