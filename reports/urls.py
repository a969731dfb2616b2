from django.urls import path

from reports import views, views_kept, views_outlook, views_program, views_targets
from reports.sheets.urls import urlpatterns as sheets

app_name = "reports"
urlpatterns = [
    *sheets,
    path("due/", views.due, name="due"),
    path("patients/<int:pk>/", views.journey, name="journey"),
    path("patients/<int:pk>/outcomes/", views.outcomes, name="outcomes"),
    path("patients/<int:pk>/changes/", views.changes, name="changes"),
    path("enrolments/<int:pk>/calendar/", views.course_calendar, name="course-calendar"),
    path("program/", views_program.program, name="program"),
    path("program/running/", views_program.running_page, name="program-running"),
    path("program/gains/", views_program.gains, name="program-gains"),
    path("program/keep/", views_kept.keep, name="keep-question"),
    path("program/forget/", views_kept.drop, name="drop-question"),
    path("program/targets/", views_targets.edit_targets, name="program-targets"),
    path("program/people/", views_program.people, name="program-people"),
    path("program/export/", views_program.export, name="program-export"),
    path("program/export/people/", views_program.export_people, name="program-export-people"),
    path("program/start-outlook/", views_outlook.outlook, name="outlook"),
]
