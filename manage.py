#!/usr/bin/env python
"""Commands of the studio: `.venv/bin/python manage.py help`."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here. Run `make demo` first, or use .venv/bin/python manage.py")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
