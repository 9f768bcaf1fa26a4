"""The first owner, or anybody when nobody can sign in."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from jobs.access import ROLES
from jobs.errors import JobsError
from jobs.mail.links import password_url
from jobs.workflows.people import Person, add_person


class Command(BaseCommand):
    help = "Add a person with one or several roles; prints the link to choose a password."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="name to sign in with")
        parser.add_argument("--email", required=True)
        parser.add_argument("--role", action="append", choices=ROLES, required=True)
        parser.add_argument("--first-name", default="")
        parser.add_argument("--last-name", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person(
            email=options["email"],
            roles=options["role"],
            first_name=options["first_name"],
            last_name=options["last_name"],
        )
        try:
            user = add_person(
                username=options["username"], person=person, by=None, now=timezone.now()
            )
        except JobsError as refusal:
            raise CommandError(refusal.message) from refusal
        self.stdout.write(
            f"{user.username} is added. The link below works once, for an hour; "
            f"it goes to {user.email} too.\n{password_url(user)}"
        )
