"""Of Bootstrap only what pages use is here: no rule that pages could use was left out when it was made.

The whole sheet is not in the repository; the classes it has that ours leaves out are told beside the subset.
"""

from __future__ import annotations

from tests.bench.bootstrap_subset import LEFT_OUT, USED, sources, words_said


def test_no_page_says_a_class_that_was_left_out():
    """One that does was added later: make the subset again, as ``VENDOR.md`` says."""
    assert not words_said(sources()) & set(LEFT_OUT.read_text().split())


def test_what_is_left_is_small():
    assert USED.stat().st_size < 60_000
