#!/usr/bin/env python
"""Knows how to start Django's commands."""

import os
import sys


def main() -> None:
    """Run the command named on the command line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    if sys.argv[1:2] == ["demo"]:  # invented data and known passwords live in a database of their own
        os.environ |= {"DEMO": "1", "DEBUG": os.environ.get("DEBUG", "1")}
    if sys.argv[1:] == ["--version"]:
        from config.version import VERSION

        print(f"Coachlight {VERSION}")
        return
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
