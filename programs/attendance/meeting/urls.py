from django.urls import path

from programs.attendance.meeting import views

urlpatterns = [
    path("classes/<int:pk>/arrive-all/", views.arrive_all, name="arrive-all"),
    path("classes/<int:pk>/undo-all/", views.undo_all, name="undo-all"),
    path("classes/<int:pk>/add-someone/", views.add_someone, name="add-someone"),
    path("classes/<int:pk>/open/", views.open_class, name="open-class"),
    path("classes/<int:pk>/start/", views.start_ready, name="start-ready"),
    path("classes/<int:pk>/close/", views.close_class, name="close-class"),
    path("classes/<int:pk>/reopen/", views.reopen_class, name="reopen-class"),
]
