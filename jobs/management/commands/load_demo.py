"""Load the invented company of the demo, and set its passwords anew."""

import secrets
from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from jobs.demo import loading
from jobs.models.company import company_day


class Command(BaseCommand):
    help = "Load the demo's invented company; each start sets its passwords anew and prints them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--now", help="the moment to load for, such as 2026-06-10T14:00+00:00")
        parser.add_argument(
            "--mail",
            choices=("sent", "held"),
            default=settings.DEMO_MAIL,
            help="held: as after a restore, no mail leaves until the owner says what",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.IN_PRODUCTION:
            raise CommandError("A demo is never loaded into a production: set DEPLOYMENT=demo.")
        now = read_moment(options["now"]) if options["now"] else timezone.now()
        held = options["mail"] == "held"
        loaded = loading.loaded_at()
        if loaded is None and loading.is_occupied():
            raise CommandError("There are customers here already: FRESH=1 begins the demo anew.")
        if loaded is None:
            world = loading.load(now=now, mail_held=held)
            self.stdout.write(f"Demo loaded: {len(world.houses)} houses.")
            if held:
                self.stdout.write("No mail leaves until the owner says what, on the page Messages.")
        elif held:
            self.stdout.write("Mail is held where a demo is made: FRESH=1 begins it anew.")
        elif company_day(loaded) < company_day(now):
            self.stdout.write(
                f"This demo was made on {company_day(loaded):%-d %B %Y}, so its today lies back: "
                "FRESH=1 rebuilds it for today."
            )
        self._set_passwords(now)

    def _set_passwords(self, now: datetime) -> None:
        """One password for everybody, so that changing the part is quick."""
        password = settings.DEMO_PASSWORD or secrets.token_urlsafe(9)
        names = [row["username"] for row in loading.tell(now=now)["people"]]
        people = User.objects.filter(username__in=names, is_active=True).prefetch_related("groups")
        self.stdout.write(f"Sign in with the password {password} as")
        for user in people.order_by("pk"):
            user.set_password(password)
            user.save(update_fields=["password"])
            roles = ", ".join(group.name for group in user.groups.all())
            self.stdout.write(f"  {user.username:12} {user.get_full_name()}, {roles}")


def read_moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise CommandError("--now must look like 2026-06-10T14:00+00:00.") from error
    if timezone.is_naive(moment):
        raise CommandError("--now needs its offset, such as +00:00.")
    return moment
