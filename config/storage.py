"""Knows how static files are named for ever-long caching, script modules and their imports included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStaticFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Hashed names; ``import "./other.js"`` inside a module is rewritten too."""

    support_js_module_import_aggregation = True
