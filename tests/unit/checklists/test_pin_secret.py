"""How a PIN becomes a secret on the tablet; Python's own PBKDF2 is the expectation."""

from __future__ import annotations

import hashlib

from tests.js import needs_node, run_js

pytestmark = needs_node

SALT = "000102030405060708090a0b0c0d0e0f"


def test_the_secret_is_pbkdf2_with_sha256_600_000_times():
    """600,000 is the count OWASP's password storage sheet names for PBKDF2 with SHA-256 (2023)."""
    script = 'import { secretOf } from "./pin.js"; answer(await secretOf(data.pin, data.salt));'
    made = hashlib.pbkdf2_hmac("sha256", b"48151623", bytes.fromhex(SALT), 600_000).hex()
    assert run_js(script, {"pin": "48151623", "salt": SALT}) == made
    assert len(made) == 64


def test_salts_differ():
    script = 'import { newSalt } from "./pin.js"; answer([newSalt(), newSalt()]);'
    one, other = run_js(script, None)
    assert one != other
    assert len(bytes.fromhex(one)) == 16


def test_which_pins_are_taken():
    script = 'import { pinProblem } from "./pin.js"; answer(data.map((pin) => pinProblem(pin) === ""));'
    taken = ["4815", "48151623", "1357"]
    refused = ["481", "481516234", "48a5", "", "0000", "1234", "98765", "7890", "\uff11\uff13\uff15\uff17"]
    assert run_js(script, taken + refused) == [True] * len(taken) + [False] * len(refused)
