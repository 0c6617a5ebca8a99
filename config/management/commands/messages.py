"""Writes the catalogs: strings that are new come in, strings that are gone go, and all is compiled."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from config.language.catalog import DOMAINS, TRANSLATED, read, write_all


class Command(BaseCommand):
    """Gather, merge and compile; the second run after an edit of a ``.po`` compiles it."""

    help = "Gather every string that can be translated, merge them into the .po files and compile these."

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the files and say how far each language is."""
        write_all()
        for language in TRANSLATED:
            for domain in DOMAINS:
                every = [each for each in read(language, domain) if each.id]
                said = sum(bool(each.string) and not each.fuzzy for each in every)
                self.stdout.write(f"{language} {domain}: {said} of {len(every)} translated")
