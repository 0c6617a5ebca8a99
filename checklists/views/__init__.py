"""Views of the install record: overview, steps, holds, deviations, photos, events, sign-off, sheets."""
