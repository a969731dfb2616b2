from django.urls import path

from patients import views

app_name = "patients"
urlpatterns = [
    path("patients/", views.patient_list, name="list"),
    path("patients/<int:pk>/details/", views.details, name="details"),
    path("patients/<int:pk>/background/", views.background, name="background"),
    path("patients/<int:pk>/background/<slug:kind>/", views.add_background, name="add-background"),
    path(
        "patients/<int:pk>/background/<slug:kind>/<int:row>/end/",
        views.end_background,
        name="end-background",
    ),
]
