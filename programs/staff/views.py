"""Sign-in, sign-out, password, choice of site, and the settings page."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth import views as auth_views
from django.contrib.auth.decorators import permission_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients import audit
from patients.forms import FindForm
from patients.models import AuditEvent
from patients.paging import page_of
from patients.submissions import AlreadyTaken
from patients.typed import whole
from programs.staff import services, throttle
from programs.staff.access import (
    SESSION_KEY,
    current_site,
    get_site_for,
    next_page,
    people_of,
)
from programs.staff.forms import MySettingsForm
from programs.staff.forms_password import ChangePasswordForm, SignInForm
from programs.staff.models import Credential
from programs.staff.queries import looks_at
from programs.staff.request import StaffRequest


class SignIn(auth_views.LoginView):
    """Django's own, with one sentence for every kind of failure."""

    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        idle = self.request.session.pop("signed_out_idle", None)
        return super().get_context_data(idle_minutes=idle, **kwargs)

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        throttle.end_waiting(form.turn)
        throttle.remember_device(form.cleaned_data["username"], self.request, response)
        audit.record(AuditEvent.Kind.SIGN_IN, "password", by=self.request.user)
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        if form.turn is None or not form.turn.is_slowed:
            return super().form_invalid(form)
        answer = render(
            self.request, "registration/too_many_attempts.html", {"turn": form.turn}, status=429
        )
        if form.turn.wait_seconds:
            answer["Retry-After"] = str(form.turn.wait_seconds)
        return answer


@require_POST
def sign_out(request: StaffRequest) -> HttpResponse:
    audit.record(AuditEvent.Kind.SIGN_OUT, "by hand", by=request.user)
    logout(request)
    response = redirect(reverse("staff:login") + "?signed-out=1")  # house.js drops drafts there
    response["Clear-Site-Data"] = '"cache", "storage"'  # shared tablets: all goes with the person
    return response


class ChangePassword(auth_views.PasswordChangeView):
    form_class = ChangePasswordForm
    success_url = "/"

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"session_key": self.request.session.session_key or ""}

    def form_valid(self, form: Any) -> HttpResponse:
        response = super().form_valid(form)
        audit.record(AuditEvent.Kind.PASSWORD, "their own", by=self.request.user)
        messages.success(self.request, "Your password is changed.")
        return response

    def form_invalid(self, form: Any) -> HttpResponse:
        if "old_password" in form.errors:
            audit.record(AuditEvent.Kind.REFUSAL, "change of password", by=self.request.user)
        return super().form_invalid(form)


@require_POST
def choose_site(request: StaffRequest) -> HttpResponse:
    user = request.user
    site = get_site_for(user, whole(request.POST.get("site")) or 0)
    request.session[SESSION_KEY] = site.pk
    return redirect(next_page(request, "/"))


def my_settings(request: StaffRequest) -> HttpResponse:
    """Units and keys of whoever is signed in, at every site and on every device."""
    user = request.user
    site = current_site(request) if user.my_sites() else None
    form = MySettingsForm(request.POST or None, user=user, site=site)
    if request.method == "POST" and form.is_valid():
        try:
            services.choose_settings(user, form.chosen(), key=form.key)
            messages.success(request, "Your settings are saved.")
        except AlreadyTaken:
            messages.info(request, "This form was sent before; what it saved stands.")
        return redirect("staff:mine")
    return render(request, "staff/mine.html", {"form": form})


@permission_required("staff.change_setting", raise_exception=True)
def settings_page(request: StaffRequest) -> HttpResponse:
    user = request.user
    people = people_of(user).prefetch_related("sites")
    return render(
        request,
        "staff/settings.html",
        {
            "sites": user.my_sites(),
            "people": list(people.order_by("last_name", "first_name")),
            "credentials": list(
                Credential.objects.visible_to(user).distinct().select_related("user")
            ),
        },
    )


@permission_required("staff.view_looks", raise_exception=True)
def looks(request: StaffRequest) -> HttpResponse:
    """Who looked at what, newest first."""
    who = request.GET.get("who", "").strip()
    page = page_of(request, *looks_at(request.user, who), order=["-at", "-pk"], size=50)
    label = "Name of staff or patient"
    find = FindForm("who", label, who, placeholder="Name")
    return render(request, "staff/looks.html", {"page": page, "who": who, "find": find})
