"""Tables of this room, one file a subject."""

from programs.attendance.models.finding import Finding
from programs.attendance.models.readings import Bout, Reading, RhythmFinding
from programs.attendance.models.visit import ClassMeeting, Visit

__all__ = ["Bout", "ClassMeeting", "Finding", "Reading", "RhythmFinding", "Visit"]
