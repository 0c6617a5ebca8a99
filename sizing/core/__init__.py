"""Questions, answers, verdicts, and comparing a number with its limit."""
