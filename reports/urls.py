from django.urls import path

from reports import views

app_name = "reports"
urlpatterns = [
    path("due/", views.due, name="due"),
    path("patients/<int:pk>/", views.journey, name="journey"),
    path("patients/<int:pk>/outcomes/", views.outcomes, name="outcomes"),
    path("patients/<int:pk>/changes/", views.changes, name="changes"),
    path("program/", views.program, name="program"),
]
