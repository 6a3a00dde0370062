"""What follows a change only once the change is safe in the database."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction


def after_commit(call: Callable[..., object], *args: object) -> None:
    """Do it when the transaction is through. That it fails is logged and harms nobody: the sweep sends again.

    Not a ``partial`` given to ``on_commit``: where such a call fails, the framework asks it for its name to log it,
    and a partial has none.
    """

    def run() -> None:
        call(*args)

    transaction.on_commit(run, robust=True)
