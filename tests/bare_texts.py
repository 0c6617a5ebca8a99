"""A language that marks every message, to find texts of templates that nobody could translate.

It says «every message» between such marks; what Python prints is marked too, so all that is left bare on a
page stands in a template.
"""

from __future__ import annotations

from html.parser import HTMLParser

from django.template import base, library
from django.utils.translation import trans_real

from config.language import runs
from jobs.models import Membership

FROM_PYTHON, ITS_END = "\ue000", "\ue001"
DEPTH = {FROM_PYTHON: 1, ITS_END: -1, "«": 1, "»": -1}
#: Language names and the name of the product are the same in every language.
SAME = {"Coachlight"}


class Marks:
    """A language that says each message as «message»."""

    def gettext(self, text):
        return f"«{text.rpartition(chr(4))[2]}»"

    def ngettext(self, one, many, number):
        return self.gettext(one if number == 1 else many)

    def language(self):
        return "es"

    to_language = language


class Bare(HTMLParser):
    """Gathers what of a page's texts stands outside all marks."""

    def __init__(self):
        super().__init__()
        self.depth = 0
        self.silent = ""
        self.english = 0  # how deep inside a piece of the record, which is English for everybody
        self.found = []

    def handle_starttag(self, tag, attrs):
        if tag in {"script", "style"}:
            self.silent = tag
        if tag == "div" and (self.english or ("lang", "en") in attrs):
            self.english += 1
        for name, text in attrs:
            if (
                name in {"alt", "title", "placeholder", "aria-label", "data-label", "aria-description"}
                and text
            ):
                before = self.depth
                self.look(text)
                self.depth = before

    def handle_endtag(self, tag):
        if tag == self.silent:
            self.silent = ""
        if tag == "div" and self.english:
            self.english -= 1

    def handle_data(self, data):
        if not self.silent:
            self.look(data)

    def look(self, text):
        bare = []
        for letter in text:
            self.depth += DEPTH.get(letter, 0)
            if not self.depth and letter not in DEPTH:
                bare.append(letter)
        left = "".join(bare).strip()
        if not self.english and runs.has_words(left) and left not in SAME:
            self.found.append(left)


def marked_by_python(render):
    """Return a render of a node whose print is known to come from Python."""
    return lambda self, context: f"{FROM_PYTHON}{render(self, context)}{ITS_END}"


def bare_texts(client, person, addresses, monkeypatch):
    """Return what stands bare on pages, read by a person in the language of marks: address → texts."""
    Membership.objects.filter(user=person).update(language="es")
    monkeypatch.setitem(trans_real._translations, "es", Marks())
    for node in (base.VariableNode, library.SimpleNode):
        monkeypatch.setattr(node, "render", marked_by_python(node.render))
    left = {}
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert "«" in answer.text
        bare = Bare()
        bare.feed(answer.text)
        left[address] = bare.found
    return {address: found for address, found in left.items() if found}
