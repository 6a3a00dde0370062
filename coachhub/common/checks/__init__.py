"""The project's own rules, as checks that `manage.py check_all` runs."""
