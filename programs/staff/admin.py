"""Editing sites, people and cards: Django's own admin, closed to everyone but administrators."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest
from simple_history.admin import SimpleHistoryAdmin

from programs.staff.models import Credential, Site, User


class KeptAdmin(SimpleHistoryAdmin):
    """Rows that are changed but never deleted."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Site)
class SiteAdmin(KeptAdmin):
    list_display = ["name", "code", "timezone", "idle_minutes"]


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ["username", "last_name", "first_name", "role", "is_active"]
    list_filter = ["role", "sites", "is_active"]
    filter_horizontal = ["sites"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        ("Person", {"fields": ["first_name", "last_name", "title", "email"]}),
        ("Access", {"fields": ["role", "sites", "is_active", "is_staff"]}),
    ]
    add_fieldsets = [
        (None, {"fields": ["username", "usable_password", "password1", "password2", "role"]})
    ]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """Nobody gives themselves another role, nor another site once they have one."""
        if obj is None or obj.pk != request.user.pk:
            return ()
        own = ("role", "is_active", "is_staff")
        return (*own, "sites") if obj.sites.exists() else own


@admin.register(Credential)
class CredentialAdmin(KeptAdmin):
    list_display = ["user", "kind", "expires_on"]
