"""What the tablet dials: one tap, digits only, an extension after a pause."""

from __future__ import annotations

import pytest

from tests.js import needs_node, run_js

#: RFC 3966, 3 and 5.1: visual separators count for nothing; a comma is the pause dialers know (from memory).
DIALED = [
    ("+1 303 555 0142", "tel:+13035550142"),
    ("(303) 555-0142", "tel:3035550142"),
    ("303.555.0142 ext. 12", "tel:3035550142,12"),
    ("303 555 0142 x7", "tel:3035550142,7"),
    ("911", "tel:911"),
]


@needs_node
@pytest.mark.parametrize(("written", "dialed"), DIALED)
def test_a_number_as_written_is_dialed(written, dialed):
    script = 'import { dial } from "./screens/contacts.js"; answer(dial(data));'
    assert run_js(script, written) == dialed
