"""Sign-in by password; permissions by role."""

from typing import Any

from django.contrib.auth.backends import ModelBackend

from programs.staff.roles import PERMISSIONS


class RoleBackend(ModelBackend):
    """Django's own sign-in; permissions come from the table above and nowhere else."""

    def get_all_permissions(self, user_obj: Any, obj: Any = None) -> set[str]:
        if not user_obj.is_active or user_obj.is_anonymous or obj is not None:
            return set()
        return PERMISSIONS.get(user_obj.role, set())

    def has_perm(self, user_obj: Any, perm: str, obj: Any = None) -> bool:
        return perm in self.get_all_permissions(user_obj, obj)

    def has_module_perms(self, user_obj: Any, app_label: str) -> bool:
        return any(p.startswith(f"{app_label}.") for p in self.get_all_permissions(user_obj))
