"""Pictures: uploaded in pieces, redrawn by a limited process, tidied."""
