"""Knows how a service says no: a sentence fit for the person on the screen."""


class Refusal(Exception):
    """A change that may not happen now; its text is shown to the person. Views catch only this."""
