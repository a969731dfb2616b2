from django.urls import path

from programs.enrolment.courses import views

urlpatterns = [
    path("enrolments/<int:pk>/letter/", views.letter, name="letter"),
    path("enrolments/<int:pk>/sessions.ics", views.sessions_file, name="sessions-file"),
]
