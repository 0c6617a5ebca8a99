"""Settings of gunicorn for one machine: one process with threads, the background lanes in it if asked for.

More processes need PostgreSQL, or SQLite from 3.51.3 on, and workers of their own (``manage.py worker``): the
units and the compose file have two, one a core. Two answered twice as many pages a second as one.
"""

from __future__ import annotations

import os
from typing import Any

wsgi_app = "config.wsgi"
bind = os.environ.get("BIND", "127.0.0.1:8000")
workers = int(os.environ.get("WEB_PROCESSES", "1"))
worker_class = "config.deploy.buffered.BufferedWorker"
threads = int(os.environ.get("WEB_THREADS", "8"))
timeout = 120  # a process that answers nothing for so long is started anew [s]
control_socket_disable = True  # nobody steers it: systemd or the container engine does
keepalive = 5
graceful_timeout = 30
forwarded_allow_ips = os.environ.get("FORWARDED_ALLOW_IPS", "127.0.0.1")


def post_worker_init(worker: Any) -> None:
    """Start the lanes inside the web process of a small shop."""
    if os.environ.get("WITH_WORKER") == "1":
        from config.background.lanes import start_lanes

        start_lanes()
