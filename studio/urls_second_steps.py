"""Addresses of the second step of staff."""

from __future__ import annotations

from django.urls import path

from .views import second_steps

second_steps_map = [
    path("sign-in/second/", second_steps.sign_in_second, name="sign-in-second"),
    path("sign-in/passkey/", second_steps.sign_in_passkey, name="sign-in-passkey"),
    path("my/second-step/", second_steps.my_second_step, name="my-second-step"),
    path("my/second-step/app/", second_steps.authenticator_new, name="authenticator-new"),
    path("my/second-step/passkey/", second_steps.passkey_new, name="passkey-new"),
    path("my/second-step/codes/", second_steps.recovery_codes_new, name="recovery-codes-new"),
    path("my/second-step/drop/", second_steps.second_step_drop, name="second-step-drop"),
    path(
        "people/<slug:code>/second-step/forget/",
        second_steps.person_second_step_forget,
        name="person-second-step-forget",
    ),
]
