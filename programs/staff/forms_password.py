"""Forms that look at a password: each try takes its turn first."""

from typing import Any

from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.core.exceptions import ValidationError

from programs.staff import throttle


class SignInForm(AuthenticationForm):
    """Django's own, with one sentence for every kind of failure."""

    error_messages = {
        "invalid_login": "That user name and password do not match an active account.",
        "inactive": "That user name and password do not match an active account.",
    }
    turn: throttle.Turn | None = None

    def clean(self) -> dict[str, Any]:
        name, password = self.cleaned_data.get("username"), self.cleaned_data.get("password")
        if self.request is not None and name and password:
            self.turn = throttle.take_turn(name, self.request)
            if self.turn.wait_seconds:
                raise self.get_invalid_login_error()
        return super().clean()


class ChangePasswordForm(PasswordChangeForm):
    """The old password is asked for, and looked at no faster than at sign-in."""

    def __init__(self, *args: Any, session_key: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.session_key = session_key

    def clean_old_password(self) -> str:
        turn = throttle.take_turn_at_change(self.user, self.session_key)
        if turn.wait_seconds:
            raise ValidationError(
                f"Too many wrong passwords. The next is looked at in {turn.wait_words}."
            )
        password = super().clean_old_password()
        throttle.end_waiting(turn)
        return password
