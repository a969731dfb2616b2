from django.urls import path

from programs.attendance.events import views

urlpatterns = [
    path("events/", views.events, name="events"),
    path("events/start/", views.start_event, name="start-event"),
    path("events/<int:pk>/", views.event, name="event"),
    path("events/<int:pk>/entries/", views.add_entry, name="add-entry"),
    path("events/<int:pk>/review/", views.review_event, name="review-event"),
    path("events/entries/<int:pk>/", views.correct_entry, name="correct-entry"),
    path("events/entries/<int:pk>/withdraw/", views.withdraw_entry, name="withdraw-entry"),
]
