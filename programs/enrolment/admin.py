"""The timetable, edited by administrators."""

from django.contrib import admin

from programs.enrolment.models import ClassSlot, Closure
from programs.staff.admin import KeptAdmin


@admin.register(ClassSlot)
class ClassSlotAdmin(KeptAdmin):
    list_display = ["site", "weekday", "starts_at", "minutes", "seats", "is_open"]
    list_filter = ["site"]


@admin.register(Closure)
class ClosureAdmin(KeptAdmin):
    list_display = ["site", "on", "reason"]
    list_filter = ["site"]
