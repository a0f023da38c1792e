"""How passwords and PINs are hashed."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher

__all__ = ["Argon2"]


class Argon2(Argon2PasswordHasher):
    """Django's own, which leaves a hash as it is until its owner sets another password.

    Signing in would otherwise write it anew when a version of Django asks for more work, and the
    access log would not know of it.
    """

    def must_update(self, encoded: str) -> bool:
        return False
