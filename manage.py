#!/usr/bin/env python3
"""The one door: `python3 manage.py demo` sets up and runs everything, `python3 manage.py test` tests everything."""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036  (this file must still start on an old interpreter, to say so)
    sys.exit(
        "Python 3.11 or newer is needed; this is {}.{}.\n"
        "What to do: install a newer Python and start with it, for example `python3.11 manage.py demo`.".format(
            *sys.version_info[:2]
        )
    )


def main() -> None:
    from coachhub.bootstrap.entry import enter

    enter(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coachhub.settings")
    from django.core.management import execute_from_command_line

    from coachhub.env import SettingError

    try:
        execute_from_command_line(sys.argv)
    except SettingError as error:
        sys.exit(f"A setting can't be used: {error}")


if __name__ == "__main__":
    main()
