"""Names static files by their content for long caching, script modules and their imports included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStaticFiles(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # untyped library
    """Hashed names; ``import "./other.js"`` inside a module is rewritten too."""

    support_js_module_import_aggregation = True
    max_post_process_passes = 40  # one for each module in the longest chain of imports, and room to grow
