"""The tablet's side of the server: form of its messages, app shell, devices, downloads."""
