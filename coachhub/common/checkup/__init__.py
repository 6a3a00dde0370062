"""What `manage.py doctor` looks at: each check returns what it found and how to mend it."""
