from __future__ import annotations

from datetime import datetime

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "coachhub.accounts"
    label = "accounts"

    def ready(self) -> None:
        from coachhub.accounts.domain.growing_up import grow_up_all, recount_unguarded
        from coachhub.accounts.domain.guardian_letters import send_unsent
        from coachhub.accounts.domain.notices import send_waiting
        from coachhub.common.sweep import register

        def grow_up(now: datetime) -> int:
            return grow_up_all(now=now)

        def recount(now: datetime) -> int:
            return recount_unguarded(now=now)

        register("accounts.guardian_letters", send_unsent)
        register("accounts.notices", send_waiting)
        register("accounts.coming_of_age", grow_up)
        register("accounts.consents", recount)
