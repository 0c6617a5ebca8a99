"""Knows where stored files are kept: a folder of this machine, or a bucket many machines share."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ImproperlyConfigured
from environs import Env


def file_store(env: Env) -> dict[str, Any]:
    """Return Django's settings of the store of files.

    Raise ImproperlyConfigured for a bucket without its key.
    """
    bucket = env.str("FILES_BUCKET", "")
    if not bucket:
        return {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    key, secret = env.str("FILES_KEY", ""), env.str("FILES_SECRET", "")
    if not (key and secret):
        raise ImproperlyConfigured("FILES_BUCKET is set: FILES_KEY and FILES_SECRET are needed too.")
    endpoint = env.str("FILES_ENDPOINT", "")
    options = {
        "bucket_name": bucket,
        "access_key": key,
        "secret_key": secret,
        "endpoint_url": endpoint or None,
        "region_name": env.str("FILES_REGION", "us-east-1"),
        "location": env.str("FILES_FOLDER", "").strip("/"),
        "addressing_style": "path" if endpoint else "auto",  # other makers' stores have one host
    }
    return {"BACKEND": "config.bucket.Bucket", "OPTIONS": options}
