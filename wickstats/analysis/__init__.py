"""Plan, unit summaries, three lines and verdicts: one season judged as it was randomized."""
