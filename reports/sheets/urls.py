from django.urls import path

from reports.sheets import views

urlpatterns = [
    path("patients/<int:pk>/sheets/", views.sheets, name="sheets"),
    path("patients/<int:pk>/outcomes.pdf", views.outcomes, name="outcomes-pdf"),
    path("enrolments/<int:pk>/doctor-letter.pdf", views.doctor_letter, name="doctor-letter"),
    path("patients/<int:pk>/home-exercise.pdf", views.home_exercise, name="home-exercise"),
    path("patients/<int:pk>/wallet-card.pdf", views.wallet_card, name="wallet-card"),
    path("patients/<int:pk>/maintenance-plan.pdf", views.maintenance_plan, name="maintenance-plan"),
]
