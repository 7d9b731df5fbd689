#!/usr/bin/env python
"""Run one of the service's commands: `python manage.py help` lists them."""

import os
import sys

from django.core.management import execute_from_command_line


def main() -> None:
    """Run the command given on the command line, on development settings unless told otherwise."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.dev")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
