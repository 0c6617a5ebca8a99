"""The rules of an install, free of Django; most have a twin of the same name for the tablet."""
