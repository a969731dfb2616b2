"""The framework's admin behind our own doors, until pages of our own take its place.

Its own sign-in, sign-out and password page would pass the audit and the throttle by; they lead to
ours instead.
"""

from typing import Any, cast

from django.contrib import admin
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.decorators import method_decorator

from programs.staff.request import StaffRequest
from programs.staff.views import sign_out


class OurAdminSite(admin.AdminSite):
    site_header = site_title = "Thirtysix settings"

    def has_permission(self, request: HttpRequest) -> bool:
        return super().has_permission(request) and request.user.has_perm("staff.change_setting")

    @method_decorator(login_not_required)
    def login(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        """To our sign-in; somebody signed in who may not come here is told so."""
        if request.user.is_authenticated and not self.has_permission(request):
            raise PermissionDenied
        back = request.GET.get("next") or reverse("admin:index", current_app=self.name)
        return redirect_to_login(back, reverse("staff:login"))

    def logout(self, request: HttpRequest, extra_context: Any = None) -> Any:
        return sign_out(cast(StaffRequest, request))

    def password_change(self, request: HttpRequest, extra_context: Any = None) -> Any:
        return redirect("staff:password")
