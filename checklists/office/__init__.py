"""What the office sees and does with an install: open it, overview, step page, plan change."""
