"""The shop itself: its people, what each may do, how a service refuses, and the log."""
