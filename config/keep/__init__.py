"""Keeps what an installation must not lose: backups, how long they stay, and how one comes back."""
