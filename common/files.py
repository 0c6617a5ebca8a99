"""Opens stored files for people; one that is gone is told with what to do."""

from __future__ import annotations

from django.core.files import File
from django.db.models.fields.files import FieldFile
from django.http import Http404


class FileMissing(Http404):
    """The record is there and its file is not: the media folder lost it, or came back without it."""


def opened(stored: FieldFile, what: str) -> File[bytes]:
    """Return a stored file to read; raise FileMissing, with what to do, where it is gone."""
    try:
        return stored.open("rb")
    except (FileNotFoundError, ValueError) as gone:  # no such file, or no name was ever stored
        raise FileMissing(
            f"The file of {what} is missing on the server; what was recorded about it is still here. Ask"
            " whoever looks after the server to bring the folder of files back from a backup."
        ) from gone
