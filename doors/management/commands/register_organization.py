"""Make an organization and its first key: `manage.py register_organization NAME --as owner`."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from doors.models import EVERY_SCOPE, Capability
from doors.names import fault_in_name, normal
from doors.services.keys import issue_key
from doors.services.organizations import register_organization
from doors.tenancy import acting_for


class Command(BaseCommand):
    """Prints the organization's id and a key with every scope, shown this once."""

    help = "Make an organization and print its id and its first key, which is shown this once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """A name, one capability or several, and the lines of an address."""
        parser.add_argument("name")
        parser.add_argument(
            "--as", dest="capabilities", action="append", required=True, choices=Capability.values
        )
        parser.add_argument("--address", action="append", default=[], help="one line of it")

    def handle(self, *args: Any, **options: Any) -> None:
        """Make both in one go."""
        name = normal(options["name"])
        if not name or fault_in_name(name):
            raise CommandError("The name is empty, or holds a character that cannot be seen.")
        organization = register_organization(
            name=name,
            capabilities=options["capabilities"],
            address=options["address"],
        )
        with acting_for(organization.id, write=True):
            _, text = issue_key(label="first key", scopes=EVERY_SCOPE)
        self.stdout.write(f"organization {organization.id}\nkey {text}\n")
