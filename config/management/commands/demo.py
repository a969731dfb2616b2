"""Set up and serve an invented clinic."""

import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from config.demo.loader import Loader, clinic
from patients.models import Patient
from programs.staff.models import DemoMark, Site, User
from programs.staff.roles import Role

BAR = 30


class Command(BaseCommand):
    help = "Migrate, load an invented clinic dated around today, and serve it on this machine."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="load only")
        parser.add_argument("--port", type=int, default=8036)
        parser.add_argument("--reset", action="store_true", help="throw the demo away, load anew")
        parser.add_argument("--seed", type=int, default=36)

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("This is a production installation; the demo does not run here.")
        call_command("migrate", verbosity=0)
        self._prepare(options["reset"], options["seed"])
        self._print_logins(options["port"])
        if not options["no_serve"]:
            call_command("runserver", f"127.0.0.1:{options['port']}", use_reloader=False)

    def _prepare(self, reset: bool, seed: int) -> None:
        is_demo = DemoMark.objects.exists()
        is_empty = not (Site.objects.exists() or User.objects.exists() or Patient.objects.exists())
        if not is_demo and not is_empty:
            raise CommandError(
                "This database holds something else than a demo; nothing was touched. "
                "Point DATABASE_URL at an empty database, or move .local/thirtysix.sqlite3 away."
            )
        if is_demo and reset:
            call_command("flush", interactive=False, verbosity=0)
        if is_demo and not reset:
            self.stdout.write("The demo is loaded already; --reset loads it anew.")
            return
        Loader(seed, self._tick).load()
        self.stdout.write("")

    def _tick(self, done: int, total: int) -> None:
        """A progress bar for people, a few plain lines for logs."""
        if sys.stdout.isatty():
            full = BAR * done // total
            bar = "█" * full + "·" * (BAR - full)
            self.stdout.write(
                f"\rLoading the invented clinic {bar} {100 * done // total:3d} %", ending=""
            )
            self.stdout.flush()
        elif done == total or done % (total // 4) == 0:
            self.stdout.write(f"Loading the invented clinic: {100 * done // total} %")

    def _print_logins(self, port: int) -> None:
        people = clinic()
        self.stdout.write(f"\n  Address   http://127.0.0.1:{port}/\n")
        self.stdout.write(f"  Password  {people['password']}  (the same for everybody)\n")
        for role in Role:
            name = next(p["username"] for p in people["staff"] if p["role"] == role.value)
            self.stdout.write(f"  {role.label:<14}{name}")
        self.stdout.write("")
