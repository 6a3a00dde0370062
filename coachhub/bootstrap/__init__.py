"""Setting up on a bare machine: standard library only, imported before anything is installed."""
