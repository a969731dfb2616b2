from django.urls import path

from programs.attendance.today import views

urlpatterns = [
    path("today/", views.today, name="today"),
    path("today/rows/", views.rows, name="rows"),
]
