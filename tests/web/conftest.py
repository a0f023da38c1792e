"""What the tests of the pages share."""

import pytest


@pytest.fixture(autouse=True)
def _quick_passwords(settings):
    # Argon2 takes a fifth of a second, which is its purpose and not the matter of a test.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
