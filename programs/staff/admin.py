"""Editing sites, people and cards: Django's own admin, closed to everyone but administrators.

An administrator meets the sites they work at and the people there, nothing of anybody else's.
"""

from typing import Any, cast

from django import forms
from django.contrib import admin
from django.contrib.admin.filters import RelatedFieldListFilter
from django.contrib.admin.utils import unquote
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import AdminUserCreationForm, UserChangeForm
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Field, ForeignKey, QuerySet
from django.http import Http404, HttpRequest
from django.shortcuts import redirect
from simple_history.admin import SimpleHistoryAdmin

from patients import audit
from patients.models import AuditEvent
from programs.staff import throttle
from programs.staff.access import governs, people_of, sites_of
from programs.staff.models import Credential, Site, User


def _me(request: HttpRequest) -> User:
    return cast(User, request.user)


class PlainAddress:
    """An empty name of a field in the address is none; the framework would look for it."""

    def get_object(self, request: HttpRequest, object_id: str, from_field: Any = None) -> Any:
        return super().get_object(request, object_id, from_field or None)  # type: ignore[misc]


class KeptAdmin(PlainAddress, SimpleHistoryAdmin):
    """Rows that are changed but never deleted; their versions are as private as they are."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def history_view(self, request: HttpRequest, object_id: str, *args: Any, **kwargs: Any) -> Any:
        self._seen(request, object_id)
        return super().history_view(request, object_id, *args, **kwargs)

    def history_form_view(
        self, request: HttpRequest, object_id: str, *args: Any, **kwargs: Any
    ) -> Any:
        self._seen(request, object_id)
        return super().history_form_view(request, object_id, *args, **kwargs)

    def _seen(self, request: HttpRequest, object_id: str) -> None:
        if self.get_object(request, unquote(object_id)) is None:
            raise Http404


@admin.register(Site)
class SiteAdmin(KeptAdmin):
    list_display = ["name", "code", "timezone", "idle_minutes"]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Site]:
        return super().get_queryset(request).filter(pk__in=sites_of(_me(request)))

    @transaction.atomic
    def save_model(self, request: HttpRequest, obj: Site, form: Any, change: bool) -> None:
        """Whoever opens a site works at it, or nobody could go on there."""
        super().save_model(request, obj, form, change)
        if not change:
            _me(request).sites.add(obj)


class KeepsOtherSites:
    """Sites that somebody who edits here cannot see stay as they are."""

    fields: dict[str, Any]
    instance: User

    def clean_sites(self) -> QuerySet[Site]:
        mine, chosen = self.fields["sites"].queryset, self.cleaned_data["sites"]  # type: ignore[attr-defined]
        kept = self.instance.sites.exclude(pk__in=mine) if self.instance.pk else []
        keys = [site.pk for site in (*chosen, *kept)]
        if not keys:
            raise forms.ValidationError(
                "Choose a site. Somebody who has left is no longer active, the site stays."
            )
        return Site.objects.filter(pk__in=keys)


class PersonForm(KeepsOtherSites, UserChangeForm):
    pass


class NewPersonForm(KeepsOtherSites, AdminUserCreationForm):
    pass


class OwnSitesFilter(RelatedFieldListFilter):
    def field_choices(self, field: Any, request: HttpRequest, model_admin: Any) -> list[Any]:
        return [(str(site.pk), site.name) for site in sites_of(_me(request))]


@admin.register(User)
class PersonAdmin(PlainAddress, UserAdmin):
    form = PersonForm
    add_form = NewPersonForm
    list_display = ["username", "last_name", "first_name", "role", "is_active"]
    list_filter = ["role", ("sites", OwnSitesFilter), "is_active"]
    filter_horizontal = ["sites"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        ("Person", {"fields": ["first_name", "last_name", "title", "email"]}),
        ("Access", {"fields": ["role", "sites", "is_active", "is_staff"]}),
    ]
    add_fieldsets = [
        (
            None,
            {"fields": ["username", "usable_password", "password1", "password2", "role", "sites"]},
        )
    ]

    def get_queryset(self, request: HttpRequest) -> QuerySet[User]:
        return super().get_queryset(request).filter(pk__in=people_of(_me(request)))

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_fieldsets(self, request: HttpRequest, obj: Any = None) -> Any:
        """Of somebody who works elsewhere too: who it is, and the sites here."""
        if obj is None or governs(_me(request), obj):
            return super().get_fieldsets(request, obj)
        return [(None, {"fields": ["username", "first_name", "last_name", "role", "sites"]})]

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """Nobody gives themselves another role, nor another site once they have one."""
        if obj is None:
            return ()
        if not governs(_me(request), obj):
            return ("username", "first_name", "last_name", "role")
        if obj.pk != request.user.pk:
            return ()
        own = ("role", "is_active", "is_staff")
        return (*own, "sites") if obj.sites.exists() else own

    def formfield_for_manytomany(self, db_field: Any, request: HttpRequest, **kwargs: Any) -> Any:
        if db_field.name == "sites":
            kwargs["queryset"] = sites_of(_me(request))
        return super().formfield_for_manytomany(db_field, request, **kwargs)

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> Any:
        person = self.get_object(request, unquote(id))
        if person is None:
            raise Http404
        if not governs(_me(request), person):
            raise PermissionDenied
        if person.pk == request.user.pk:
            return redirect("staff:password")  # which asks for the old one
        before = person.password
        answer = super().user_change_password(request, id, form_url)
        person.refresh_from_db()
        if person.password != before:
            throttle.end_all_waiting(person.get_username())
            audit.record(AuditEvent.Kind.PASSWORD, f"that of {person}", by=request.user)
        return answer


@admin.register(Credential)
class CredentialAdmin(KeptAdmin):
    list_display = ["user", "kind", "expires_on"]

    def get_queryset(self, request: HttpRequest) -> QuerySet[Credential]:
        return super().get_queryset(request).filter(user__in=people_of(_me(request)))

    def formfield_for_foreignkey(
        self,
        db_field: "ForeignKey[Any, Any] | Field[Any, Any]",
        request: HttpRequest,
        **kwargs: Any,
    ) -> Any:
        if db_field.name == "user":
            kwargs["queryset"] = people_of(_me(request))
        return super().formfield_for_foreignkey(db_field, request, **kwargs)  # type: ignore[arg-type]
