"""Knows that the tests' database lives in memory on one connection: one thread at a time may use it."""

import threading

ONE_AT_A_TIME = threading.RLock()
